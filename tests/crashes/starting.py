"""One part of an installation as a process of its own: ``web PORT``, ``worker``, ``beat FILE``, ``up PORT``.

Two things differ from a real one. Its clock is shifted, so that it is always the same Monday afternoon. And a
message that a killed sender had in hand is free again after seconds, not minutes.
"""

import datetime as dt
import os
import sys
import time

import time_machine

LEASE_SECONDS = 6


def shift_the_clock() -> None:
    """Let the process live so many seconds away from now as the environment says."""
    moment = time.time() + float(os.environ["BEFORE_THE_BOARD_CRASH_SHIFT"])
    time_machine.travel(dt.datetime.fromtimestamp(moment, dt.UTC), tick=True).start()
    # The travelled clock stands until somebody looks at it, and all processes must agree to the moment.
    time.time()


def main() -> None:
    """Start the part that the command line names and stay."""
    part, *arguments = sys.argv[1:]
    shift_the_clock()
    import django

    django.setup()
    from django.core.management import call_command

    from coordination.celery_app import app
    from coordination.management.embedded import open_web_server
    from coordination.reminders import sending

    sending.LEASE = dt.timedelta(seconds=LEASE_SECONDS)
    sending.LONG_LEASE = 2 * sending.LEASE
    if part == "web":
        open_web_server(int(arguments[0])).serve_forever(0.1)
    elif part == "worker":
        alone = ["--pool=solo", "--without-gossip", "--without-mingle", "--without-heartbeat"]
        app.worker_main(["worker", *alone, "--loglevel=WARNING"])
    elif part == "beat":
        app.start(["beat", f"--schedule={arguments[0]}", "--pidfile=", "--loglevel=WARNING"])
    else:
        call_command("up", "--without-demo", "--port", arguments[0])


if __name__ == "__main__":
    main()
