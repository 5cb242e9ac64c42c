"""Scars with a band of other metal round them, drawn here: its outer edge is no rim of a scar."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.scar_band import bands_beside, inside_of
from pinscar.evidence.scar_image import measure_scar
from pinscar.evidence.scar_marks import marks_along
from pinscar.evidence.scar_rim import Layers, Rim

HALF = (110.0, 62.0)
"""Half-axes of the scar that is drawn [points]."""


def drawn(seed: int, width: float, shade: float, scratched: bool = True) -> np.ndarray:
    """Draw a striated scar on ground metal, with a band of a width and a shade round it."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:360, :480] - np.array([180.0, 240.0])[:, None, None]
    level = np.hypot(x / HALF[0], y / HALF[1])
    around = np.hypot(x / (HALF[0] + width), y / (HALF[1] + width))
    ground = 0.5 + 0.05 * gaussian_filter(rng.normal(size=480), 0.8)[None] * np.ones((360, 1))
    worn = 0.42 + 0.05 * gaussian_filter(rng.normal(size=360), 0.8)[:, None] * np.ones((1, 480))
    band = shade + (ground - 0.5 if scratched else 0.0)
    picture = np.where(level < 1, worn, np.where(around < 1, band, ground)) if width else None
    picture = np.where(level < 1, worn, ground) if picture is None else picture
    return gaussian_filter(picture, 0.8) + 0.004 * rng.normal(size=picture.shape)


@pytest.mark.parametrize("scratched", [True, False])
@pytest.mark.parametrize(("width", "shade"), [(16.0, 0.75), (24.0, 0.66), (24.0, 0.3)])
def test_the_outer_edge_of_a_band_is_not_taken_for_the_scar(width, shade, scratched):
    for seed in (1, 2):
        reading = measure_scar(drawn(seed, width, shade, scratched), 1.0)
        assert not reading.accepted or reading.width == pytest.approx(2 * HALF[1], rel=0.05)


def test_a_plain_scar_has_no_band():
    for seed in (3, 4):
        reading = measure_scar(drawn(seed, 0.0, 0.5), 1.0)
        assert reading.accepted
        assert reading.length == pytest.approx(2 * HALF[0], rel=0.02)
        assert reading.width == pytest.approx(2 * HALF[1], rel=0.02)


def test_the_line_within_a_band_is_told():
    """A dull band without marks: striations end well inside of the outline."""
    picture = np.log(drawn(5, 20.0, 0.5, scratched=False))
    marks = marks_along(picture, np.ones(picture.shape, dtype=bool), 0.0)
    outer = Rim(Ellipse(240.0, 180.0, HALF[0] + 20.0, HALF[1] + 20.0, 0.0))
    bands = bands_beside(outer, Layers(picture[..., None]), marks)
    assert bands.doubtful
    assert min(abs(depth + 20.0 / (HALF[1] + 20.0)) for depth in bands.inner) < 0.06
    best = min(bands.inner, key=lambda depth: abs(depth + 20.0 / (HALF[1] + 20.0)))
    assert inside_of(outer, best).ellipse.b == pytest.approx(HALF[1], rel=0.08)
    true = Rim(Ellipse(240.0, 180.0, *HALF, 0.0))
    assert not bands_beside(true, Layers(picture[..., None]), marks).doubtful


def test_where_no_marks_are_seen_nothing_is_said_of_them():
    flat = np.zeros((200, 260))
    marks = marks_along(flat, np.ones(flat.shape, dtype=bool), 0.0)
    rim = Rim(Ellipse(130.0, 100.0, 80.0, 50.0, 0.0))
    assert not bands_beside(rim, Layers(flat[..., None]), marks).doubtful
    hidden = Layers(np.full((*flat.shape, 1), np.nan))
    assert not bands_beside(rim, hidden, marks).doubtful
