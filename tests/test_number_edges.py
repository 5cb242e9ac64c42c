"""Numbers at the edges: impossible ones are named in one line, also in excluded runs; others are computed."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.toml_file import read_toml
from pinscar.decision.analysis import analyse_all
from pinscar.decision.results import results
from pinscar.press.results import results_bytes
from pinscar.wording import decimals_for, with_interval

HEAD = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,excluded"
TOML = """[campaign]
id = "edges"
reference = "R-10"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
"""
LIKE = (
    "R-10,450,60,3.0,1.6,yes,",
    "R-10,450,60,3.1,1.6,yes,",
    "C-21,450,60,2.7,1.5,yes,",
    "C-21,450,60,2.8,1.5,yes,",
)


def campaign(folder: Path, *rows: str, toml: str = TOML, steps: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "campaign.toml").write_text(toml)
    (folder / "runs.csv").write_text(
        "\n".join([HEAD, *(f"r{i},{row}" for i, row in enumerate(rows, 1))]) + "\n"
    )
    if steps:
        (folder / "load_steps.csv").write_text(steps)
    return folder


def evaluated(folder: Path) -> dict:
    """Evaluate a folder to the bytes of its results, which hold no number that is none."""
    text = results_bytes(results(analyse_all(read_campaign(folder))))
    return json.loads(text, parse_constant=lambda word: pytest.fail(f"results.json holds {word}"))


IMPOSSIBLE = (
    "C-21,-450,60,2.7,1.5,yes,{}",
    "C-21,0,60,2.7,1.5,yes,{}",
    "C-21,450,-60,2.7,1.5,yes,{}",
    "C-21,450,0,2.7,1.5,yes,{}",
    "C-21,450,60,-2.7,1.5,yes,{}",
    "C-21,450,60,1e-170,1.5,yes,{}",
    "C-21,450,60,2.7,1e-300,yes,{}",
    "C-21,1e300,60,2.7,1.5,yes,{}",
    "C-21,450,1e308,2.7,1.5,yes,{}",
    "C-21,5e-324,60,2.7,1.5,yes,{}",
    "C-21,450,60,1e300,1.5,yes,{}",
)


@pytest.mark.parametrize("row", IMPOSSIBLE)
def test_an_impossible_number_is_an_error_of_its_cell(tmp_path, row):
    found, problems = check_campaign(campaign(tmp_path / "c", *LIKE, row.format("")))
    assert found is None
    assert [(one.code, one.row) for one in problems if one.severity == "error"] == [("value-out-of-range", 6)]


@pytest.mark.parametrize("row", IMPOSSIBLE)
def test_in_an_excluded_run_it_is_left_out_and_said_so(tmp_path, row):
    folder = campaign(tmp_path / "c", *LIKE, row.format("misread"))
    warned = [one for one in read_campaign(folder).problems if one.code == "value-out-of-range"]
    assert [(one.row, one.severity) for one in warned] == [(6, "warning")]
    assert "in this excluded run it is left out" in warned[0].message
    last = evaluated(folder)["runs"][-1]
    assert (last["run_id"], last["excluded"]) == ("r5", "misread")


def test_a_scar_larger_than_the_bodies_in_an_excluded_run_breaks_nothing(tmp_path):
    evaluated(
        campaign(tmp_path / "c", *LIKE, "C-21,450,60,55,1.5,yes,misread", "C-21,450,60,2.7,33,yes,misread")
    )


def test_load_steps_that_contradict_an_excluded_run_break_nothing(tmp_path):
    steps = "run_id,start [s],load [N]\nr5,0,300\nr5,60,450\nr6,30,450\nr6,10,300\n"
    evaluated(campaign(tmp_path / "c", *LIKE, *["C-21,450,60,2.7,1.5,yes,stopped early"] * 2, steps=steps))


@pytest.mark.parametrize(
    "unit, digits", [("pin_diameter", 5000), ("pin_diameter", 400), ("lever_ratio", 400)]
)
def test_a_whole_number_that_is_too_large_is_one_plain_line(unit, digits):
    text = TOML.replace(
        'pin_diameter = "12 mm"\n', 'pin_diameter = "12 mm"\n' if unit != "pin_diameter" else ""
    )
    file, problems = read_toml(text + f"{unit} = {'9' * digits}\n")
    assert file is None
    (one,) = problems
    assert one.code in ("toml-syntax", "toml-out-of-range", "toml-unit-missing")
    assert len(str(one)) < 500


def test_a_count_that_is_too_large_is_one_plain_line(tmp_path):
    service = (
        '[service]\nchain_pitch = "12.7 mm"\npin_diameter = "4.45 mm"\nbush_length = "11.3 mm"\n'
        f'sprocket_teeth = {"9" * 400}\nsprocket_speed = "120 rpm"\nchain_tension = "900 N"\n'
    )
    file, problems = read_toml(TOML + service)
    assert file is None
    assert [(one.code, one.column) for one in problems] == [("toml-out-of-range", "service.sprocket_teeth")]


def test_words_of_an_interval_without_end_need_no_traceback():
    assert decimals_for(1.0, math.inf, 2.0) == 2
    assert with_interval(2.0, 1.0, math.inf)


def test_a_friction_that_never_settled_is_null(monkeypatch):
    # The reading of a trace may give no time: then there is none in the results, and no NaN.
    from pinscar.decision.responses import number

    assert number(float("nan")) is None
    assert number(np.float64(3.0)) == 3.0
