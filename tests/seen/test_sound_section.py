"""What the campaign report tells of recordings."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pinscar.campaign_report import sections
from pinscar.decision import recordings
from pinscar.evidence.friction_stop import FrictionStop
from pinscar.evidence.sound import QuietHeard
from pinscar.page import style
from pinscar.seen import sound, sound_chart

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"


@pytest.fixture(scope="module")
def heard(demo_analysis) -> tuple[recordings.RunHeard, ...]:
    return demo_analysis.evidence.recordings


@pytest.fixture(scope="module")
def section(demo_analysis) -> str:
    """The words of the demo's section, which listens to every recording."""
    return words(sections.sound(demo_analysis).data)


def words(html: str) -> str:
    text = re.sub(r"<[^>]+>", " ", re.sub(r"data:image[^\"]*", "", html))
    return re.sub(r"[\s\u2007\u2008\u00a0]+", " ", text)


def made(run_id: str, heard: float | None, typed: float = np.nan, friction: float | None = None):
    accepted = heard is not None
    reason = "" if accepted else "silent: nothing was recorded"
    low, high = (heard - 1.0, heard + 1.0) if accepted else (None, None)
    level = -20.0 if accepted else None
    quiet = QuietHeard(
        accepted=accepted,
        reason=reason,
        quiet_time=heard,
        low=low,
        high=high,
        confidence=0.95,
        contrast=10.0 if accepted else None,
        noise_level=level,
        quiet_level=level,
        scrape_share=0.5,
        level=None,
    )
    stop = (
        None
        if friction is None
        else FrictionStop(
            accepted=True,
            reason="",
            time=friction,
            low=friction - 1,
            high=friction + 1,
            confidence=0.95,
            drop=9.0,
            plateau=30.0,
        )
    )
    return recordings.RunHeard(
        run_id=run_id,
        lubricant="C-21",
        load=450.0,
        duration=60.0,
        typed=typed,
        file=f"sound/{run_id}.wav",
        heard=quiet,
        friction=stop,
    )


def test_the_demo_section_says_what_was_heard(section):
    assert "5 of 6 recordings tell when the rubbing noise stopped" in section
    assert re.search(r"c07-23: typed 41 s, heard 3[23] s", section)
    assert "c07-31: the last change is under 3 dB: too little to tell" in section
    assert "Upright line: end of the noise as heard" in section


def test_a_campaign_without_recordings_says_so_in_a_line(tmp_path):
    shutil.copytree(DEMO, tmp_path / "d", ignore=shutil.ignore_patterns("report*", "sound"))
    assert words(sections.sound(sections.load(str(tmp_path / "d"))).data).strip().startswith("No recordings")


def test_the_demo_is_heard_when_its_truth_says(heard):
    # From the seeded truth of the demo: when 3 % of the load are left on metal [s].
    truth = {"c07-01": 45.48, "c07-06": 41.05, "c07-12": 40.59, "c07-17": 21.71, "c07-23": 40.50 - 8.0}
    found = {run.run_id: run.heard.quiet_time for run in heard if run.heard.accepted}
    assert found == pytest.approx(truth, abs=0.3)


def test_disagreement_is_told_where_it_is():
    runs = [made("1", 30.0, typed=31.0, friction=32.0), made("2", 30.0, typed=40.0, friction=50.0)]
    assert [run.typed_off for run in runs] == [0.0, 9.0]
    assert [run.friction_gap for run in runs] == [0.0, 18.0]
    said = sound.sound_sentence(runs)
    assert "disagree in 1 of 2 runs (2: typed 40 s, heard 30 s)" in said
    assert "Sound and friction disagree in 1 of 2 runs with both (2 by 18 s)" in said
    assert made("3", 30.0, typed=20.0).typed_off == -9.0


def test_refused_recordings_have_no_number():
    said = sound.sound_sentence([made("1", None)])
    assert said.startswith("0 of 1 recording tell")
    text = words(sound.sound_table([made("1", None)], [""]))
    assert "not determined" in text
    assert "1: silent: nothing was recorded" in text


def louder(run_id: str, level: float) -> recordings.RunHeard:
    plain = made(run_id, 30.0)
    return replace(plain, heard=replace(plain.heard, noise_level=level))


def test_loudness_is_compared_only_at_one_gain():
    runs = [made("1", 30.0), louder("2", -14.0)]
    assert "+6.0" in words(sound.sound_table(runs, ["high", "High"]))
    for gains in (["high", "low"], ["", ""], ["high", ""]):
        text = words(sound.sound_table(runs, gains))
        assert "+6.0" not in text
        assert "Loudness is not compared" in text


def test_runs_at_another_or_an_unknown_gain_stay_out_and_say_so():
    runs = [made("1", 30.0), louder("2", -14.0), louder("3", -2.0), louder("4", -1.0), made("5", None)]
    text = words(sound.sound_table(runs, ["20 dB", "20 dB", "23 dB", "", "20 dB"]))
    for told in ("+6.0", "other gain", "gain not noted", "against that of 1 at gain 20 dB"):
        assert told in text
    assert "+18.0" not in text
    two = words(sound.sound_table([*runs[:3], louder("6", -5.0)], ["20 dB", "20 dB", "23 dB", "23 dB"]))
    assert "\u22123.0" in two
    assert "against that of 1 at gain 20 dB and that of 3 at gain 23 dB" in two


def test_the_demo_compares_loudness_and_leaves_out_the_run_at_another_gain(section):
    assert "other gain" in section
    assert "against that of c07-01 at gain 20 dB" in section


@pytest.mark.parametrize("width", [92.0, style.PRINT_WIDTH_MM])
@pytest.mark.parametrize("number", [1, 2, 5, 6])
def test_the_chart_has_a_panel_a_run_and_marks_the_end(heard, width, number):
    roles = {run.lubricant: "candidate" for run in heard}
    figure = sound_chart.sound_chart(heard[:number], roles, width_mm=width)
    shown = [axes for axes in figure.axes if axes.get_visible()]
    assert len(shown) == number
    marked = [line.get_xdata()[0] for line in shown[0].lines if len(set(line.get_xdata())) == 1]
    assert heard[0].heard.quiet_time in marked
    assert heard[0].typed in marked
