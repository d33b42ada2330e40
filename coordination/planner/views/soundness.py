"""Is this plan sound? What in the logic of a house, or of a sequence, would let a slip go unseen."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from coordination.people.access import for_roles, get_own
from coordination.people.refusals import BadInput
from coordination.planner.house_head import read_head
from coordination.planner.soundness_told import tell_soundness
from coordination.planner.views.finding import SEERS, find_house, person_of, show
from coordination.sequence.models import SequenceVersion
from coordination.sequence.publishing import read_version
from coordination.sequence.to_engine import judge_house, judge_sequence


@require_GET
@for_roles(*SEERS)
def house(request: HttpRequest, house: int) -> HttpResponse:
    """A house as it is planned now."""
    found = find_house(request, house)
    context: dict[str, object] = {
        "crumbs": read_head(found).crumbs_to(_("Is this plan sound?")),
        "heading": _("Is this plan sound?"),
        "what": found.name,
        "house": found,
    }
    try:
        judged = judge_house(found)
    except BadInput as refusal:
        return show(request, "planner/soundness.html", context, refusal)
    context |= {"checks": tell_soundness(judged), "passed": judged.passed}
    return show(request, "planner/soundness.html", context)


@require_GET
@for_roles(*SEERS)
def sequence(request: HttpRequest, version: int) -> HttpResponse:
    """A sequence as a house with the usual features would have it."""
    versions = SequenceVersion.objects.select_related("builder")
    found = get_own(versions, person_of(request), *SEERS, pk=version)
    context: dict[str, object] = {
        "crumbs": [
            (_("Sequences"), reverse("planner:sequences")),
            (str(found), reverse("planner:sequence", args=[found.pk])),
            (_("Is its logic sound?"), ""),
        ],
        "heading": _("Is its logic sound?"),
        "what": str(found),
    }
    try:
        judged = judge_sequence(read_version(found))
    except BadInput as refusal:
        return show(request, "planner/soundness.html", context, refusal, section="sequences")
    context |= {"checks": tell_soundness(judged), "passed": judged.passed}
    return show(request, "planner/soundness.html", context, section="sequences")
