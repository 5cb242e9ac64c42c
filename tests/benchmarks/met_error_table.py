"""Make the table of how often "met" is wrong where the truth lies exactly at the limit, as a CSV file.

Every campaign drawn is judged by the functions that judge a report: estimate or comparison, then the verdict
on a criterion. Two-sided 95 % allows 2.5 %. Run from the repository's top folder (about ten minutes on one
core), with the file to write; a second argument scales the number of campaigns:

    export PYTHONPATH=toolkit OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
    python tests/benchmarks/met_error_table.py toolkit/pinscar/stats/data/met_error.csv 1
"""

from __future__ import annotations

import csv
import math
import sys
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import norm

from pinscar.campaign.model import Criterion
from pinscar.decision.comparisons import compare_cells, ratio_of_cells
from pinscar.decision.criteria import judge_criteria
from pinscar.decision.judgements import Cell, LoadComparison, Summary, Verdict
from pinscar.decision.responses import STANDARD, Response, available
from pinscar.decision.summaries import Method, cells, estimate_cell, resolution, summarise, zeros_as_bounds
from pinscar.stats.estimates import compare_scatter, fit_variance_prior, tempered

SEED, CONFIDENCE, SPREAD = 20260301, 0.95, 0.1
PLAIN, RATIO, FEWER, SLOW = 4000, 2000, 1000, 300
UNEVEN = {"C": (0, 1, 1, 2), "R": (0, 0, 1, 1, 2)}
AREA = next(one for one in STANDARD if one.name == "scar_area")
FILM = next(one for one in STANDARD if one.name == "film_pressure")
FLING = Response(
    name="fling_mass", label="Fling mass", unit="mg", shown_unit="mg", scale="linear", better="lower"
)
NO_RUNS = pd.DataFrame()
HEAD = """\
# How often "met" is wrong with the truth exactly at the limit [%]; two-sided 95 % allows 2.5.
# Source: tests/benchmarks/met_error_table.py, own simulation through the judging functions; seed 20260301.
# rule: value (at most, at least), ratio (at most, at least), mean ratio (of means, on the linear scale).
# n, n_reference: runs. spread: standard deviation of the candidate over that of the reference.
# step: step of the readings over the standard deviation. censored: share of film pressures that are bounds;
# the reached pressures scatter as the film does. days: declared blocks, as far apart as runs within them.
# history: standard deviation of eight earlier cells of three runs over the present one. layout: "uneven" has
# days with unlike numbers of runs. oils: candidates compared together, the first of them judged. zeros: true
# median of a fling over the step of the balance, spread 0.8 of its logarithm; readings of 0 occur. error: two
# standard errors. Of the cases with the true error at 2.5 % some lie above 2.5 + error by chance.
"""
COLUMNS = (
    "rule", "n", "n_reference", "spread", "step", "censored", "days", "history", "layout", "oils",
    "zeros", "campaigns", "met_percent", "error",
)  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One row of the table; zeros mean that it plays no part."""

    rule: str
    n: int
    n_reference: int = 0
    spread: float = 1.0
    step: float = 0.0
    censored: float = 0.0
    days: int = 0
    history: float = 0.0
    layout: str = ""
    oils: int = 1
    zeros: float = 0.0

    @property
    def key(self) -> bytes:
        """What seeds the draws: a column that plays no part leaves a case as it was without that column."""
        parts = [f"{one.name}={getattr(self, one.name)!r}" for one in fields(self)]
        given = parts[:8] + [
            part
            for part, one in zip(parts[8:], fields(self)[8:], strict=True)
            if (getattr(self, one.name) != one.default)
        ]
        return f"Case({', '.join(given)})".encode()

    @property
    def campaigns(self) -> int:
        if self.censored or self.zeros:
            return FEWER if self.censored and self.rule == "value" else SLOW
        if self.history or self.oils > 1 or (self.days and self.rule != "value"):
            return FEWER
        return RATIO if self.rule == "ratio" else PLAIN


def cases() -> Iterator[Case]:
    sizes = (2, 3, 4, 6, 8)
    yield from (Case("value", n) for n in sizes)
    yield from (Case("value", n, step=step) for n in sizes for step in (1.0, 2.0))
    yield from (Case("ratio", n, n, spread) for n in sizes for spread in (1.0, 3.0))
    yield from (Case("ratio", 2, 5, spread) for spread in (1 / 3, 3.0))
    yield from (Case("ratio", *pair, spread) for pair in ((3, 8), (8, 3)) for spread in (1 / 3, 1.0, 3.0))
    yield from (Case("ratio", n, n, step=step) for n in (3, 8) for step in (1.0, 2.0))
    yield from (Case("value", 2 * days, days=days) for days in (2, 3, 4))
    yield from (
        Case(rule, 2 * days, 2 * days, days=days) for rule in ("ratio", "mean ratio") for days in (3,)
    )
    yield from (Case("mean ratio", n, n, spread) for n in (4, 8) for spread in (1.0, 3.0))
    for n in (3, 6):
        yield from (Case("value", n, history=history) for history in (1.0, 0.5, 2.0))
        yield from (Case("ratio", n, n, history=history) for history in (1.0, 0.5, 2.0))
    yield from (Case("ratio", *pair, history=0.5) for pair in ((3, 6), (6, 3)))
    yield from (Case(rule, 3, 3 * (rule == "ratio"), history=0.3) for rule in ("value", "ratio"))
    yield from (Case("ratio", n, n, spread, oils=3) for n, spread in ((3, 1.0), (3, 3.0), (6, 1.0)))
    yield from (Case(rule, 4, 5 * (rule == "ratio"), days=3, layout="uneven") for rule in ("value", "ratio"))
    yield from (Case(rule, 3, 3 * (rule == "ratio"), zeros=2.0) for rule in ("value", "ratio"))
    yield from (Case("ratio", 6, 6, spread, days=3) for spread in (1 / 3, 3.0))
    yield from (Case("ratio", 4, 5, spread, days=3, layout="uneven") for spread in (1 / 3, 3.0))
    yield Case("ratio", 3, 3, days=3, oils=3)
    yield from (Case("ratio", 6, 6, spread, censored=0.3, days=3) for spread in (1 / 3, 1.0, 3.0))
    yield Case("ratio", 4, 5, censored=0.3, days=3, layout="uneven")
    yield from (Case("value", n, censored=share) for n in (3, 4, 6, 8) for share in (0.3, 0.6))
    yield from (Case("ratio", n, n, censored=share) for n in (3, 6) for share in (0.3, 0.6))
    yield from (Case("ratio", *pair, 3.0, censored=0.4) for pair in ((3, 8), (8, 3)))


@cache
def criterion(case: Case, response: Response) -> Criterion:
    lower = response.better == "lower"
    given = {"id": "limit", "response": response.name, "lubricant": "C", "load": "450 N"}
    if case.rule == "value":
        limit = {"limit": "6 mm^2"} if lower else {"limit": "120 MPa"}
        return Criterion.model_validate({**given, "rule": "at most" if lower else "at least", **limit})
    rule = "ratio at most" if lower else "ratio at least"
    return Criterion.model_validate({**given, "rule": rule, "limit": "1"})


def drawn(case: Case, rng: np.random.Generator, group: str, effects: np.ndarray, centre: float):
    """Logarithms over the spread of one oil, what is censored, and the days."""
    n = case.n_reference if group == "R" else case.n
    days = np.arange(n) % case.days if case.days else np.zeros(n, dtype=int)
    if case.layout:
        days = np.array(UNEVEN[group])
    z = (case.spread if group == "C" else 1.0) * rng.standard_normal(n) + effects[days] + centre
    if case.step:
        z = case.step * np.round(z / case.step)
    hidden = np.zeros(n, dtype=bool)
    if case.censored:
        # Those of a spread of its own scatter as wide, so that the share is the same.
        wide = math.hypot(case.spread if group == "C" else 1.0, 1.0 if case.days else 0.0)
        reached = wide * (norm.ppf(case.censored) * math.sqrt(2.0) + rng.standard_normal(n))
        hidden, z = z < reached, np.maximum(z, reached)
    return z, hidden, tuple(f"d{day}" for day in days) if case.days else ()


def judged(case: Case, rng: np.random.Generator) -> bool:
    if case.zeros:
        return judged_with_zeros(case, rng)
    response = FILM if case.censored else FLING if case.rule == "mean ratio" else AREA
    effects = rng.standard_normal(max(case.days, 1)) if case.days else np.zeros(1)
    centre = rng.uniform(0.0, case.step) if case.step else 0.0  # where the truth lies between two readings
    scale = 120e6 if case.censored else 6e-6

    def cell(group: str) -> Cell:
        z, hidden, blocks = drawn(case, rng, group, effects, centre)
        values = (
            20e-6 * (1.0 + 0.2 * z) if case.rule == "mean ratio" else scale * np.exp(SPREAD * (z - centre))
        )
        names = tuple(f"{group}{i}" for i in range(z.size))
        return Cell(
            lubricant=group, load_level=450.0, run_ids=names, values=values, censored=hidden, blocks=blocks
        )

    own, step = cell("C"), SPREAD * case.step
    base = cell("R") if case.n_reference else None
    prior = _prior(case, rng, [one for one in (own, base) if one is not None])
    wanted = criterion(case, response)
    if base is None:
        summary = Summary(response, own, estimate_cell(own, response, CONFIDENCE, step, prior))
        results = judge_criteria([wanted], [summary], [], CONFIDENCE, never)
        return results[0].verdict is Verdict.MET
    runs, others = NO_RUNS, [cell(f"D{number}") for number in range(1, case.oils)]
    if case.days:
        oils = [own, base, *others]
        frame = {"run_id": [run for one in oils for run in one.run_ids]}
        runs = pd.DataFrame(frame | {"day": [day for one in oils for day in one.blocks]})
    means = None
    if case.rule == "mean ratio":
        blocks = (own.blocks, base.blocks) if case.days else None
        means = ratio_of_cells(response, own, base, blocks, CONFIDENCE, 0.0)
    method = Method(
        confidence=CONFIDENCE,
        block="day" if case.days else None,
        priors={} if prior is None else {response.name: prior},
    )
    found, *_ = compare_cells(runs, response, [own, *others, base], "R", method, step)
    compared = LoadComparison(
        response=response, load_level=450.0, result=found, unlike=None, family=case.oils, of_means=means
    )
    return judge_criteria([wanted], [], [compared], CONFIDENCE, never)[0].verdict is Verdict.MET


def judged_with_zeros(case: Case, rng: np.random.Generator) -> bool:
    """Flings near the balance's step of 1 mg, some of them read as 0."""
    level = case.zeros * rng.uniform(0.85, 1.15)  # anywhere between two readings
    oils = ["C"] * case.n + ["R"] * case.n_reference
    fling = np.round(level * np.exp(0.8 * rng.standard_normal(len(oils)))) * 1e-6
    names = [f"r{number}" for number in range(len(oils))]
    runs = pd.DataFrame({"run_id": names, "lubricant": oils, "load_level": 450.0, "excluded": ""})
    runs["fling_mass"] = fling
    units = {"fling_mass": "mg"}
    (response,) = zeros_as_bounds(available(runs, units), runs, units)
    method = Method(confidence=CONFIDENCE, units=units)
    given = {"id": "limit", "response": "fling_mass", "lubricant": "C", "load": "450 N"}
    if case.rule == "value":
        wanted = Criterion.model_validate({**given, "rule": "at most", "limit": f"{level:.9g} mg"})
        summaries = summarise(runs, [response], method)
        return judge_criteria([wanted], summaries, [], CONFIDENCE, never)[0].verdict is Verdict.MET
    own, base = cells(runs, response)
    step = resolution(response, runs, units)
    means = (
        ratio_of_cells(response, own, base, None, CONFIDENCE, step) if response.scale == "linear" else None
    )
    (found,) = compare_cells(runs, response, [own, base], "R", method, step)
    compared = LoadComparison(
        response=response, load_level=450.0, result=found, unlike=None, family=1, of_means=means
    )
    return judge_criteria([criterion(case, response)], [], [compared], CONFIDENCE, never)[0].verdict is (
        Verdict.MET
    )


