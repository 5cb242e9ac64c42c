"""A campaign as a precision study: repeatability and reproducibility of each response."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.campaign.campaign import Campaign
from pinscar.decision.analysis import Analysis, analyse
from pinscar.decision.precision_groups import Grouping, choose_grouping
from pinscar.decision.responses import STANDARD, Response
from pinscar.decision.summaries import Cell as RunCell
from pinscar.decision.summaries import cells
from pinscar.decision.wording import counted, listing, load_text
from pinscar.errors import InputError
from pinscar.problems import Problem, Severity
from pinscar.stats.cochran import CochranResult, cochran
from pinscar.stats.outliers import GrubbsResult, grubbs
from pinscar.stats.precision import MaterialPrecision, material_precision
from pinscar.stats.precision_intervals import repeatability_interval, reproducibility_interval
from pinscar.units import to_unit

FEW_GROUPS = 6
"""Fewer groups than this give a rough reproducibility only (ASTM E691 asks for six at least)."""


@dataclass(frozen=True, slots=True)
class Material:
    """Precision of one response on one lubricant at one load.

    Parameters
    ----------
    response : Response
        What was measured; all numbers are in ``response.unit``.
    lubricant : str
        The lubricant.
    load_level : float
        Load level [N].
    values : mapping of str to ndarray
        Results of each group.
    precision : MaterialPrecision
        The standard's evaluation.
    repeatability_interval, reproducibility_interval : tuple of float
        Confidence limits of s_r and s_R.
    cochran : CochranResult
        Test for one group with a larger spread.
    grubbs : GrubbsResult
        Test for one group mean far from the others.
    """

    response: Response
    lubricant: str
    load_level: float
    values: Mapping[str, NDArray[np.float64]]
    precision: MaterialPrecision
    repeatability_interval: tuple[float, float]
    reproducibility_interval: tuple[float, float]
    cochran: CochranResult
    grubbs: GrubbsResult

    @property
    def name(self) -> str:
        """Lubricant and load in words."""
        return f"{self.lubricant} at {load_text(self.load_level)}"

    @property
    def n(self) -> int:
        """Number of results."""
        return sum(values.size for values in self.values.values())

    @property
    def relative(self) -> bool:
        """Whether a percentage of the mean says something: the unit's zero is the quantity's."""
        return self.response.scale == "log" and self.precision.general_mean > 0.0

    @property
    def floored(self) -> bool:
        """Whether the group means scatter no more than the repeats explain."""
        return self.precision.between_sd == 0.0


@dataclass(frozen=True, slots=True)
class PrecisionStudy:
    """A campaign evaluated as a precision study.

    Parameters
    ----------
    analysis : Analysis
        The evaluated campaign.
    grouping : Grouping
        How the groups are told apart.
    materials : tuple of Material
        By response, then load, then lubricant; at least one.
    left_out : tuple of str
        A plain sentence for all that had to stay out.
    """

    analysis: Analysis
    grouping: Grouping
    materials: tuple[Material, ...]
    left_out: tuple[str, ...]

    @property
    def responses(self) -> tuple[Response, ...]:
        """The responses evaluated, in order."""
        return tuple(dict.fromkeys(material.response for material in self.materials))

    def of(self, response: Response) -> tuple[Material, ...]:
        """Give the materials of a response.

        Parameters
        ----------
        response : Response
            The response.

        Returns
        -------
        tuple of Material
            In the order of load, then lubricant.
        """
        return tuple(material for material in self.materials if material.response == response)


def study_precision(
    campaign: Campaign,
    group: str | None = None,
    responses: Sequence[str] | None = None,
    confidence: float | None = None,
) -> PrecisionStudy:
    """Evaluate a campaign as a precision study.

    The numbers are analysed as measured, not as logarithms: so do the standards, and so the limits come
    out in the unit of the response.

    Parameters
    ----------
    campaign : Campaign
        A checked campaign.
    group : str, optional
        Column that tells the groups; see `choose_grouping`.
    responses : sequence of str, optional
        Responses to evaluate; the scar area and the campaign's own columns where not given.
    confidence : float, optional
        Confidence of the intervals [1]; the campaign's own where not given.

    Returns
    -------
    PrecisionStudy
        One record a response, load and lubricant.

    Raises
    ------
    UsageError
        A response or the column does not exist.
    InputError
        No load and lubricant has two groups, one of them with repeats.

    References
    ----------
    ISO 5725-2:1994; ASTM E691.
    """
    analysis = analyse(campaign, confidence, responses)
    file = "runs.xlsx" if "runs.xlsx" in campaign.inputs else "runs.csv"
    grouping = choose_grouping(analysis.included[list(campaign.runs)], group, file)
    chosen = [r for r in analysis.responses if responses or _is_default(r)]
    materials: list[Material] = []
    left_out = [*_excluded(analysis), *_without_group(analysis, grouping)]
    for response in chosen:
        for cell in cells(analysis.included, response):
            made = _material(analysis, grouping, response, cell)
            materials += [made] if isinstance(made, Material) else []
            left_out += [made] if isinstance(made, str) else []
            left_out += _bounds(response, cell)
    if not materials:
        raise InputError([_nothing(file, sentence) for sentence in left_out or ["no run has a value"]])
    return PrecisionStudy(analysis, grouping, tuple(materials), tuple(left_out))


def _is_default(response: Response) -> bool:
    known = {standard.name for standard in STANDARD} - {"scar_area"}
    return response.name not in known


def _material(analysis: Analysis, grouping: Grouping, response: Response, cell: RunCell) -> Material | str:
    runs = analysis.included.set_index("run_id")[grouping.column]
    groups = [str(runs[run_id] or "") for run_id in cell.run_ids]
    numbers = to_unit(cell.values, response.unit)
    kept = [bool(name) and not bound for name, bound in zip(groups, cell.censored, strict=True)]
    values = {
        name: numbers[[own and name == other for own, other in zip(kept, groups, strict=True)]]
        for name in sorted({name for name, own in zip(groups, kept, strict=True) if own})
    }
    name = f"{cell.lubricant} at {load_text(cell.load_level)}"
    if len(values) < 2 or max(map(len, values.values())) < 2:
        reason = (
            f"only {counted(len(values), grouping.noun, grouping.plural)} with a value"
            if len(values) < 2
            else f"no {grouping.noun} has two values"
        )
        return f"{response.label} of {name} was not evaluated: {reason}."
    precision = material_precision(name, values)
    return Material(
        response,
        cell.lubricant,
        cell.load_level,
        values,
        precision,
        repeatability_interval(precision, analysis.confidence),
        reproducibility_interval(precision, analysis.confidence),
        cochran(values),
        grubbs([found.mean for found in precision.cells]),
    )


def _excluded(analysis: Analysis) -> Iterator[str]:
    n = len(analysis.runs) - len(analysis.included)
    if n:
        yield f"{counted(n, 'run')} marked as excluded in the table of runs."


def _without_group(analysis: Analysis, grouping: Grouping) -> Iterator[str]:
    runs = analysis.included
    blank = [run for run, name in zip(runs["run_id"], runs[grouping.column], strict=True) if not name]
    if blank:
        yield f"{counted(len(blank), 'run')} without a {grouping.noun}: {listing(blank)}."


def _bounds(response: Response, cell: RunCell) -> Iterator[str]:
    n = int(np.sum(cell.censored))
    if n:
        yield (
            f"{response.label} of {cell.lubricant} at {load_text(cell.load_level)}: {counted(n, 'run')} that "
            "gave only a bound. Without them the spread may come out too small."
        )


def _nothing(file: str, sentence: str) -> Problem:
    message = sentence.rstrip(".")
    mend = "a precision study needs two groups at a load, and two runs in one of them"
    return Problem("study-without-repeats", Severity.ERROR, file, message, mend)
