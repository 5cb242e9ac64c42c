"""The local plane of the paper's brightness is a weighted least-squares fit, place by place."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.evidence import fling_drops


def fitted_at(values, kept, wide, row, column):
    """Height of the plane at a place by NumPy, with the small term that holds slopes down."""
    y, x = np.mgrid[: values.shape[0], : values.shape[1]]
    up, along = (y - row) / wide, (x - column) / wide
    weights = np.exp(-0.5 * (up**2 + along**2)) * kept * (np.abs(up) <= 3) * (np.abs(along) <= 3)
    share = weights / weights.sum()
    middle = [(share * one).sum() for one in (up, along, values)]
    root = np.sqrt(share)
    rows = np.column_stack([(root * (up - middle[0])).ravel(), (root * (along - middle[1])).ravel()])
    rows = np.vstack([rows, 0.02**0.5 * np.eye(2)])
    slopes = np.linalg.lstsq(rows, np.append((root * (values - middle[2])).ravel(), [0.0, 0.0]), rcond=None)[
        0
    ]
    return middle[2] - slopes @ middle[:2]


@pytest.mark.parametrize("wide", [2.0, 6.0, 30.0])
def test_the_plane_is_that_of_least_squares(wide):
    rng = np.random.default_rng(2)
    y, x = np.mgrid[:40, :70]
    values = 0.7 + 0.002 * x - 0.003 * y + 0.05 * np.sin(x / 15.0) + 0.01 * rng.random((40, 70))
    kept = rng.random((40, 70)) < 0.7
    height, _ = fling_drops._plane(values, kept, wide)
    step = max(1, int(wide / 3))
    # at the corners, where the plane is worked out whatever the step, it is the same number
    for row, column in ((0, 0), (39, 69)):
        assert height[row, column] == pytest.approx(fitted_at(values, kept, wide, row, column), rel=1e-9)
    # in between it is filled in along straight lines, a third of the width apart: a bend of the light of
    # 5 % gives at most an eighth of (step / 15)², 0.05 of it
    for row, column in ((20, 35), (7, 50)):
        told = fitted_at(values, kept, wide, row, column)
        assert height[row, column] == pytest.approx(told, abs=1e-9 if step == 1 else 1e-3)
