"""Control charts against the worked examples of the NIST/SEMATECH e-Handbook."""

import pytest

from pinscar.stats.control import ewma_chart, individuals_chart

# 6.3.2.4: process mean 50, sigma 2.0539, weight 0.3.
EWMA_DATA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5]
EWMA_DATA += [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
EWMA_PRINTED = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33]
EWMA_PRINTED += [50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]
INDIVIDUALS = EWMA_DATA[10:]  # 6.3.2.2


def test_ewma_averages():
    chart = ewma_chart(EWMA_DATA, 50.0, 2.0539, 0.3, exact_limits=False)
    assert chart.averages.tolist() == pytest.approx(EWMA_PRINTED, abs=5.1e-3)
    assert not chart.beyond.any()


def test_ewma_limits():
    """Printed 52.5884 and 47.4115; the lower one is 47.4116 from the same numbers, so a whole digit there."""
    chart = ewma_chart(EWMA_DATA, 50.0, 2.0539, 0.3, exact_limits=False)
    assert chart.upper[0] - 50 == pytest.approx(2.5884, abs=5.1e-5)
    assert 50 - chart.lower[0] == pytest.approx(2.5885, abs=1.1e-4)
    assert set(chart.upper.tolist()) == {chart.upper[0]}


def test_individuals_and_moving_range():
    """Centre, limits and moving ranges are those of the handbook's example."""
    chart = individuals_chart(INDIVIDUALS)
    assert chart.centre == pytest.approx(50.81, abs=5.1e-3)
    assert chart.mean_moving_range == pytest.approx(1.8778, abs=5.1e-5)
    assert (chart.upper, chart.lower) == pytest.approx((55.8041, 45.8159), abs=5.1e-5)
    assert chart.moving_range_upper == pytest.approx(6.1347, abs=5.1e-5)
    # Printed with one decimal.
    assert chart.moving_ranges[:3].tolist() == pytest.approx([2.0, 2.3, 1.4], abs=5.1e-2)


def test_constants_are_those_of_two_normal_values():
    """d2 is the mean range of two standard normal values, D4 = 1 + 3 d3/d2 (tables print 1.128 and 3.267)."""
    import math

    from pinscar.stats.control import D2, D4

    d2 = 2 / math.sqrt(math.pi)
    d3 = math.sqrt(2 - 4 / math.pi)
    assert pytest.approx(d2, abs=5e-4) == D2
    assert pytest.approx(1 + 3 * d3 / d2, abs=6e-4) == D4