def never(evidence: object, limit: float) -> None:
    """No further repeats: the verdict is what is counted here."""


def _prior(case: Case, rng: np.random.Generator, present: list[Cell]):
    if not case.history:
        return None
    earlier = case.history * SPREAD * rng.standard_normal((8, 3))
    found = fit_variance_prior(earlier.var(axis=1, ddof=1), np.full(8, 2.0))
    groups = [np.log(cell.values) for cell in present]
    if len(groups) == 1:  # a campaign always has a reference, whose scatter is looked at too
        groups.append(SPREAD * rng.standard_normal(case.n))
    df = sum(group.size - 1 for group in groups)
    pooled = float(sum((group.size - 1) * np.var(group, ddof=1) for group in groups)) / df
    return tempered(found, pooled, compare_scatter(pooled, df, found))


def row(case: Case, factor: float) -> tuple[object, ...]:
    """Draw the campaigns of one case and count."""
    campaigns = max(20, round(factor * case.campaigns))
    rng = np.random.default_rng([SEED, zlib.crc32(case.key)])
    share = sum(judged(case, rng) for _ in range(campaigns)) / campaigns
    error = 2.0 * math.sqrt(max(share, 0.005) * (1.0 - share) / campaigns)
    given = (case.rule, case.n, case.n_reference, f"{case.spread:.3g}", case.step, case.censored, case.days)
    more = (case.history, case.layout, case.oils, case.zeros)
    return (*given, *more, campaigns, f"{100 * share:.2f}", f"{100 * error:.2f}")


def main(target: Path, factor: float, only: Callable[[Case], bool] = lambda _: True) -> None:
    with target.open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for case in filter(only, cases()):
            writer.writerow(row(case, factor))
            file.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else 1.0)
