"""The short sequence with an electrician, whose wiring asks for his statement; invented."""

from tests.hold_points.houses import TEXT

WIRED = (
    TEXT.replace("trade = [\n", 'trade = [\n  {key = "electrician", name = "Electrician"},\n')
    .replace('sections = ["pipes", "air seal"]', 'sections = ["pipes", "air seal", "wiring"]')
    .replace(
        'after = [{id = "plumb"}]\n\n[[activity]]\nid = "batts"',
        'after = [{id = "plumb"}, {id = "elec"}]\n\n[[activity]]\nid = "batts"',
    )
    + """
[[activity]]
id = "elec"
name = "Electrical rough-in"
trade = "electrician"
stage = "close"
half_days = 2
after = [{id = "H3"}]

[[detail]]
id = "d-wires"
name = "Wiring"
installed_by = ["elec"]
covered_by = ["batts"]
point = "H4"
section = "wiring"
caution = "Treat every cable as live."

[[check]]
id = "wires-stated"
detail = "d-wires"
kind = "document"
text = "Electrician's own statement of each run."
evidence = ["statement"]
once = true
safety = true

[[check]]
id = "wires-lie"
detail = "d-wires"
kind = "seen"
text = "Cables lie as stated."
"""
)
