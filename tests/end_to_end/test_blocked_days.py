"""A balanced campaign over three days, one spread for all: what the textbook's two-way analysis gives.

In a complete, balanced block design oils are compared within the blocks: generalised least squares weighs
nothing differently, and the residual mean square of the additive two-way analysis is its error (Montgomery,
Design and Analysis of Experiments, the randomised complete block design).
"""

from __future__ import annotations

import numpy as np
import pytest
from independent_evaluation import Rig, area, dunnett_probability, implied_width
from report_run import run_report
from scipy import optimize

TOLERANCE = 1e-6
CONFIDENCE = 0.95
RIG = Rig(6e-3, 20e-3, 1.0)
CAMPAIGN_TOML = """\
[campaign]
id = "days"
title = "Three days"
question = "P or Q in place of R?"
reference = "R"
block = "run_day"
spread = "pooled"

[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_width = "14 mm"
ring_speed = "700 rpm"

[rig.pin]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30

[rig.ring]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30

[[lubricants]]
id = "R"
role = "reference"

[[lubricants]]
id = "P"
role = "candidate"

[[lubricants]]
id = "Q"
role = "candidate"
"""
LENGTHS = {  # mm, day by day, two runs of each oil a day; the days differ more than the runs of a day
    "2026-05-04": {"R": (3.71, 3.78), "P": (3.20, 3.14), "Q": (3.66, 3.72)},
    "2026-05-05": {"R": (4.02, 3.95), "P": (3.41, 3.37), "Q": (3.90, 4.05)},
    "2026-05-06": {"R": (3.50, 3.55), "P": (2.99, 3.06), "Q": (3.52, 3.41)},
}


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict:
    folder = tmp_path_factory.mktemp("days")
    lines = ["run_id,run_at,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped"]
    for day, oils in LENGTHS.items():
        for hour, turn in ((9, 0), (11, 1)):
            for minute, (oil, lengths) in enumerate(oils.items()):
                run_id = f"{oil}{day[-2:]}{turn}"
                lines.append(f"{run_id},{day}T{hour:02d}:{15 * minute:02d},{oil},450,60,{lengths[turn]},,yes")
    (folder / "campaign.toml").write_text(CAMPAIGN_TOML, encoding="utf-8")
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return run_report(folder)


@pytest.mark.parametrize("oil", ["P", "Q"])
def test_days_as_blocks_give_the_two_way_analysis(results, oil):
    logs = np.array(
        [
            [[np.log(area(x * 1e-3, implied_width(RIG, x * 1e-3))) for x in day[name]] for name in "RPQ"]
            for day in LENGTHS.values()
        ]
    )
    fit = logs.mean(axis=(1, 2))[:, None, None] + logs.mean(axis=(0, 2))[None, :, None] - logs.mean()
    df = logs.size - 3 - 3 + 1
    error = np.sqrt(np.sum((logs - fit) ** 2) / df * 2 / 6)
    c = optimize.brentq(lambda c: dunnett_probability(c, [6, 6], 6, df) - CONFIDENCE, 1, 9, xtol=1e-13)
    means = dict(zip("RPQ", logs.mean(axis=(0, 2)), strict=True))
    difference = means[oil] - means["R"]
    row = next(r for r in results["comparisons"] if (r["lubricant"], r["response"]) == (oil, "scar_area"))
    want = np.exp([difference, difference - c * error, difference + c * error])
    assert (row["ratio"], row["ci_low"], row["ci_high"]) == pytest.approx(tuple(want), rel=TOLERANCE, abs=0)
    p = 1 - dunnett_probability(abs(difference) / error, [6, 6], 6, df)
    assert row["p_adjusted"] == pytest.approx(p, rel=TOLERANCE, abs=1e-9)
    assert "block" in row["method"]
