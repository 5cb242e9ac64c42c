"""The starter campaign has every column that pinscar knows, is free of problems and can be reported."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pinscar.bench.prepare import demo_names, new_campaign
from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.columns import RUNS
from pinscar.errors import UsageError


def test_the_starter_has_every_column_and_warns_of_its_rows(tmp_path: Path) -> None:
    new_campaign(tmp_path / "mine")
    with (tmp_path / "mine" / "runs.csv").open(encoding="utf-8", newline="") as file:
        header = {name.split(" [")[0] for name in next(csv.reader(file))}
    # Load and weights say the same, run_at and run_day too: the starter shows one of each.
    assert header == {column.name for column in RUNS} - {"weights", "run_day"}
    campaign, problems = check_campaign(tmp_path / "mine")
    assert campaign is not None
    assert [(one.code, one.severity.value) for one in problems] == [("example-rows", "warning")]


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="not empty"):
        new_campaign(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_a_demo_is_copied_by_name_and_a_wrong_name_suggests_the_nearest(tmp_path: Path) -> None:
    assert "conveyor_07" in demo_names()
    new_campaign(tmp_path / "demo", "conveyor_07")
    assert (tmp_path / "demo" / "runs.csv").exists()
    with pytest.raises(UsageError, match="conveyor_07"):
        new_campaign(tmp_path / "other", "conveyer_07")
