"""Loads given as weights in pounds, and two oils whose spreads differ: the comparison must be Welch's."""

from __future__ import annotations

from pathlib import Path

import pytest
from independent_evaluation import (
    GRAVITY,
    INCH,
    POUND,
    Rig,
    area,
    brown_forsythe_p,
    implied_width,
    reduced_modulus,
    two_samples,
)
from report_run import run_report

TOLERANCE = 1e-6
CAMPAIGN_TOML = """\
[campaign]
id = "pounds"
title = "Weights in pounds"
question = "Does N scatter more than O?"
reference = "O"
confidence = 0.95

[rig]
geometry = "crossed-cylinders"
pin_diameter = "0.5 in"
ring_diameter = "1.5 in"
ring_width = "0.5 in"
crossing_angle = "1.5707963267948966 rad"
ring_speed = "70 rad/s"
lever_ratio = 5.0
hanger_mass = "28 oz"
load_uncertainty = "1 %"
reading_uncertainty = "0.001 in"

[rig.pin]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "7.5 GPa"
roughness_rq = "0.2 um"

[rig.ring]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "7.5 GPa"
roughness_rq = "0.2 um"

[[lubricants]]
id = "O"
role = "reference"

[[lubricants]]
id = "N"
role = "candidate"
"""
WEIGHTS = "18.5"
LENGTHS = {
    "O": ("0.1402", "0.1411", "0.1398", "0.1405", "0.1409", "0.1400"),
    "N": ("0.0950", "0.1480", "0.1102", "0.1388", "0.1197", "0.1310"),
}
RIG = Rig(0.25 * INCH, 0.75 * INCH, reduced_modulus(210e9, 0.3, 210e9, 0.3))
LOAD = GRAVITY * (float(WEIGHTS) * POUND + 28 / 16 * POUND) * 5.0


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict:
    folder: Path = tmp_path_factory.mktemp("pounds")
    lines = ["run_id,lubricant,weights [lb],duration [min],scar_length [in],scar_width [in],wear_stopped"]
    for oil, lengths in LENGTHS.items():
        lines += [f"{oil}{i},{oil},{WEIGHTS},1.5,{length},,yes" for i, length in enumerate(lengths)]
    (folder / "campaign.toml").write_text(CAMPAIGN_TOML, encoding="utf-8")
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return run_report(folder)


def pressures() -> dict[str, list[float]]:
    metres = {oil: [float(text) * INCH for text in lengths] for oil, lengths in LENGTHS.items()}
    return {oil: [LOAD / area(x, implied_width(RIG, x)) for x in values] for oil, values in metres.items()}


def test_weights_hanger_and_lever_make_the_load(results):
    assert [run["load_N"] for run in results["runs"]] == pytest.approx([LOAD] * 12, rel=TOLERANCE, abs=0)
    got = [run["scar_pressure_MPa"] * 1e6 for run in results["runs"]]
    assert got == pytest.approx(pressures()["O"] + pressures()["N"], rel=TOLERANCE, abs=0)


@pytest.mark.parametrize("response", ["scar_pressure", "film_pressure"])
def test_each_oil_keeps_its_own_spread(results, response):
    groups = pressures()
    assert brown_forsythe_p(groups) < 0.03, "the spreads must differ plainly"
    row = next(row for row in results["comparisons"] if row["response"] == response)
    want = two_samples(groups["N"], groups["O"], 0.95, pooled=False)
    assert (row["ratio"], row["ci_low"], row["ci_high"], row["p_adjusted"]) == pytest.approx(
        want, rel=TOLERANCE
    )
    assert "Welch" in row["method"]
