"""A starter folder has every column and passes the check once its example rows are counted."""

from __future__ import annotations

from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.columns import READINGS, RUNS
from pinscar.campaign.describe import describe_columns, response_columns
from pinscar.campaign.new import copy_demo, new_campaign
from pinscar.errors import RunError, UsageError


def test_the_starter_has_every_column(tmp_path: Path) -> None:
    new_campaign(tmp_path / "hoist-04")
    header = (tmp_path / "hoist-04" / "runs.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    assert header == [column.header for column in RUNS if column.name not in {"weights", "run_day"}]
    header = (tmp_path / "hoist-04" / "readings.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    assert header == [column.header for column in READINGS]


def test_the_starter_asks_for_runs_and_nothing_else(tmp_path: Path) -> None:
    new_campaign(tmp_path / "hoist-04")
    assert [one.code for one in check_campaign(tmp_path / "hoist-04")[1]] == ["runs-all-excluded"]


def test_the_starter_reads_once_its_rows_count(tmp_path: Path) -> None:
    folder = tmp_path / 'a "new" one'
    new_campaign(folder)
    text = (folder / "runs.csv").read_text(encoding="utf-8").replace('"example row, to be deleted"', "")
    (folder / "runs.csv").write_text(text, encoding="utf-8")
    campaign = read_campaign(folder)
    assert campaign.problems == ()
    assert campaign.file.campaign.id == 'a "new" one'
    assert campaign.runs["lubricant"].tolist() == ["R-10", "C-21"]


def test_commented_lines_of_the_starter_are_right_too(tmp_path: Path) -> None:
    new_campaign(tmp_path)
    lines = (tmp_path / "campaign.toml").read_text(encoding="utf-8").splitlines()
    opened = [
        line[2:] if line.startswith("# ") and (" = " in line or line.startswith("# [")) else line
        for line in lines
    ]
    opened = [line for line in opened if not line.startswith("A campaign")]
    (tmp_path / "campaign.toml").write_text("\n".join(opened), encoding="utf-8")
    text = (tmp_path / "runs.csv").read_text(encoding="utf-8").replace('"example row, to be deleted"', "")
    (tmp_path / "runs.csv").write_text(text, encoding="utf-8")
    campaign, problems = check_campaign(tmp_path)
    assert problems == []
    assert campaign is not None
    assert campaign.file.service is not None
    assert campaign.file.claims[0].percentage == pytest.approx(0.3, rel=1e-15)


def test_nothing_is_overwritten(good: Path) -> None:
    before = {path.name: path.read_bytes() for path in good.iterdir()}
    with pytest.raises(UsageError, match=r"already holds campaign\.toml, runs\.csv"):
        new_campaign(good)
    with pytest.raises(UsageError, match="is a file"):
        new_campaign(good / "runs.csv")
    assert before == {path.name: path.read_bytes() for path in good.iterdir()}


def test_a_folder_that_cannot_be_made_is_told(good: Path) -> None:
    with pytest.raises(RunError, match="cannot be written"):
        new_campaign(good / "runs.csv" / "inside")


def test_a_demo_is_copied_without_its_reports(good: Path, tmp_path: Path) -> None:
    (good / "report").mkdir()
    (good / "report" / "report.html").write_text("", encoding="utf-8")
    (good / "report-failed.ipynb").write_text("", encoding="utf-8")
    (good / "sound").mkdir()
    (good / "sound" / "h1.wav").write_bytes(b"RIFF")
    copied = copy_demo(good, tmp_path / "mine")
    assert [path.relative_to(tmp_path / "mine").as_posix() for path in copied] == [
        "campaign.toml", "runs.csv", "sound/h1.wav",
    ]  # fmt: skip
    with pytest.raises(UsageError, match="already holds"):
        copy_demo(good, tmp_path / "mine")


def test_columns_are_described_as_they_stand_in_the_file(good: Path) -> None:
    text = (good / "runs.csv").read_text(encoding="utf-8").replace("note", "torque [N m],shaken")
    (good / "runs.csv").write_text(text.replace("squeal", "1.2,yes"), encoding="utf-8")
    campaign = read_campaign(good)
    notes = {one.header: one for one in describe_columns(campaign)}
    assert list(notes)[-2:] == ["torque [N m]", "shaken"]
    assert (notes["torque [N m]"].known, notes["torque [N m]"].filled) == (False, 1)
    assert "usable as a response" in notes["torque [N m]"].meaning
    assert "kept as text" in notes["shaken"].meaning
    assert notes["load [N]"].filled == 4
    assert "torque" in response_columns(campaign)
    assert "load" not in response_columns(campaign)
