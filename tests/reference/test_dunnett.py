"""Dunnett's comparisons with a control against published values.

Dunnett, "A multiple comparison procedure for comparing several treatments with a control", JASA 50 (1955)
1096-1121: both worked examples and the table. Limits and p-values as printed by the R package multcomp,
quoted in SciPy's tests of its own Dunnett function; those come from a Monte-Carlo integral, so their last
digits wander: for the fabrics p is 0.03662 by direct double quadrature (below), where R's draw gave
0.036407.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats
from scipy.special import gammaln, ndtr

from pinscar.stats.simultaneous import control_correlation, dunnett, joint_critical_value, joint_p

FABRICS = [[55, 64, 64], [55, 49, 52], [50, 44, 41]]
FABRIC_CONTROL = [55, 47, 48]
BLOOD = [[9.76, 8.80, 7.68, 9.36], [12.80, 9.68, 12.16, 9.20, 10.55]]
BLOOD_CONTROL = [7.40, 8.50, 7.20, 8.24, 9.84, 8.32]

# (comparisons, degrees of freedom, two-sided 5 % critical value); equal group sizes. The table prints two
# decimals (2.57, 2.76, 2.89, 2.99 at 10 degrees of freedom, from memory); the third was computed
# independently.
TABLE = [
    (1, 10, 2.228),
    (2, 10, 2.568),
    (3, 10, 2.759),
    (4, 10, 2.890),
    (5, 10, 2.990),
    (2, 12, 2.502),
    (2, 20, 2.379),
    (3, 20, 2.540),
    (4, 20, 2.651),
]


@pytest.mark.parametrize(("comparisons", "df", "printed"), TABLE)
def test_table_of_critical_values(comparisons: int, df: int, printed: float) -> None:
    """Critical values are those of the printed table."""
    value = joint_critical_value(control_correlation(np.full(comparisons, 4), 4), df, 0.95)
    assert value == pytest.approx(printed, abs=5e-4)


def test_fabrics() -> None:
    """The fabrics example gives the published statistics and two-sided limits."""
    results = dunnett(FABRICS, FABRIC_CONTROL)
    assert [r.statistic for r in results] == pytest.approx([3.09073, 0.56195, -1.40488], abs=5e-6)
    assert results[0].critical == pytest.approx(2.879662, abs=2e-5)
    assert results[0].critical * results[0].standard_error == pytest.approx(10.24879, abs=1e-4)
    low, high = [r.low for r in results], [r.high for r in results]
    assert low == pytest.approx([0.75290, -8.24710, -15.24710], abs=2e-3)
    assert high == pytest.approx([21.24710, 12.24710, 5.24710], abs=2e-3)
    assert [r.p for r in results] == pytest.approx([0.036407, 0.896539, 0.409295], abs=3e-4)


def test_fabrics_lower_limits() -> None:
    """The fabrics example gives the published lower limits, and no upper ones."""
    results = dunnett(FABRICS, FABRIC_CONTROL, alternative="greater")
    assert [r.low for r in results] == pytest.approx([2.40237, -6.59763, -13.59763], abs=3e-3)
    assert all(r.high == np.inf for r in results)


def test_blood_counts() -> None:
    results = dunnett(BLOOD, BLOOD_CONTROL)
    assert [r.statistic for r in results] == pytest.approx([0.85703, 3.69375], abs=5e-6)
    assert results[0].critical == pytest.approx(2.513483, abs=5e-7)
    assert [r.low for r in results] == pytest.approx([-1.25641, 0.83963], abs=3e-4)
    assert [r.high for r in results] == pytest.approx([2.55641, 4.41637], abs=3e-4)
    assert results[0].p == pytest.approx(0.62010, abs=5e-6)
    assert results[1].p == pytest.approx(0.0058254, abs=5e-8)


def nested_quadrature(c: float, loadings: np.ndarray, df: float) -> float:
    """Compute the same tail by adaptive quadrature over both variables."""
    spread, root = np.sqrt(1 - loadings**2), np.sqrt(df)

    def inside(u: float) -> float:
        def product(z: float) -> float:
            both = ndtr((loadings * z + c * u) / spread) - ndtr((loadings * z - c * u) / spread)
            return float(np.exp(-z * z / 2) * np.prod(both))

        return integrate.quad(product, -9, 9, epsabs=1e-10, limit=200)[0] / np.sqrt(2 * np.pi)

    def weighted(u: float) -> float:
        log_density = (
            np.log(2) + df / 2 * np.log(df / 2) - gammaln(df / 2) + (df - 1) * np.log(u) - df * u * u / 2
        )
        return float(np.exp(log_density)) * inside(u)

    return 1 - integrate.quad(weighted, 0, 1 + 8 / root, epsabs=1e-9)[0]


@pytest.mark.parametrize(
    ("c", "sizes", "control", "df"), [(3.09073258, [3, 3, 3], 3, 8), (2.0, [8, 2], 3, 5)]
)
def test_agrees_with_nested_adaptive_quadrature(c, sizes, control, df) -> None:
    rho = control_correlation(sizes, control)
    loadings = np.sqrt(np.array(sizes) / (np.array(sizes) + control))
    assert joint_p(c, rho, df) == pytest.approx(nested_quadrature(c, loadings, df), abs=1e-7)


def test_agrees_with_scipys_randomised_integral() -> None:
    theirs = stats.dunnett(*BLOOD, control=BLOOD_CONTROL, rng=np.random.default_rng(1))
    ours = dunnett(BLOOD, BLOOD_CONTROL)
    assert [r.p for r in ours] == pytest.approx(theirs.pvalue, abs=2e-4)
    interval = theirs.confidence_interval(0.95)
    assert [r.low for r in ours] == pytest.approx(interval.low, abs=5e-3)
