"""What is computed for all at once, against loops of SciPy over the same cases, in one process.

Each side has done its work once before it is timed: a first call also finds its memory and its tables.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from bench_hertz import MODULUS, contacts, one_by_one
from scipy.integrate import quad
from scipy.ndimage import gaussian_filter
from scipy.optimize import minimize
from scipy.special import log_ndtr

from pinscar.contact.hertz import elliptic_contact
from pinscar.contact.overlap import overlap_volume
from pinscar.decision.media import CARD_POINTS, read_picture
from pinscar.evidence.fling_card import read_fling_card
from pinscar.evidence.scar_image import measure_scar
from pinscar.evidence.sound import hear_quiet
from pinscar.evidence.sound_level import read_recording
from pinscar.shipped import shipped_folder
from pinscar.stats.censored_power import ratio_roots

DEMO = shipped_folder("data_demo") / "conveyor_07"
Pair = tuple[float, float]
"""Processor time of ours and of theirs for one case [s]."""


def spent(work: Callable[[], object]) -> float:
    """Processor time of a piece of work [s]."""
    start = time.process_time()
    work()
    return time.process_time() - start


def _agree(ours: float, theirs: float, tolerance: float) -> None:
    if not math.isclose(ours, theirs, rel_tol=tolerance, abs_tol=tolerance):
        raise ArithmeticError(f"the two ways disagree: {ours!r} and {theirs!r}")


def hertz(seed: int) -> Pair:
    """Elliptic contacts, against root finding one by one."""
    many, few = 200_000, 1_000
    load, a, b = contacts(many, seed)
    _agree(
        float(elliptic_contact(load[:1], a[:1], b[:1], MODULUS).semi_major[0]),
        one_by_one(load[0], a[0], b[0])[0],
        1e-9,
    )
    ours = spent(lambda: elliptic_contact(load, a, b, MODULUS)) / many
    theirs = spent(lambda: [one_by_one(load[i], a[i], b[i]) for i in range(few)]) / few
    return ours, theirs


def worn_volume(rp: float, rr: float, depth: float) -> float:
    """The overlap of crossed cylinders as a script would have it: quad over the slices along the scar."""
    end = math.sqrt(2 * rr * depth - depth**2)

    def segment(x: float) -> float:
        d = depth - rr + math.sqrt(rr**2 - x**2)
        angle = 2 * math.acos(1 - d / rp)
        return 0.5 * rp**2 * (angle - math.sin(angle))

    return 2 * quad(segment, 0.0, end, epsabs=0.0, epsrel=1e-10)[0]


def wear(seed: int) -> Pair:
    """Wear volumes, against quadrature one by one."""
    many, few = 100_000, 500
    depth = np.random.default_rng(seed).uniform(1e-5, 5e-4, many)
    _agree(
        float(overlap_volume(6e-3, 20e-3, depth[0])) * 1e9,
        worn_volume(6e-3, 20e-3, float(depth[0])) * 1e9,
        1e-7,
    )
    ours = spent(lambda: overlap_volume(6e-3, 20e-3, depth)) / many
    theirs = spent(lambda: [worn_volume(6e-3, 20e-3, float(one)) for one in depth[:few]]) / few
    return ours, theirs


def ratio_by_minimize(values: np.ndarray, bound: np.ndarray, second: np.ndarray) -> float:
    """The likelihood ratio of one campaign as a script would have it: two calls of SciPy's minimize."""

    def least(groups: np.ndarray) -> float:
        def minus(point: np.ndarray) -> float:
            theta = math.exp(point[-1])
            r = theta * values - groups @ point[:-1]
            return -float(np.sum(np.where(bound, log_ndtr(r), point[-1] - 0.5 * r**2)))

        start = np.append(np.full(groups.shape[1], values.mean() / values.std()), -math.log(values.std()))
        return float(minimize(minus, start, method="BFGS").fun)

    return 2 * (least(np.ones((values.size, 1))) - least(np.column_stack([~second, second]).astype(float)))


def censored(seed: int) -> Pair:
    """Likelihood ratios of campaigns with bounds, against SciPy's minimize one by one."""
    many, few, runs = 4_000, 20, 12
    rng = np.random.default_rng(seed)
    second = np.arange(runs) >= runs // 2
    values = 4.6 + 0.2 * second + 0.15 * rng.standard_normal((many, runs))
    bound = (rng.random((many, runs)) < 0.25) & (np.arange(runs) % 3 == 0)
    found = ratio_roots(values[:1], bound[:1], second)[0] ** 2
    _agree(float(found), ratio_by_minimize(values[0], bound[0], second), 1e-3)  # BFGS stops early
    ours = spent(lambda: ratio_roots(values, bound, second)) / many
    theirs = spent(lambda: [ratio_by_minimize(values[i], bound[i], second) for i in range(few)]) / few
    return ours, theirs


def _files(kind: str) -> list[Path]:
    return sorted((DEMO / kind).iterdir())


def evidence(seed: int) -> Iterator[tuple[str, Pair]]:
    """Pictures, cards and recordings of the demo, against one Gaussian filter of the same numbers."""
    del seed  # the demo's files are what they are
    for name, files, read, measured in (
        ("scar pictures", _files("micrographs")[:4], read_picture, lambda p: measure_scar(p, 18e-6)),
        (
            "fling cards",
            _files("fling")[:2],
            lambda f: read_picture(f, CARD_POINTS),
            lambda p: read_fling_card(p, 0.15, 0.1),
        ),
    ):
        pixels = [read(file) for file in files]
        grey = [np.asarray(one, dtype=float).reshape(*one.shape[:2], -1)[..., 0] for one in pixels]
        yield name, _each(pixels, partial(_tried, measured), grey)
    heard = [read_recording(file) for file in _files("sound")[:3]]
    signals = [np.asarray(signal, dtype=float) for signal, _ in heard]
    yield "recordings of a minute", _each(heard, lambda one: hear_quiet(*one, 60.0), signals)


FILTERED = 5
"""Times that a filter is run, as one run is too short to be timed."""


def _each(given: Sequence[Any], read: Callable[[Any], object], numbers: Sequence[np.ndarray]) -> Pair:
    """Time the reading of each file, and a filter of the same numbers."""
    read(given[0]), gaussian_filter(numbers[0], 10.0)
    ours = spent(lambda: [read(one) for one in given])
    theirs = spent(lambda: [gaussian_filter(one, 10.0) for one in numbers for _ in range(FILTERED)])
    return ours / len(given), theirs / (FILTERED * len(given))


def _tried(measured: Callable[[np.ndarray], object], pixels: np.ndarray) -> object:
    try:
        return measured(pixels)
    except ValueError:  # a picture of the demo is refused on purpose, which takes its time too
        return None
