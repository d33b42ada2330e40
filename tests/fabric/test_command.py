"""The command as another system sees it: JSON out, or exit status 2 and the input named."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from coordination.fabric import CATALOGUE, FabricError, calculate
from coordination.fabric.__main__ import run

ROOT = Path(__file__).parents[2]
EXAMPLES = {
    "eave": "--pitch 22.5 --heel 100 --batt 290 --airway 25 --line roof",
    "eave_room": "--pitch 22.5 --heel 100",
    "perimeter": "--pitch 22.5 --heel 100 --perimeter 90",
    "strip": "--length 20 --width 12 --set_back 519",
    "platform": "--joist 90 --batt 290",
    "fill": "--depth 340 --stock 75:2.0,90:2.5,250:5.0 --squeeze 0",
    "compressed": "--r 6 --batt 290 --depth 250",
    "compression_chart": "--label 19 --thickness 6.25 --cavity 5.5",
    "batts": "--area 40 --width 430 --length 1160",
    "bays": "--length 8 --centres 600",
    "bay_cut": "--centres 600 --width 580",
    "pockets": "--corners 4 --junctions 9",
    "pipe_split": "--depth 90",
    "bridged": "--layers 0.04,0.169,0.18,2.5/0.75@0.12,0.059,0.13",
    "bare": "--r 6 --base 0.36 --fraction 0.05",
    "restore": "--r 3.5 --base 0.35 --fraction 0.0243",
    "voids": "--level 2 --r 2.5 --total 2.5945",
    "cutouts": "--count 20 --diameter 90 --clearance 100",
    "surface": "--u 0.39 --inside 20 --outside 5 --humidity 0.5",
    "mould_limit": "--inside 20 --outside 5 --humidity 0.6",
    "layer": "--thickness 90 --conductivity 0.036",
    "outer_leaf": "--outside cladding",
    "label": "--thickness 90 --r 2.5",
    "lagging": "--pipe 20 --lagging 13",
    "ventilation": "--pitch 22.5 --eaves 40 --ridge 20 --zone 7",
    "slot": "--area 25000 --chord 35",
    "permeance": "--zone 7 --edition 2022",
    "exhaust": "--room bathroom",
    "heater": "--litres 250 --unit 90 --nodes 8",
    "fan": "--q50 3000 --volume 400 --envelope 500",
    "fan_flow": "--flow 1900 --pressure 25",
}


def test_every_calculation_has_an_example():
    assert set(EXAMPLES) == set(CATALOGUE)


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_command_prints_inputs_result_unit_formula_and_source(name, capsys):
    assert run([name, *EXAMPLES[name].split()]) == 0
    out, err = capsys.readouterr()
    document = json.loads(out)
    assert err == ""
    assert list(document) == ["inputs", "result", "unit", "formula", "source"]
    assert set(document["result"]) == {one.name for one in CATALOGUE[name].results}
    assert set(document["inputs"]) == {one.name for one in CATALOGUE[name].inputs}
    assert set(document["unit"]) == set(document["result"]) | set(document["inputs"])
    assert document["formula"]
    assert document["source"]


def test_command_and_call_give_the_same(capsys):
    run(["eave", *EXAMPLES["eave"].split()])
    printed = json.loads(capsys.readouterr().out)
    assert printed == calculate("eave", pitch="22.5", heel=100, batt=290, airway=25, line="roof").as_dict()


def test_process_answers_and_refuses_as_promised():
    command = [sys.executable, "-m", "coordination.fabric"]
    good = subprocess.run(
        [*command, "eave", "--pitch=22.5", "--heel", "100", "--batt", "290"],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert good.returncode == 0
    assert round(json.loads(good.stdout)["result"]["set_back"]) == 519
    bad = subprocess.run(
        [*command, "eave", "--pitch", "0", "--heel", "100", "--batt", "290"],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert bad.returncode == 2
    assert bad.stdout == ""
    assert bad.stderr.startswith("pitch:")
    assert "Traceback" not in bad.stderr


@pytest.mark.parametrize(
    ("words", "culprit"),
    [
        ("eave --pitch 0 --heel 100 --batt 290", "pitch"),
        ("eave --pitch 22.5 --heel 100", "batt"),
        ("eave --pitch 22.5 --heel -1 --batt 290", "heel"),
        ("eave --pitch 22.5 --heel 100 --batt 290 --line wall", "line"),
        ("eave --pitch steep --heel 100 --batt 290", "pitch"),
        ("eave --pitch 22.5 --heel 100 --batt nan", "batt"),
        ("platform --joist 90 --batt -290", "batt"),
        ("bare --r 6 --fraction 1.2", "fraction"),
        ("restore --r 6 --base 0.36 --fraction 0.2", "fraction"),
        ("compressed --r 6 --batt 290 --depth 100", "depth"),
        ("compression_chart --label 20 --thickness 6.25 --cavity 5.5", "label"),
        ("compression_chart --label 19 --thickness 6 --cavity 5.5", "thickness"),
        ("compression_chart --label 19 --thickness 6.25 --cavity 6", "cavity"),
        ("permeance --zone 9", "zone"),
        ("batts --area 40 --width 430", "length"),
        ("batts --area 40 --width 430 --length 1160 --colour red", "colour"),
        ("batts --area 40 --area 41 --width 430 --length 1160", "area"),
        ("batts --area", "area"),
        ("batts area 40", "area"),
        ("roof --pitch 3", "calculation"),
    ],
)
def test_bad_input_is_named_on_standard_error(words, culprit, capsys):
    assert run(words.split()) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"{culprit}:")
    assert len(err) > len(culprit) + 12


def test_help_lists_every_calculation_with_its_inputs(capsys):
    assert run([]) == 0
    text = capsys.readouterr().out
    for definition in CATALOGUE.values():
        assert definition.question in text
        for one in definition.inputs:
            assert f"--{one.name}" in text
    assert run(["eave", "--help"]) == 0
    assert "--pitch" in capsys.readouterr().out


def test_refusal_keeps_its_parts_when_it_is_sent_to_another_process():
    import pickle

    refusal = pickle.loads(pickle.dumps(FabricError("pitch", "is flat")))  # noqa: S301 - our own bytes
    assert (refusal.input_name, refusal.message) == ("pitch", "is flat")


def test_fabric_loads_nothing_beyond_the_standard_library():
    """A clean process, so that what the tests themselves import does not count."""
    code = (
        "import sys; before = set(sys.modules); import coordination.fabric, coordination.fabric.misses, "
        "coordination.fabric.drawings; "
        "print(*sorted({name.split('.')[0] for name in set(sys.modules) - before}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    foreign = {
        name for name in done.stdout.split() if name != "coordination" and name not in sys.stdlib_module_names
    }
    assert foreign == set()


def test_numbers_too_large_for_any_house_give_a_refusal_and_no_infinity(capsys):
    assert run(["eave", "--pitch", "22.5", "--heel", "100", "--batt", "1e308"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("set_back: ")


def test_command_says_what_a_miss_costs(capsys):
    assert run(["miss.empty_bay", "--clear", "555", "--r", "2.5"]) == 0
    document = json.loads(capsys.readouterr().out)
    # An empty bay behind brick veneer: 15.7 °C at 20 inside and 5 outside (derived from ISO 6946's layers).
    assert document["result"]["temperature"] == pytest.approx(15.7, abs=0.06)
    assert document["result"]["mould"] is False
    assert document["inputs"]["height"] == 2.4
    assert run(["miss.fumes"]) == 0
    assert json.loads(capsys.readouterr().out)["result"]["rank"] == "danger"
    assert run(["miss.empty_bay", "--help"]) == 0
    assert "--clear [mm]  clear width of the bay" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "culprit"),
    [
        (["miss.leak"], "kind"),
        (["miss.empty_bay", "--clear", "-1", "--r", "2.5"], "clear"),
        (["miss.empty_bay", "--clear", "405", "--r", "2.5", "--humidity", "1.5"], "humidity"),
        (["miss.empty_bay", "--clear", "405", "--r", "2.5", "--frame", "bamboo"], "frame"),
    ],
)
def test_command_refuses_an_impossible_miss_by_name(capsys, words, culprit):
    assert run(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"{culprit}: ")
