"""The fairness audit: every check, before any comparison, and what is recorded beside the oil."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtr

from pinscar.campaign.columns import COMPUTED, RESERVED, RUNS
from pinscar.decision import audit_conditions, audit_design
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.runs import by_level, by_lubricant
from pinscar.stats.permutation import Association, association
from pinscar.stats.run_order import OrderTest, stratified_order_test

BENCH = ("pin_lot", "operator", "reader", "microscope")
"""Factors of the bench that block a comparison where they go with the oil, as day and ring do."""
LEAST_SHARE = 0.25
"""Share of the comparison, less what lot gives on average, from which a factor is told of."""
BY_CHANCE = 0.10
"""Probability by lot up to which a share is noted; over all factors together, a caution."""
STRONG_SHARE = 0.6
"""Share, less what lot gives on average, that is a caution whatever else was looked at."""
ROOM = {"ambient_temperature": (2.0, 5.0), "humidity": (0.10, 0.25)}
"""Differences of means that are told where they are sure (p < 0.05), and that always are [K; 1]."""
ROOM_P = 0.05
_ELSEWHERE = frozenset({"read_blind", "blind", "shaken", "timer_gap", "read_by_code", "flags", "temperature"})
_SEEN = re.compile(
    r"noise|sound|smell|odou?r|colou?r|appearance|shape|residue|deposit|smoke|remark|comment|note|observ|verdict|result|picture|photo|file|image|time|date",
    re.IGNORECASE,
)
"""Names of columns that tell what a run showed, or where it is kept, and not how it was made."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """One lubricant and the reference, with what was recorded of one factor in their runs."""

    factor: str
    lubricant: str
    reference: str
    runs: pd.DataFrame

    @property
    def word(self) -> str:
        return self.factor.removesuffix("_id").replace("_", " ")

    def levels(self, name: str) -> frozenset[str]:
        return frozenset(self.runs.loc[self.runs["lubricant"] == name, self.factor])


def with_readers(runs: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """Add who read the scar of each run, where the readings say it and no column of the runs does."""
    if "reader" in runs or readings.empty:
        return runs
    who = readings.groupby("run_id")["reader"].agg(lambda names: " and ".join(sorted(set(names))))
    return runs.assign(reader=runs["run_id"].map(who).fillna(""))


def factors(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find recorded factors that go with the lubricant: throughout at a load, or partly.

    Throughout means that a lubricant and the reference have no level in common, with at least two runs of
    each recorded; a factor that is new in every run, such as a fresh ring, is part of the spread and not
    told. Partly means that the factor holds at least 25 % of the comparison more than lot gives on average,
    and as much as lot gives one time in ten at most. Day and ring without a common level are told by
    `audit_design.confounded_with`.
    """
    partly: list[tuple[_Pair, Association]] = []
    for factor in _factors(runs):
        known = _recorded(runs, factor)
        for lubricant in dict.fromkeys(known["lubricant"]):
            if lubricant == reference:
                continue
            both = known[known["lubricant"].isin([lubricant, reference])]
            apart = [
                (level, pair)
                for level, group in by_level(both)
                if _is_apart(pair := _Pair(factor, lubricant, reference, group), runs)
            ]
            if apart and factor not in ("run_day", "ring_id"):
                yield _throughout([level for level, _ in apart], [pair for _, pair in apart])
            elif not apart:
                pair = _Pair(factor, lubricant, reference, both)
                found = _association(pair)
                partly += [] if found is None else [(pair, found)]
    for pair, found in partly:
        if found.adjusted_share >= LEAST_SHARE and found.p <= BY_CHANCE:
            family = sum(other.lubricant == pair.lubricant for other, _ in partly)
            yield _partly(pair, found, family)


