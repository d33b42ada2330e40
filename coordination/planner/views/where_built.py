"""Where a builder builds: kept on the page of the sequences, taken over by houses set out from then on."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from coordination.people.access import builders_of, for_roles
from coordination.planner.forms.where_built import WhereBuiltForm
from coordination.planner.views.finding import PLANNER, person_of, show


@require_http_methods(["GET", "POST"])
@for_roles(PLANNER)
def where_built(request: HttpRequest, builder: str) -> HttpResponse:
    """State, climate zone and edition of the code; houses that are set out already keep theirs."""
    found = get_object_or_404(builders_of(person_of(request), PLANNER), slug=builder)
    form = WhereBuiltForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        found.save(update_fields=list(form.cleaned_data))
        messages.success(request, _("Kept. Houses set out from now on take it over; the others keep theirs."))
        return redirect("planner:sequences")
    context = {
        "builder": found,
        "form": form,
        "crumbs": [(_("Sequences"), reverse("planner:sequences")), (_("Where you build"), "")],
    }
    return show(request, "planner/where_built.html", context, section="sequences")
