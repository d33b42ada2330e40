"""Packs on paper: made by a task, kept under a name that says what is in them.

The name is made of the pack's contents, so that what stands in the store is never an older state: when
something is recorded, the name is another one and the pack is made anew. One is kept for each reader.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable

from celery import current_app
from django.core.files.storage import default_storage
from django.utils.translation import get_language, override
from django.utils.translation import gettext as _
from kombu.exceptions import OperationalError

from coordination.people.refusals import WrongState
from coordination.sequence.models import House
from hold_points.keeping_files import keep_file
from hold_points.pack import read_pack
from hold_points.pack_sheets import Pack, Reader

FOLDER = "packs"
MAKE_TASK = "hold_points.make_pack"
ENDING, ENDING_WITHIN = b"%%EOF", 1024
"""The mark, and within how many of the last bytes readers look for it.

ISO 32000-1, 7.5.5; that readers look through the last 1024 is common practice.
"""


def name_of(pack: Pack) -> str:
    """Where this pack lies once it is made."""
    house = pack.house
    said = [get_language(), house.name, house.address, house.builder.name, repr(pack)]
    digest = hashlib.sha256("\n".join(map(str, said)).encode()).hexdigest()
    return f"{FOLDER}/{house.pk}/{pack.reader.value}-{digest[:32]}.pdf"


def is_made(pack: Pack) -> bool:
    """Whether it can be downloaded."""
    return _stands_whole(name_of(pack))


def _stands_whole(name: str) -> bool:
    """A PDF says where it ends. An older version could leave the beginning of one under its name."""
    if not default_storage.exists(name):
        return False
    with default_storage.open(name) as file:
        file.seek(max(0, file.size - ENDING_WITHIN))
        return ENDING in file.read()


def ask_for(pack: Pack) -> None:
    """Ring for the task. Nothing is written for it: what it makes depends on the house alone.

    Raises:
        WrongState: nobody is there to hear it.
    """
    try:
        current_app.send_task(MAKE_TASK, args=[pack.house.pk, pack.reader.value, get_language()])
    except OperationalError as error:
        raise WrongState(
            _("The worker that makes it cannot be reached. Print this page instead, or ask again later.")
        ) from error


def make(house_id: int, reader: Reader, language: str, write: Callable[[Pack], bytes]) -> str:
    """Make the pack as it stands now and keep it; returns its name. One that is there is not made again."""
    with override(language):
        house = House.objects.select_related("builder", "sequence_version").get(pk=house_id)
        pack = read_pack(house, reader)
        name = name_of(pack)
        if not _stands_whole(name):
            keep_file(name, write(pack))
        _drop_others(pack, name)
    return name


def _drop_others(pack: Pack, name: str) -> None:
    """Older packs of this house for the same reader: nobody can reach them, and they show people's work."""
    folder = f"{FOLDER}/{pack.house.pk}"
    _folders, files = default_storage.listdir(folder)
    for file in files:
        if file.startswith(f"{pack.reader.value}-") and f"{folder}/{file}" != name:
            default_storage.delete(f"{folder}/{file}")
