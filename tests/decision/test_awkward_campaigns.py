"""Awkward but valid campaigns through the whole evaluation: no contradictions, no silly numbers."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from awkward_campaigns import write_campaign

from pinscar.campaign.campaign import read_campaign
from pinscar.decision import words
from pinscar.decision.analysis import analyse
from pinscar.decision.results import results
from pinscar.decision.summaries import FARTHEST

SILLY = re.compile(r"\bnan\b|\binf\b|\d[eE][+-]?\d|\d{8,}|0\.00000|\bNone\b")


@pytest.mark.parametrize("seed", range(12))
def test_an_awkward_campaign_contradicts_itself_nowhere(tmp_path: Path, seed: int) -> None:
    write_campaign(tmp_path, seed)
    analysis = analyse(read_campaign(tmp_path))
    json.dumps(results(analysis), allow_nan=False)
    for one in analysis.comparisons:
        found, equal = one.result, 1.0 if one.response.scale == "log" else 0.0
        over = found.low is not None and found.low > equal
        under = found.high is not None and found.high < equal
        assert not (over and under)
        if found.p_adjusted is not None:
            assert (over or under) == (found.p_adjusted < 1.0 - analysis.confidence)
            assert one.separated == ((over or under) and one.blocked is None)
        if found.ratio is not None:
            assert found.low is None or found.ratio / FARTHEST <= found.low <= found.ratio
            assert found.high is None or found.ratio <= found.high <= found.ratio * FARTHEST
        assert found.low is None or found.high is None or found.low < found.high
    for one in analysis.criteria:
        if one.verdict == "met":
            end = one.low if one.side == "at least" else one.high
            assert end is not None
            assert end >= one.limit if one.side == "at least" else end <= one.limit
    told = [words.because(one) for one in analysis.criteria]
    told += [words.conclusion(one) for one in analysis.comparisons]
    told += [words.claim_because(one) for one in analysis.claims]
    assert not [text for text in told if SILLY.search(text)]


def test_limits_out_of_all_reason_are_none_and_the_record_says_why(tmp_path: Path) -> None:
    """Two runs that scatter widely, and a quiet time of which most runs are bounds."""
    write_campaign(tmp_path, 0)
    lines = (tmp_path / "runs.csv").read_text(encoding="utf-8").splitlines()
    quiet = lines[0].split(",").index("quiet_time [s]")
    stopped = lines[0].split(",").index("wear_stopped")
    seen, rows = {"C": ["12", "", "55", "", "", "", "", ""], "R": ["9", "50"]}, [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        if cells[1] in seen and seen[cells[1]]:
            cells[quiet] = seen[cells[1]].pop(0)
            cells[stopped] = "yes" if cells[quiet] else "no"
        rows.append(",".join(cells))
    (tmp_path / "runs.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    toml = (tmp_path / "campaign.toml").read_text(encoding="utf-8")
    plain = "\n".join(line for line in toml.splitlines() if not line.startswith(("block", "spread")))
    (tmp_path / "campaign.toml").write_text(plain + "\n", encoding="utf-8")
    found = results(analyse(read_campaign(tmp_path)))
    (ratio,) = [
        one for one in found["comparisons"] if (one["response"], one["lubricant"]) == ("quiet_time", "C")
    ]
    assert ratio["ci_low"] is None
    assert ratio["ci_high"] is None
    assert ratio["p_adjusted"] is None
    (limit,) = [one for one in found["criteria"] if one["id"] == "quiet_time-1"]
    assert limit["verdict"] == "undecided"
    assert "from these data" in limit["because"]
    assert "over 1000 times away, since runs are bounds" in limit["because"]
