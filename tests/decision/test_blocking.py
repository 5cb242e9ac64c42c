"""What the audit blocks is shown, decides no limit and carries no claim, and leaves other oils alone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.decision import words
from pinscar.decision.analysis import analyse
from pinscar.decision.judgements import Verdict
from pinscar.decision.record import Analysis
from pinscar.decision.words import conclusion

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"


@pytest.fixture(scope="module")
def reground(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    """The demo with all of C-21's pins re-ground and all of the reference's new."""
    folder = tmp_path_factory.mktemp("blocked") / "campaign"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("report*"))
    runs = pd.read_csv(folder / "runs.csv", dtype=str, keep_default_na=False)
    runs.loc[runs["lubricant"] == "R-10", "pin_state"] = "new"
    runs.loc[runs["lubricant"] == "C-21", "pin_state"] = "reground"
    runs.to_csv(folder / "runs.csv", index=False)
    return analyse(read_campaign(folder))


def test_a_blocked_comparison_keeps_its_numbers_but_is_not_called_like_for_like(reground: Analysis) -> None:
    blocked = [c for c in reground.comparisons if c.result.subject == "C-21"]
    area = next(c for c in blocked if c.response.name == "scar_area")
    assert all("re-ground pins" in (c.blocked or "") for c in blocked)
    assert area.result.low is not None
    assert area.result.high is not None
    assert not area.separated
    assert conclusion(area).startswith("not like for like")


def test_other_oils_are_still_compared(reground: Analysis) -> None:
    others = [
        c for c in reground.comparisons if c.result.subject == "C-22" and c.response.name == "scar_area"
    ]
    assert {c.blocked for c in others} == {None}
    assert all(c.result.low is not None for c in others)


def test_a_blocked_comparison_meets_no_limit_and_carries_no_claim(reground: Analysis) -> None:
    verdicts = {r.criterion.id: r.verdict for r in reground.criteria}
    assert verdicts["scar-450"] is Verdict.UNDECIDED
    assert verdicts["heat-600"] is Verdict.MET
    assert str(reground.claims[0].support) == "refused"
    assert "re-ground pins" in words.claim_because(reground.claims[0])
