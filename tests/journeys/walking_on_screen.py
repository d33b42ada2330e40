"""What a supervisor does on the tablet: walk a point room by room, sign, re-open a room."""

from __future__ import annotations

from itertools import count

from playwright.sync_api import Locator, Page, expect

from tests.hold_points.pictures import make_picture
from tests.journeys.people import PASSWORD

_widths = count()


def walk_room_by_room(tablet: Page, point: str, values: dict[str, str]) -> int:
    """Open the walk of a point from today's walks and find every check met; returns how many there were.

    Args:
        values: words of a check → the number to enter for it.
    """
    tablet.goto("/walks/")
    follow(tablet, tablet.get_by_role("link", name=point, exact=True))
    judged = 0
    while True:
        # A walk opens at its first open check; after each comes the next of the room, then the rooms.
        while "/checks/" in tablet.url:
            judge(tablet, values)
            judged += 1
        rooms = tablet.locator("a.room:has(.room__left)")
        if not rooms.count():
            break
        follow(tablet, rooms.first)
        follow(tablet, tablet.locator("ul.lines .line--open a.line__what").first)
    expect(tablet.locator(".kept")).to_contain_text("Nothing is left.")
    return judged


def follow(tablet: Page, control: Locator) -> None:
    """Press a link or button and wait for the page that it leads to."""
    with tablet.expect_navigation():
        control.click()


def judge(tablet: Page, values: dict[str, str]) -> None:
    """Enter the number and send the photograph that the open check asks for, and find it met."""
    words = tablet.locator("#what").inner_text()
    if tablet.locator("#value").count():
        tablet.fill("#value", next(value for text, value in values.items() if text in words))
    if tablet.get_by_text("Needs a photograph").count():
        # A photograph that is on the record already shows nothing new and does not count again.
        picture = make_picture(size=(64 + next(_widths), 48))
        tablet.set_input_files("#photo", {"name": "site.jpg", "mimeType": "image/jpeg", "buffer": picture})
        expect(tablet.locator("#photo-label")).to_have_text("Photo (1)")
    follow(tablet, tablet.get_by_role("button", name="Met", exact=True))
    expect(tablet.locator(".message--success")).to_contain_text("On the record")


def sign_on_screen(tablet: Page) -> None:
    """From a walk with nothing left: draw the signature with the pointer, give the password, release."""
    follow(tablet, tablet.locator(".walk-acts").get_by_role("link", name="Sign"))
    canvas = tablet.locator("canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    tablet.mouse.move(box["x"] + 60, box["y"] + 90)
    tablet.mouse.down()
    for step in range(24):
        tablet.mouse.move(box["x"] + 60 + step * 12, box["y"] + 90 + (step % 4) * 18)
    tablet.mouse.up()
    tablet.get_by_label("Your password").fill(PASSWORD)
    tablet.locator("form.sign").get_by_role("button", name="Release the hold point").click()
    expect(tablet.locator(".why--open")).to_contain_text("Released")


def reopen_room_on_screen(tablet: Page, held: str, room: str, why: str) -> None:
    """From the page of a released point: tick one room, say why, and press the second time elsewhere."""
    tablet.goto(held)
    follow(tablet, tablet.locator(".actions").get_by_role("link", name="Re-open"))
    tablet.locator(".pick label", has_text=room).click()
    tablet.get_by_label("Why", exact=True).fill(why)
    tablet.get_by_role("button", name="Go on").click()
    expect(tablet.locator(".sure")).to_contain_text(f"Re-open for {room}?")
    expect(tablet.locator(".sure")).to_contain_text("falls back to pencilled")
    tablet.get_by_role("button", name="Yes, re-open").click()
    expect(tablet.locator(".why:not(.why--open)")).to_contain_text("It is held.")
