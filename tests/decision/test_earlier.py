"""Earlier campaigns beside one: limits rest on the earlier runs alone, and only what is alike is joined."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.folder import ROOT
from pinscar.decision.analysis import analyse
from pinscar.decision.earlier import Earlier, look_back
from pinscar.study import earlier as shown

TOML = """[campaign]
id = "{name}"
reference = "{reference}"
{more}
[rig]
geometry = "crossed-cylinders"
pin_diameter = "{pin} mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
"""
LENGTHS = (4.10, 4.22, 4.05, 4.18, 4.30, 4.12, 4.08, 4.25, 4.15, 4.20)


def made(
    folder: Path, month: int, lengths=LENGTHS, *, pin=12, reference="R-10", more="", other="C-1"
) -> Path:
    """A campaign of one load: the reference, and another oil with scars 0.9 times as long."""
    folder.mkdir(parents=True)
    name = folder.name
    text = TOML.format(name=name, reference=reference, more=more, pin=pin)
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    rows = ["run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],run_at"]
    number = 0
    for length in lengths:
        for oil, size in ((reference, length), (other, 0.9 * length)):
            number += 1
            at = f"2026-{month:02d}-{1 + number // 6:02d}T08:{number:02d}"
            rows.append(f"{name}-{number},{oil},450,60,{size:.3f},{0.54 * size:.3f},{at}")
    (folder / "runs.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


@pytest.fixture
def around(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(ROOT, str(tmp_path))
    return tmp_path


def looked(around: Path, *names: str, lengths=LENGTHS[:4]) -> tuple[Earlier, str, dict]:
    listed = ", ".join(f'"../{name}"' for name in names)
    more = f"reference_history = [{listed}]"
    analysis = analyse(read_campaign(made(around / "now", 6, lengths, more=more, other="C-9")))
    found = look_back(analysis.campaign, analysis.comparisons, analysis.confidence)
    assert found is not None
    entry = shown.entries(analysis, found)["reference_history"]
    return found, shown.shown(analysis, found).data, entry


def test_limits_rest_on_the_earlier_runs_alone(around: Path) -> None:
    made(around / "past", 3)
    _, html, entry = looked(around, "past", lengths=(4.1, 5.4))
    (chart,) = entry["charts"]
    # ISO 7870-2:2013, from memory: centre plus and minus 2.66 times the mean moving range (3 / 1.128).
    area = math.pi / 4 * 0.54 * np.round(LENGTHS, 3) ** 2
    logs = np.log(area)
    width = 3.0 / 1.128 * float(np.mean(np.abs(np.diff(logs))))
    ends = np.exp([logs.mean() - width, logs.mean(), logs.mean() + width])
    assert np.allclose([chart["lower"], chart["centre"], chart["upper"]], ends, rtol=2e-3)  # rounded widths
    assert (chart["n_earlier"], chart["n"]) == (10, 2)
    assert chart["triggered"] == ["now-3"]
    assert "a rule is triggered at 1 of 2 runs" in html.replace("\N{NO-BREAK SPACE}", " ")


def test_oils_tested_before_stand_by_their_own_campaign_s_reference_and_are_marked(around: Path) -> None:
    made(around / "past", 3)
    found, html, entry = looked(around, "past")
    by_oil = {one["lubricant"]: one for one in entry["oils"]}
    assert by_oil["C-1"]["earlier"] is True
    assert by_oil["C-9"]["earlier"] is False
    # both scars are 0.9 times as long and as wide, so their area is 0.81 times that of the reference
    assert [round(one["ratio"], 3) for one in entry["oils"]] == [0.81, 0.81]
    assert "<em>earlier</em>: past" in html
    assert found.left_out == ()


def test_what_is_not_alike_is_left_out_with_the_reason(around: Path) -> None:
    made(around / "past", 3, LENGTHS[:4])
    made(around / "thick", 2, pin=14)
    made(around / "other", 2, reference="R-11")
    made(around / "later", 7)
    found, html, entry = looked(around, "past", "thick", "other", "later")
    assert entry["campaigns"] == ["past"]
    told = " ".join(found.left_out)
    assert "its pin diameter is 14 mm, not 12 mm" in told
    assert "its reference is R-11, not R-10" in told
    assert "so it is not an earlier one" in told
    assert entry["charts"] == []
    assert "4 earlier points" in entry["no_chart"]
    assert "runs.csv" not in entry["no_chart"]
    assert "is not charted" in html


def test_nothing_outside_the_folder_is_followed_and_without_a_name_nothing_is_shown(
    tmp_path: Path, demo_analysis
) -> None:
    made(tmp_path / "past", 3)
    now = made(tmp_path / "now", 6, more='reference_history = ["../past"]')
    assert [one.code for one in check_campaign(now)[1]] == ["reference-history-outside"]
    assert shown.of(demo_analysis) is None
    assert shown.shown(demo_analysis, None).data == ""
    assert shown.entries(demo_analysis, None) == {}
