"""The wide means of the paper's brightness, as matrices, are those of SciPy's filter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from pinscar.evidence import fling_drops


@pytest.mark.parametrize("wide", [0.7, 6.0, 30.0, 120.0])
def test_wide_means_are_those_of_the_filter(wide):
    arrays = np.random.default_rng(2).random((3, 40, 70))
    plain = [gaussian_filter(one, wide, mode="constant", truncate=3.0) for one in arrays]
    np.testing.assert_allclose(fling_drops._wide_means(arrays, wide), plain, rtol=1e-12)
