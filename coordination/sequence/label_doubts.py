"""Labels of batts that hardly belong together: a slip at set-out sets every limit of the house wrong."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from coordination.fabric import FabricError, calculate, find_limit
from coordination.sequence.conditions import Value


def doubt_labels(features: Mapping[str, Value]) -> list[str]:
    """A sentence for each label whose R hardly fits its thickness; foams and aerogels are no batts.

    Nothing is refused by it: the label on the bag decides, and is looked at when the batts come.
    """
    labels = (
        (_("Wall batts"), "wall_batt_r", "wall_batt_mm"),
        (_("Ceiling batts"), "ceiling_batt_r", "ceiling_batt_mm"),
        (_("Perimeter batts"), "perimeter_batt_r", "perimeter_batt_mm"),
    )
    least, most = find_limit("batts.conductivity_least"), find_limit("batts.conductivity_most")
    doubts = []
    for what, r, thickness in labels:
        try:
            label = calculate("label", thickness=features[thickness], r=features[r]).result
        except (KeyError, FabricError):
            # A sequence of one's own may ask for neither; what is no number is refused where it is used.
            continue
        if not label["plausible"]:
            doubts.append(
                _(
                    "%(what)s: R%(r)s in %(mm)s mm means %(found)s W/(mK), where batts have %(least)s to "
                    "%(most)s. Look at the label, and change the house if it says otherwise."
                )
                % {
                    "what": what,
                    "r": f"{float(features[r]):g}",
                    "mm": f"{float(features[thickness]):g}",
                    "found": f"{float(label['conductivity']):.3f}",
                    "least": f"{least.value:g}",
                    "most": f"{most.value:g}",
                }
            )
    return doubts
