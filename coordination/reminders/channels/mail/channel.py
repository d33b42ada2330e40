"""One mail per envelope; the Message-ID is ours, so that a reader can tell a second copy."""

from __future__ import annotations

from email.mime.image import MIMEImage
from typing import TYPE_CHECKING

from django.core.mail import EmailMultiAlternatives

if TYPE_CHECKING:
    from coordination.reminders.channels import Envelope


class _MailWithPictures(EmailMultiAlternatives):
    """Its pictures belong to the text (RFC 2387) instead of hanging below it as attachments."""

    mixed_subtype = "related"


class MailChannel:
    """Sends by the back end that EMAIL_BACKEND names."""

    def send(self, envelope: Envelope) -> None:
        """Send the mail; errors of the back end (SMTPException, OSError) reach the caller."""
        headers = dict(envelope.headers)
        if envelope.message_id:
            headers["Message-ID"] = f"<{envelope.message_id}>"
        kind = _MailWithPictures if envelope.html and envelope.inline else EmailMultiAlternatives
        mail = kind(subject=envelope.subject, body=envelope.text, to=[envelope.to], headers=headers)
        if envelope.html:
            mail.attach_alternative(envelope.html, "text/html")
            for one in envelope.inline:
                part = MIMEImage(one.png, "png")
                part.add_header("Content-ID", f"<{one.cid}>")
                part.add_header("Content-Disposition", "inline", filename=one.file)
                mail.attach(part)
        mail.send(fail_silently=False)
