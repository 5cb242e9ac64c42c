"""Fling cards of the demo campaign: rendered, not photographed; more drops where more oil was flung off."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from PIL import Image
from render_card import CardLook, covered, drawn_drops, photograph

SEED = 20260421
AREA_A_MILLIGRAM = 11.0
"""What a milligram of these oils covers on this paper [mm²]; between runs by a few per cent more or less."""
CARD = "150 mm x 100 mm"

#: What each photograph shows besides its drops: kinds of light, dirt, and one too blurred to read.
LOOKS: dict[str, dict[str, Any]] = {
    "c07-01": {"turn": 0.03, "slant": (0.04, 0.02)},
    "c07-04": {"light": 0.3, "turn": -0.06, "soft": 0.2, "halo": 0.2},
    "c07-12": {"shadow": 0.2, "slant": (-0.06, 0.05)},
    "c07-14": {"writing": "14", "turn": 0.05, "noise": 0.01},
    "c07-17": {"fibres": 2, "specks": 4, "slant": (0.02, -0.08)},
    "c07-22": {"blur": 5.0, "light": 0.2},
}
#: Runs whose area was measured by hand on the card, with a grid of millimetres on a transparent sheet; of
#: those without a look no photograph was kept.
BY_HAND = ("c07-01", "c07-04", "c07-17", "c07-21", "c07-22", "c07-31", "c07-33", "c07-39", "c07-41", "c07-43")
GRID_ERROR = 0.03
SHAPE = (600, 800)


def fling_cards(rows: Mapping[str, Mapping[str, str]]) -> tuple[dict[str, bytes], dict[str, str]]:
    """The cards as JPEG, and the areas measured by hand [mm²], by run; `rows` are those of runs.csv."""
    cards, areas = {}, {}
    for number, run_id in enumerate(dict.fromkeys([*LOOKS, *BY_HAND])):
        rng = np.random.default_rng([SEED, number])
        wanted = AREA_A_MILLIGRAM * float(rows[run_id]["fling_mass [mg]"]) * rng.lognormal(0.0, 0.04)
        look = replace(CardLook(shape=SHAPE, blur=0.7, noise=0.008), **LOOKS.get(run_id, {}))
        drops = drawn_drops(rng, wanted)
        if run_id in LOOKS:
            stream = io.BytesIO()
            Image.fromarray(photograph(look, drops, rng)).save(stream, "JPEG", quality=85)
            cards[run_id] = stream.getvalue()
        if run_id in BY_HAND:
            areas[run_id] = f"{covered(look, drops) * (1 + GRID_ERROR * rng.standard_normal()):.0f}"
    return cards, areas
