"""Prepares an installation's database, prints what clients need: ``python -m tests.crashes.seeding``."""

import dataclasses
import datetime as dt
import json
import sys
from typing import Any

from tests.crashes.starting import shift_the_clock

HOUSES = (("lot-7", "saltbush"), ("lot-8", "wattle"), ("lot-9", "correa"))


def seed() -> list[dict[str, Any]]:
    """Houses of three builders: the first hold released, the crews behind it and the second one told."""
    from django.test import Client

    from tests.hold_points.houses import make_site
    from tests.races.http_clients import find_doors

    houses = []
    for key, builder in HOUSES:
        site = make_site(key, builder)
        # No quiet hours: what is to be told at once is told while things are being killed.
        site.builder.quiet_from = site.builder.quiet_until = dt.time(0)
        site.builder.save()
        site.release_all("H3")
        site.pencil("plumb")
        site.pencil("batts")
        cookies = {}
        for name, person in (("planner", site.planner), ("supervisor", site.supervisor)):
            client = Client()
            client.force_login(person)
            cookies[name] = "; ".join(f"{one.key}={one.value}" for one in client.cookies.values())
        doors = dataclasses.asdict(dataclasses.replace(find_doors(site), site=None))  # type: ignore[arg-type]
        houses.append({"house": site.house.pk, "doors": doors, "signer": site.supervisor.name, **cookies})
    return houses


def main() -> None:
    """Migrate, seed, print."""
    shift_the_clock()
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    sys.stdout.write(json.dumps(seed()))


if __name__ == "__main__":
    main()
