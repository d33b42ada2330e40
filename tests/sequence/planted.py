"""A sound sequence of three activities, and planting one fault in it."""

from __future__ import annotations

SOUND = """
key = "tiny"
number = 1
name = "Tiny"

[[trade]]
key = "framer"
name = "Framer"

[[trade]]
key = "liner"
name = "Liner"

[[zone]]
key = "ground"
name = "Ground floor"

[[stage]]
key = "frame"
name = "Frame"

[[place_kind]]
key = "room"
name = "Room"

[[place_attribute]]
key = "wet"
label = "wet area"
kind = "flag"
default = false

[[feature]]
key = "storeys"
label = "Storeys"
kind = "number"
whole = true
least = 1
most = 3
default = 1

[[feature]]
key = "garage"
label = "Garage"
kind = "flag"
default = true

[[feature]]
key = "roof"
label = "Roof"
kind = "choice"
choices = ["metal", "tiles"]
default = "metal"

[[feature]]
key = "batt"
label = "Batt"
kind = "number"
unit = "mm"
least = 50
most = 400
default = 290

[[not_covered]]
when = "storeys >= 3"
feature = "storeys"
why = "three storeys are not known here"
remedy = "take another entry"

[visits]
frame = "Frame"
lining = "Lining"

[[activity]]
id = "frame"
name = "Frame"
trade = "framer"
visit = "frame"
stage = "frame"
half_days = 4

[[activity]]
id = "extra"
name = "Extra frame"
trade = "framer"
visit = "frame"
stage = "frame"
half_days = 2
after = [{id = "frame"}]

[[activity]]
id = "H"
name = "Frame walk"
point = "hold"
walker = "supervisor"
stage = "frame"
half_days = 1
after = [{id = "extra", lag = 1}]

[[activity]]
id = "lining"
name = "Lining"
trade = "liner"
visit = "lining"
stage = "frame"
half_days = 3
stake = true
after = [{id = "H", lag = 2}]

[[detail]]
id = "d1"
name = "Pocket"
installed_by = ["frame", "extra"]
covered_by = ["lining"]
point = "H"
places = "wet"

[[check]]
id = "c1"
detail = "d1"
kind = "measured"
text = "Clear height over {batt} mm."
limit = {compare = "at least", feature = "batt", unit = "mm"}
evidence = ["photo with tape"]

[[option]]
key = "thin"
name = "Thin batt"
what = "A thinner batt."
sets = {batt = 90}
"""


def plant(*changes: tuple[str, str]) -> str:
    """The sound text with each first text replaced by the second, once; a text that is missing fails."""
    text = SOUND
    for old, new in changes:
        assert text.count(old) >= 1, f"nothing to replace: {old}"
        text = text.replace(old, new, 1)
    return text
