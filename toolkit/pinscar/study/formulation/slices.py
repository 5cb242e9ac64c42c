"""Triangles through the mixtures: three components move, the others are held at one blend."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.mixture_terms import is_inside
from pinscar.study.formulation.blends import Blends
from pinscar.study.formulation.model import BlendModel

FloatArray = NDArray[np.float64]
MOVERS = 3
"""Components beside the balance whose pairs are shown."""
STEPS, COARSE = 60, 30
MOST = 6
"""Components beyond which a slice shows next to nothing of the mixtures."""
ENOUGH = 3
"""Blends tested that a slice through one of them shows, so that it is taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """A triangle of three components.

    Attributes
    ----------
    places : tuple of int
        The components that move, the balance first.
    held : ndarray, shape (q,)
        The blend that the others are held as [1].
    name : str
        Which blend that is: as in one tested, or their mean; blank where no component is held.
    low : ndarray, shape (3,)
        Least share of each of the three at the far side of its corner [1].
    free : float
        What the three share out beside that [1].
    grid : ndarray, shape (n, 3)
        Points of the triangle, as parts of what is free [1].
    inside : ndarray of bool, shape (n,)
        Whether each lies among the blends tested; empty where all components move, since then it is drawn.
    """

    places: tuple[int, int, int]
    held: FloatArray
    name: str
    low: FloatArray
    free: float
    grid: FloatArray
    inside: NDArray[np.bool_]

    def shares(self, parts: FloatArray) -> FloatArray:
        """Give the blends at points of the triangle."""
        found = np.tile(self.held, (parts.shape[0], 1))
        found[:, list(self.places)] = self.low + self.free * parts
        return found

    def parts(self, shares: FloatArray) -> FloatArray:
        """Place blends of the slice in the triangle."""
        return np.asarray((shares[:, list(self.places)] - self.low) / self.free, dtype=np.float64)

    def on_it(self, tested: FloatArray) -> FloatArray:
        """Pick the blends tested that lie on the slice."""
        others = [i for i in range(self.held.size) if i not in self.places]
        return tested[np.all(np.abs(tested[:, others] - self.held[others]) < 1e-6, axis=1)]


def slices_of(model: BlendModel, blends: Blends) -> tuple[Slice, ...]:
    """Choose the triangles: the only one of three components, else the pairs of those that do most."""
    tested = model.tested
    names = model.data.names
    if not 3 <= len(names) <= MOST:
        return ()
    if len(names) == 3:
        made = _slice(model, (0, 1, 2), tested[0], "", STEPS)
        return () if made is None else (made,)
    moved = {names.index(one.component): abs(np.log(one.ratio)) for one in model.effects}
    most = sorted((i for i in moved if i), key=lambda i: moved[i], reverse=True)[:MOVERS]
    found = [
        _slice(model, (0, a, b), *_held(tested, (0, a, b), blends), COARSE)
        for a, b in combinations(sorted(most), 2)
    ]
    return tuple(one for one in found if one is not None)


def _held(tested: FloatArray, places: tuple[int, int, int], blends: Blends) -> tuple[FloatArray, str]:
    """Choose what the others are held at: a blend whose slice shows others too, else the mean of all."""
    others = [i for i in range(tested.shape[1]) if i not in places]
    alike = np.array(
        [np.sum(np.all(np.abs(tested[:, others] - one[others]) < 1e-6, axis=1)) for one in tested]
    )
    if alike.max() < ENOUGH:
        return tested.mean(axis=0), "the mean of the blends tested"
    best = tested[int(np.argmax(alike))]
    names = [one.name for one in blends.batches if np.allclose(one.shares, best, atol=1e-5)]
    return best, f"as in {names[0]}" if names else "as in one blend tested"


def _slice(
    model: BlendModel, places: tuple[int, int, int], held: FloatArray, name: str, steps: int
) -> Slice | None:
    tested = model.tested
    three = list(places)
    rest = float(held[three].sum())
    low = tested[:, three].min(axis=0)
    # the balance goes down to where both others are at their most
    low[0] = max(0.0, rest - float(tested[:, three[1:]].max(axis=0).sum()))
    if len(model.data.names) == 3:
        low = tested.min(axis=0)
    free = rest - float(low.sum())
    if free < 1e-6:
        return None
    grid = np.array(
        [
            (i / steps, j / steps, (steps - i - j) / steps)
            for i in range(steps + 1)
            for j in range(steps + 1 - i)
        ]
    )
    bare = Slice(
        places=places, held=held, name=name, low=low, free=free, grid=grid, inside=np.zeros(0, dtype=bool)
    )
    if len(model.data.names) == 3:
        return bare
    among = np.array([is_inside(one, tested) for one in bare.shares(grid)])
    return Slice(places=places, held=held, name=name, low=low, free=free, grid=grid, inside=among)
