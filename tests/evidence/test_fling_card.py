"""Drops on drawn cards are counted and measured, also when the card is seen aslant and lit from one side."""

from __future__ import annotations

import numpy as np
import pytest

from pinscar.evidence.fling_card import read_fling_card

LONG, SHORT = 0.15, 0.10


def photograph(turn=0.0, drops=25, seed=1, noise=0.01):
    """A 150 x 100 mm card at 4 points a millimetre, its drops apart from each other; and their areas [m²]."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:520.0, :720.0]
    c, s = np.cos(turn), np.sin(turn)
    u = ((x - 360) * c + (y - 260) * s) / 4
    v = ((y - 260) * c - (x - 360) * s) / 4
    picture = np.full(x.shape, 0.15)
    card = (np.abs(u) < 75) & (np.abs(v) < 50)
    picture[card] = (0.8 + 0.001 * u)[card]
    radii = rng.uniform(0.8, 2.8, drops)
    cells = rng.permutation(12 * 8)[:drops]
    for cell, radius in zip(cells, radii, strict=True):
        centre = (-66 + 12 * (cell % 12), -42 + 12 * (cell // 12))
        picture[np.hypot(u - centre[0], v - centre[1]) < radius] *= 0.6
    return np.clip(picture + rng.normal(0, noise, x.shape), 0, 1), np.pi * radii**2 * 1e-6


@pytest.mark.parametrize("turn", [0.0, 0.12, -0.15])
def test_drops_are_counted_and_covered_area_is_right(turn):
    picture, areas = photograph(turn)
    found = read_fling_card(picture, LONG, SHORT)
    assert found.count == len(areas)
    assert found.fling_area == pytest.approx(areas.sum(), rel=0.06)
    assert found.drop_areas == pytest.approx(np.sort(areas)[::-1], rel=0.15)
    assert found.share == pytest.approx(areas.sum() / (LONG * SHORT), rel=0.1)
    assert np.all(np.diff(found.diameters) <= 0)


def test_a_standing_card_is_the_same_card():
    picture, _ = photograph()
    lying, standing = (read_fling_card(one, LONG, SHORT) for one in (picture, np.rot90(picture)))
    assert standing.count == lying.count
    assert standing.fling_area == pytest.approx(lying.fling_area, rel=0.02)


def test_a_clean_card_has_no_drops():
    picture, _ = photograph(drops=0)
    found = read_fling_card(picture, LONG, SHORT)
    assert (found.count, found.fling_area) == (0, 0.0)


def test_a_card_cut_off_by_the_picture_is_refused():
    picture, _ = photograph(turn=0.2)
    with pytest.raises(ValueError, match="corners"):
        read_fling_card(picture[:, 140:], LONG, SHORT)


def test_sides_the_wrong_way_round_are_refused():
    with pytest.raises(ValueError, match="longer first"):
        read_fling_card(np.zeros((100, 100)), SHORT, LONG)
