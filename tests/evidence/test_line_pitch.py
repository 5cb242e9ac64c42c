"""The pitch of tracked lines against a general library for least squares."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import t as student

from pinscar.evidence.line_pitch import ASKEW, ROUNDED, even_pitch
from pinscar.evidence.line_strips import Strips
from pinscar.evidence.line_tracks import Tracks

LINES, STRIPS, PITCH, SHAPE = 20, 12, 30.0, (480, 640)


def scattered(seed: int) -> tuple[Strips, Tracks]:
    """Lines whose places scatter, and hang together along each line."""
    rng = np.random.default_rng([71, seed])
    along = 40.0 * (np.arange(STRIPS) - 0.5 * (STRIPS - 1))
    even = PITCH * (np.arange(LINES) - 0.5 * (LINES - 1))
    own, each = rng.normal(0, 0.05, LINES), rng.normal(0, 0.02, (STRIPS, LINES))
    place = even + own + each + 0.001 * along[:, None]
    one = np.ones_like(place)
    across, ends = np.arange(-320.0, 320.0), np.tile([-320.0, 320.0], (STRIPS, 1))
    strips = Strips(0.0, across, along, np.zeros((STRIPS, across.size)), ends, 0.0)
    return strips, Tracks(PITCH, np.arange(STRIPS), place, one, one, one, 1.0)


@pytest.mark.parametrize("seed", range(4))
def test_pitch_and_uncertainty_are_those_of_least_squares_with_the_places_of_a_line_as_a_cluster(seed):
    """statsmodels' OLS with a covariance by clusters; Student's t for few lines by JCGM 100, annex G.3."""
    strips, tracks = scattered(seed)
    found = even_pitch(strips, tracks, SHAPE)
    number = np.tile(np.arange(LINES, dtype=float), STRIPS)
    terms = np.column_stack([np.ones(number.size), tracks.place.ravel(), np.repeat(strips.along, LINES)])
    fitted = sm.OLS(number, terms).fit(
        cov_type="cluster", cov_kwds={"groups": number.astype(int), "use_correction": False}
    )
    slope, aside = fitted.params[1:]
    steep = np.hypot(slope, aside)
    assert found.pitch == pytest.approx(1 / steep, rel=1e-9)
    assert found.turn == pytest.approx(np.arctan2(aside, slope), rel=1e-6)
    freedom = LINES - 3
    # As many lines over those beyond the three terms of the fit: the usual correction for few clusters.
    few = np.sqrt(LINES / freedom) * student.ppf(0.975, freedom) / student.ppf(0.975, np.inf)
    error = few * fitted.bse[1] / steep
    expected = np.linalg.norm([error, ASKEW, ROUNDED / np.ptp(tracks.place)])
    assert found.uncertainty / found.pitch == pytest.approx(expected, rel=1e-6)
    assert error > 0.9 * expected
