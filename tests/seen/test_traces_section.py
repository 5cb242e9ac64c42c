"""What the campaign report and results.json tell of traces, against sums done beside the code."""

from __future__ import annotations

import csv
import json
import math
import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pinscar.campaign_report import sections
from pinscar.contact.wear import friction_energy
from pinscar.decision.context import specific_energy_uncertainty
from pinscar.decision.kept_results import fingerprint
from pinscar.decision.results import results
from pinscar.decision.traces import RunTrace
from pinscar.evidence.force_zero import find_zero
from pinscar.evidence.friction_stop import friction_stop
from pinscar.evidence.warming import read_warming
from pinscar.page import style
from pinscar.seen import trace_chart, traces
from pinscar.seen.traces import traces_drawn

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"


def words(html: str) -> str:
    text = re.sub(r"<[^>]+>", " ", re.sub(r"data:image[^\"]*", "", html))
    return re.sub(r"[\s\u2007\u2008\u00a0\u202f]+", " ", text)


@pytest.fixture(scope="module")
def awkward(tmp_path_factory) -> Path:
    """Give the demo traces like those of a bench: a drifting zero, a gap, a spike, a column missing."""
    folder = Path(shutil.copytree(DEMO, tmp_path_factory.mktemp("awkward") / "c"))
    shutil.rmtree(folder / "sound")
    rng = np.random.default_rng(0)
    time = np.sort(rng.uniform(-20.0, 80.0, 200))
    loaded = (time >= 0.0) & (time <= 60.0)
    force = np.where(loaded, 48.0, 0.0) + 2.0 + 0.02 * time + rng.normal(0.0, 0.3, 200)
    warmth = 21.0 + 0.5 * np.clip(time, 0.0, 60.0) + rng.normal(0.0, 0.1, 200)
    warmth[100] += 60.0
    frame = pd.DataFrame({"time [s]": time, "friction_force [N]": force, "temperature [degC]": warmth})
    torn = frame[(time < 20.0) | (time > 33.0)]
    for name, one in {
        "c07-01": frame,
        "c07-06": torn[torn["time [s]"] >= 0.0],
        "c07-02": frame.drop(columns="friction_force [N]"),
        "c07-03": frame[time < 60.0].drop(columns="temperature [degC]"),
    }.items():
        (folder / "traces" / f"{name}.csv").unlink(missing_ok=True)
        one.to_parquet(folder / "traces" / f"{name}.parquet", index=False)
    return folder


@pytest.fixture(scope="module")
def awkward_analysis(awkward):
    return sections.load(str(awkward))


