"""The expected side must itself be right: it is held against printed values before it judges anything."""

from __future__ import annotations

import numpy as np
import pytest
from independent_evaluation import Rig, censored_median, dunnett, hertz_peak, reduced_modulus, volume


def test_nearly_equal_cylinders_meet_as_a_sphere_on_a_flat():
    # Johnson, Contact Mechanics, 1985, eq. 4.24: p0 = (6 F E*^2 / (pi^3 R^2))^(1/3); for radii
    # 1 % apart the mean curvature serves to second order.
    modulus = reduced_modulus(210e9, 0.3, 210e9, 0.3)
    radius = 2 / (1 / 0.01 + 1 / 0.0101)
    want = (6 * 600 * modulus**2 / (np.pi**3 * radius**2)) ** (1 / 3)
    assert hertz_peak(Rig(0.01, 0.0101, modulus), 600) == pytest.approx(want, rel=1e-4, abs=0)


@pytest.mark.parametrize("length", [2e-3, 10e-3])
def test_the_overlap_is_the_space_between_the_two_surfaces(length):
    # By its definition: the height of the pin's surface above the ring's, summed over a fine grid.
    rig, n = Rig(6e-3, 20e-3, 1.0), 3000
    depth = rig.ring_radius - np.sqrt(rig.ring_radius**2 - length**2 / 4)
    x = (np.arange(n) + 0.5) / n * length / 2
    y = (np.arange(n) + 0.5) / n * np.sqrt(2 * rig.pin_radius * depth - depth**2)
    ring = rig.ring_radius - np.sqrt(rig.ring_radius**2 - x**2)
    pin = rig.pin_radius - np.sqrt(rig.pin_radius**2 - y**2)
    height = np.clip(depth - ring[:, None] - pin, 0, None)
    want = 4 * height.mean() * length / 2 * y[-1] / (1 - 0.5 / n)
    assert volume(rig, length) == pytest.approx(want, rel=1e-5, abs=0)


def test_dunnett_gives_the_blood_count_example():
    # Dunnett, JASA 50 (1955), blood counts, as evaluated by R multcomp in SciPy's own tests (its integral is
    # a Monte-Carlo one, good to 3e-4).
    groups = {
        "control": [7.40, 8.50, 7.20, 8.24, 9.84, 8.32],
        "A": [9.76, 8.80, 7.68, 9.36],
        "B": [12.80, 9.68, 12.16, 9.20, 10.55],
    }
    found = dunnett({name: np.exp(values) for name, values in groups.items()}, "control", 0.95)
    assert np.log(found["A"][1:3]) == pytest.approx([-1.25641, 2.55641], abs=3e-4)
    assert np.log(found["B"][1:3]) == pytest.approx([0.83963, 4.41637], abs=3e-4)
    assert found["A"][3] == pytest.approx(0.62010, abs=3e-4)
    assert found["B"][3] == pytest.approx(0.0058254, abs=3e-5)


def test_the_censored_fit_gives_the_manganese_example():
    # Manganese in five wells, USEPA Unified Guidance 2009, example 15-1; profile limits as printed on the
    # help page of R EnvStats, elnormCensored.
    values = [5, 12.1, 16.9, 21.6, 2, 5, 7.7, 53.6, 9.5, 45.9, 5, 5.3, 12.6]
    values += [106.3, 34.5, 6.3, 11.9, 10, 2, 77.2, 17.9, 22.7, 3.3, 8.4, 2]
    below = [i in (0, 4, 5, 10, 18, 24) for i in range(25)]
    assert np.log(censored_median(values, below, 0.95)) == pytest.approx(
        [2.215905, 1.595062, 2.771197], abs=1e-6
    )
