"""Chain geometry and duty against printed tables and independently computed values."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.contact.chain import (
    chain_size,
    chain_speed,
    joint_pressure,
    joint_speed,
    pitch_diameter,
    sliding_per_swing,
    swing_angle,
)

RPM = 2 * np.pi / 60


@pytest.mark.parametrize(
    ("designation", "teeth", "printed"),
    # Source: ISO 606, d = p / sin(pi/z); pitch diameters [mm] as makers' sprocket tables print them (common
    # practice, tables without a title). 08B z 45 is printed 182.07, the formula gives 182.064.
    [("08B", 14, 57.07), ("08B", 40, 161.87), ("10B", 16, 81.37), ("16B", 10, 82.19), ("08B", 45, 182.07)],
)
def test_pitch_diameters_of_sprocket_tables(designation, teeth, printed):
    """Pitch diameters are those of printed sprocket tables, to their last digit."""
    assert pitch_diameter(chain_size(designation).pitch, teeth) * 1e3 == pytest.approx(printed, abs=0.01)


def test_unit_pitch_diameters():
    """Diameters for unit pitch are those of ISO 606."""
    # ISO 606, annex with the diameters for unit pitch (printed values from memory, recomputed to four
    # decimals).
    teeth = [9, 10, 11, 13, 15, 17, 19, 20, 23, 25, 38, 40, 45]
    printed = [2.9238, 3.2361, 3.5495, 4.1786, 4.8097, 5.4422, 6.0755, 6.3925, 7.3439, 7.9787]
    printed += [12.1096, 12.7455, 14.3356]
    np.testing.assert_allclose(pitch_diameter(1.0, teeth), printed, atol=6e-5)


def test_a_conveyor_joint():
    """A conveyor joint agrees with hand calculation."""
    # Pitch 12.7, pin 4.45, bush 11.3 mm, 19 teeth, 120 rpm, 900 N. Source: common practice (rigid sprocket),
    # independent arithmetic.
    assert joint_pressure(900.0, 4.45e-3, 11.3e-3) * 1e-6 == pytest.approx(17.897982, rel=1e-7, abs=0)
    assert joint_speed(4.45e-3, 120 * RPM) == pytest.approx(0.027960175, rel=1e-7, abs=0)
    assert np.degrees(swing_angle(19)) == pytest.approx(18.947368, rel=1e-7, abs=0)
    assert sliding_per_swing(4.45e-3, 19) * 1e3 == pytest.approx(0.73579407, rel=1e-7, abs=0)
    assert pitch_diameter(12.7e-3, 19) * 1e3 == pytest.approx(77.159280, rel=1e-7, abs=0)
    assert chain_speed(12.7e-3, 19, 120 * RPM) == pytest.approx(0.4826, rel=1e-7, abs=0)


@pytest.mark.parametrize(
    ("designation", "dimensions", "area"),
    # Source: ISO 606 for pitch, roller, inner width and pin [mm], read from dealers' tables of that chain
    # (common practice; the pin of 06B from memory). Bearing areas [mm^2] and bush lengths: from memory.
    [
        ("06B", (9.525, 6.35, 5.72, 3.28), 28),
        ("08B", (12.70, 8.51, 7.75, 4.45), 50),
        ("10B", (15.875, 10.16, 9.65, 5.08), 67),
        ("12B", (19.05, 12.07, 11.68, 5.72), 89),
        ("16B", (25.40, 15.88, 17.02, 8.28), 210),
    ],
)
def test_the_table_of_chains(designation, dimensions, area):
    """The table holds the dimensions of ISO 606, and pin times bush is the printed bearing area."""
    size = chain_size(designation)
    found = np.array([size.pitch, size.roller_diameter, size.inner_width, size.pin_diameter]) * 1e3
    np.testing.assert_allclose(found, dimensions, rtol=1e-12)
    assert size.pin_diameter * size.bush_length * 1e6 == pytest.approx(area, rel=0.01, abs=0)
    # Inch chains: the pitch is a whole number of sixteenths of an inch.
    assert size.pitch / 25.4e-3 * 16 == pytest.approx(round(size.pitch / 25.4e-3 * 16), abs=1e-9)
