"""Text files that a person sends."""

from __future__ import annotations

from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest
from django.utils.translation import gettext as _

from coordination.people.refusals import BadInput

LARGEST = 2_000_000
"""Bytes; the shipped sequence has a twentieth of it."""


def read_upload(request: HttpRequest, field: str) -> tuple[str, str]:
    """The text and the name of a file that was sent.

    Raises:
        BadInput: no file, too large, or no UTF-8 text.
    """
    sent = request.FILES.get(field)
    if not isinstance(sent, UploadedFile):
        raise BadInput(_("file"), _("No file came along. Choose one and send it again."))
    return _read(sent)


def read_uploads(request: HttpRequest, field: str) -> dict[str, str]:
    """The texts of all files that were sent, by name.

    Raises:
        BadInput: two of one name, one too large, or no UTF-8 text.
    """
    texts: dict[str, str] = {}
    for sent in request.FILES.getlist(field):
        text, name = _read(sent)
        if name in texts:
            raise BadInput(name, _("Two of the files have one name. Send each once."))
        texts[name] = text
    return texts


def _read(sent: UploadedFile[Any]) -> tuple[str, str]:
    name = sent.name or _("file")
    if (sent.size or 0) > LARGEST:
        raise BadInput(name, _("It is larger than 2 MB. A set-out order or a sequence is a small text."))
    try:
        return sent.read().decode("utf-8"), name
    except UnicodeDecodeError as error:
        raise BadInput(name, _("It is no UTF-8 text. Send the TOML file itself.")) from error
