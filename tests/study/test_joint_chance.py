"""The chance of keeping several limits at once, held against exact values."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from awkward_blends import five_components, folders

from pinscar.campaign.campaign import read_campaign
from pinscar.study.formulation.model import chances, correlation_of
from pinscar.study.formulation.study import Asked, study_formulation


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    (folder,) = folders(five_components, Path(tmp_path_factory.mktemp("joint")))
    return study_formulation([read_campaign(folder)], Asked())


def test_two_limits_at_the_median_are_kept_by_the_arcsine_of_the_correlation(found):
    # P(both above their median) of a bivariate normal is 1/4 + arcsin(r) / (2 pi) (Sheppard 1899)
    film, fling = found.model, found.beside[0]
    r = correlation_of([film, fling])[0, 1]
    assert abs(r) > 0.1
    x = film.tested[:1]
    logs = [float((one.fit.row(x) @ one.fit.coefficients)[0]) for one in (film, fling)]
    both = chances(x, [(film, logs[0], 1.0), (fling, logs[1], 1.0)])[0]
    apart = chances(x, [(film, logs[0], 1.0), (fling, logs[1], -1.0)])[0]
    assert both == pytest.approx(0.25 + math.asin(r) / (2 * math.pi), abs=0.025)
    assert apart == pytest.approx(0.25 - math.asin(r) / (2 * math.pi), abs=0.025)
    assert chances(x, [(film, logs[0], 1.0)])[0] == pytest.approx(0.5)
    assert np.array_equal(chances(x, []), [1.0])


def test_the_drive_loss_is_foreseen_from_what_is_stated(found):
    (loss,) = [one for one in found.beside if one.runs.response.name == "drive_loss"]
    # the generator states 200 W and 4 W more for each percent of T, to four digits
    x = np.array([0.95, 0.01, 0.025, 0.01, 0.005])
    assert math.exp(loss.predict(x).log) == pytest.approx(210.0, rel=2e-3)
    assert [one.name for one in found.proposals.blends[0].foreseen][-1] == "drive_loss"
