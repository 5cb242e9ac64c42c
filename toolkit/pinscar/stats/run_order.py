"""Blocked, randomised order of runs: days as blocks, each holding every lubricant as equally as it can."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

CANDIDATES = 300


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """One run of a plan.

    Parameters
    ----------
    position : int
        Place in the whole order, from 1.
    block : int
        Day, from 1.
    place : int
        Place within the day, from 1.
    treatment : str
        What is run: a lubricant, or a lubricant at a load.
    repeat : int
        Which repeat of it, from 1.
    """

    position: int
    block: int
    place: int
    treatment: str
    repeat: int


@dataclass(frozen=True, slots=True)
class OrderCheck:
    """How well a run order is balanced.

    Parameters
    ----------
    counts : dict of str to tuple of int
        Runs of each treatment in each block.
    largest_difference : int
        Largest difference between two treatments' runs within one block; 0 for complete blocks.
    complete_blocks, blocks : int
        Blocks that hold all treatments equally often, and all blocks.
    least_shared, most_shared : int
        Fewest and most blocks that two treatments share.
    mean_places : dict of str to float
        Mean place in the day of each treatment, 0 for first and 1 for last.
    findings : tuple of str
        Plain sentences on what is not balanced; empty where all is.
    """

    counts: dict[str, tuple[int, ...]]
    largest_difference: int
    complete_blocks: int
    blocks: int
    least_shared: int
    most_shared: int
    mean_places: dict[str, float]
    findings: tuple[str, ...]


def randomised_run_order(
    treatments: Sequence[str], repeats: int | Mapping[str, int], runs_per_block: int, seed: int
) -> tuple[PlannedRun, ...]:
    """Draw a run order, blocked by day, with the treatments of each day in random order.

    Each block gets every treatment as often as it holds whole rounds of them; places that are left go to the
    treatments with most repeats still to run, ties by lot. So two treatments of equally many repeats differ
    by one run within a block at most. Of 300 such draws the one is kept in which pairs of treatments meet
    most evenly in blocks and, next, the mean places in the day lie closest together: a restricted
    randomisation.

    Parameters
    ----------
    treatments : sequence of str
        Names, all different.
    repeats : int or mapping of str to int
        Runs of each treatment [-], one number for all or one for each; at least 1.
    runs_per_block : int
        Runs that a day holds [-], at least 1; the last day may hold fewer.
    seed : int
        Seed of the draw.

    Returns
    -------
    tuple of PlannedRun
        The runs in order.

    Raises
    ------
    ValueError
        Where names repeat, or a number is under 1.

    References
    ----------
    W. G. Cochran and G. M. Cox, Experimental Designs, 1957, ch. 4 and 9 (randomised and incomplete blocks);
    the greedy filling and the choice among draws are own derivation.

    Examples
    --------
    >>> order = randomised_run_order(["R-10", "C-21", "C-22"], 4, 6, seed=1)
    >>> [sorted(run.treatment for run in order if run.block == day) for day in (1, 2)]
    [['C-21', 'C-21', 'C-22', 'C-22', 'R-10', 'R-10'], ['C-21', 'C-21', 'C-22', 'C-22', 'R-10', 'R-10']]
    """
    wanted = np.array([repeats if isinstance(repeats, int) else repeats.get(t, 0) for t in treatments])
    if len(set(treatments)) != len(treatments) or not len(treatments):
        raise ValueError("treatments must be named, and each name only once")
    if runs_per_block < 1 or bool(np.any(wanted < 1)):
        raise ValueError("runs_per_block and every number of repeats must be at least 1")
    rng = np.random.default_rng(seed)
    draws = (_draw(wanted, runs_per_block, rng) for _ in range(CANDIDATES))
    best = min(draws, key=lambda blocks: _imbalance(blocks, len(treatments)))
    seen: Counter[int] = Counter()
    runs: list[PlannedRun] = []
    for block, content in enumerate(best, start=1):
        for place, index in enumerate(content.tolist(), start=1):
            seen[index] += 1
            runs.append(PlannedRun(len(runs) + 1, block, place, treatments[index], seen[index]))
    return tuple(runs)


def check_run_order(runs: Sequence[PlannedRun]) -> OrderCheck:
    """Check how well a run order is balanced over its blocks.

    Parameters
    ----------
    runs : sequence of PlannedRun
        The runs, at least one.

    Returns
    -------
    OrderCheck
        Counts, and plain sentences on what is not balanced.

    Raises
    ------
    ValueError
        Where there is no run.

    References
    ----------
    W. G. Cochran and G. M. Cox, Experimental Designs, 1957, ch. 9 (balance of incomplete blocks).

    Examples
    --------
    >>> check = check_run_order(randomised_run_order(["R-10", "C-21"], 5, 4, seed=3))
    >>> check.counts["R-10"], check.complete_blocks, check.findings
    ((2, 2, 1), 3, ())
    """
    if not runs:
        raise ValueError("runs holds no run: there is nothing to check")
    names = tuple(dict.fromkeys(run.treatment for run in runs))
    blocks = _contents(runs, names)
    counts = np.array([np.bincount(content, minlength=len(names)) for content in blocks])
    shared = _shared(counts)
    places = _mean_places(blocks, len(names))
    spread = counts.max(axis=1) - counts.min(axis=1)
    least, most = (int(shared.min()), int(shared.max())) if shared.size else (len(blocks), len(blocks))
    return OrderCheck(
        counts={name: tuple(counts[:, i].tolist()) for i, name in enumerate(names)},
        largest_difference=int(spread.max()),
        complete_blocks=int(np.sum(spread == 0)),
        blocks=len(blocks),
        least_shared=least,
        most_shared=most,
        mean_places=dict(zip(names, places.tolist(), strict=True)),
        findings=_findings(names, spread, least, most, places),
    )


def _draw(wanted: NDArray[np.int_], size: int, rng: np.random.Generator) -> list[NDArray[np.intp]]:
    left, blocks = wanted.copy(), []
    while left.sum() > 0:
        room = min(size, int(left.sum()))
        take = np.minimum(left, room // left.size)
        while (free := room - int(take.sum())) > 0:
            # Most repeats left first, ties by lot; one more of each until the block is full.
            rank = np.lexsort((rng.random(left.size), take - left))
            chosen = rank[(left - take)[rank] > 0][:free]
            take[chosen] += 1
        blocks.append(rng.permutation(np.repeat(np.arange(left.size), take)))
        left = left - take
    return blocks


def _imbalance(blocks: list[NDArray[np.intp]], n: int) -> tuple[float, float]:
    counts = np.array([np.bincount(content, minlength=n) for content in blocks])
    shared = _shared(counts)
    return (float(np.ptp(shared)) if shared.size else 0.0, float(np.ptp(_mean_places(blocks, n))))


def _shared(counts: NDArray[np.int_]) -> NDArray[np.int_]:
    """Count the blocks that hold both, for every pair of treatments."""
    present = (counts > 0).astype(int)
    return np.asarray((present.T @ present)[np.triu_indices(counts.shape[1], 1)], dtype=int)


def _mean_places(blocks: list[NDArray[np.intp]], n: int) -> NDArray[np.float64]:
    totals, numbers = np.zeros(n), np.zeros(n)
    for content in blocks:
        places = np.linspace(0.0, 1.0, content.size) if content.size > 1 else np.array([0.5])
        np.add.at(totals, content, places)
        np.add.at(numbers, content, 1.0)
    return totals / numbers


def _contents(runs: Sequence[PlannedRun], names: tuple[str, ...]) -> list[NDArray[np.intp]]:
    ordered = sorted(runs, key=lambda run: (run.block, run.place))
    labels = dict.fromkeys(run.block for run in ordered)
    return [np.array([names.index(r.treatment) for r in ordered if r.block == b]) for b in labels]


def _findings(
    names: tuple[str, ...], spread: NDArray[np.int_], least: int, most: int, places: NDArray[np.float64]
) -> tuple[str, ...]:
    found = []
    if spread.max() > 1:
        found.append(
            f"On one day two treatments differ by {spread.max()} runs: the day and they are confounded."
        )
    if least == 0 and len(names) > 1:
        found.append("Two treatments never meet on one day: they are compared through others only.")
    elif most - least > 1:
        found.append(f"Pairs of treatments share {least} to {most} days: some are compared more closely.")
    if np.ptp(places) > 0.5:
        early, late = names[int(np.argmin(places))], names[int(np.argmax(places))]
        found.append(f"{early} runs early in the day and {late} late: warming up favours one of them.")
    return tuple(found)
