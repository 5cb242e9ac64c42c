"""The audit's further checks: handling, doses, strays and outliers; a fair campaign stays silent."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pinscar.decision.audit import audit
from pinscar.decision.audit_design import outliers, strays
from pinscar.decision.finding import Finding, Weight
from pinscar.stats.choose import compare_with_reference
from pinscar.stats.outliers import grubbs

MEDIANS = {("R", 450.0): 6.0, ("C", 450.0): 4.0, ("D", 450.0): 14.0, ("R", 600.0): 9.0, ("C", 600.0): 6.2}
"""Scar areas [mm^2] of three oils; C at the higher load leaves scars as large as R at the lower."""


def fair_runs(seed: int = 1) -> pd.DataFrame:
    """Six runs of each oil at each load, two a day, in an order that favours none."""
    rng = np.random.default_rng(seed)
    cells = [cell for cell in MEDIANS for _ in range(2)]
    rows = []
    for day in ("2026-05-04", "2026-05-05", "2026-05-06"):
        order = [cells[i] for i in (0, 2, 4, 6, 8, 9, 7, 5, 3, 1)]
        for place, (oil, load) in enumerate(order):
            rows.append(
                {
                    "run_id": f"{day[-2:]}-{place}",
                    "lubricant": oil,
                    "run_day": day,
                    "run_at": pd.Timestamp(f"{day}T08:00") + pd.Timedelta(minutes=12 * place),
                    "ring_id": f"G-{1 + (place + int(day[-1])) % 2}",
                    "load_level": load,
                    "duration": 60.0,
                    "ring_speed": 73.3,
                    "dose": 2e-6,
                    "pin_state": "new",
                    "scar_area": 1e-6 * MEDIANS[oil, load] * np.exp(0.08 * rng.standard_normal()),
                    "quiet_time": 35.0 * np.exp(0.2 * rng.standard_normal()),
                    "read_blind": "yes",
                    "shaken": "yes",
                    "timer_gap": 0.3,
                    "note": "",
                    "excluded": "",
                    "wear_stopped": True,
                    "flags": (),
                }
            )
    return pd.DataFrame(rows)


def named(found: tuple[Finding, ...], name: str) -> list[Finding]:
    return [finding for finding in found if finding.id == name]


def at(runs: pd.DataFrame, oil: str, load: float, n: int = 0) -> int:
    """Row of the n-th run of a cell."""
    return int(runs.index[(runs["lubricant"] == oil) & (runs["load_level"] == load)][n])


def test_a_fair_campaign_stays_silent() -> None:
    assert audit(fair_runs(), "R") == ()


def test_fair_campaigns_are_rarely_accused() -> None:
    """Of 300 fair campaigns, few have a run called stray or an outlier: 5 % is the level of the latter."""
    campaigns = [fair_runs(seed) for seed in range(300)]
    ids = [{f.id for check in (strays, outliers) for f in check(runs, "R")} for runs in campaigns]
    assert sum("label-in-doubt" in found for found in ids) <= 6
    assert sum("load-in-doubt" in found for found in ids) <= 6
    assert sum("scar-apart" in found for found in ids) <= 9
    # 5 % of 300 is 15; three standard errors more is 26.
    assert sum("outlier" in found for found in ids) <= 26


def test_swapped_labels_are_suspected_with_the_oil_they_look_like() -> None:
    runs = fair_runs()
    one, other = at(runs, "R", 450.0), at(runs, "D", 450.0, 3)
    runs.loc[[one, other], "lubricant"] = ["D", "R"]
    (found,) = named(audit(runs, "R"), "label-in-doubt")
    assert set(found.runs) == {runs.loc[one, "run_id"], runs.loc[other, "run_id"]}
    assert f"{runs.loc[one, 'run_id']} (D) looks like R" in found.message
    assert found.severity is Weight.CAUTION


def test_a_load_added_unnoticed_is_suspected() -> None:
    runs = fair_runs().query("lubricant != 'C'").reset_index(drop=True)
    row = at(runs, "R", 450.0, 2)
    runs.loc[row, "scar_area"] = 9.1e-6
    (found,) = named(audit(runs, "R"), "load-in-doubt")
    assert found.runs == (runs.loc[row, "run_id"],)
    assert "looks like 600 N" in found.message


def test_a_run_far_from_every_cell_is_an_outlier_and_no_stray() -> None:
    runs = fair_runs()
    row = at(runs, "C", 450.0, 1)
    runs.loc[row, "scar_area"] = 2.0e-6
    found = audit(runs, "R")
    assert named(found, "label-in-doubt") == []
    for name in ("outlier", "scar-apart"):
        (outlier,) = named(found, name)
        assert outlier.runs == (runs.loc[row, "run_id"],)
        assert "the run counts" in outlier.effect


def test_a_quiet_time_out_of_line_is_an_outlier() -> None:
    runs = fair_runs()
    row = at(runs, "C", 450.0, 1)
    runs.loc[row, "quiet_time"] = 1.5
    (outlier,) = named(audit(runs, "R"), "outlier")
    assert "quiet time" in outlier.message


def test_two_outliers_alike_do_not_hide_each_other_in_a_large_cell() -> None:
    """Both pull mean and spread their way, so that Grubbs sees neither; the generalised ESD sees both."""
    logs = np.append(np.random.default_rng(2).normal(0.0, 0.1, 16), [0.62, 0.65])
    runs = pd.concat([fair_runs().iloc[[0]]] * 18, ignore_index=True)
    runs["scar_area"] = 5e-6 * np.exp(logs)
    runs["quiet_time"] = np.nan
    runs["run_id"] = [f"x-{number:02d}" for number in range(18)]
    assert not grubbs(logs, 0.05).flagged
    (found,) = outliers(runs, "R")
    assert set(found.runs) == {"x-16", "x-17"}


def test_a_lubricant_never_shaken_is_blocked_and_single_cans_are_cautioned() -> None:
    runs = fair_runs()
    runs.loc[runs["lubricant"] == "C", "shaken"] = "no"
    runs.loc[at(runs, "D", 450.0), "shaken"] = "no"
    blocked, cautioned = named(audit(runs, "R"), "shaken")
    assert (blocked.severity, cautioned.severity) == (Weight.BLOCKS, Weight.CAUTION)
    assert set(blocked.runs) == set(runs.loc[runs["lubricant"] == "C", "run_id"])
    assert cautioned.runs == (runs.loc[at(runs, "D", 450.0), "run_id"],)


def test_a_dose_of_its_own_blocks_a_lubricant() -> None:
    runs = fair_runs()
    runs.loc[runs["lubricant"] == "C", "dose"] = 3e-6
    (found,) = named(audit(runs, "R"), "dose")
    assert found.severity is Weight.BLOCKS
    assert set(found.runs) == set(runs.loc[runs["lubricant"] == "C", "run_id"])
    assert "C was dosed with 3 mL, R with 2 mL" in found.message


@pytest.mark.parametrize(
    ("rows", "weight"), [("C", Weight.BLOCKS), ("one", Weight.CAUTION)], ids=["a whole oil", "one run"]
)
def test_a_timer_started_late_is_found(rows: str, weight: Weight) -> None:
    runs = fair_runs()
    chosen = runs["lubricant"] == "C" if rows == "C" else runs.index == at(runs, "C", 450.0)
    runs.loc[chosen, "timer_gap"] = 4.0
    found = named(audit(runs, "R"), "timer-gap")
    assert {f.severity for f in found} == {weight}
    assert {run for f in found for run in f.runs} == set(runs.loc[chosen, "run_id"])


@pytest.mark.parametrize(
    ("note", "expected"),
    [
        ("450 first, plate added at 20 s", "note-on-load"),
        ("weights may have been wrong", "note-on-load"),
        ("timer missed, stopped by hand at 75 s", "note-on-timer"),
        ("label unreadable, took the second can", "note-on-label"),
        ("loud rubbing first 10 s", None),
        ("reground pin, new lot not in yet", None),
        ("oval lopsided, pin not square in holder?", None),
    ],
)
def test_notes_that_let_something_slip_are_quoted(note: str, expected: str | None) -> None:
    runs = fair_runs()
    runs.loc[3, "note"] = note
    found = audit(runs, "R")
    assert [f.id for f in found] == ([] if expected is None else [expected])
    assert all(note in f.message and f.runs == (runs.loc[3, "run_id"],) for f in found)


def test_a_note_on_the_load_is_not_told_where_load_steps_are_recorded() -> None:
    runs = fair_runs()
    runs.loc[3, "note"] = "plate added at 20 s"
    runs["flags"] = [("load-steps",) if i == 3 else () for i in range(len(runs))]
    assert {f.id for f in audit(runs, "R")} == {"load-history"}


def test_blocking_findings_concern_the_lubricant_apart_only() -> None:
    """A single re-ground pin of another oil must not be drawn into the block."""
    runs = fair_runs()
    runs.loc[runs["lubricant"] == "C", "pin_state"] = "reground"
    runs.loc[at(runs, "D", 450.0), "pin_state"] = "reground"
    blocked, cautioned = named(audit(runs, "R"), "pin-preparation")
    assert set(blocked.runs) == set(runs.loc[runs["lubricant"] == "C", "run_id"])
    assert cautioned.runs == (runs.loc[at(runs, "D", 450.0), "run_id"],)


def test_runs_not_judged_can_make_other_oils_look_better_and_the_finding_says_so() -> None:
    """Taken as bounds, the reference's film pressures are estimated lower, so a ratio to them is larger."""
    pressures = {"R": [96.0, 104.0, 99.0, 92.0], "C": [118.0, 126.0, 121.0, 133.0]}
    (judged,) = compare_with_reference(pressures, "R")
    unjudged = {"R": [False, False, True, True], "C": [False] * 4}
    (unsure,) = compare_with_reference(pressures, "R", left_censored=unjudged)
    assert unsure.ratio > 1.01 * judged.ratio
    runs = fair_runs()
    first = at(runs, "R", 450.0)
    runs["flags"] = [("wear-not-judged",) if row == first else () for row in runs.index]
    (finding,) = named(audit(runs, "R"), "wear-not-judged")
    assert "may be stronger than shown" in finding.effect
    assert "the ratio of another oil to it smaller" in finding.effect
