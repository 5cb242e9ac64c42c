"""A random block against published variances.

Davies and Goldsmith, Statistical Methods in Research and Production, 4th ed. 1972: yields of dyestuff from
six batches (R package lme4, data set Dyestuff). Balanced, so REML is the analysis of variance: mean squares
11271.5 and 2451.25, batch variance 1764.05, standard error of the mean 19.38341 (lme4 prints 1764, 2451,
19.38).
"""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.stats.blocks import fit_random_block, kenward_roger

BATCHES = [
    [1545, 1440, 1440, 1520, 1580],
    [1540, 1555, 1490, 1560, 1495],
    [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545],
    [1595, 1630, 1515, 1635, 1625],
    [1520, 1455, 1450, 1480, 1445],
]


def test_dyestuff() -> None:
    """The Dyestuff data give the published variances, mean and standard error."""
    fit = fit_random_block(np.ravel(BATCHES), np.ones((30, 1)), list(np.repeat(np.arange(6), 5)))
    assert fit.block_variance == pytest.approx(1764.05, abs=5e-6)
    assert fit.residual_variance == pytest.approx(2451.25, abs=5e-6)
    mean, error, df = kenward_roger(fit, [1.0])
    assert (mean, error) == pytest.approx((1527.5, 19.38341), abs=5e-6)
    assert df == pytest.approx(5, abs=1e-6)  # six batches less one
