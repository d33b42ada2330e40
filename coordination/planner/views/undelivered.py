"""Mails that did not go out: to whom, why, since when; send one again at once, or say that you rang."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from coordination.people.access import builders_of, for_roles
from coordination.planner.views.finding import PLANNER, person_of, show
from coordination.reminders.rung import list_rung, note_rung
from coordination.reminders.undelivered import (
    Kind,
    count_undelivered,
    list_undelivered,
    send_again,
    send_all_again,
)

KINDS = ("message", "digest")


@require_GET
@for_roles(PLANNER)
def undelivered(request: HttpRequest) -> HttpResponse:
    """All mails of the person's builders that did not go out."""
    builders = list(builders_of(person_of(request), PLANNER))
    context = {
        "mails": list_undelivered(builders),
        "count": count_undelivered(builders),
        "rung": list_rung(builders),
        "several": len(builders) > 1,
        "crumbs": [(_("Houses"), reverse("planner:houses")), (_("Messages that did not go out"), "")],
    }
    return show(request, "planner/undelivered.html", context)


@require_POST
@for_roles(PLANNER)
def again(request: HttpRequest, kind: str, number: int) -> HttpResponse:
    """Have one of them sent again at once by the outbox's own sender."""
    if kind not in KINDS:
        raise Http404(_("There are no such messages."))
    freed = send_again(builders_of(person_of(request), PLANNER), cast(Kind, kind), number)
    if freed is None:
        raise Http404(_("There is no such message."))
    if freed:
        messages.success(
            request,
            _("It is being sent again. When it does not go out, it stands here again within a few minutes."),
        )
    else:
        messages.info(request, _("It was sent meanwhile, is no longer true, or is being sent just now."))
    return redirect("planner:undelivered")


@require_POST
@for_roles(PLANNER)
def rung(request: HttpRequest, kind: str, number: int) -> HttpResponse:
    """Note that one of them was told by phone: it is off the list and is not sent any more."""
    if kind not in KINDS:
        raise Http404(_("There are no such messages."))
    person = person_of(request)
    noted = note_rung(list(builders_of(person, PLANNER)), cast(Kind, kind), number, person)
    if noted is None:
        raise Http404(_("There is no such message."))
    if noted:
        messages.success(request, _("Noted: told by phone. It is not sent any more."))
    else:
        messages.info(request, _("It was sent meanwhile, is no longer true, or is being sent just now."))
    return redirect("planner:undelivered")


@require_POST
@for_roles(PLANNER)
def all_again(request: HttpRequest) -> HttpResponse:
    """Have all of them sent again at once: the mail server is back."""
    count = send_all_again(builders_of(person_of(request), PLANNER))
    words = ngettext("%(count)s mail is being sent again.", "%(count)s mails are being sent again.", count)
    messages.success(request, words % {"count": count})
    return redirect("planner:undelivered")
