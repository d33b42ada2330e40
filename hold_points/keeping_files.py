"""Files that are whole: under its name a file stands with every byte, or does not stand at all."""

from __future__ import annotations

import os
from pathlib import Path
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.storage import FileSystemStorage, default_storage


def keep_file(name: str, content: bytes) -> str:
    """Keep the content under a name that is made of what it is; returns the name.

    What was cut off half way, by a crash or a full disk, never stands under the name; something else that
    does, such as the beginning that an older version left there, is replaced.

    Raises:
        OSError: it cannot be written; what stood under the name before is untouched.
    """
    if _stands(name, content):
        return name
    if not isinstance(default_storage, FileSystemStorage):
        # A store that is not a folder: what it takes, it takes whole.
        if default_storage.exists(name):
            default_storage.delete(name)
        return default_storage.save(name, ContentFile(content))
    path = Path(default_storage.path(name))
    # In the same folder, for only there is the last step a single one. The storage makes folders and rights.
    part = default_storage.path(
        default_storage.save(f"{Path(name).parent.as_posix()}/.{uuid4().hex}.part", ContentFile(content))
    )
    try:
        _reach_the_disk(part)
        os.replace(part, path)
    except BaseException:
        Path(part).unlink(missing_ok=True)
        raise
    _reach_the_disk(path.parent)
    return name


def _stands(name: str, content: bytes) -> bool:
    if not default_storage.exists(name) or default_storage.size(name) != len(content):
        return False
    with default_storage.open(name) as there:
        return bool(there.read() == content)


def _reach_the_disk(path: str | Path) -> None:
    """What is acknowledged is not in a cache that a power cut empties."""
    if os.name == "nt":
        return  # neither a folder nor a file opened for reading can be flushed there
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
