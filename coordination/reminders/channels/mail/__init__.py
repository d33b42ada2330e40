"""E-mail through Django's own back end."""

from coordination.reminders.channels.mail.channel import MailChannel

__all__ = ["MailChannel"]
