"""A campaign that is named twice, or copied, would count its runs twice: it is refused."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.folder import ROOT


@pytest.fixture(autouse=True)
def around(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Name the folder around all campaigns."""
    monkeypatch.setenv(ROOT, str(tmp_path))


KEYS = ("control", "history", "reference_history")


def laid_out(tmp_path: Path, good: Path, key: str, *names: str) -> Path:
    """Lay out a campaign, an earlier one with other runs, and a copy of that one."""
    for name in ("earlier", "copied"):
        shutil.copytree(good, tmp_path / name)
        runs = tmp_path / name / "runs.csv"
        runs.write_text(runs.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    settings = good / "campaign.toml"
    named = ", ".join(f'"{name}"' for name in names)
    text = settings.read_text(encoding="utf-8").replace("[campaign]\n", f"[campaign]\n{key} = [{named}]\n", 1)
    settings.write_text(text, encoding="utf-8")
    return good


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("again", ["../earlier", "../earlier/.", "../copied/../earlier", "../copied"])
def test_a_campaign_named_twice_or_copied_is_refused(
    tmp_path: Path, good: Path, key: str, again: str
) -> None:
    _, problems = check_campaign(laid_out(tmp_path, good, key, "../earlier", again))
    (problem,) = [one for one in problems if one.severity.value == "error"]
    assert problem.code == f"{key.replace('_', '-')}-twice"
    assert problem.column == f"campaign.{key}[2]"
    assert problem.value == again
    assert "those of ../earlier once more" in problem.message


@pytest.mark.parametrize("key", KEYS)
def test_a_campaign_named_once_is_read(tmp_path: Path, good: Path, key: str) -> None:
    campaign, _ = check_campaign(laid_out(tmp_path, good, key, "../earlier"))
    assert campaign is not None
    assert len(getattr(campaign, key)) == 1


def test_a_copy_of_the_campaign_is_no_earlier_one(tmp_path: Path, good: Path) -> None:
    shutil.copytree(good, tmp_path / "same")
    _, problems = check_campaign(laid_out(tmp_path, good, "history", "../same"))
    (problem,) = [one for one in problems if one.severity.value == "error"]
    assert problem.code == "history-twice"
    assert "those of this campaign itself" in problem.message
