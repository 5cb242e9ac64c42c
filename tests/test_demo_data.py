"""The demo campaigns: made by their script, read without a warning, telling what they are said to tell."""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest
from scipy.special import lambertw

from pinscar.campaign.campaign import check_campaign, read_campaign

DEMO = Path(__file__).resolve().parents[1] / "data_demo"
CAMPAIGNS = sorted(path.parent for path in DEMO.rglob("campaign.toml"))


@pytest.fixture(scope="module")
def make_demo() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_demo", DEMO / "make_demo.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def runs() -> pd.DataFrame:
    frame = read_campaign(DEMO / "conveyor_07").runs
    frame["level"] = frame["load"].round(-1)
    return frame


def test_the_committed_files_are_what_the_script_makes():
    command = [sys.executable, str(DEMO / "make_demo.py"), "--check"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_the_check_sees_a_changed_and_a_missing_file(make_demo, tmp_path):
    copy = tmp_path / "data_demo"
    shutil.copytree(DEMO, copy)
    changed = copy / "conveyor_07" / "runs.csv"
    changed.write_text(changed.read_text(encoding="utf-8").replace("C-22", "C-21", 1), encoding="utf-8")
    (copy / "reading_03" / "readings.csv").unlink()
    assert make_demo.differing(copy) == ["conveyor_07/runs.csv", "reading_03/readings.csv"]


@pytest.mark.parametrize("folder", CAMPAIGNS, ids=lambda path: path.relative_to(DEMO).as_posix())
def test_every_demo_campaign_is_read_without_a_word(folder):
    campaign, problems = check_campaign(folder)
    assert campaign is not None
    assert [str(problem) for problem in problems] == []
    assert "invented" in (folder / "campaign.toml").read_text(encoding="utf-8").splitlines()[0].lower()


def test_all_demo_folders_are_there():
    assert {path.relative_to(DEMO).parts[0] for path in CAMPAIGNS} == {
        "conveyor_07",
        "precision_02",
        "reading_03",
        "rig_control",
        "range",
        "formulation",
    }
    assert len([path for path in CAMPAIGNS if path.parent.name == "rig_control"]) == 10
    references = {read_campaign(path).file.campaign.reference for path in CAMPAIGNS}
    assert references == {"R-10"}


def test_loads_are_the_round_ones_within_half_a_percent(runs):
    assert set(runs["level"]) == {450.0, 600.0}
    assert np.allclose(runs["load"], runs["level"], rtol=0.005)


def test_every_cell_has_five_or_six_runs_over_three_days(runs):
    used = runs[runs["excluded"] == ""]
    assert set(used.groupby(["lubricant", "level"]).size()) == {5, 6}
    assert used.groupby("lubricant")["run_day"].nunique().eq(3).all()
    assert (runs["excluded"] != "").sum() == 1
    assert used["scar_width"].isna().sum() == 1


def test_order_within_a_day_is_mixed(runs):
    for _, day in runs.groupby("run_day"):
        assert day["run_at"].is_monotonic_increasing
        changes = (day["lubricant"] != day["lubricant"].shift()).sum()
        assert changes > 2 * day["lubricant"].nunique()


def test_some_runs_were_still_wearing_and_some_not_judged(runs):
    states = runs["wear_stopped"].tolist()
    assert {True, False, None} <= set(states)
    assert runs.loc[runs["wear_stopped"].isna(), "quiet_time"].notna().any()


def test_the_truth_about_c_21_comes_through(runs):
    used = runs[(runs["excluded"] == "") & (runs["level"] == 450.0)]
    area = np.log(used["scar_length"] * used["scar_width"])
    means = area.groupby(used["lubricant"]).mean()
    # A film that carries 124 against 74 MPa; 8 % of scatter on a mean of six is 5 % on a ratio of two.
    assert np.exp(means["C-21"] - means["R-10"]) == pytest.approx(74 / 124, rel=0.15)
    assert np.exp(means["C-22"] - means["R-10"]) == pytest.approx(74 / 78, rel=0.15)


@pytest.mark.usefixtures("make_demo")
@pytest.mark.parametrize("share", [0.1, 1.0, 3.0])
def test_the_bench_wears_as_the_closed_form_says(share):
    # Archard wear above a film pressure, small scar: h = h_inf (1 + W0(-exp(-1 - t / tau))).
    from bench import PIN_RADIUS, RING_RADIUS, SPEED, run_scar

    load, film, wear = 450.0, 120e6, 1e-14
    last = load / (2 * np.pi * np.sqrt(PIN_RADIUS * RING_RADIUS) * film)
    tau = last / (wear * SPEED * film)
    depth = last * (1 + lambertw(-np.exp(-1 - share)).real)
    # The small-scar form leaves out terms of the order of depth over radius, here up to 1 %.
    found = run_scar(film, wear, [(0.0, load)], share * tau)
    assert found.length == pytest.approx(2 * np.sqrt(2 * RING_RADIUS * depth), rel=0.004)


@pytest.mark.usefixtures("make_demo")
def test_a_load_raised_before_any_wear_is_the_load():
    from bench import run_scar

    plain = run_scar(74e6, 5e-14, [(0.0, 600.0)], 60.0)
    raised = run_scar(74e6, 5e-14, [(0.0, 450.0), (1e-6, 600.0)], 60.0)
    late = run_scar(74e6, 5e-14, [(0.0, 450.0), (50.0, 600.0)], 60.0)
    assert raised.length == pytest.approx(plain.length, rel=1e-6)
    assert run_scar(74e6, 5e-14, [(0.0, 450.0)], 60.0).length < late.length < plain.length
