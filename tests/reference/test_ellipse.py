"""The ellipse fit against scikit-image's, on the same outlines, and against exact points."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.measure import EllipseModel

from pinscar.evidence.ellipse import Ellipse, direct_ellipse, fit_ellipse


def reference_axes(points):
    """Half-axes by scikit-image's EllipseModel (Halíř and Flusser's direct fit)."""
    if hasattr(EllipseModel, "from_estimate"):
        model = EllipseModel.from_estimate(points)
        return sorted(model.axis_lengths)
    model = EllipseModel()
    assert model.estimate(points)
    return sorted(model.params[2:4])


@pytest.mark.parametrize("seed", range(6))
def test_direct_fit_agrees_with_the_library_on_a_noisy_outline(seed):
    rng = np.random.default_rng(seed)
    truth = Ellipse(240.0, 180.0, rng.uniform(80, 150), rng.uniform(40, 75), rng.uniform(-1, 1))
    points = truth.points(truth.even_angles(300)) + rng.normal(0, 1.0, (300, 2))
    fit = direct_ellipse(points)
    assert sorted((fit.a, fit.b)) == pytest.approx(reference_axes(points), rel=1e-6)
    # Least distance is another criterion than the algebraic one: they agree to the noise, not to the digit.
    geometric = fit_ellipse(points, robust=False)
    assert sorted((geometric.a, geometric.b)) == pytest.approx(reference_axes(points), rel=5e-3)


def test_both_fits_find_an_exact_ellipse():
    truth = Ellipse(10.0, -4.0, 7.0, 3.0, 0.4)
    points = truth.points(np.linspace(0.2, 4.0, 30))
    for fit in (direct_ellipse(points), fit_ellipse(points)):
        again = fit.along(0.4)
        assert (again.x, again.y, again.a, again.b, again.angle) == pytest.approx(
            (10, -4, 7, 3, 0.4), rel=1e-6
        )


def test_outliers_do_not_move_the_robust_fit():
    truth = Ellipse(100.0, 80.0, 60.0, 35.0, 0.1)
    rng = np.random.default_rng(3)
    points = truth.points(truth.even_angles(200)) + rng.normal(0, 0.3, (200, 2))
    points[::8] += 12
    fit = fit_ellipse(points).along(0.1)
    assert (fit.a, fit.b) == pytest.approx((60, 35), rel=5e-3)


def test_distances_are_those_of_points_pushed_out_along_the_normals():
    ellipse = Ellipse(5.0, 6.0, 40.0, 15.0, -0.3)
    t = ellipse.even_angles(50)
    for push in (-3.0, 0.5, 8.0):
        assert ellipse.distances(ellipse.points(t) + push * ellipse.normals(t)) == pytest.approx(
            push, abs=1e-6
        )


def test_points_on_a_line_are_no_ellipse():
    with pytest.raises(ValueError, match="ellipse"):
        direct_ellipse(np.column_stack([np.arange(9.0), 2 * np.arange(9.0)]))
