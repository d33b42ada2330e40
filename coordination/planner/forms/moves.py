"""A line of one's own in a house's diary."""

from __future__ import annotations

import uuid

from django import forms
from django.utils.translation import gettext_lazy as _

from coordination.sequence.diary import LONGEST_NOTE


class NoteForm(forms.Form):
    """What happened, on one line; `sent` makes the same form one line, however often it is sent."""

    words = forms.CharField(
        label=_("A line of your own"),
        max_length=LONGEST_NOTE,
        help_text=_("As in: rang the plumber, comes Thursday. It stays as it is written, with your name."),
    )
    sent = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
