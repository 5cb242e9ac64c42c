"""Audit of stray runs: scars that fit another oil or another load better than their own, and outliers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.grouping import by_cell
from pinscar.decision.wording import counted, listing, load_text
from pinscar.stats.outliers import grubbs

FloatArray = NDArray[np.float64]
CellKey = tuple[str, float]
FAR, NEAR = 4.0, 2.0
"""Robust standard deviations from its own cell's median, and to another's, that make a run a stray."""
APART = 6.0
"""Robust standard deviations from which a run is told of that fits no other cell either."""
FEWEST = 4
"""Runs of a cell below which nothing is said of one of them."""
TO_SIGMA = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""
OUTLIER_LEVEL = 0.05
TESTED = ("scar_area", "quiet_time")


def strays(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose scar is far from its own cell and close to another's.

    On logarithms of the scar area: more than 4 robust standard deviations from the median of the other runs
    of its cell, and within 2 of the median of another oil at the same load, or of the same oil at another
    load; or more than 6 from its own and near none. The standard deviation is the larger of the cell's own
    (median absolute deviation of its other runs) and that pooled over all cells.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most three: label in doubt, load in doubt, and far from its own cell without fitting another.
    """
    del reference
    cells = _cells(runs)
    pooled = _pooled_sigma(cells)
    label: dict[str, str] = {}
    load: dict[str, str] = {}
    apart: dict[str, str] = {}
    for key, (ids, logs) in cells.items():
        for place, run_id in enumerate(ids):
            others = np.delete(logs, place)
            if others.size < FEWEST - 1:
                continue
            sigma = max(pooled, _sigma(others))
            if sigma == 0.0 or abs(logs[place] - np.median(others)) <= FAR * sigma:
                continue
            fits = _fits(key, float(logs[place]), sigma, cells)
            if not fits:
                if abs(logs[place] - np.median(others)) > APART * sigma:
                    apart[run_id] = f"{run_id} ({key[0]} at {load_text(key[1])})"
            elif fits[0][0] != key[0]:
                oils = " or ".join(oil for oil, _ in fits if oil != key[0])
                label[run_id] = f"{run_id} ({key[0]}) looks like {oils}"
            else:
                load[run_id] = (
                    f"{run_id} ({key[0]} at {load_text(key[1])}) looks like {load_text(fits[0][1])}"
                )
    yield from _stray_findings(label, load)
    if apart:
        yield Finding(
            "scar-apart",
            Weight.CAUTION,
            f"far from the other scars of its oil and load: {listing(list(apart.values()))}.",
            "Flagged only: the run counts. Look for another load, another oil or a misread scar.",
            tuple(apart),
        )


def _stray_findings(label: Mapping[str, str], load: Mapping[str, str]) -> Iterator[Finding]:
    if label:
        yield Finding(
            "label-in-doubt",
            Weight.CAUTION,
            f"{counted(len(label), 'run')} may be mislabelled: {listing(list(label.values()))}.",
            "Their scar lies far from their own oil's at this load and among another oil's; check the label "
            "before anything rests on it.",
            tuple(label),
        )
    if load:
        yield Finding(
            "load-in-doubt",
            Weight.CAUTION,
            f"{counted(len(load), 'run')} may have run at another load: {listing(list(load.values()))}.",
            "Their scar lies far from their own oil's at this load and among its scars at the other; check "
            "the weights and whether a plate was added.",
            tuple(load),
        )


def outliers(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Flag the run of a cell that stands out, by Grubbs on logarithms.

    Over all cells and both responses together the level is 5 % (Bonferroni).

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most one.
    """
    del reference
    families = {name: _cells(runs, name) for name in TESTED if name in runs}
    count = sum(len(ids) >= FEWEST for cells in families.values() for ids, _ in cells.values())
    found: dict[str, str] = {}
    for name, cells in families.items():
        for (oil, level), (ids, logs) in cells.items():
            if len(ids) < FEWEST:
                continue
            result = grubbs(logs, OUTLIER_LEVEL / count)
            if result.flagged and result.index is not None:
                words = f"{name.replace('_', ' ')} of {ids[result.index]} ({oil} at {load_text(level)})"
                found.setdefault(ids[result.index], words)
    if found:
        yield Finding(
            "outlier",
            Weight.CAUTION,
            f"standing out from the other runs of the cell: {listing(list(found.values()))}.",
            "Flagged only: the run counts. Look for a cause; without one it belongs to the spread.",
            tuple(found),
        )


def _cells(runs: pd.DataFrame, response: str = "scar_area") -> dict[CellKey, tuple[list[str], FloatArray]]:
    measured = runs[runs[response] > 0.0]
    return {
        (name, level): (
            [str(run) for run in group["run_id"]],
            np.log(group[response].to_numpy(dtype=float)),
        )
        for level, name, group in by_cell(measured)
    }


def _pooled_sigma(cells: Mapping[CellKey, tuple[list[str], FloatArray]]) -> float:
    parts = [np.abs(logs - np.median(logs)) for _, logs in cells.values() if logs.size >= FEWEST]
    if not parts:
        return 0.0
    # The cell's own median has followed its runs, which the smaller number of free deviations makes good.
    n = np.mean([part.size for part in parts])
    return float(TO_SIGMA * np.median(np.concatenate(parts)) * np.sqrt(n / (n - 1.0)))


def _sigma(logs: FloatArray) -> float:
    return float(TO_SIGMA * np.median(np.abs(logs - np.median(logs))))


def _fits(
    key: CellKey, log: float, sigma: float, cells: Mapping[CellKey, tuple[list[str], FloatArray]]
) -> list[CellKey]:
    near = {
        other: abs(log - float(np.median(logs)))
        for other, (_, logs) in cells.items()
        if other != key and (other[0] == key[0] or other[1] == key[1]) and logs.size >= FEWEST - 1
    }
    close = {other: distance for other, distance in near.items() if distance <= NEAR * sigma}
    return sorted(close, key=lambda other: close[other])
