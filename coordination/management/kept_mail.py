"""The mail of an embedded run: each is kept in a file, and one line on the console says to whom and where.

A trial run can never reach a real crew, and its ways in are not scrolled away by whole mails.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from coordination import clock

NOT_IN_A_NAME = re.compile(r"[^A-Za-z0-9-]+")


class EmailBackend(BaseEmailBackend):
    """Writes each mail whole into the folder COORDINATION_MAIL_FOLDER; any mail program opens it."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Keep the mails and print a line for each; returns how many.

        Raises:
            OSError: the folder or the file cannot be written.
        """
        for mail in email_messages:
            file = _keep(mail)
            subject = " ".join(str(mail.subject).split())
            # One write: the worker and a command may print at the same moment.
            sys.stdout.write(f"Mail to {', '.join(mail.recipients())}: {subject} (whole: {file})\n")
            sys.stdout.flush()
        return len(email_messages)


def _keep(mail: EmailMessage) -> Path:
    """The file of a mail, named after its Message-ID: what is sent a second time is kept once.

    Only the owner of the data may read it: links of crews stand in it.
    """
    folder = Path(settings.COORDINATION_MAIL_FOLDER)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    own = str(mail.extra_headers.get("Message-ID", "")).strip("<>").split("@")[0]
    name = NOT_IN_A_NAME.sub("-", own) or f"mail-{clock.now():%Y%m%d-%H%M%S-%f}"
    file = folder / f"{name}.eml"
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as whole:
        whole.write(mail.message().as_bytes())
    return file
