"""Audit of the design, the scars and stray runs.

Days, rings and repeats; geometry of the scars, wear still running, how they were read; scars that fit another
oil or load better than their own, and outliers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.runs import by_cell, by_level, by_lubricant
from pinscar.stats.outliers import generalised_esd, grubbs
from pinscar.stats.ranks import rank_correlation

FEW_REPEATS = 4
UNEQUAL_REPEATS = 2.0
ORDER_P = 0.05


def few_repeats(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find cells with too few repeats to say much."""
    del reference
    sizes = [(level, name, len(group)) for level, name, group in by_cell(runs)]
    small = [[name, level, n] for level, name, n in sizes if n < FEW_REPEATS]
    if small:
        yield Finding(
            id="few-repeats", severity=Weight.CAUTION, values={"least": FEW_REPEATS, "cells": small}
        )
    for level in dict.fromkeys(level for level, _, _ in sizes):
        counts = [n for at, _, n in sizes if at == level]
        if max(counts) >= UNEQUAL_REPEATS * min(counts):
            yield Finding(
                id="unequal-repeats",
                severity=Weight.NOTE,
                values={"load": level, "least": min(counts), "most": max(counts)},
            )


def confounded_with(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants that share no day, or no ring, with the reference at a load, or sit on one only."""
    for column, word in (("run_day", "day"), ("ring_id", "ring")):
        known = runs[runs[column].fillna("").astype(str) != ""]
        for level, at_level in by_level(known):
            if at_level[column].nunique() == len(at_level):
                continue  # a fresh one in every run is part of the spread
            used = {name: frozenset(group[column]) for name, group in by_lubricant(at_level)}
            if reference in used:
                runs_of = {name: tuple(group["run_id"]) for name, group in by_lubricant(at_level)}
                yield from _confounded_at(used, runs_of, reference, word, level)


def _confounded_at(
    used: Mapping[str, frozenset[str]],
    runs_of: Mapping[str, tuple[str, ...]],
    reference: str,
    word: str,
    level: float,
) -> Iterator[Finding]:
    base = used[reference]
    for lubricant, own in used.items():
        if lubricant == reference:
            continue
        told = {
            "load": level,
            "oil": lubricant,
            "reference": reference,
            "factor": word,
            "n_of_reference": len(base),
        }
        if not own & base:
            yield Finding(
                id=f"{word}-confounded",
                severity=Weight.BLOCKS,
                values=told,
                runs=runs_of[lubricant],
                text="never-together",
            )
        elif len(own) == 1 and len(base) > 1:
            yield Finding(id=f"one-{word}", severity=Weight.CAUTION, values=told, text="one-only")


def reference_drift(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find a drift of the reference's scar area through the campaign.

    Spearman rank correlation of scar area, relative to the load's median, with the time of the run, p < 0.05.
    """
    own = runs[(runs["lubricant"] == reference) & runs["run_at"].notna() & runs["scar_area"].notna()]
    if len(own) < 5:
        return
    relative = own["scar_area"] / own.groupby("load_level")["scar_area"].transform("median")
    if relative.nunique() < 2 or own["run_at"].nunique() < 2:
        return  # equal scars, or one moment for all: nothing that a rank could follow
    correlation, p = rank_correlation(own["run_at"].rank(), relative)
    if p < ORDER_P:
        yield Finding(
            id="reference-drift",
            severity=Weight.CAUTION,
            values={"reference": reference, "correlation": correlation, "p": p},
            runs=tuple(own["run_id"]),
        )


def exclusions(runs: pd.DataFrame, excluded: pd.DataFrame) -> Iterator[Finding]:
    """List the excluded runs with their reasons."""
    if excluded.empty:
        return
    reasons = [[run.run_id, run.lubricant, run.excluded] for run in excluded.itertuples()]
    yield Finding(
        id="excluded-runs",
        severity=Weight.NOTE,
        values={"n": len(excluded), "of": len(runs) + len(excluded), "reasons": reasons},
        runs=tuple(excluded["run_id"]),
    )


BLIND_COLUMNS = ("read_blind", "blind")


def off_geometry(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find scars whose width does not fit their length."""
    del reference
    for flag, severity in (
        ("width-off-geometry", Weight.CAUTION),
        ("width-implied", Weight.NOTE),
        ("quiet-contradicts", Weight.CAUTION),
        ("quiet-interval", Weight.CAUTION),
    ):
        chosen = _flagged(runs, flag)
        if chosen:
            yield Finding(id=flag, severity=severity, values={"n": len(chosen)}, runs=chosen)


def wear_running(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants with runs that were still wearing, or not judged, at the end."""
    del reference
    running = _flagged(runs, "wear-running")
    if running:
        oils = sorted(set(runs.loc[runs["run_id"].isin(running), "lubricant"]))
        yield Finding(
            id="wear-running", severity=Weight.CAUTION, values={"n": len(running), "oils": oils}, runs=running
        )
    unjudged = _flagged(runs, "wear-not-judged")
    if unjudged:
        yield Finding(
            id="wear-not-judged", severity=Weight.CAUTION, values={"n": len(unjudged)}, runs=unjudged
        )


def blind_reading(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find scars that were, or may have been, read by someone who knew the product."""
    del reference
    nothing = pd.Series("", index=runs.index)
    column = next((runs[name] for name in BLIND_COLUMNS if name in runs), nothing)
    answers = column.fillna("").astype(str).str.strip().str.lower()
    by_code = runs["read_by_code"].astype(bool) if "read_by_code" in runs else nothing.astype(bool)
    untold = tuple(runs.loc[(answers == "") & ~by_code, "run_id"])
    if untold:
        every = len(untold) == len(runs)
        yield Finding(
            id="blind-not-recorded",
            severity=Weight.NOTE,
            values={"n": len(untold)},
            runs=() if every else untold,
            text="blind-nowhere-recorded" if every else "",
        )
    seen = tuple(runs.loc[answers.isin(["no", "false", "0"]), "run_id"])
    if seen:
        yield Finding(id="read-knowing", severity=Weight.CAUTION, values={"n": len(seen)}, runs=seen)


def _flagged(runs: pd.DataFrame, flag: str) -> tuple[str, ...]:
    raised = np.array([flag in flags for flags in runs["flags"]], dtype=bool)
    return tuple(runs.loc[raised, "run_id"])


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
ESD_FROM = 15
"""Runs of a cell from which the test for several outliers holds its level (NIST e-Handbook 1.3.5.17.3)."""
MOST_OUTLIERS = 3
TESTED = ("scar_area", "quiet_time")


def strays(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose scar is far from its own cell and close to another's.

    On logarithms of the scar area: more than 4 robust standard deviations from the median of the other runs
    of its cell, and within 2 of the median of another oil at the same load, or of the same oil at another
    load; or more than 6 from its own and near none. The standard deviation is the larger of the cell's own
    (median absolute deviation of its other runs) and that pooled over all cells.
    """
    del reference
    cells = _cells(runs)
    pooled = _pooled_sigma(cells)
    label: dict[str, list[object]] = {}
    load: dict[str, list[object]] = {}
    apart: dict[str, list[object]] = {}
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
                    apart[run_id] = [run_id, *key]
            elif fits[0][0] != key[0]:
                label[run_id] = [run_id, key[0], [oil for oil, _ in fits if oil != key[0]]]
            else:
                load[run_id] = [run_id, *key, fits[0][1]]
    yield from _stray_findings(label, load)
    if apart:
        yield Finding(
            id="scar-apart",
            severity=Weight.CAUTION,
            values={"strays": list(apart.values())},
            runs=tuple(apart),
        )


def _stray_findings(label: Mapping[str, object], load: Mapping[str, object]) -> Iterator[Finding]:
    if label:
        yield Finding(
            id="label-in-doubt",
            severity=Weight.CAUTION,
            values={"n": len(label), "strays": list(label.values())},
            runs=tuple(label),
        )
    if load:
        yield Finding(
            id="load-in-doubt",
            severity=Weight.CAUTION,
            values={"n": len(load), "strays": list(load.values())},
            runs=tuple(load),
        )


def outliers(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Flag the runs of a cell that stand out, by Grubbs's test on logarithms.

    In cells of 15 or more runs up to three are looked for, by the generalised extreme studentised deviate.
    Over all cells and both responses together the level is 5 % (Bonferroni).
    """
    del reference
    families = {name: _cells(runs, name) for name in TESTED if name in runs}
    count = sum(len(ids) >= FEWEST for cells in families.values() for ids, _ in cells.values())
    found: dict[str, list[object]] = {}
    for name, cells in families.items():
        for (oil, level), (ids, logs) in cells.items():
            if len(ids) < FEWEST:
                continue
            for index in _standing_out(logs, OUTLIER_LEVEL / count):
                found.setdefault(ids[index], [ids[index], name, oil, level])
    if found:
        yield Finding(
            id="outlier",
            severity=Weight.CAUTION,
            values={"outliers": list(found.values())},
            runs=tuple(found),
        )


def _standing_out(logs: FloatArray, level: float) -> tuple[int, ...]:
    """Give the positions of the values that stand out; two alike can hide each other from Grubbs."""
    if logs.size >= ESD_FROM:
        return generalised_esd(logs, MOST_OUTLIERS, level).flagged
    result = grubbs(logs, level)
    return (result.index,) if result.flagged and result.index is not None else ()


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
