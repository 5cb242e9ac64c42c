"""A-weighting against the table of IEC 61672-1, as curve and as filter."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.evidence.sound_level import a_weighted, a_weighting

# IEC 61672-1, table of the frequency weightings: nominal frequency [Hz], A-weighting [dB]. The values hold at
# the exact frequencies 10^(n/10) Hz, n = 10 to 43. Tolerance: half the last printed digit.
TABLE = (
    (10, -70.4), (12.5, -63.4), (16, -56.7), (20, -50.5), (25, -44.7), (31.5, -39.4), (40, -34.6),
    (50, -30.2), (63, -26.2), (80, -22.5), (100, -19.1), (125, -16.1), (160, -13.4), (200, -10.9),
    (250, -8.6), (315, -6.6), (400, -4.8), (500, -3.2), (630, -1.9), (800, -0.8), (1000, 0.0), (1250, 0.6),
    (1600, 1.0), (2000, 1.2), (2500, 1.3), (3150, 1.2), (4000, 1.0), (5000, 0.5), (6300, -0.1),
    (8000, -1.1), (10000, -2.5), (12500, -4.3), (16000, -6.6), (20000, -9.3),
)  # fmt: skip
TOLERANCE = 0.0505  # 160 Hz is -13.350, which rounds either way
RATE = 48000.0


def exact(nominal: float) -> float:
    return 10.0 ** (round(10.0 * np.log10(nominal)) / 10.0)


@pytest.mark.parametrize(("nominal", "printed"), TABLE)
def test_the_curve_is_that_of_the_standard(nominal, printed):
    assert float(a_weighting(exact(nominal))) == pytest.approx(printed, abs=TOLERANCE)


@pytest.mark.parametrize(("nominal", "printed"), TABLE[5:])
def test_a_tone_comes_out_of_the_filter_as_the_standard_says(nominal, printed):
    # From 31.5 Hz on: below, two seconds hold too few periods of a tone for its level to be read this well.
    t = np.arange(int(2 * RATE)) / RATE
    tone = np.sin(2 * np.pi * exact(nominal) * t) * np.hanning(t.size)
    level = 20 * np.log10(np.std(a_weighted(tone, RATE)) / np.std(tone))
    assert level == pytest.approx(printed, abs=TOLERANCE)


def test_the_filter_moves_nothing_in_time():
    click = np.zeros(8001)
    click[4000] = 1.0
    weighted = a_weighted(click, 8000.0)
    assert int(np.argmax(np.abs(weighted))) == 4000
    assert np.allclose(weighted[3500:4000], weighted[4500:4000:-1], atol=1e-12)


def test_a_weighting_of_nonsense_is_refused():
    with pytest.raises(ValueError, match="frequency"):
        a_weighting(-1.0)
    with pytest.raises(ValueError, match="one dimension"):
        a_weighted(np.zeros((2, 10)), 8000.0)
    with pytest.raises(ValueError, match="rate"):
        a_weighted(np.zeros(10), 0.0)
