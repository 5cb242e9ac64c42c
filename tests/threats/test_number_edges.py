"""Numbers at the edges through the whole evaluation: finite or null with a reason, and never a traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign_report import sections
from pinscar.decision.analysis import analyse_all
from pinscar.decision.check import check_all
from pinscar.decision.results import results
from pinscar.errors import Severity
from pinscar.press.results import results_bytes

HEAD = (
    "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],"
    "wear_stopped,quiet_time [s],excluded\n"
)
TOML = """[campaign]
id = "edges"
reference = "R-10"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
load_uncertainty = "1 %"
reading_uncertainty = "0.03 mm"
"""
LIMITS = """
[[criteria]]
id = "film"
response = "film_pressure"
lubricant = "C-21"
rule = "at least"
limit = "60 MPa"
[[criteria]]
id = "scar"
response = "scar_area"
lubricant = "C-21"
rule = "ratio at most"
limit = 0.9
[[claims]]
subject = "C-21"
response = "scar_area"
direction = "lower"
against = "R-10"
load = "450 N"
"""


def campaign(folder: Path, rows, toml=TOML):
    folder.mkdir(exist_ok=True)
    (folder / "campaign.toml").write_text(toml)
    lines = [f"r{number},{row}\n" for number, row in enumerate(rows, 1)]
    (folder / "runs.csv").write_text(HEAD + "".join(lines))
    return folder


def evaluated(folder, *, page=False):
    """Take a folder through the whole evaluation; its results hold no number that is none."""
    found, problems = check_all(folder)
    assert found is not None, [str(one) for one in problems]
    analysis = analyse_all(found)
    text = results_bytes(results(analysis))
    if page:
        for part in (sections.front, sections.limits, sections.film_and_scar, sections.against_reference):
            assert "nan" not in part(analysis).data.casefold().split()
    return json.loads(text, parse_constant=lambda word: pytest.fail(f"results.json holds {word}"))


def rows(oil, count, length=4.0, stopped="yes", step=0.05, load=450):
    return [f"{oil},{load},60,{length + step * n:.4g},2.2,{stopped},," for n in range(count)]


SHAPES = {
    "one run": rows("R-10", 1),
    "one oil": rows("R-10", 4),
    "two runs of two oils": rows("R-10", 1) + rows("C-21", 1, 3.5),
    "two runs each": rows("R-10", 2) + rows("C-21", 2, 3.5),
    "identical repeats": rows("R-10", 4, step=0) + rows("C-21", 4, 3.5, step=0),
    "one oil identical": rows("R-10", 4) + rows("C-21", 4, 3.5, step=0),
    "all censored": rows("R-10", 4, stopped="no") + rows("C-21", 4, 3.5, stopped="no"),
    "all but one censored": rows("R-10", 3, stopped="no")
    + rows("R-10", 1)
    + rows("C-21", 4, 3.5, stopped="no"),
    "the candidate censored": rows("R-10", 4) + rows("C-21", 4, 3.5, stopped="no"),
    "identical and censored": rows("R-10", 4, stopped="no", step=0)
    + rows("C-21", 4, 3.5, stopped="no", step=0),
    "not judged": rows("R-10", 3, stopped="") + rows("C-21", 3, 3.5, stopped=""),
    "loads apart": rows("R-10", 3, load=450) + rows("C-21", 3, 3.5, load=900),
    "hardly apart": rows("R-10", 3, step=1e-3) + rows("C-21", 3, 4.0, step=1e-3),
    "far apart": rows("R-10", 3, 0.05, step=0.001) + rows("C-21", 3, 9.9),
    "all but one excluded": [*rows("R-10", 2), *["C-21,450,60,3.5,1.9,yes,,torn"] * 2],
}


@pytest.mark.parametrize("shape", SHAPES.values(), ids=list(SHAPES))
def test_campaigns_at_the_edges(tmp_path, shape):
    found = evaluated(campaign(tmp_path / "c", shape), page=True)
    for one in found["summaries"]:
        if one["ci_low"] is None and one["ci_high"] is None:
            assert one["note"] or one["method"], one


@pytest.mark.parametrize("shape", ["two runs each", "identical repeats", "all censored", "not judged"])
def test_limits_and_claims_at_the_edges(tmp_path, shape):
    found = evaluated(campaign(tmp_path / "c", SHAPES[shape], TOML + LIMITS), page=True)
    for one in found["criteria"]:
        assert one["because"]
        assert one["verdict"] in ("met", "not met", "undecided")


def test_without_runs_of_the_reference_it_is_said(tmp_path):
    _, problems = check_campaign(campaign(tmp_path / "c", rows("C-21", 3)))
    assert [one.code for one in problems if one.severity is Severity.ERROR] == ["reference-without-runs"]


@pytest.mark.slow
def test_two_hundred_oils(tmp_path):
    many = [row for n in range(200) for row in rows(f"X-{n:03d}", 2, 3.0 + 0.01 * n)] + rows("R-10", 3)
    found = evaluated(campaign(tmp_path / "c", many))
    assert len({one["lubricant"] for one in found["summaries"]}) == 201


NUMBERS = (
    "0",
    "-0",
    "-1",
    "1e300",
    "-1e300",
    "5e-324",
    "1e-300",
    "1e308",
    "1e-12",
    "1e12",
    "nan",
    "inf",
    "1e400",
)


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("column", range(2, 7))
def test_one_number_at_the_edge_is_refused_or_computed(tmp_path, number, column):
    for excluded in ("", "misread"):
        cells = ["C-21", "450", "60", "3.5", "1.9", "yes", "30", excluded]
        place = column - 1 if column < 6 else 6
        cells[place] = number
        folder = campaign(
            tmp_path / f"c{excluded}", [*rows("R-10", 2), *rows("C-21", 2, 3.5), ",".join(cells)]
        )
        found, problems = check_all(folder)
        if found is None:
            wrong = [one for one in problems if one.severity is Severity.ERROR]
            assert all(one.row == 6 for one in wrong), [str(one) for one in wrong]
        else:
            evaluated(folder)
