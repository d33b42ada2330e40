"""How a check is judged, in words: the evidence that it needs, and how many are looked at."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext as _

from coordination.sequence.standard import Sampling


def say_evidence(evidence: Iterable[str]) -> str:
    """'a photograph with the tape in it'; empty where none is needed."""
    words = {
        "photo": _("a photograph"),
        "photo with tape": _("a photograph with the tape in it"),
        "document": _("the document"),
        "statement": _("the trade's own statement"),
    }
    return ", ".join(words.get(one, one) for one in evidence)


def say_sampling(sampling: Sampling) -> str:
    """'every one', or the random sample as the sequence asks for it; a crew's earlier houses move it."""
    if sampling.rule == "every":
        return _("every one")
    of = sampling.of or _("places")
    parts = []
    if sampling.share < 1:
        # A share is of the rooms; what is counted there is named by 'of' only beside a number.
        what = _("rooms") if sampling.number else of
        parts.append(
            _("%(percent)g %% of the %(what)s, drawn at random")
            % {"percent": round(100 * sampling.share, 1), "what": what}
        )
    if sampling.number:
        words = _("%(number)d of the %(of)s of each room or side, drawn at random on entering")
        parts.append(words % {"number": sampling.number, "of": of})
    if sampling.along and not sampling.least:
        # As the sequence says it; on a house it is counted.
        words = _("at least one for each %(every)g of '%(along)s'")
        parts.append(words % {"every": sampling.every, "along": sampling.along})
    if sampling.least:
        parts.append(_("at least %(least)d in the house") % {"least": sampling.least})
    return ", ".join(parts)
