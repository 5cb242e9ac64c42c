"""The oils of one load ranked by one response, with letters for those that are not separated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.decision.comparisons import audit_objection
from pinscar.decision.experience import priors_of
from pinscar.decision.judgements import Cell, LoadComparison, Summary
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.runs import same_level, unlike_reason
from pinscar.decision.summaries import resolution, typed_steps
from pinscar.errors import UsageError
from pinscar.stats.choose import all_pairs
from pinscar.stats.estimates import on_scale
from pinscar.stats.family import no_interval_reason
from pinscar.stats.simultaneous import letter_groups
from pinscar.wording import counted

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """The oils at one load, best first.

    Attributes
    ----------
    response : Response
        What they are ranked by.
    load_level : float
        Load level [N].
    summaries : tuple of Summary
        One an oil, best first.
    comparisons : dict of str to LoadComparison
        Each oil against the reference; without those that have none.
    letters : dict of str to str
        Letters of each oil; oils that share one are not separated. Empty where there are none.
    left_out : dict of str to str
        Oils that carry no letter, with the reason in plain words.
    method : str
        How the letters were found, or why there are none.
    """

    response: Response
    load_level: float
    summaries: tuple[Summary, ...]
    comparisons: Mapping[str, LoadComparison]
    letters: Mapping[str, str]
    left_out: Mapping[str, str]
    method: str


def rank(analysis: Analysis, response_name: str, load: float | None = None) -> Ranking:
    """Rank the oils of one load and give letters to those that may be compared.

    Left out of the letters are oils that were not run like the reference, that the audit blocks, that have
    censored runs, or that have no spread of their own.
    """
    found = [s for s in analysis.summaries if s.response.name == response_name]
    if not found:
        have = ", ".join(response.name for response in analysis.responses)
        raise UsageError(f"no run has the response {response_name!r}; the runs have {have}")
    response, level = found[0].response, _level(analysis, found, load)
    at_level = _ordered(response, [s for s in found if s.cell.load_level == level])
    cells = {s.cell.lubricant: s.cell for s in at_level}
    step = resolution(
        response, analysis.included, analysis.campaign.units, typed_steps(analysis.campaign.file.rig)
    )
    left_out = _left_out(analysis, cells, response, step)
    letters, method = _letters(
        analysis, response, {n: c for n, c in cells.items() if n not in left_out}, step
    )
    comparisons = {
        c.result.subject: c
        for c in analysis.comparisons
        if c.response.name == response_name and c.load_level == level
    }
    return Ranking(
        response=response,
        load_level=level,
        summaries=tuple(at_level),
        comparisons=comparisons,
        letters=letters,
        left_out=left_out,
        method=method,
    )


def _level(analysis: Analysis, found: Sequence[Summary], load: float | None) -> float:
    levels = sorted({s.cell.load_level for s in found})
    if load is None:
        stated = [r.criterion.load for r in analysis.criteria if r.criterion.load is not None]
        wanted = [level for want in stated for level in levels if same_level(want, level)]
        return wanted[0] if wanted else levels[0]
    matching = [level for level in levels if same_level(load, level)]
    if not matching:
        have = ", ".join(f"{level:.4g}" for level in levels)
        raise UsageError(
            f"no run at {load:g} N has the response {found[0].response.name!r}; there are {have} N"
        )
    return matching[0]


def _ordered(response: Response, found: Sequence[Summary]) -> list[Summary]:
    def place(summary: Summary) -> float:
        e = summary.estimate
        ends = [value for value in (e.estimate, e.high, e.low) if value is not None]
        return ends[0] if ends else float("nan")

    return sorted(found, key=place, reverse=response.better == "higher")


def _left_out(
    analysis: Analysis, cells: Mapping[str, Cell], response: Response, step: float
) -> dict[str, str]:
    base = analysis.reference if analysis.reference in cells else next(iter(cells))
    reasons: dict[str, str] = {}
    for name, cell in cells.items():
        reason = (
            (
                None
                if name == base
                else unlike_reason(_runs(analysis, cell), _runs(analysis, cells[base]), base, response.name)
            )
            or (None if name == base else audit_objection(cell.run_ids, analysis.findings, response.name))
            or _without_value(cell, response, step)
        )
        if reason is not None:
            reasons[name] = reason
    return reasons


def _runs(analysis: Analysis, cell: Cell) -> pd.DataFrame:
    return analysis.included[analysis.included["run_id"].isin(cell.run_ids)]


def _without_value(cell: Cell, response: Response, step: float) -> str | None:
    bounds = int(cell.censored.sum())
    if bounds:
        verb = "gives" if bounds == 1 else "give"
        return f"{counted(bounds, 'run')} of {cell.values.size} {verb} only a bound"
    reason = no_interval_reason(on_scale(cell.values, response.scale, cell.lubricant), cell.lubricant, step)
    return None if reason is None else reason.removeprefix(f"{cell.lubricant}: ")


def _letters(
    analysis: Analysis, response: Response, cells: Mapping[str, Cell], step: float
) -> tuple[dict[str, str], str]:
    if len(cells) < 2:
        return {}, "no letters: fewer than two oils can be compared"
    scaled = {name: on_scale(cell.values, response.scale, name) for name, cell in cells.items()}
    prior = priors_of(analysis.experience).get(response.name)
    pooled = analysis.campaign.file.campaign.spread == "pooled"
    found = all_pairs(
        scaled, analysis.confidence, response.scale, _blocks(analysis, cells), step, prior, pooled
    )
    different = [pair for pair, contrast in found.pairs.items() if contrast.p < 1.0 - analysis.confidence]
    return letter_groups(list(cells), different), found.method


def _blocks(analysis: Analysis, cells: Mapping[str, Cell]) -> dict[str, list[str]] | None:
    column = analysis.campaign.file.campaign.block
    if column is None:
        return None
    of_run = analysis.included.set_index("run_id")[column].astype(str)
    return {name: of_run.loc[list(cell.run_ids)].tolist() for name, cell in cells.items()}
