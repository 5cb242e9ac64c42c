"""A card is read alike whether its picture holds light or tones as cameras store them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from pinscar.evidence.card_outline import find_card
from pinscar.evidence.fling_card import read_fling_card
from pinscar.evidence.tone_curve import light_of_tones, tone_of, tones_of_light

RADIUS, DROPS = 1.5, 24


def scene(blur=1.6, noise=0.004):
    """Light from a card of 150 mm by 100 mm at 6 points per mm, with round drops, through a lens."""
    rows, columns = np.mgrid[:700, :1000]
    light = np.full(rows.shape, 0.04)
    light[50:650, 50:950] = 0.65
    for number in range(DROPS):
        row, column = 130 + 110 * (number // 6) + number, 120 + 140 * (number % 6)
        light[np.hypot(rows - row, columns - column) < 6 * RADIUS] = 0.65 * 0.6
    light = gaussian_filter(light, blur)
    return np.clip(light + np.random.default_rng(4).normal(0, noise, light.shape), 0, 1)


def stored(light):
    """Bend light as IEC 61966-2-1 says; above its dark straight part."""
    return np.where(light < 0.0031308, 12.92 * light, 1.055 * np.clip(light, 1e-9, 1) ** (1 / 2.4) - 0.055)


def test_tones_are_those_of_the_standard():
    # IEC 61966-2-1: middle grey of 18 % is stored as 118 of 255 (from memory); black and white stay.
    assert np.rint(255 * tones_of_light(np.array([0.0, 0.18, 1.0]))).tolist() == [0, 118, 255]
    light = np.linspace(0, 1, 11)
    assert light_of_tones(stored(light)) == pytest.approx(light, abs=1e-6)


@pytest.mark.parametrize("bent", [False, True])
def test_the_edge_of_a_card_tells_light_from_tones(bent):
    picture = stored(scene()) if bent else scene()
    told = tone_of(picture, find_card(picture, 1.5))
    assert (told.bent, told.sure) == (bent, True)


def test_a_grainy_sharp_edge_tells_nothing_for_sure():
    picture = scene(blur=0.3, noise=0.12)
    assert not tone_of(picture, find_card(picture, 1.5)).sure


def test_drops_are_as_large_in_light_as_in_tones():
    # the drawn discs hold whole points, 249 each, with 6 points per mm
    truth = DROPS * 249 / 36 * 1e-6
    found = [read_fling_card(one, 0.15, 0.10) for one in (scene(), stored(scene()))]
    assert [one.count for one in found] == [DROPS, DROPS]
    # drops of 18 points across: a twentieth of a point of their edge is 1 % of their area
    assert [one.fling_area for one in found] == pytest.approx([truth, truth], rel=0.01)
