"""Uncertainty propagation against the worked examples of JCGM 100:2008 (GUM), annex H."""

import numpy as np
import pytest

from pinscar.stats.uncertainty import (
    combine,
    derivative,
    effective_degrees_of_freedom,
    t_factor,
)

# GUM H.1, end gauge: contributions in nm and their degrees of freedom.
LENGTH_DIFFERENCE = [(5.8, 24), (3.9, 5), (6.7, 8)]  # repeats, comparator random, comparator systematic
END_GAUGE = [(25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2)]  # standard, difference, expansion, temperature


def test_end_gauge_length_difference_has_the_printed_uncertainty_and_degrees_of_freedom():
    """GUM H.1.3.2, H.1.6 print u(d) = 9.7 nm and, from that rounded value, 25.6 degrees of freedom."""
    u, dof = zip(*LENGTH_DIFFERENCE, strict=True)
    combined = combine(np.ones(3), u, degrees_of_freedom=dof)
    # Half the last printed digit.
    assert combined.standard_uncertainty == pytest.approx(9.7, abs=0.05)
    # Half the last printed digit.
    assert effective_degrees_of_freedom(9.7, u, dof) == pytest.approx(25.6, abs=0.05)


def test_end_gauge_combined_uncertainty_is_the_printed_32_nm():
    """GUM H.1.4 prints u_c = 32 nm; 31.6711 is the root of the sum of the printed components' squares."""
    u, dof = zip(*END_GAUGE, strict=True)
    combined = combine(np.ones(4), u, degrees_of_freedom=dof)
    # Half the last printed digit.
    assert combined.standard_uncertainty == pytest.approx(32.0, abs=0.5)
    assert combined.standard_uncertainty == pytest.approx(31.6711, abs=5e-5)


def test_end_gauge_degrees_of_freedom_and_expanded_uncertainty():
    """GUM H.1.6: nu_eff is cut to 16 (16.7 before, from memory), t99 = 2.92, U99 = 93 nm from u_c = 32."""
    u, dof = zip(*END_GAUGE, strict=True)
    combined = combine(np.ones(4), u, degrees_of_freedom=dof)
    assert combined.degrees_of_freedom == pytest.approx(16.76, abs=0.005)
    factor = t_factor(np.floor(combined.degrees_of_freedom), 0.99)
    assert factor == pytest.approx(2.92, abs=0.005)
    # Half the last printed digit.
    assert factor * 32.0 == pytest.approx(93.0, abs=0.5)


# GUM H.2, table H.2: five simultaneous readings of V [V], I [mA], phi [rad] (from memory).
VOLTAGE = [5.007, 4.994, 5.005, 4.990, 4.999]
CURRENT = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
PHASE = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]

IMPEDANCE = [
    # function of (V, I, phi), value, tolerance, uncertainty, tolerance. The GUM prints 0.295 for the
    # reactance from rounded inputs; unrounded inputs give 0.2956, so a whole digit is allowed there.
    ("resistance", lambda x: x[0] / x[1] * np.cos(x[2]), 127.732, 5e-4, 0.071, 5e-4),
    ("reactance", lambda x: x[0] / x[1] * np.sin(x[2]), 219.847, 5e-4, 0.295, 1e-3),
    ("impedance", lambda x: x[0] / x[1], 254.260, 5e-4, 0.236, 5e-4),
]


@pytest.mark.parametrize(("name", "function", "value", "value_tol", "u", "u_tol"), IMPEDANCE)
def test_correlated_inputs_give_the_printed_resistance_reactance_and_impedance(
    name, function, value, value_tol, u, u_tol
):
    """GUM H.2, tables H.3 and H.4 (printed values from memory, re-derived from the readings)."""
    readings = np.array([VOLTAGE, CURRENT, PHASE])
    means, errors = readings.mean(axis=1), readings.std(axis=1, ddof=1) / np.sqrt(5)
    slopes = [
        derivative(lambda x, i=i: function(np.where(np.arange(3) == i, x, means)), means[i]) for i in range(3)
    ]
    combined = combine(slopes, errors, np.corrcoef(readings))
    assert function(means) == pytest.approx(value, abs=value_tol)
    assert combined.standard_uncertainty == pytest.approx(u, abs=u_tol)


def test_correlations_of_the_readings_are_the_printed_ones():
    """GUM H.2 prints r(V,I) -0.36, r(V,phi) 0.86, r(I,phi) -0.65 (from memory)."""
    r = np.corrcoef([VOLTAGE, CURRENT, PHASE])
    assert [r[0, 1], r[0, 2], r[1, 2]] == pytest.approx([-0.36, 0.86, -0.65], abs=0.0051)
