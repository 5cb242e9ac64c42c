"""The step of a reading: typed or found, in censored intervals too, and what a fling of 0 mg then says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from pinscar.campaign.campaign import read_campaign
from pinscar.decision.analysis import analyse
from pinscar.decision.record import Analysis
from pinscar.stats.censored import left_censored_median
from pinscar.stats.censored_groups import censored_ratio, fit_censored_groups

TOML = """
[campaign]
id = "steps"
reference = "R-1"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
{rig}
[[lubricants]]
id = "R-1"
role = "reference"
[[lubricants]]
id = "C-1"
role = "candidate"
[[criteria]]
id = "limit"
lubricant = "C-1"
load = "450 N"
{limit}
"""
SCAR = 'response = "scar_area"\nrule = "at most"\nlimit = "4.3 mm^2"'
FLING = 'response = "fling_mass"\nrule = "at most"\nlimit = "40 mg"'


def evaluated(folder: Path, limit: str, flings: dict[str, list[float]], rig: str = "") -> Analysis:
    (folder / "campaign.toml").write_text(TOML.format(limit=limit, rig=rig), encoding="utf-8")
    head = (
        "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,fling_mass [mg]"
    )
    lines = [head]
    for oil, masses in flings.items():
        for number, mass in enumerate(masses):
            length, width = (3.31 if oil == "R-1" else 3.01) + 0.02 * (number % 2), 1.71 + 0.01 * number
            lines.append(f"{oil}{number},{oil},450,60,{length:.2f},{width:.2f},yes,{mass:g}")
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return analyse(read_campaign(folder))


def summary(analysis: Analysis, response: str, oil: str = "C-1"):
    return next(
        s for s in analysis.summaries if (s.response.name, s.cell.lubricant) == (response, oil)
    ).estimate


FLINGS = {"R-1": [4.0, 6.0, 3.0, 7.0], "C-1": [0.0, 2.0, 3.0, 5.0]}


def test_a_typed_step_beats_the_one_found_from_the_digits(tmp_path: Path) -> None:
    """Read to 0.01 mm by its digits, to 0.1 mm by what was typed: the limits are the wider ones."""
    fine = summary(evaluated(tmp_path, SCAR, FLINGS), "scar_area")
    coarse = summary(evaluated(tmp_path, SCAR, FLINGS, 'reading_resolution = "0.1 mm"'), "scar_area")
    assert coarse.estimate == fine.estimate
    assert coarse.high > 1.03 * fine.high
    same = summary(evaluated(tmp_path, SCAR, FLINGS, 'reading_resolution = "0.01 mm"'), "scar_area")
    assert (same.low, same.high) == pytest.approx((fine.low, fine.high), rel=1e-12, abs=0)


def test_a_fling_of_zero_lies_below_one_step_of_the_balance(tmp_path: Path) -> None:
    """The log-normal likelihood of 2, 3 and 5 mg and of one run below 1 mg, by another optimiser."""
    found = summary(evaluated(tmp_path, FLING, FLINGS), "fling_mass")
    seen = np.log([2.0, 3.0, 5.0])

    def loss(x: np.ndarray) -> float:
        spread = np.exp(x[1])
        return -stats.norm.logpdf(seen, x[0], spread).sum() - stats.norm.logcdf(0.0, x[0], spread)

    best = optimize.minimize(loss, [0.7, -0.3], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    assert found.estimate * 1e6 == pytest.approx(np.exp(best.x[0]), rel=1e-5, abs=0)
    assert (found.n, found.n_censored) == (4, 1)
    assert "left censoring" in found.method
    assert "below 1" in found.note


def test_a_coarser_balance_says_less_of_a_zero(tmp_path: Path) -> None:
    found = summary(evaluated(tmp_path, FLING, FLINGS, 'balance_resolution = "2 mg"'), "fling_mass")
    assert "below 2" in found.note
    assert found.estimate > summary(evaluated(tmp_path, FLING, FLINGS), "fling_mass").estimate


def test_a_zero_far_from_the_other_readings_stays_a_zero(tmp_path: Path) -> None:
    """A zero among 20 mg is no fling just below the step: the mean is judged, as for negative values."""
    far = {"R-1": [20.0, 22.0, 19.0, 21.0], "C-1": [0.0, 22.0, 19.0, 21.0]}
    analysis = evaluated(tmp_path, FLING, far)
    assert summary(analysis, "fling_mass").method == "mean, t interval"


def test_rounding_widens_censored_medians_and_ratios() -> None:
    values, hidden = [100.0, 101.0, 103.0, 99.0], [False, False, False, True]
    fine, coarse = (left_censored_median(values, hidden, 0.95, step) for step in (0.0, 0.08))
    assert coarse.estimate == fine.estimate
    assert np.log(coarse.high / fine.high) > 0.02
    assert (coarse.profile_low, coarse.profile_high) == (fine.profile_low, fine.profile_high)
    groups = fit_censored_groups({"C": values, "R": [110.0, 111.0, 109.0]}, {"C": hidden})
    exact, rounded = (censored_ratio(groups, "C", "R", 0.95, step) for step in (0.0, 0.08))
    assert rounded.high > exact.high
    assert rounded.low < exact.low
    assert rounded.p > exact.p
    for one in (exact, rounded):
        assert (one.p < 0.05) == (one.high < 1.0)
