"""The electrician's statement: given on his page, recorded on the walk, printed in the pack, never judged."""

import json
import re
from typing import Any

import pytest
from django.test import Client

from coordination.people.refusals import BadInput, NotAllowed, WrongState
from coordination.sequence.library.refusals import SequenceError
from coordination.sequence.standard import read_sequence
from coordination.sequence.statements import StatedRun, read_statement
from hold_points.facts import load_point
from hold_points.models import RecordEntry, Statement
from hold_points.pack import read_pack
from hold_points.pack_sheets import Reader
from hold_points.readiness import State
from hold_points.record import export_record
from hold_points.stating import state_runs
from hold_points.verify_record import verify_export
from tests.hold_points.houses import Site, make_site
from tests.hold_points.stated_sequence import WIRED
from tests.planner.conftest import text_of
from tests.visits.conftest import page_of, path_of

pytestmark = pytest.mark.django_db

GIVEN: dict[str, Any] = {
    "run": ["Kitchen power, back of the stud", "Lights over the trusses", ""],
    "contact": ["partly", "completely", ""],
    "rcd": ["yes", "not stated", "not stated"],
    "name": "Ines Quoll",
    "licence": "E 10442",
    "note": "Fittings of bath: 50 mm",
}


@pytest.fixture
def wired(db: None, monday_morning: Any, settings: Any, tmp_path: Any) -> Site:
    settings.MEDIA_ROOT = tmp_path
    return make_site(text=WIRED)


def send(site: Site, **entries: Any) -> Any:
    """What the electrician's phone gets for the form of his visit."""
    link = page_of(site.crews["electrician"])
    check = site.check("wires-stated").pk
    return Client().post(
        path_of(link, site.booking("elec"), "state"), {**GIVEN, "check": check, **entries}, follow=True
    )


def test_a_statement_is_kept_on_the_record_and_a_new_one_replaces_it_for_showing(wired: Site) -> None:
    words = text_of(send(wired))
    assert "Thank you: your statement is on the record." in words
    assert "Kitchen power, back of the stud: partly surrounded; RCD: yes" in words
    send(wired, run=["All runs"], contact=["clear"], rcd=["no"])
    first, second = Statement.objects.order_by("pk")
    assert len(first.runs) == 2
    entries = RecordEntry.objects.filter(house=wired.house, kind="statement").order_by("n")
    assert [json.loads(one.text)["facts"]["statement"] for one in entries] == [first.pk, second.pk]
    assert json.loads(entries[0].text)["facts"]["licence"] == "E 10442"
    assert (
        len(verify_export(export_record(wired.house).encode()))
        == RecordEntry.objects.filter(house=wired.house).count()
    )
    page = text_of(Client().get(page_of(wired.crews["electrician"])))
    assert "All runs: clear of insulation" in page
    assert "Kitchen power" not in page


def test_what_is_not_complete_comes_back_as_it_was_typed_with_what_to_mend(wired: Site) -> None:
    answer = send(wired, contact=["", "completely", ""], licence=" ")
    words = text_of(answer)
    assert answer.status_code == 422
    assert "How does it lie to the insulation? Choose a class." in words
    assert "The licence number is missing." in words
    html = answer.content.decode()
    assert 'value="Kitchen power, back of the stud"' in html
    assert re.search(r'value="completely" selected', html)
    assert not Statement.objects.exists()


def test_what_has_no_runs_is_stated_in_the_note(wired: Site) -> None:
    nothing = {"run": ["", ""], "contact": ["", ""], "rcd": ["not stated", "not stated"]}
    assert "Nothing is stated." in text_of(send(wired, **nothing, note=" "))
    assert not Statement.objects.exists()
    send(wired, **nothing, note="Frame bonded at the switchboard, two clamps")
    assert [(one.runs, one.note) for one in Statement.objects.all()] == [
        ([], "Frame bonded at the switchboard, two clamps")
    ]
    send(wired, run=["Waste behind the bath, plate over it"], contact=["no cable"], rcd=["not stated"])
    assert "no cable: does not apply" in text_of(Client().get(page_of(wired.crews["electrician"])))


def test_more_rows_keep_what_was_typed_and_call_nothing_wrong(wired: Site) -> None:
    answer = send(wired, more="yes", contact=["", "completely", ""], licence="")
    html = answer.content.decode()
    assert answer.status_code == 200
    assert html.count('name="run"') == 2 + 3
    assert 'value="Lights over the trusses"' in html
    assert "Choose a class" not in html
    assert not Statement.objects.exists()


