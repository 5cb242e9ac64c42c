"""A campaign whose days fall into a time when the rig was out of control says so; another one doesn't."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign.folder import hash_inputs
from pinscar.decision.analysis import analyse

DATA = Path(__file__).resolve().parents[2] / "data_demo"


@pytest.fixture
def campaign(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A demo campaign beside the rig's checks, which it names; the person named the folder around both."""
    monkeypatch.setenv("PINSCAR_ROOT", str(tmp_path))
    shutil.copytree(DATA / "rig_control", tmp_path / "rig_control", ignore=shutil.ignore_patterns("report*"))
    shutil.copytree(DATA / "range" / "conveyor_05", tmp_path / "c", ignore=shutil.ignore_patterns("report*"))
    names = sorted(path.name for path in (tmp_path / "rig_control").glob("20*"))
    control = ", ".join(f'"../rig_control/{name}"' for name in names)
    change(tmp_path / "c" / "campaign.toml", 'block = "run_day"', f'block = "run_day"\ncontrol = [{control}]')
    return tmp_path / "c"


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def move_to(folder: Path, month: str) -> None:
    change(folder / "runs.csv", "2025-10-", f"{month}-")


def found(folder: Path) -> list[tuple[str, str, str]]:
    findings = analyse(read_campaign(folder)).findings
    return [(f.id, str(f.severity), f.message) for f in findings if f.id.startswith("rig-")]


def test_a_rig_in_control_is_no_finding(campaign: Path) -> None:
    assert found(campaign) == []


@pytest.mark.parametrize("month", ["2025-11", "2025-12"])
def test_days_between_the_good_checks_are_in_doubt(campaign: Path, month: str) -> None:
    move_to(campaign, month)
    ((name, severity, message),) = found(campaign)
    assert (name, severity) == ("rig-out-of-control", "caution")
    said = message
    assert "on 9 December 2025, after the good check of 11 November 2025" in said
    assert "before that of 13 January 2026" in said


def test_checks_far_away_tell_nothing(campaign: Path) -> None:
    move_to(campaign, "2024-10")
    assert [(name, severity) for name, severity, _ in found(campaign)] == [("rig-control-unknown", "note")]


def test_too_few_checks_tell_nothing(campaign: Path) -> None:
    for path in sorted((campaign.parent / "rig_control").glob("20*"))[1:]:
        change(campaign / "campaign.toml", f', "../rig_control/{path.name}"', "")
    ((name, severity, message),) = found(campaign)
    assert (name, severity) == ("rig-control-unknown", "note")
    assert "only 4 points" in message


def test_the_checks_are_among_the_inputs(campaign: Path) -> None:
    before = hash_inputs(campaign)
    assert "../rig_control/2025-07/runs.csv" in before
    assert before == read_campaign(campaign).inputs
    change(campaign.parent / "rig_control" / "2025-07" / "runs.csv", "3.66", "3.67")
    assert hash_inputs(campaign) != before


def test_campaigns_that_name_each_other_can_be_read(campaign: Path) -> None:
    other = campaign.parent / "rig_control" / "2025-07"
    change(other / "campaign.toml", "confidence", 'control = ["../../c"]\nconfidence')
    assert read_campaign(other).control[0].control == ()
    assert len(read_campaign(campaign).control) == 10
