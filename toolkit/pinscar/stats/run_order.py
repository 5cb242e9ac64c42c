"""Blocked, randomised order of runs: days as blocks, each holding every lubricant as equally as it can.

A permutation test of places against groups is exact where it can be, else simulated.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.ranks import ranked

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


@dataclass(frozen=True, slots=True, kw_only=True)
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


MOST_COUNTED = 20_000
"""Arrangements up to which all are counted out."""
DRAWS = 9_999
"""Arrangements drawn where there are more."""
MOST_AT_ONCE = 2_000_000
"""Places that are arranged at once, 16 MB."""
_ROUNDING = 1e-9

Stratum = tuple[NDArray[np.float64], NDArray[np.int_]]  # centred places and codes of the groups


@dataclass(frozen=True, slots=True)
class OrderTest:
    """Whether one group comes earlier or later than the others, over all strata together.

    Parameters
    ----------
    p : float
        Probability of a group at least as far from the middle as the farthest one, were the order by lot.
    scores : dict of str to float
        For each group the sum of its centred places over its standard deviation under random order.
    exact : bool
        Whether all arrangements were counted out.
    strata : int
        Strata that hold two groups or more in an order that is known.
    """

    p: float
    scores: dict[str, float]
    exact: bool
    strata: int


def stratified_order_test(
    places: ArrayLike, groups: Sequence[str], strata: Sequence[str], seed: int = 1
) -> OrderTest | None:
    r"""Test whether the order of runs within strata such as days goes with their group.

    Within each stratum the places are ranked and centred, :math:`z_i = (r_i - \bar r)/(N + 1)`. For each
    group g the score is

    .. math:: S_g = \frac{\sum_s \sum_{i \in g} z_i}{\sqrt{\operatorname{Var}_0}}, \quad
              \operatorname{Var}_0 = \sum_s \frac{n_{gs} (N_s - n_{gs})}{N_s (N_s - 1)} \sum_i z_i^2

    and the test statistic the largest \|S_g\|. Its distribution is that of all arrangements of the groups
    within each stratum, which random order makes equally likely: counted out up to 20 000 arrangements, else
    drawn 9 999 times, and p is then (b + 1)/(9 999 + 1).

    Parameters
    ----------
    places : array_like
        Place or time of each run [any one unit]; ties share their mean rank.
    groups : sequence of str
        Group of each run.
    strata : sequence of str
        Stratum of each run.
    seed : int
        Seed of the draws.

    Returns
    -------
    OrderTest or None
        None where no stratum holds two groups in an order that is known.

    Raises
    ------
    ValueError
        Where the three differ in length.

    References
    ----------
    P. H. van Elteren, On the combination of independent two sample tests of Wilcoxon, 1960 (places centred
    and divided by N + 1 in each stratum); R. A. Fisher, The Design of Experiments, 1935 (exact permutation);
    A. C. Davison and D. V. Hinkley, Bootstrap Methods and their Application, 1997, section 4.2 (b + 1).

    Examples
    --------
    Three days of four runs with C last on each: 2 of the 64 arrangements are as far out.

    >>> days = [day for day in "123" for _ in "1234"]
    >>> test = stratified_order_test([1, 2, 3, 4] * 3, ["R", "R", "R", "C"] * 3, days)
    >>> test.p, test.exact
    (0.03125, True)
    """
    x = np.asarray(places, dtype=np.float64)
    if not x.size == len(groups) == len(strata):
        raise ValueError(
            f"places, groups and strata must be equally long; found {x.size}, {len(groups)}, {len(strata)}"
        )
    names = list(dict.fromkeys(groups))
    codes = np.array([names.index(group) for group in groups], dtype=int)
    labels = np.array(strata)
    parts = [_stratum(x[labels == one], codes[labels == one]) for one in dict.fromkeys(strata)]
    used = [(z, g) for z, g in parts if np.any(z != 0.0) and np.unique(g).size > 1]
    if not used:
        return None
    variance = sum((_variance(z, g, len(names)) for z, g in used), np.zeros(len(names)))
    scale = np.where(variance > 0.0, np.sqrt(variance), np.inf)
    observed = sum((_sums(z, g[None, :], len(names))[0] for z, g in used), np.zeros(len(names))) / scale
    farthest = float(np.abs(observed).max()) - _ROUNDING
    exact = math.prod(_arrangements(g) for _, g in used) <= MOST_COUNTED
    sums = _counted_out(used, len(names)) if exact else _drawn(used, len(names), np.random.default_rng(seed))
    beyond = np.abs(sums / scale).max(axis=1) >= farthest
    p = float(beyond.mean()) if exact else (float(beyond.sum()) + 1.0) / (DRAWS + 1.0)
    return OrderTest(p, dict(zip(names, observed.tolist(), strict=True)), exact, len(used))


def _stratum(x: NDArray[np.float64], codes: NDArray[np.int_]) -> Stratum:
    ranks = ranked(x)
    return (ranks - ranks.mean()) / (x.size + 1.0), codes


def _variance(z: NDArray[np.float64], codes: NDArray[np.int_], k: int) -> NDArray[np.float64]:
    n, total = np.bincount(codes, minlength=k), codes.size
    return np.asarray(n * (total - n) / (total * (total - 1.0)) * float(z @ z), dtype=np.float64)


def _sums(z: NDArray[np.float64], arranged: NDArray[np.int_], k: int) -> NDArray[np.float64]:
    """Sum the places of each group, for each row of arrangements."""
    cells = arranged + k * np.arange(len(arranged))[:, None]
    places = np.broadcast_to(z, arranged.shape)
    sums = np.bincount(cells.ravel(), places.ravel(), k * len(arranged))
    return np.asarray(sums, dtype=np.float64).reshape(-1, k)


def _arrangements(codes: NDArray[np.int_]) -> int:
    counts = np.bincount(codes)
    return math.factorial(codes.size) // math.prod(math.factorial(int(n)) for n in counts)


def _counted_out(used: Sequence[Stratum], k: int) -> NDArray[np.float64]:
    sums = np.zeros((1, k))
    for z, codes in used:
        own = _sums(z, np.array(_every(codes), dtype=int), k)
        sums = (sums[:, None, :] + own[None, :, :]).reshape(-1, k)
    return sums


def _every(codes: NDArray[np.int_]) -> list[list[int]]:
    """List the different arrangements of the groups over the places."""
    rows: list[list[int]] = [[-1] * codes.size]
    for group, n in zip(*np.unique(codes, return_counts=True), strict=True):
        filled = []
        for row in rows:
            free = [place for place, held in enumerate(row) if held < 0]
            for chosen in combinations(free, int(n)):
                new = list(row)
                for place in chosen:
                    new[place] = int(group)
                filled.append(new)
        rows = filled
    return rows


def _drawn(used: Sequence[Stratum], k: int, rng: np.random.Generator) -> NDArray[np.float64]:
    sums = np.zeros((DRAWS, k))
    for z, codes in used:
        rows = max(1, MOST_AT_ONCE // codes.size)
        for start in range(0, DRAWS, rows):
            part = sums[start : start + rows]
            part += _sums(z, rng.permuted(np.tile(codes, (len(part), 1)), axis=1), k)
    return sums