def test_the_energy_in_the_results_is_that_of_a_sum_over_the_csv(demo_analysis):
    told = {run["run_id"]: run for run in results(demo_analysis)["runs"]}
    left_out = {one["run_id"]: one["force_spikes_left_out"] for one in results(demo_analysis)["traces"]}
    assert set(left_out.values()) == {0}  # the load that comes on is no spike
    speed = math.pi * 0.040 * 700.0 / 60.0  # the demo's ring of 40 mm at 700 rpm
    with (DEMO / "runs.csv").open(encoding="utf-8", newline="") as file:
        durations = {row["run_id"]: float(row["duration [s]"]) for row in csv.DictReader(file)}
    for path in sorted((DEMO / "traces").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows = [
                (float(row["time [s]"]), float(row["friction_force [N]"])) for row in csv.DictReader(file)
            ]
        rows = [(0.0, rows[0][1]), *rows, (durations[path.stem], rows[-1][1])]  # the force held at the ends
        time, force = np.array(rows).T
        energy = speed * np.trapezoid(force, time)
        # beyond the first and the last reading the line through five of them, back at twice its slope
        first, last = (np.polyfit(time[1:-1][own], force[1:-1][own], 1)[0] for own in (np.s_[:5], np.s_[-5:]))
        energy += speed * (0.5 * last * (time[-1] - time[-2]) ** 2 - first * (time[1] - time[0]) ** 2)
        run = told[path.stem]
        assert run["friction_energy_J"] == pytest.approx(energy, rel=1e-9)
        per_volume = run["specific_friction_energy_J_per_mm3"]
        assert per_volume == pytest.approx(energy / run["wear_volume_mm3"], rel=1e-9)
        assert run["friction_energy_per_distance_J_per_m"] == pytest.approx(
            energy / run["sliding_distance_m"]
        )
        assert 0.0 < run["friction_energy_uncertainty_J"] < 0.01 * energy
        stated = friction_energy(time[1:-1], force[1:-1], speed, 0.0, durations[path.stem], 3.0).uncertainty
        # what single missing seconds leave comes on top
        assert 0.999999 * stated <= run["friction_energy_uncertainty_J"] <= 1.05 * stated
    assert told["c07-02"]["friction_energy_J"] is None
    json.dumps(told, allow_nan=False)


def test_the_warmth_in_the_results_is_that_of_the_csv(demo_analysis):
    told = {run["run_id"]: run for run in results(demo_analysis)["runs"]}
    responses = demo_analysis.runs.set_index("run_id")
    with (DEMO / "runs.csv").open(encoding="utf-8", newline="") as file:
        ambient = {row["run_id"]: float(row["ambient_temperature [degC]"]) for row in csv.DictReader(file)}
    for path in sorted((DEMO / "traces").glob("*.csv")):
        run, frame = told[path.stem], pd.read_csv(path)
        time, warmth = frame["time [s]"].to_numpy(), frame["temperature [degC]"].to_numpy()
        # the course lies within the scatter of the highest reading, a few tenths of a kelvin
        assert run["trace_peak_temperature_degC"] == pytest.approx(warmth.max(), abs=0.6)
        peak = run["trace_peak_temperature_degC"]
        assert run["trace_temperature_rise_K"] == pytest.approx(peak - ambient[path.stem])
        # each reading against the line between its neighbours; a few readings are missing
        share = (time[2:] - time[1:-1]) / (time[2:] - time[:-2])
        off = share * warmth[:-2] + (1.0 - share) * warmth[2:] - warmth[1:-1]
        scatter = 1.4826 * np.median(np.abs(off) / np.sqrt(share**2 + (1.0 - share) ** 2 + 1.0))
        assert 0.2 * scatter < run["trace_temperature_rise_uncertainty_K"] < 5.0 * scatter
        lines = [(time >= one) & (time <= one + 5.0 + 1e-9) for one in time if one <= time[-1] - 5.0 + 1e-9]
        steepest = max(np.polyfit(time[line], warmth[line], 1)[0] for line in lines)
        assert run["heating_rate_K_per_s"] == pytest.approx(steepest)
        read = read_warming(time, warmth + 273.15, 60.0)
        assert run["heating_rate_uncertainty_K_per_s"] == pytest.approx(read.rate.uncertainty)
        assert run["friction_energy_covered_s"] == pytest.approx(60.0)
        asked = responses.loc[path.stem, ["heating_rate", "friction_energy"]].tolist()
        assert asked == pytest.approx([steepest, run["friction_energy_J"]])
    # the friction of a run without load steps and typed quiet time
    frame = pd.read_csv(DEMO / "traces" / "c07-06.csv")
    stop = friction_stop(frame["time [s]"], frame["friction_force [N]"], 0.95)
    settled = [told["c07-06"][f"friction_settled_{end}s"] for end in ("", "low_", "high_")]
    assert settled == pytest.approx([stop.time, stop.low, stop.high])


def bare(time: list[float], force: list[float]) -> trace_chart.TraceDrawn:
    """Give a run of which nothing but a trace of the force is known."""
    frame = pd.DataFrame({"time": time, "friction_force": force, "temperature": np.nan})
    zero, energy = find_zero(time, force, 60.0), friction_energy(time, force, 1.0, 0.0, 60.0, 20.0)
    told = RunTrace(
        run_id="a",
        lubricant="R-10",
        load=450.0,
        duration=60.0,
        ambient=math.nan,
        wear_volume=50e-9,
        kept=frame,
        zero=zero,
        energy=energy,
        force_gaps=(),
        force_spikes=0,
        warming=None,
    )
    return trace_chart.TraceDrawn(told, ((0.0, 450.0),), math.nan, None, None)


def test_the_chart_is_drawn_anew_for_what_it_shows_and_not_for_a_changed_scar():
    run = bare(list(range(61)), [45.0] * 61)
    drawn = fingerprint(trace_chart._shown_of(run))
    assert drawn is not None
    other_scar = replace(run, told=replace(run.told, wear_volume=60e-9))
    assert fingerprint(trace_chart._shown_of(other_scar)) == drawn
    for changed in (replace(run, typed=40.0), bare(list(range(61)), [46.0] * 61)):
        assert fingerprint(trace_chart._shown_of(changed)) != drawn


def test_a_force_of_nothing_is_an_energy_of_nothing():
    text = words(traces.energy_table([bare(list(range(61)), [0.0] * 61)], {}))
    # 60 m slid at 1 m/s
    assert "An offset of 1 N would change an energy by 0.060 kJ" in text
    assert " R-10 at 450 N 0 0 0 not determined" in text


def test_an_uncertainty_above_ten_is_shown_and_one_that_nothing_tells_is_not():
    time = list(range(61))
    force = (1000.0 * (45.0 + np.random.default_rng(1).normal(0.0, 6.0, 61))).tolist()
    run = bare(time, force)
    text = words(traces.energy_table([run], specific_energy_uncertainty([run.told], {"a": 0.05})))
    # 45 kN x 60 m = 2700 kJ, 6 kN x sqrt(60) m = 46 kJ; over 50 mm^3 that is 54 kJ/mm^3, 5 % of it 2.7
    assert re.search(r"2[67]\d0 ± [45]0 \S+ 5\d ± 3 ", text)
    pair = bare([0, 20], [45.0, 45.0])
    two = words(traces.energy_table([pair], specific_energy_uncertainty([pair.told], {})))
    assert "±" not in two[: two.index("standard uncertainty") - 3]


def test_energies_with_gaps_are_not_in_the_range_of_the_sentence():
    whole = bare(list(range(61)), [50.0] * 61)
    torn = bare([*range(21), *range(50, 61)], [50.0] * 32)
    assert traces.trace_sentence([whole, torn]).startswith(
        "2 runs have traces: friction took 3.00 kJ per run, not counting 1 run with gaps"
    )


def test_without_traces_the_runs_and_the_section_are_as_before(tmp_path):
    shutil.copytree(DEMO, tmp_path / "d", ignore=shutil.ignore_patterns("report*", "traces", "sound"))
    analysis = sections.load(str(tmp_path / "d"))
    assert not any("friction" in key or "trace" in key for key in results(analysis)["runs"][0])
    text = words(sections.film_and_heat(analysis).data)
    assert "trace" not in text
    assert "Friction energy" not in text


def test_the_section_says_zero_gaps_spikes_and_what_was_not_measured(awkward_analysis):
    analysis = awkward_analysis
    text = words(sections.film_and_heat(analysis).data)
    assert "8 runs have traces: friction took" in text
    # the zero rises by 0.02 N/s from 2 N at the run's start: 1.8 N and 3.4 N in the middle of either side
    assert re.search(r"c07-01 1\.[789] N before and 3\.[345] N after, straight between", text)
    assert re.search(r"c07-03 1\.[789] N before, a drift not checked", text)
    assert "not checked in c07-17, c07-23, c07-32 and c07-37" in text
    # 13 s of 60 s are missing, under a quarter
    bridged = r"Gaps, bridged by a straight line of the friction coefficient: c07-06 (19|20) to 3[345] s"
    assert re.search(bridged, text)
    assert re.search(r"c07-06 C-21 at 600 N [\d.]+ ± [\d.]+ [45]\d\.\d", text)
    assert "left out as spikes: 1 of c07-01, 1 of c07-02 and 1 of c07-06" in text
    assert re.search(r"c07-02 B-05 at 450 N 5[01]\.\d (59|60) 30\.\d+ ± [\d.]+ 0\.[56]\d ± [\d.]+", text)
    energies = text[text.index("Friction energy from") : text.index("Friction coefficient from")]
    assert "c07-03" in energies
    assert "c07-02" not in energies  # it has no force
    found = {run["run_id"]: run for run in results(analysis)["runs"]}
    # the zero taken off, 48 N are left for 60 s; c07-01's both sides tell it to about 0.1 N
    speed = math.pi * 0.040 * 700.0 / 60.0
    assert found["c07-01"]["friction_energy_J"] == pytest.approx(48.0 * speed * 60.0, rel=0.005)
    # 13 of 60 s are bridged; of its zero only that after the run is known, 0.8 N above the middle's
    assert found["c07-06"]["friction_energy_covered_s"] == pytest.approx(60.0)
    assert found["c07-06"]["friction_energy_J"] == pytest.approx(47.2 * speed * 60.0, rel=0.01)
    assert found["c07-06"]["friction_energy_uncertainty_J"] > found["c07-01"]["friction_energy_uncertainty_J"]
    assert analysis.runs.set_index("run_id")["friction_energy"].notna().sum() == 7
    assert found["c07-01"]["friction_coefficient"] == pytest.approx(
        48.0 / found["c07-01"]["load_N"], rel=0.01
    )


def test_traces_can_be_asked_for_as_responses(demo_analysis):
    names = ["friction_energy", "friction_coefficient", "heating_rate"]
    analysis = sections.load(str(DEMO), responses=names)
    assert {summary.response.name for summary in analysis.summaries} == set(names)
    plain = {response.name for response in demo_analysis.responses}
    assert not plain & set(names)  # six of 47 runs have a trace: the report is not crowded unasked


@pytest.mark.parametrize("width", [trace_chart.NARROW_MM, style.PRINT_WIDTH_MM])
def test_the_chart_breaks_at_gaps_and_marks_load_steps(awkward_analysis, width):
    runs = traces_drawn(awkward_analysis)
    roles = {one.told.lubricant: "candidate" for one in runs}
    figure = trace_chart.trace_chart(runs, roles, width_mm=width)
    by_title = {axes.get_title(loc="left"): axes for axes in figure.axes}
    gap = by_title["c07-06, C-21"].lines[0].get_xdata()
    assert np.isnan(gap).sum() == 1
    assert 20.0 not in by_title["c07-06, C-21"].lines[0].get_xdata()
    stepped = by_title["c07-32, C-22"]
    assert [text.get_text().strip() for text in stepped.texts] == ["450 to 600 N"]
    assert "not measured" in [text.get_text() for text in by_title["c07-02, B-05"].texts]
    titles = [title for title in by_title if title]
    assert len(titles) == len(runs) == 8


def test_a_fast_trace_is_thinned_without_losing_its_extremes_or_its_gap():
    rng = np.random.default_rng(6)
    values, torn = rng.normal(0.1, 0.01, 60_000), np.array([41_000])
    kept = trace_chart._enough_to_draw(values, torn)
    assert kept.size <= trace_chart.MOST_POINTS + 4
    assert {0, 59_999, 40_999, 41_000, values.argmin(), values.argmax()} <= set(kept)
    assert trace_chart._enough_to_draw(values[:500], torn[:0]).size == 500