def room(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants that were run in a warmer, colder, damper or drier room than the reference.

    Least squares of the room's state on lubricant and load: at least 2 K or 10 % of humidity and p < 0.05, or
    at least 5 K or 25 %.
    """
    for name, (told, always) in ROOM.items():
        values = _room_state(runs, name)
        if values is None:
            continue
        known = runs.assign(room=values)[values.notna() & runs["load_level"].notna()]
        for lubricant, own in by_lubricant(known):
            base = known[known["lubricant"] == reference]
            shared = set(own["load_level"]) & set(base["load_level"])
            pair = pd.concat([own, base])
            pair = pair[pair["load_level"].isin(shared)]
            if lubricant == reference or pair.empty:
                continue
            difference, p = _difference(pair, lubricant)
            if abs(difference) >= always or (abs(difference) >= told and p < ROOM_P):
                yield _room_finding(name, lubricant, reference, difference, own)


def _factors(runs: pd.DataFrame) -> list[str]:
    known = {column.name for column in RUNS} | RESERVED | set(COMPUTED) | _ELSEWHERE | set(ROOM)
    own = [
        name
        for name in runs.columns
        if name not in known
        and name not in BENCH
        and not _SEEN.search(name)
        and not pd.api.types.is_numeric_dtype(runs[name])
        and all(isinstance(value, str) for value in runs[name].dropna())
    ]
    named = [name for name in ("run_day", "ring_id", *BENCH) if name in runs]
    return [*named, *own]


def _recorded(runs: pd.DataFrame, factor: str) -> pd.DataFrame:
    text = runs[factor].fillna("").astype(str).str.strip()
    return runs.assign(**{factor: text})[(text != "") & runs["load_level"].notna()]


def _is_apart(pair: _Pair, runs: pd.DataFrame) -> bool:
    own, base = pair.levels(pair.lubricant), pair.levels(pair.reference)
    if not own or not base or own & base:
        return False
    counts = pair.runs["lubricant"].value_counts()
    level = pair.runs["load_level"].iloc[0]
    of_pair = runs["lubricant"].isin([pair.lubricant, pair.reference]) & (runs["load_level"] == level)
    enough = counts.min() >= 2 and 2 * len(pair.runs) >= int(of_pair.sum())
    return bool(enough) and len(own | base) < len(pair.runs)


def _throughout(levels: Sequence[float], pairs: Sequence[_Pair]) -> Finding:
    first = pairs[0]
    bench = first.factor in BENCH
    own = [tuple(pair.runs.loc[pair.runs["lubricant"] == first.lubricant, "run_id"]) for pair in pairs]
    return Finding(
        id=f"{first.factor.replace('_', '-')}-confounded",
        severity=Weight.BLOCKS if bench else Weight.CAUTION,
        values={
            "at": list(levels),
            "oil": first.lubricant,
            "reference": first.reference,
            "factor": first.word,
            "levels": [[name, sorted(first.levels(name))] for name in (first.lubricant, first.reference)],
        },
        runs=tuple(run for runs in own for run in runs),
        text="factor-of-the-bench" if bench else "factor-of-the-user",
    )


def _association(pair: _Pair) -> Association | None:
    return association(
        (pair.runs["lubricant"] == pair.lubricant).tolist(),
        pair.runs[pair.factor].tolist(),
        pair.runs["load_level"].astype(str).tolist(),
    )


def _partly(pair: _Pair, found: Association, family: int) -> Finding:
    separable = bool(np.isfinite(found.variance_inflation))
    strong = found.adjusted_share >= STRONG_SHARE or found.p <= BY_CHANCE / family
    return Finding(
        id=f"{pair.factor.replace('_', '-')}-partly-confounded",
        severity=Weight.CAUTION if strong else Weight.NOTE,
        values={
            "factor": pair.word,
            "oil": pair.lubricant,
            "reference": pair.reference,
            "cramers_v": found.cramers_v,
            "variance_inflation": found.variance_inflation if separable else None,
            "p": found.p,
        },
        runs=tuple(pair.runs.loc[pair.runs["lubricant"] == pair.lubricant, "run_id"]),
        text="factor-partly" if separable else "factor-partly-inseparable",
    )


def _room_state(runs: pd.DataFrame, name: str) -> pd.Series | None:
    if name == "ambient_temperature":
        return runs.get(name)
    column = next((one for one in runs.columns if "humidity" in str(one).lower()), None)
    if column is None:
        return None
    if pd.api.types.is_numeric_dtype(runs[column]):
        numbers = runs[column].astype(float)
    else:
        numbers = pd.to_numeric(runs[column].astype(str).str.replace("%", "").str.strip(), errors="coerce")
    # Relative humidity is never above 1; larger numbers are percentages.
    return numbers / 100.0 if float(numbers.max()) > 1.0 else numbers


def _difference(pair: pd.DataFrame, lubricant: str) -> tuple[float, float]:
    """Give the difference of the means at equal load, and its p value."""
    own = np.array(pair["lubricant"] == lubricant, dtype=np.float64)
    loads = pd.get_dummies(pair["load_level"]).to_numpy(dtype=float)
    x, y = np.column_stack([own, loads]), pair["room"].to_numpy(dtype=float)
    coefficients, *_ = np.linalg.lstsq(x, y, rcond=None)
    free = y.size - x.shape[1]
    if free < 1:
        return float(coefficients[0]), 1.0
    spread = float(np.sum((y - x @ coefficients) ** 2)) / free
    error = np.sqrt(spread * np.linalg.pinv(x.T @ x)[0, 0])
    if error <= 1e-9 * abs(coefficients[0]):
        return float(coefficients[0]), 0.0 if coefficients[0] else 1.0
    return float(coefficients[0]), float(2.0 * stdtr(free, -abs(coefficients[0]) / error))


def _room_finding(name: str, lubricant: str, reference: str, difference: float, own: pd.DataFrame) -> Finding:
    return Finding(
        id="room-humidity" if name == "humidity" else "room-temperature",
        severity=Weight.CAUTION,
        values={"oil": lubricant, "reference": reference, "difference": difference},
        runs=tuple(own["run_id"]),
    )


ORDER_P = 0.05


def run_order(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find a lubricant that ran earlier or later in the day than the others at its load, p < 0.05.

    All days are tested together by `stratified_order_test`, each day and load level a stratum of its own:
    lubricants are compared at one load, so only the order among the runs at that load can mislead.
    """
    timed = runs[runs["run_at"].notna()]
    if timed.empty:
        yield Finding(id="order-unknown", severity=Weight.NOTE)
        return
    timed = timed[timed["load_level"].notna()]
    strata = [f"{day} {load}" for day, load in zip(timed["run_day"], timed["load_level"], strict=True)]
    test = stratified_order_test(timed["run_at"].rank(), list(timed["lubricant"]), strata)
    if test is None or test.p >= ORDER_P:
        return
    name = _farthest(test, reference)
    yield Finding(
        id="order-confounded",
        severity=Weight.CAUTION,
        values={
            "oil": name,
            "score": float(test.scores[name]),
            "days": int(timed["run_day"].nunique()),
            "exact": test.exact,
            "p": float(test.p),
        },
        runs=tuple(timed.loc[timed["lubricant"] == name, "run_id"]),
    )


def _farthest(test: OrderTest, reference: str) -> str:
    # Of two lubricants both are equally far out: the one that is compared is named.
    return max(test.scores, key=lambda name: (round(abs(test.scores[name]), 9), name != reference))


CHECKS = (
    audit_conditions.unlike_conditions,
    audit_conditions.load_not_shared,
    audit_conditions.stepped_loads,
    audit_conditions.pin_preparation,
    audit_conditions.shaking,
    audit_conditions.timer_gaps,
    audit_design.confounded_with,
    factors,
    room,
    run_order,
    audit_design.reference_drift,
    audit_conditions.odd_settings,
    audit_conditions.doses,
    audit_conditions.notes,
    audit_design.strays,
    audit_design.outliers,
    audit_design.off_geometry,
    audit_design.wear_running,
    audit_design.few_repeats,
    audit_design.blind_reading,
)
"""The checks; each takes the included runs and the reference and yields findings."""


def audit(runs: pd.DataFrame, reference: str, elsewhere: Sequence[Finding] = ()) -> tuple[Finding, ...]:
    """Look for everything that makes a comparison less than fair."""
    included, excluded = runs[runs["excluded"] == ""], runs[runs["excluded"] != ""]
    found = [finding for check in CHECKS for finding in check(included, reference)]
    found.extend([*elsewhere, *audit_design.exclusions(included, excluded)])
    order = [Weight.BLOCKS, Weight.CAUTION, Weight.NOTE]
    return tuple(sorted(found, key=lambda finding: order.index(finding.severity)))
