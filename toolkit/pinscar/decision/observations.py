"""Observations that are no measurements: drips counted, smoke graded, noise in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
import pandas as pd
from scipy.special import gammaincc

from pinscar.campaign.columns import COMPUTED, PLANNED, RESERVED, RUNS
from pinscar.decision.runs import by_level, by_lubricant, unlike_reason
from pinscar.stats.intervals import RateInterval, clopper_pearson, poisson_interval
from pinscar.stats.permutation import RankComparison, mann_whitney, ordered_codes
from pinscar.stats.two_groups import holm

Kind = Literal["count", "order", "words"]
GRADES = MappingProxyType({"smoke": ("none", "light", "heavy")})
"""Graded observations: their classes from least to most."""
COUNTS = ("drips",)
NOT_OBSERVED = frozenset({"read_blind", "blind", "shaken", "timer_gap"})
"""Columns of words that tell how a run was made, not what it showed."""
MOST_WORDS = 8
"""A column with more different entries than this holds remarks, not classes."""
DISPERSION_LEVEL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What was observed in the runs of one oil at one load.

    Attributes
    ----------
    name : str
        The column.
    kind : {"count", "order", "words"}
        Events counted, classes in an order, or words without one.
    lubricant : str
        The oil.
    load_level : float
        Load level [N].
    n : int
        Runs with an entry.
    classes : dict of str to int
        Runs in each class; of a count, runs with each number.
    rate : RateInterval or None
        Mean count a run, or share of runs in any class but the least [1]; None for words.
    test : RankComparison or None
        Rank comparison with the reference, p adjusted (Holm) over the oils of the load.
    note : str or None
        Why there is no test, or what speaks against the interval.
    """

    name: str
    kind: Kind
    lubricant: str
    load_level: float
    n: int
    classes: Mapping[str, int]
    rate: RateInterval | None
    test: RankComparison | None
    note: str | None = None


def observe(runs: pd.DataFrame, reference: str, confidence: float) -> tuple[Observation, ...]:
    """Evaluate what was counted, graded or put into words, each in its own way.

    Counts: mean a run with the exact Poisson interval, and a note where they vary more than a Poisson count
    would (dispersion test, p < 0.05). Grades: share of runs above the least with the interval of Clopper and
    Pearson. Both: Mann-Whitney comparison with the reference at the same load, exact also with ties, adjusted
    by Holm over the oils of a load. Words: how often each was used, without a test, since they have no order.
    """
    found: list[Observation] = []
    for name, kind in _columns(runs):
        noted = runs[_is_noted(runs[name])]
        order = list(dict.fromkeys(noted["lubricant"]))
        for level, at_level in by_level(noted):
            groups = dict(sorted(by_lubricant(at_level), key=lambda pair: order.index(pair[0])))
            found.extend(_at_level(name, kind, level, groups, reference, confidence))
    return tuple(found)


def observation_entries(observations: Sequence[Observation]) -> list[dict[str, Any]]:
    """Give observations as results.json holds them."""
    return [_entry(observation) for observation in observations]


def _columns(runs: pd.DataFrame) -> Iterator[tuple[str, Kind]]:
    for name in COUNTS:
        if name in runs and _is_noted(runs[name]).any():
            yield name, "count"
    for name in GRADES:
        if name in runs and _is_noted(runs[name]).any():
            yield name, "order"
    known = {column.name for column in RUNS} | RESERVED | set(COMPUTED) | NOT_OBSERVED | set(PLANNED)
    for name in runs.columns:
        if name not in known and _is_words(runs[name]):
            yield name, "words"


def _is_words(column: pd.Series) -> bool:
    if pd.api.types.is_numeric_dtype(column) or not all(isinstance(v, str) for v in column.dropna()):
        return False
    used = set(column[_is_noted(column)])
    return 1 < len(used) <= MOST_WORDS


def _is_noted(column: pd.Series) -> pd.Series:
    return column.notna() & (column.astype(str).str.strip() != "")


