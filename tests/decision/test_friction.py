"""Friction and temperature from traces: phases of a run, what makes heat, what a trace fills in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.campaign_report import sections
from pinscar.decision.analysis import analyse
from pinscar.decision.evaluate import evaluate_runs, evaluate_with_traces
from pinscar.decision.traces import add_trace_temperatures, final_friction, friction_phases, warming_of

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
NO_STEPS = pd.DataFrame({"run_id": [], "start": [], "load": []})


def run(**changes: object) -> pd.DataFrame:
    plain = {"run_id": "a", "lubricant": "R-10", "load": 600.0, "duration": 60.0, "quiet_time": np.nan}
    return pd.DataFrame([plain | changes])


def trace(times: list[float], force: list[float]) -> dict[str, pd.DataFrame]:
    return {"a": pd.DataFrame({"time": times, "friction_force": force})}


def phases_of(runs: pd.DataFrame, steps: pd.DataFrame, traces: dict[str, pd.DataFrame]):
    (one,) = runs.to_dict("records")
    return tuple(friction_phases(one, steps[steps["run_id"] == one["run_id"]], traces[one["run_id"]]))


def test_a_run_without_steps_or_quiet_time_is_one_phase():
    (phase,) = phases_of(run(), NO_STEPS, trace([0, 20, 60], [60, 60, 30]))
    # trapezoids: (20 s x 60 N + 40 s x 45 N) / 60 s = 50 N over 600 N
    assert phase.friction.mean == pytest.approx(50 / 600, rel=1e-12, abs=0)
    assert (phase.start, phase.end, phase.is_last, phase.after_noise) == (0.0, 60.0, True, False)


def test_each_load_step_has_its_own_load_and_the_quiet_time_splits_the_last_one():
    steps = pd.DataFrame({"run_id": ["a", "a", "b"], "start": [0.0, 20.0, 0.0], "load": [300.0, 600.0, 9.0]})
    times = [0.0, 10.0, 19.0, 20.0, 30.0, 39.0, 40.0, 50.0, 60.0, 70.0]
    force = [45.0, 45.0, 45.0, 84.0, 84.0, 84.0, 48.0, 48.0, 48.0, 600.0]
    phases = phases_of(run(quiet_time=40.0), steps, trace(times, force))
    assert [(p.start, p.end, p.load) for p in phases] == [(0, 20, 300), (20, 40, 600), (40, 60, 600)]
    assert [round(p.friction.mean, 12) for p in phases] == [0.15, 0.14, 0.08]
    assert [p.after_noise for p in phases] == [False, False, True]
    assert final_friction(phases) == {"a": pytest.approx((0.08, 0.08))}


def test_gaps_are_bridged_and_a_phase_without_readings_tells_nothing():
    holes = trace([0.0, 10.0, 30.0, 60.0], [60.0, np.nan, 60.0, np.nan])
    (phase,) = phases_of(run(quiet_time=50.0), NO_STEPS, holes)
    assert (phase.end, phase.is_last) == (50.0, False)
    assert final_friction((phase,)) == {}


def test_a_force_of_the_wrong_sign_makes_no_heat():
    phases = phases_of(run(), NO_STEPS, trace([0, 30, 60], [-60, -50, -45]))
    assert phases[0].friction.mean < 0
    assert final_friction(phases) == {}


def test_a_trace_fills_in_what_was_not_typed_and_nothing_else():
    runs = pd.DataFrame(
        {
            "run_id": ["a", "b", "c", "d"],
            "duration": 60.0,
            "peak_temperature": [np.nan, 330.0, 340.0, np.nan],
            "ambient_temperature": [np.nan, np.nan, 294.0, 294.0],
        }
    )
    warm = pd.DataFrame(
        {"time": [0.0, 1.0, 30.0, 60.0, 90.0], "temperature": [295.0, 297.0, 320.0, 325.0, 400.0]}
    )
    filled = add_trace_temperatures(runs, dict.fromkeys(["a", "b", "c"], warming_of(warm, 60.0)))
    np.testing.assert_array_equal(filled["peak_temperature"], [325.0, 330.0, 340.0, np.nan])
    np.testing.assert_array_equal(filled["ambient_temperature"], [296.0, 296.0, 294.0, 294.0])
    assert filled["temperature_from_trace"].tolist() == [True, True, False, False]


def test_a_filled_temperature_is_flagged_and_makes_a_rise(tmp_path):
    (tmp_path / "campaign.toml").write_text(
        '[campaign]\nid = "a"\nreference = "R-10"\n[rig]\ngeometry = "crossed-cylinders"\n'
        'pin_diameter = "12 mm"\nring_diameter = "40 mm"\nring_speed = "700 rpm"\n',
        encoding="utf-8",
    )
    (tmp_path / "runs.csv").write_text(
        "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm]\n1,R-10,450,60,3.6,\n",
        encoding="utf-8",
    )
    (tmp_path / "traces").mkdir()
    (tmp_path / "traces" / "1.csv").write_text(
        "time [s],temperature [degC],friction_force [N]\n0,20,60\n30,40,45\n60,52,45\n", encoding="utf-8"
    )
    (record,) = evaluate_runs(read_campaign(tmp_path)).to_dict("records")
    assert record["temperature_rise"] == pytest.approx(32.0)
    assert "temperature-from-trace" in record["flags"]
    page = sections.film_and_heat(analyse(read_campaign(tmp_path))).data
    assert "Flash temperature is not computed" in page  # the rig states no thermal constants
    assert "Friction coefficient from the traces" in page


def test_the_demo_tells_the_friction_that_its_oils_have():
    campaign = read_campaign(DEMO)
    _, traces = evaluate_with_traces(campaign)
    phases = [phase for one in traces for phase in one.phases]
    assert {one.run_id for one in phases} == set(campaign.traces)
    quiet = {one.lubricant: one.friction.mean for one in phases if one.after_noise}
    # the invented truth is 0.085, 0.080 and 0.105, and a few per cent more while some metal still rubs
    for oil, truth in {"R-10": 0.085, "C-21": 0.080, "B-05": 0.105}.items():
        assert truth < quiet[oil] < 1.04 * truth
    rubbing = [one.friction.mean for one in phases if one.start == 0.0]
    assert min(rubbing) > max(quiet[oil] for oil in ("R-10", "C-21"))


def test_the_demo_report_names_traces_as_the_source_of_friction(demo_analysis):
    page = sections.film_and_heat(demo_analysis).data
    assert ">traces<" in page
    assert ">common practice<" in page  # the cells whose runs had no recorder