def test_nobody_else_states_for_the_electrician(wired: Site) -> None:
    check = wired.check("wires-stated").pk
    plumber = page_of(wired.crews["plumber"])
    assert Client().post(path_of(plumber, wired.booking("elec"), "state"), GIVEN).status_code == 404
    answer = Client().post(
        path_of(plumber, wired.booking("plumb"), "state"), {**GIVEN, "check": check}, follow=True
    )
    assert "not asked at this visit" in text_of(answer)
    stated = read_statement(lambda name: [GIVEN[name]] if isinstance(GIVEN[name], str) else GIVEN[name])
    with pytest.raises(NotAllowed):
        state_runs(check, wired.crews["plumber"], stated)
    with pytest.raises(NotAllowed):
        state_runs(wired.check("wires-lie").pk, wired.crews["electrician"], stated)
    assert not Statement.objects.exists()


def test_on_the_walk_it_is_recorded_and_never_found_wrong(wired: Site, client: Client) -> None:
    check = wired.check("wires-stated")
    client.force_login(wired.supervisor)
    before = text_of(client.get(f"/walks/checks/{check.pk}/"))
    assert "Nothing stated yet." in before
    wired.find(check)
    state = load_point(wired.point("H4")).state_of(check.pk)
    assert state is not None
    assert state.state is State.NO_EVIDENCE
    send(wired)
    state = load_point(wired.point("H4")).state_of(check.pk)
    assert state is not None
    assert state.state is State.MET
    page = client.get(f"/walks/checks/{check.pk}/")
    assert "Ines Quoll, licence E 10442" in text_of(page)
    assert b'value="met">Recorded<' in page.content
    assert b'value="not met"' not in page.content
    for kind in ("not met", "put right"):
        with pytest.raises(BadInput, match="recorded, not judged"):
            wired.find(check, kind)
    beside = text_of(client.get(f"/walks/checks/{wired.check('wires-lie').pk}/"))
    assert "Lights over the trusses: completely surrounded" in beside
    assert "Not met" in beside


def test_a_photograph_of_the_paper_serves_and_after_the_release_nothing_is_stated(wired: Site) -> None:
    wired.release_all("H3", "H4")
    answer = send(wired)
    assert "This part is released." in text_of(answer)
    stated = read_statement(lambda name: [GIVEN[name]] if isinstance(GIVEN[name], str) else GIVEN[name])
    with pytest.raises(WrongState):
        state_runs(wired.check("wires-stated").pk, wired.crews["electrician"], stated)


def test_both_packs_print_it_and_the_owners_names_nobody(wired: Site) -> None:
    send(wired)
    said = {
        reader: [
            line
            for sheet in read_pack(wired.house, reader).details
            for check in sheet.checks
            for line in check.stated
        ]
        for reader in Reader
    }
    assert "Ines Quoll, licence E 10442" in said[Reader.BUILDER][0]
    assert "Kitchen power, back of the stud: partly surrounded; RCD: yes" in said[Reader.BUILDER]
    assert "partly surrounded; RCD: yes" in said[Reader.OWNER]
    assert not any("Quoll" in line or "Kitchen" in line or "50 mm" in line for line in said[Reader.OWNER])


def test_a_sequence_asks_for_a_statement_once_of_who_installs_a_detail() -> None:
    assert read_sequence(WIRED)
    document = 'kind = "document"\ntext = "Elec'
    for was, now in (("once = true\nsafety", "safety"), (document, document.replace("document", "seen"))):
        assert was in WIRED
        with pytest.raises(SequenceError, match="a statement is asked once"):
            read_sequence(WIRED.replace(was, now))


def test_rows_without_a_word_are_left_out_and_too_long_ones_are_not_cut() -> None:
    long = "x" * 121
    fields = {**GIVEN, "run": [long, "", "hob"], "contact": ["clear", "", "partly"]}
    fields["rcd"] = ["yes", "", "maybe"]
    stated = read_statement(lambda name: [fields[name]] if isinstance(fields[name], str) else fields[name])
    assert [one.run for one in stated.runs] == [long, "hob"]
    assert all(one.fault for one in stated.runs)
    assert stated.refused
    assert not StatedRun("hob", "partly").fault
