"""One-way analysis of variance, mean and sd against the certified NIST Statistical Reference Datasets."""

import numpy as np
import pytest

from pinscar.stats.control import one_way_anova
from pinscar.stats.estimates import stable_mean, standard_deviation

# NIST StRD SiRstv (silicon resistivity), certified values.
SIRSTV = [
    [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
]

# NIST StRD AtmWtAg (atomic weight of silver): 107.868 + value x 1e-7.
ATMWTAG = [
    "1568 1465 1572 1785 1446 1903 1526 1494 1616 1587 1519 1486 "
    "1419 1569 1508 1672 1385 1518 1662 1424 1360 1333 1610 1477",
    "1079 1344 1513 1197 1604 1385 1642 1365 1151 1082 1517 1448 "
    "1198 1482 1334 1609 1101 1512 1469 1360 1254 1261 1450 1368",
]

TREATMENT_MEANS = [1.4, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5]


def simon_lesage(pairs, offset):
    """NIST StRD SmLs01 to SmLs09: each treatment is its mean, then pairs 0.1 below and above it.

    The values are written with one decimal, as in the certified files.
    """
    return [[round(offset + m + d, 1) for d in [0.0] + [-0.1, 0.1] * pairs] for m in TREATMENT_MEANS]


def test_silicon_resistivity():
    """The certified values of SiRstv come out to nine digits."""
    result = one_way_anova(SIRSTV)
    assert result.f == pytest.approx(1.18046237440255, rel=1e-9, abs=0)
    assert result.residual_sd == pytest.approx(0.104076068334656, rel=1e-9, abs=0)
    assert result.sum_of_squares_between / 4 == pytest.approx(1.27865654e-2, rel=4e-9, abs=0)
    assert result.sum_of_squares_within / 20 == pytest.approx(1.0831828e-2, rel=5e-8, abs=0)


def test_atomic_weight_of_silver():
    """The certified values of AtmWtAg come out as far as the data are stored."""
    # 107.868 + 1e-7 x integer is stored to 1.4e-14, of a spread of 1.5e-5: nine digits of each deviation.
    result = one_way_anova([[float(f"107.868{value}") for value in group.split()] for group in ATMWTAG])
    assert result.f == pytest.approx(15.9467335677930, rel=1e-9, abs=0)
    assert result.residual_sd == pytest.approx(1.51048314446410e-5, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("pairs", "offset", "f", "tolerance"),
    [
        (10, 0.0, 21.0, 1e-12),
        (100, 0.0, 201.0, 1e-12),
        (1000, 0.0, 2001.0, 1e-12),
        # At 1e6 a double keeps 1.2e-10, so a tenth keeps nine digits.
        (10, 1e6, 21.0, 2e-9),
        (100, 1e6, 201.0, 2e-9),
        (1000, 1e6, 2001.0, 2e-9),
        # At 1e12 a double keeps 1.2e-4 of a tenth, so three digits at most: the loss is in the stored data.
        (10, 1e12, 21.0, 2e-3),
        (100, 1e12, 201.0, 2e-3),
        (1000, 1e12, 2001.0, 2e-3),
    ],
)
def test_simon_lesage(pairs, offset, f, tolerance):
    """The certified F of the Simon-Lesage sets comes out, also with large offsets."""
    assert one_way_anova(simon_lesage(pairs, offset)).f == pytest.approx(f, rel=tolerance, abs=0)


MAVRO = (
    "180 170 180 190 180 170 150 140 150 150 170 180 180 190 190 210 200 160 140 130 130 150 150 160 150 "
    "140 130 140 150 140 150 160 150 160 190 200 200 210 220 230 240 250 270 260 260 260 270 260 250 240"
)


@pytest.mark.parametrize(
    ("values", "mean", "sd", "tolerance"),
    [
        ([10000001, 10000003, 10000002], 10000002, 1.0, 1e-15),  # NumAcc1
        ([1.2] + [1.1, 1.3] * 500, 1.2, 0.1, 1e-13),  # NumAcc2 (values and pattern from memory)
        ([1000000.2] + [1000000.1, 1000000.3] * 500, 1000000.2, 0.1, 2e-9),  # NumAcc3 (from memory)
        ([10000000.2] + [10000000.1, 10000000.3] * 500, 10000000.2, 0.1, 2e-8),  # NumAcc4
        ([2 + int(v) * 1e-5 for v in MAVRO.split()], 2.00185600000000, 0.000429123454003053, 1e-11),  # Mavro
    ],
)
def test_univariate_sets(values, mean, sd, tolerance):
    """NIST StRD univariate. The sd keeps the digits that are stored: an offset of 1e7 leaves eight."""
    assert stable_mean(values) == pytest.approx(mean, rel=1e-14, abs=0)
    assert standard_deviation(values) == pytest.approx(sd, rel=tolerance, abs=0)


def test_a_second_library_agrees():
    from scipy.stats import f_oneway

    other = f_oneway(*SIRSTV)
    result = one_way_anova(SIRSTV)
    assert result.f == pytest.approx(float(other.statistic), rel=1e-9, abs=0)
    assert result.p == pytest.approx(float(other.pvalue), rel=1e-9, abs=0)
    assert np.allclose(result.means, [np.mean(group) for group in SIRSTV], rtol=1e-14)
