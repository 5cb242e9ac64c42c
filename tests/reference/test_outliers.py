"""Outlier tests against NIST's handbook and printed tables."""

import numpy as np
import pytest

from pinscar.stats.outliers import generalised_esd, grubbs, grubbs_critical
from pinscar.stats.precision import cochran

# Rosner (1983), as in NIST handbook 1.3.5.17.3, alpha 0.05, ten steps.
ROSNER = (
    "-0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70 1.76 1.77 "
    "1.81 1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40 2.47 2.54 2.62 2.64 "
    "2.90 2.92 2.92 2.93 3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01"
)
STATISTICS = "3.118906 2.942973 3.179424 2.810181 2.815580 2.848172 2.279327 2.310366 2.101581 2.067178"
CRITICALS = "3.158794 3.151430 3.143890 3.136165 3.128247 3.120128 3.111796 3.103243 3.094456 3.085425"


def test_rosners_example_finds_three_outliers_though_the_first_step_finds_none():
    values = np.array(ROSNER.split(), float)
    result = generalised_esd(values, 10, 0.05)
    assert list(result.statistics) == pytest.approx([float(v) for v in STATISTICS.split()], abs=5.1e-7)
    assert list(result.criticals) == pytest.approx([float(v) for v in CRITICALS.split()], abs=5.1e-7)
    assert result.statistics[0] < result.criticals[0]
    assert values[list(result.flagged)].tolist() == [6.01, 5.42, 5.34]


def test_grubbs_on_the_uranium_isotope_data():
    """NIST handbook 1.3.5.17.1 prints G = 2.4687 (cut, not rounded) and a one-sided critical value 2.032."""
    result = grubbs([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], 0.05, "high")
    assert result.statistic == pytest.approx(2.468765, abs=5.1e-7)
    assert result.critical == pytest.approx(2.031652, abs=5.1e-7)
    assert result.flagged


def test_grubbs_on_the_tensile_strength_data():
    """ASTM E178, ten tensile strengths (data from memory): T = 2.39, between the 2.5 and 1 % points."""
    values = [568, 570, 570, 570, 572, 572, 572, 578, 584, 596]
    assert grubbs(values, 0.025, "high").statistic == pytest.approx(2.39, abs=5.1e-3)
    assert grubbs(values, 0.025, "high").flagged
    assert not grubbs(values, 0.01, "high").flagged


# ASTM E178, one-sided critical values at 10, 5, 2.5 and 1 % (from memory, re-derived from t to 5e-4).
E178 = {
    3: (1.148, 1.153, 1.154, 1.155),
    4: (1.425, 1.462, 1.481, 1.492),
    5: (1.602, 1.671, 1.715, 1.749),
    6: (1.729, 1.822, 1.887, 1.944),
    7: (1.828, 1.938, 2.020, 2.097),
    8: (1.909, 2.032, 2.127, 2.221),
    9: (1.977, 2.110, 2.215, 2.323),
    10: (2.036, 2.176, 2.290, 2.410),
    12: (2.134, 2.285, 2.412, 2.549),
    15: (2.248, 2.409, 2.548, 2.705),
    20: (2.385, 2.557, 2.708, 2.884),
    25: (2.486, 2.663, 2.822, 3.009),
    30: (2.565, 2.745, 2.908, 3.103),
}


@pytest.mark.parametrize("n", list(E178))
def test_grubbs_critical_values(n):
    """One-sided critical values are those of ASTM E178; the two-sided 5 % is the one-sided 2.5 %."""
    computed = [grubbs_critical(n, alpha, "high") for alpha in (0.10, 0.05, 0.025, 0.01)]
    assert computed == pytest.approx(list(E178[n]), abs=5.1e-4)
    assert grubbs_critical(n, 0.05, "two-sided") == pytest.approx(computed[2], rel=1e-12, abs=0)


def test_cochran_critical_value():
    """Cochran's table, 5 %, two results a group: p = 10 gives 0.602 (from memory, re-derived from F)."""
    from scipy.stats import f

    groups = {str(i): [0.0, 0.1 * i + 0.1] for i in range(10)}
    critical = cochran(groups).critical
    assert critical == pytest.approx(0.602, abs=5.1e-4)
    assert critical == pytest.approx(1 / (1 + 9 / f.ppf(1 - 0.05 / 10, 1, 9)), rel=1e-9, abs=0)
