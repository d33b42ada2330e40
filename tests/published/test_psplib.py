"""Schedules of published instances: feasible, and never better than what is proved to be impossible.

Source: PSPLIB (see psplib/SOURCE.md); the files are read a second time by the library `psplib`.
"""

import psplib
import pytest

from coordination.engine import Refused, compute_dates
from coordination.engine.levelling import level_network
from coordination.engine.projects import generate_schedule, shorten_project
from coordination.engine.psplib import read_psplib
from coordination.engine.verify import find_faults
from coordination.engine.verify_crews import find_crew_faults
from tests.published.psplib_files import FOLDER, instances

SOME = [*instances("j30")[::6], *instances("j60")[::12], *instances("j120")[::20]]


def judge(network, start):
    dates = {a.id: (s, s + a.duration) for a, s in zip(network.activities, start, strict=True)}
    return find_faults(network, dates) + find_crew_faults(network, dates)


def test_the_selection_is_whole():
    assert [len(instances(name)) for name in ("j30", "j60", "j120")] == [48, 48, 60]


@pytest.mark.parametrize("instance", SOME, ids=lambda i: i.name)
def test_the_reader_agrees_with_another_one(instance):
    theirs, ours = psplib.parse_psplib(instance.path), instance.network
    assert [c.capacity for c in ours.crews] == [r.capacity for r in theirs.resources]
    names = [c.name for c in ours.crews]
    assert [(a.duration, [a.crew.get(n, 0) for n in names]) for a in ours.activities] == [
        (x.modes[0].duration, list(x.modes[0].demands)) for x in theirs.activities
    ]
    assert {(int(x.from_id) - 1, int(x.to_id) - 1) for x in ours.relationships} == {
        (i, j) for i, x in enumerate(theirs.activities) for j in x.successors
    }
    assert compute_dates(ours).finish == instance.critical_path


@pytest.mark.parametrize("scheme", ["serial", "parallel"])
@pytest.mark.parametrize("rule", ["LFT", "slack", "EST"])
@pytest.mark.parametrize("instance", SOME[::3], ids=lambda i: i.name)
def test_one_pass_of_a_rule_is_feasible_and_not_below_the_lower_bound(instance, rule, scheme):
    found = generate_schedule(instance.network, rule, scheme)
    assert judge(instance.network, found.start) == []
    assert found.makespan >= instance.best_lower


@pytest.mark.parametrize("instance", SOME, ids=lambda i: i.name)
def test_the_search_is_feasible_keeps_its_number_and_comes_near_the_best_known(instance):
    found = shorten_project(instance.network, schedules=1000, seed=1)
    assert judge(instance.network, found.start) == []
    assert found.schedules <= 1000
    assert instance.best_lower <= found.makespan <= instance.best_upper * 1.15
    assert found.bound == instance.critical_path
    assert shorten_project(instance.network, schedules=1000, seed=1) == found


def test_most_small_instances_are_solved_to_the_published_optimum():
    solved = [
        shorten_project(i.network, schedules=5000, seed=1).makespan == i.best_upper for i in instances("j30")
    ]
    assert sum(solved) >= 45


def test_levelling_takes_a_project_file_and_counts_what_was_asked():
    instance = instances("j30")[0]
    levelled = level_network(instance.network, schedules=300, seed=2)
    assert (levelled.bound, levelled.schedules <= 300) == (instance.critical_path, True)
    dates = {name: (levelled.start[name], levelled.finish[name]) for name in levelled.start}
    assert find_faults(instance.network, dates) + find_crew_faults(instance.network, dates) == []


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("RESOURCEAVAILABILITIES", "NOTHING", "no section 'RESOURCEAVAILABILITIES'"),
        ("  2      1     8", "  2      2     8", "job 2 has more than one mode"),
        ("  2      1     8", "  2      1     x", "not all numbers"),
    ],
)
def test_damaged_files_are_refused_by_name(old, new, words):
    text = (FOLDER / "j30" / "j301_1.sm").read_text()
    assert old in text
    with pytest.raises(Refused, match=words):
        read_psplib(text.replace(old, new).encode())
