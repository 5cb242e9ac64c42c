"""Every code has a folder that triggers it, and that folder gives exactly the problems listed here."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.codes import CODES, condense, error, warning

TOML, RUNS, XLSX, STEPS, READINGS = "campaign.toml", "runs.csv", "runs.xlsx", "load_steps.csv", "readings.csv"

# folder: (severity, code, file, row, column, words that the mend must hold), one per problem
EXPECTED: dict[str, list[tuple[str, str, str, int | None, str | None, str]]] = {
    "file-missing": [("error", "file-missing", RUNS, None, None, "save run.csv as runs.csv")],
    "file-twice": [("error", "file-twice", RUNS, None, None, "keep one")],
    "name-lookalike": [("error", "name-lookalike", RUNS, None, "lubricant", "write them alike")],
    "name-formula": [("error", "name-formula", RUNS, 5, "lubricant", "start it with a letter")],
    "run-id-lookalike": [("warning", "run-id-lookalike", RUNS, None, "run_id", "files are named after them")],
    "hidden-marks": [("warning", "hidden-marks", RUNS, 5, None, "write the cell again")],
    "file-near-miss": [("warning", "file-near-miss", "loadsteps.csv", None, None, "load_steps.csv")],
    "file-encoding": [("error", "file-encoding", RUNS, 5, None, "CSV UTF-8")],
    "file-empty": [("error", "file-empty", RUNS, None, None, "header")],
    "table-no-rows": [("error", "table-no-rows", RUNS, None, None, "one row per run")],
    "table-quotes": [("error", "table-quotes", RUNS, 5, None, "close the quotes")],
    "table-separator": [("error", "table-separator", RUNS, 1, None, "commas or semicolons")],
    "table-too-many-cells": [("error", "table-too-many-cells", RUNS, 4, None, "decimals with a point")],
    "xlsx-unreadable": [("error", "xlsx-unreadable", XLSX, None, None, "save it again")],
    "xlsx-no-value": [("error", "xlsx-no-value", XLSX, 3, None, "paste the values")],
    "xlsx-merged": [("error", "xlsx-merged", XLSX, 3, None, "take the merge apart")],
    "xlsx-format": [("error", "xlsx-format", XLSX, 3, None, "plain numbers")],
    "parquet-unreadable": [
        ("error", "parquet-unreadable", "traces/h1.parquet", None, None, "write the table again")
    ],
    "parquet-type": [
        ("error", "parquet-type", "traces/h1.parquet", None, "time [s]", "seconds from the run")
    ],
    "toml-syntax": [("error", "toml-syntax", TOML, 7, None, 'in quotes, such as "12 mm"')],
    "toml-key-unknown": [
        ("error", "toml-key-unknown", TOML, 8, "rig.pin_hardnes", "known here are geometry"),
        ("error", "toml-key-unknown", TOML, 9, "rig.lever_ration", "write lever_ratio"),
    ],
    "toml-key-missing": [
        ("error", "toml-key-missing", TOML, 1, "campaign.reference", 'reference = "R-10"'),
        ("error", "toml-key-missing", TOML, 4, "rig.ring_diameter", "ring_diameter ="),
    ],
    "toml-not-a-section": [("error", "toml-not-a-section", TOML, 17, "criteria", "[[criteria]]")],
    "toml-not-text": [("error", "toml-not-text", TOML, 2, "campaign.id", '"3"')],
    "toml-not-a-choice": [("error", "toml-not-a-choice", TOML, 6, "rig.geometry", '"crossed-cylinders"')],
    "toml-not-a-quantity": [
        ("error", "toml-not-a-quantity", TOML, 7, "rig.pin_diameter", "number and a unit")
    ],
    "toml-quantity-unreadable": [
        ("error", "toml-quantity-unreadable", TOML, 7, "rig.pin_diameter", "decimals with a point")
    ],
    "toml-unit-missing": [
        ("error", "toml-unit-missing", TOML, 7, "rig.pin_diameter", '"12 mm"'),
        ("error", "toml-unit-missing", TOML, 8, "rig.ring_diameter", "mm"),
    ],
    "toml-unit-unknown": [("error", "toml-unit-unknown", TOML, 7, "rig.pin_diameter", "write mm")],
    "toml-unit-wrong": [("error", "toml-unit-wrong", TOML, 7, "rig.pin_diameter", "write mm")],
    "toml-unit-ambiguous": [
        ("error", "toml-unit-ambiguous", TOML, 9, "rig.ring_speed", "write rpm or revolution/s")
    ],
    "toml-unit-logarithmic": [("error", "toml-unit-logarithmic", TOML, 23, "criteria[1].limit", "SI value")],
    "toml-out-of-range": [
        ("error", "toml-out-of-range", TOML, 4, "campaign.confidence", "0.95"),
        ("error", "toml-out-of-range", TOML, 8, "rig.pin_diameter", "correct"),
    ],
    "toml-value-unusual": [("warning", "toml-value-unusual", TOML, 7, "rig.pin_diameter", "unit")],
    "id-twice": [("error", "id-twice", TOML, 18, "lubricants[3].id", "its own id")],
    "role-conflict": [("error", "role-conflict", TOML, 16, "lubricants[2].role", "candidate or benchmark")],
    "reference-without-runs": [
        ("error", "reference-without-runs", TOML, 3, "campaign.reference", "write R-10"),
    ],
    "block-unknown": [("error", "block-unknown", TOML, 4, "campaign.block", "write run_day")],
    "block-missing": [("error", "block-missing", RUNS, 3, "run_day", "fill in run_at")],
    "control-outside": [("error", "control-outside", TOML, 4, "campaign.control[1]", "--root")],
    "control-unreadable": [
        ("error", "control-unreadable", TOML, 4, "campaign.control[1]", "check the path, from this folder on")
    ],
    "toml-not-a-date": [("error", "toml-not-a-date", TOML, 26, "report.issued", "2026-04-24")],
    "toml-too-long": [("error", "toml-too-long", TOML, 26, "report.number", "shorten")],
    "report-date": [("error", "report-date", TOML, 26, "report.issued", "correct")],
    "report-replaces": [("error", "report-replaces", TOML, 27, "report.replaces", "revision = 2")],
    "logo-outside": [("error", "logo-outside", TOML, 26, "report.logo", "--root")],
    "logo-unusable": [("error", "logo-unusable", TOML, 26, "report.logo", "without pictures, scripts")],
    "notes-unreadable": [("error", "notes-unreadable", "notes.md", 3, None, "paragraphs")],
    "picture-unplaced": [("error", "picture-unplaced", "notes.md", 3, None, "put it into pictures/")],
    "picture-unusable": [("error", "picture-unusable", "notes.md", 1, None, "save it again")],
    "reference-history-itself": [
        ("error", "reference-history-itself", TOML, 4, "campaign.reference_history[1]", "earlier campaigns")
    ],
    "reference-history-outside": [
        ("error", "reference-history-outside", TOML, 4, "campaign.reference_history[1]", "--root")
    ],
    "reference-history-unreadable": [
        ("error", "reference-history-unreadable", TOML, 4, "campaign.reference_history[1]", "check the path")
    ],
    "history-itself": [("error", "history-itself", TOML, 4, "campaign.history[1]", "earlier campaigns only")],
    "history-outside": [("error", "history-outside", TOML, 4, "campaign.history[1]", "--root")],
    "history-unreadable": [
        ("error", "history-unreadable", TOML, 4, "campaign.history[1]", "check the path, from this folder on")
    ],
    "ring-speed-missing": [("error", "ring-speed-missing", RUNS, 3, "ring_speed", "700 rpm")],
    "response-unknown": [
        ("error", "response-unknown", TOML, 19, "criteria[1].response", "write film_pressure")
    ],
    "response-without-data": [
        ("warning", "response-without-data", TOML, 19, "criteria[1].response", "peak_temperature")
    ],
    "lubricant-unknown": [
        ("error", "lubricant-unknown", RUNS, 5, "lubricant", "write C-21"),
        ("error", "lubricant-unknown", TOML, 20, "criteria[1].lubricant", "write C-21"),
    ],
    "lubricant-without-runs": [
        ("warning", "lubricant-without-runs", TOML, 18, "lubricants[3].id", "take it out")
    ],
    "lubricant-lookalike": [("warning", "lubricant-lookalike", RUNS, None, "lubricant", "write them alike")],
    "criterion-limit": [("error", "criterion-limit", TOML, 23, "criteria[1].limit", "MPa")],
    "criterion-direction": [
        ("error", "criterion-direction", TOML, 17, "criteria[1].better", 'better = "lower"')
    ],
    "criterion-load": [("warning", "criterion-load", TOML, 21, "criteria[1].load", "correct the load")],
    "column-missing": [("error", "column-missing", RUNS, 1, None, "duration [s]")],
    "column-near-miss": [
        ("error", "column-near-miss", RUNS, 1, "lubricnat", "write it as lubricant"),
        ("error", "column-near-miss", RUNS, 1, "Scar Length (mm)", "write it as scar_length [mm]"),
        ("warning", "column-near-miss", RUNS, 1, "notes", "note"),
    ],
    "column-twice": [("error", "column-twice", RUNS, 1, "load [kgf]", "keep one")],
    "column-unnamed": [("error", "column-unnamed", RUNS, 5, "K", "give the column a name")],
    "column-reserved": [("error", "column-reserved", RUNS, 1, "scar_area [mm^2]", "scar_area_measured")],
    "column-not-a-response": [("warning", "column-not-a-response", RUNS, 1, "torque", "unit in brackets")],
    "unit-missing": [("error", "unit-missing", RUNS, 1, "load", "load [N]")],
    "unit-unwanted": [("error", "unit-unwanted", RUNS, 1, "note [mm]", "write it as note")],
    "unit-unknown": [
        ("error", "unit-unknown", RUNS, 1, "scar_length [milimeter]", "write mm"),
    ],
    "unit-wrong": [("error", "unit-wrong", RUNS, 1, "load [kg]", "or name the column weights [kg]")],
    "unit-ambiguous": [("error", "unit-ambiguous", RUNS, 1, "ring_speed [Hz]", "write rpm or revolution/s")],
    "unit-logarithmic": [("warning", "unit-logarithmic", RUNS, 1, "noise [dB]", "kept as text")],
    "load-and-weights": [("error", "load-and-weights", RUNS, 1, None, "keep one")],
    "value-missing": [
        ("error", "value-missing", RUNS, 4, "duration [s]", "excluded"),
        ("error", "value-missing", RUNS, 3, "load [N]", "load_steps.csv"),
        ("error", "value-missing", RUNS, 3, "scar_length [mm]", "readings.csv"),
    ],
    "value-not-a-number": [
        ("error", "value-not-a-number", RUNS, 3, "scar_length [mm]", "number alone"),
        ("error", "value-not-a-number", RUNS, 4, "scar_length [mm]", "blank"),
    ],
    "value-decimal-mark": [("error", "value-decimal-mark", RUNS, 3, "scar_length [mm]", "with a point")],
    "value-out-of-range": [
        ("error", "value-out-of-range", RUNS, 4, "load [N]", "correct"),
        ("error", "value-out-of-range", RUNS, 3, "scar_length [mm]", "correct"),
    ],
    "value-not-a-choice": [("error", "value-not-a-choice", RUNS, 5, "wear_stopped", "yes or no")],
    "value-not-a-date": [("error", "value-not-a-date", RUNS, 3, "run_at", "2026-03-04T08:30")],
    "value-date-two-ways": [("error", "value-date-two-ways", RUNS, 2, "run_at", 'dates = "day first"')],
    "value-unusual": [
        ("warning", "value-unusual", RUNS, 2, "load [kN]", "in kN"),
        ("warning", "criterion-load", TOML, 21, "criteria[1].load", "correct the load"),
    ],
    "excluded-not-a-reason": [
        ("error", "excluded-not-a-reason", RUNS, 3, "excluded", "blank to include the run")
    ],
    "run-id-twice": [("error", "run-id-twice", RUNS, 5, "run_id", "its own run_id")],
    "run-id-characters": [("error", "run-id-characters", RUNS, 5, "run_id", "letters, digits")],
    "run-day-conflict": [("error", "run-day-conflict", RUNS, 3, "run_day", "leave run_day out")],
    "quiet-after-end": [("error", "quiet-after-end", RUNS, 3, "quiet_time [s]", "units")],
    "quiet-twice": [("error", "quiet-twice", RUNS, 3, "quiet_after [s]", "clear the other")],
    "quiet-interval": [
        ("error", "quiet-interval", RUNS, 2, "quiet_after [s]", "not swapped"),
        ("error", "quiet-interval", RUNS, 3, "quiet_before [s]", "0 if nothing"),
    ],
    "quiet-but-wearing": [("warning", "quiet-but-wearing", RUNS, 5, "quiet_time [s]", "still wearing")],
    "scar-too-large": [
        *[
            ("error", "scar-too-large", RUNS, row, "scar_width [cm]", "unit in the header")
            for row in (2, 3, 4, 5)
        ],
        ("warning", "scar-swapped", RUNS, 2, "scar_width [cm]", "swapped"),
    ],
    "scar-swapped": [("warning", "scar-swapped", RUNS, 2, "scar_width [mm]", "swapped")],
    "temperature-order": [("warning", "temperature-order", RUNS, 3, "peak_temperature [degC]", "swapped")],
    "example-rows": [("warning", "example-rows", RUNS, 2, None, "put a run of your own")],
    "runs-all-excluded": [
        ("error", "runs-all-excluded", RUNS, None, None, "leave the column excluded blank")
    ],
    "steps-unknown-run": [("error", "steps-unknown-run", STEPS, 2, "run_id", "correct the run_id")],
    "steps-order": [("error", "steps-order", STEPS, 4, "start", "order the steps")],
    "steps-outside-run": [("error", "steps-outside-run", STEPS, 3, "start", "duration")],
    "steps-ambiguous": [("error", "steps-ambiguous", STEPS, 2, "start", "add a row with start 0")],
    "steps-load-differs": [("error", "steps-load-differs", RUNS, 3, "load [N]", "load_steps.csv")],
    "readings-unknown-run": [("error", "readings-unknown-run", READINGS, 2, "run_id", "correct the run_id")],
    "readings-twice": [("error", "readings-twice", READINGS, 3, "reading", "number the readings")],
    "readings-differ": [("warning", "readings-differ", RUNS, 3, "scar_length [mm]", "check run h2")],
    "trace-without-readings": [
        ("error", "trace-without-readings", "traces/h1.csv", 1, None, "friction_force [N]")
    ],
    "trace-order": [
        ("error", "trace-order", "traces/h1.csv", 5, "time [s]", "order the rows"),
        ("error", "trace-order", "traces/h1.csv", 6, "time [s]", "order the rows"),
    ],
    "trace-outside-run": [
        ("warning", "trace-outside-run", "traces/h1.csv", None, "time", "unit of the time"),
        ("warning", "trace-outside-run", "traces/h2.csv", None, "time", "unit of the time"),
    ],
    "trace-time-unit": [("error", "trace-time-unit", "traces/h1.csv", 1, "time", "time [min]")],
    "trace-impossible": [
        ("warning", "trace-impossible", "traces/h2.csv", None, "friction_force", "left out"),
    ],
    "trace-friction-unusual": [
        ("warning", "trace-friction-unusual", "traces/h2.csv", None, "friction_force", "its unit")
    ],
    "trace-temperature-differs": [
        ("warning", "trace-temperature-differs", "traces/h1.csv", None, "temperature", "is the one used")
    ],
    "evidence-unknown-run": [("warning", "evidence-unknown-run", "traces/H-2.csv", None, None, "h2.csv")],
    "evidence-twice": [("warning", "evidence-twice", "micrographs/h2.png", None, None, "keep one")],
    "fling-card-size-missing": [
        ("warning", "fling-card-size-missing", TOML, 5, "rig.fling_card", 'fling_card = "150 mm x 100 mm"')
    ],
    "composition-sum": [
        ("error", "composition-sum", TOML, 13, "lubricants[1].composition", '"balance"'),
        ("error", "toml-out-of-range", TOML, 21, "lubricants[2].composition.AW-1", "correct the value"),
    ],
    "composition-balance": [
        ("error", "composition-balance", TOML, 19, "lubricants[2].composition.base B", "one of them")
    ],
    "composition-same": [("warning", "composition-same", TOML, 19, "lubricants[2].composition", "batch")],
    "component-unknown": [
        ("error", "component-unknown", TOML, 21, "lubricants[2].composition.AW1", "write AW-1")
    ],
    "component-near-miss": [
        ("warning", "component-near-miss", TOML, 21, "lubricants[2].composition.AW1", "write AW-1")
    ],
    "price-unreadable": [("error", "price-unreadable", TOML, 16, "lubricants[2].price", "4.20 EUR/kg")],
    "price-currencies": [("error", "price-currencies", TOML, 17, "lubricants[2].price", "one currency")],
    "lubricant-stated-twice": [
        ("error", "lubricant-stated-twice", "lubricants.csv", 3, None, "one of the two files")
    ],
    "evidence-unknown-type": [("warning", "evidence-unknown-type", "sound/h2.aiff", None, None, ".wav")],
}


@pytest.mark.parametrize("name", EXPECTED)
def test_each_fixture_gives_exactly_its_problems(name: str, fixture_folder: Callable[[str], Path]) -> None:
    campaign, problems = check_campaign(fixture_folder(name))
    found = [(one.severity.value, one.code, one.file, one.row, one.column) for one in problems]
    assert found == [one[:5] for one in EXPECTED[name]]
    for problem, expected in zip(problems, EXPECTED[name], strict=True):
        assert expected[5] in problem.mend
    assert (campaign is None) == any(one[0] == "error" for one in EXPECTED[name])
    assert name in {one.code for one in problems}


def test_every_code_has_a_fixture_or_a_test_of_its_own() -> None:
    apart = {
        # these are about paths that a folder under version control can't hold
        "folder-missing",
        "file-unreadable",
        "file-not-plain",
        "link-outside",
        "file-name",
        "file-too-large",
        # these need a second folder (test_named_twice.py)
        "control-twice",
        "history-twice",
        "reference-history-twice",
    }
    assert set(EXPECTED) | apart == set(CODES)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    assert [one.code for one in check_campaign(tmp_path / "nowhere")[1]] == ["folder-missing"]


def test_a_file_in_place_of_the_folder(good: Path) -> None:
    problem = check_campaign(good / "runs.csv")[1][0]
    assert (problem.code, problem.message) == ("folder-missing", "this is a file and not a folder")


def test_a_table_that_cannot_be_opened(good: Path) -> None:
    (good / "readings.csv").mkdir()
    assert ("file-unreadable", "readings.csv") in {(one.code, one.file) for one in check_campaign(good)[1]}


def test_an_empty_folder_names_both_files(tmp_path: Path) -> None:
    assert [one.file for one in check_campaign(tmp_path)[1]] == ["campaign.toml", "runs.csv"]


def test_problems_of_all_files_come_at_once(edited: Callable[..., Path]) -> None:
    folder = edited("campaign.toml", ('"12 mm"', "12"))
    edited("runs.csv", ("3.40", "x"))
    (folder / "load_steps.csv").write_text("run_id,start [s],load\nh1,0,450\n", encoding="utf-8")
    (folder / "readings.csv").write_text("run_id,reader,scar_length [mm]\nh9,A,3\n", encoding="utf-8")
    assert {one.file for one in check_campaign(folder)[1]} == {TOML, RUNS, STEPS, READINGS}


def test_only_warnings_are_joined_down_a_column() -> None:
    rows = [warning("scar-swapped", RUNS, "m", "n", row=row, column="c") for row in (2, 3, 4, 9)]
    assert [one.row for one in condense(rows)] == [2]
    assert condense(rows)[0].message == "m, also in rows 3, 4, 9"


def test_an_unknown_code_is_refused() -> None:
    with pytest.raises(ValueError, match="key of CODES"):
        error("no-such-code", RUNS, "m", "n")


@pytest.mark.parametrize("header", ["load cell", "load N]", "weights of oil"])
def test_a_column_that_only_begins_like_the_load_is_not_one(edited: Callable[..., Path], header: str) -> None:
    problems = check_campaign(edited("runs.csv", ("load [N]", header)))[1]
    assert "load-and-weights" in {one.code for one in problems}