def _at_level(
    name: str,
    kind: Kind,
    level: float,
    groups: Mapping[str, pd.DataFrame],
    reference: str,
    confidence: float,
) -> list[Observation]:
    base = groups.get(reference)
    found = [_cell(name, kind, oil, level, group, confidence) for oil, group in groups.items()]
    if kind == "words" or base is None:
        return found
    codes = {oil: _codes(name, group) for oil, group in groups.items()}
    reasons = {
        o.lubricant: unlike_reason(groups[o.lubricant], base) for o in found if o.lubricant != reference
    }
    tests = {
        oil: mann_whitney(codes[oil], codes[reference]) for oil, reason in reasons.items() if reason is None
    }
    adjusted = _adjusted(tests)
    return [_with_test(o, adjusted.get(o.lubricant), reasons.get(o.lubricant)) for o in found]


def _adjusted(tests: Mapping[str, RankComparison]) -> dict[str, RankComparison]:
    names = [name for name, test in tests.items() if test.p is not None]
    if not names:
        return dict(tests)
    steps = holm([tests[name].p or 0.0 for name in names])
    return {**tests, **{n: replace(tests[n], p=float(p)) for n, p in zip(names, steps, strict=True)}}


def _with_test(observation: Observation, test: RankComparison | None, reason: str | None) -> Observation:
    if reason is None:
        return replace(observation, test=test)
    note = "; ".join(part for part in (observation.note, f"not compared: {reason}") if part)
    return replace(observation, note=note)


def _cell(
    name: str, kind: Kind, oil: str, level: float, group: pd.DataFrame, confidence: float
) -> Observation:
    if kind == "count":
        counts = group[name].to_numpy(dtype=float)
        rate = poisson_interval(int(counts.sum()), float(counts.size), confidence)
        classes = {f"{value:.0f}": int((counts == value).sum()) for value in sorted(set(counts))}
        return Observation(
            name=name,
            kind=kind,
            lubricant=oil,
            load_level=level,
            n=counts.size,
            classes=classes,
            rate=rate,
            test=None,
            note=_dispersion(counts),
        )
    entries = group[name].astype(str).str.strip()
    order = GRADES.get(name) or tuple(sorted(set(entries)))
    classes = {entry: int((entries == entry).sum()) for entry in order}
    share = None
    if kind == "order":
        share = clopper_pearson(len(entries) - classes[order[0]], len(entries), confidence)
    return Observation(
        name=name,
        kind=kind,
        lubricant=oil,
        load_level=level,
        n=len(entries),
        classes=classes,
        rate=share,
        test=None,
    )


def _dispersion(counts: np.ndarray[Any, np.dtype[np.float64]]) -> str | None:
    mean = float(counts.mean())
    if counts.size < 2 or mean == 0.0:
        return None
    # Index of dispersion: the sum of squares over the mean is near chi-squared with n - 1 degrees of freedom.
    index = float(np.sum((counts - mean) ** 2)) / mean
    p = float(gammaincc((counts.size - 1) / 2.0, index / 2.0))
    if p >= DISPERSION_LEVEL:
        return None
    return f"the counts vary more than single, independent drips would (p = {p:.2g}): interval too narrow"


def _codes(name: str, group: pd.DataFrame) -> np.ndarray[Any, np.dtype[np.float64]]:
    if name in GRADES:
        return ordered_codes(list(group[name].astype(str).str.strip()), GRADES[name])
    return group[name].to_numpy(dtype=float)


def _entry(o: Observation) -> dict[str, Any]:
    rate, test = o.rate, o.test
    return {
        "observation": o.name,
        "kind": o.kind,
        "lubricant": o.lubricant,
        "load_N": o.load_level,
        "n": o.n,
        "classes": dict(o.classes),
        "total": sum(int(value) * k for value, k in o.classes.items()) if o.kind == "count" else None,
        "estimate": None if rate is None else rate.estimate,
        "ci_low": None if rate is None else rate.low,
        "ci_high": None if rate is None else rate.high,
        "confidence": None if rate is None else rate.confidence,
        "method": "counted only" if rate is None else rate.method,
        "superiority": None if test is None else test.superiority,
        "share_of_pairs_percent": None
        if test is None
        else 100.0 * max(test.superiority, 1.0 - test.superiority),
        "p_adjusted": None if test is None else test.p,
        "test": None if test is None else f"{test.method}, p adjusted by Holm",
        "note": o.note,
    }
