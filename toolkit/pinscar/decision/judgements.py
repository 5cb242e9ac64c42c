"""Judgements as data: summaries, comparisons, verdicts on limits and claims, each with a stable reason."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pinscar.campaign.model import Claim, Criterion
from pinscar.decision.responses import Response
from pinscar.stats.estimates import Estimate, VariancePrior
from pinscar.stats.family import Comparison
from pinscar.stats.intervals import MeanRatio
from pinscar.units import is_offset_unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """The included runs of one lubricant at one load level that have a value of a response.

    Attributes
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    run_ids : tuple of str
        The runs, in the order of the file.
    values : ndarray
        Response of each run, SI units.
    censored : ndarray of bool
        True where the value is a bound: on the left for a film pressure, on the right for a quiet time.
    blocks : tuple of str
        Block of each run, where the campaign declares one; else empty.
    """

    lubricant: str
    load_level: float
    run_ids: tuple[str, ...]
    values: NDArray[np.float64]
    censored: NDArray[np.bool_]
    blocks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Summary:
    """One cell's estimate of one response.

    Attributes
    ----------
    response : Response
        What was estimated.
    cell : Cell
        From which runs.
    estimate : Estimate
        Estimate and interval, SI units.
    """

    response: Response
    cell: Cell
    estimate: Estimate


class Support(StrEnum):
    """What the data say about a claim."""

    SUPPORTED = "supported"
    NOT_SUPPORTED = "not supported"
    REFUSED = "refused"


class ClaimReason(StrEnum):
    """Why a claim is supported, not supported or refused; the codes are stable."""

    SURE = "interval-beyond-claim"
    NOT_SO_MUCH = "interval-short-of-claim"
    NOT_SEPARATED = "interval-includes-equality"
    NO_INTERVAL = "no-interval"
    NOT_MEASURED = "response-not-measured"
    NO_RATIO = "response-without-ratio"
    NOT_RUN = "oil-not-run-at-load"
    RIVAL_NOT_RUN = "other-oil-not-run-at-load"
    UNLIKE = "unlike-conditions"
    BLOCKED = "audit-blocks"
    NO_VALUES = "no-values"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimResult:
    """A claim with what the data say about it; `pinscar.decision.words` puts it into sentences.

    Attributes
    ----------
    claim : Claim
        As the campaign states it.
    support : Support
        Supported, not supported or refused.
    reason : ClaimReason
        Why.
    confidence : float
        Confidence over all claims together [1].
    response : Response or None
        What is claimed about; None where it was not measured, or has no ratios.
    names : tuple of str
        The oils that the reason speaks of.
    detail : str
        What was unlike, the finding that blocks, or why there are no ratios.
    comparisons : tuple of Comparison
        The comparisons that the claim needs.
    weakest : Comparison or None
        The one of them that says least for the claim.
    share : float or None
        By how much the data make sure of the claim, at the end of that interval [1].
    """

    claim: Claim
    support: Support
    reason: ClaimReason
    confidence: float
    response: Response | None = None
    names: tuple[str, ...] = ()
    detail: str = ""
    comparisons: tuple[Comparison, ...] = ()
    weakest: Comparison | None = None
    share: float | None = None


NO_RATIO = (
    "{label} is a temperature in {unit}, whose zero is arbitrary, so it has no ratios; a difference of "
    "temperatures, such as the temperature rise in K, has"
)


Side = Literal["at least", "at most"]


class Verdict(StrEnum):
    """What the data say about a limit."""

    MET = "met"
    NOT_MET = "not met"
    UNDECIDED = "undecided"


class CriterionReason(StrEnum):
    """Why a criterion has its verdict; the codes are stable."""

    RIGHT_SIDE = "interval-on-right-side"
    WRONG_SIDE = "interval-on-wrong-side"
    SPANS = "interval-spans-limit"
    BOUND_RIGHT = "bound-on-right-side"
    BOUND_WRONG = "bound-on-wrong-side"
    BOUND_OPEN = "bound-decides-nothing"
    UNSURE_BOUND = "bound-not-sure-enough"
    NO_INTERVAL = "no-interval"
    NO_DATA = "no-data"
    UNLIKE = "unlike-conditions"
    BLOCKED = "audit-blocks"


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionResult:
    """A criterion with its verdict; `pinscar.decision.words` puts it into sentences.

    Attributes
    ----------
    criterion : Criterion
        As the campaign states it.
    verdict : Verdict
        Met, not met or undecided.
    reason : CriterionReason
        Why.
    side : {"at least", "at most"}
        The side of the limit on which the true value must lie.
    limit : float
        The limit, in ``unit``.
    confidence : float
        Confidence of the interval [1].
    estimate, low, high : float or None
        What was judged, in ``unit``.
    unit : str
        Unit of the numbers; empty for a ratio.
    further_repeats : int or None
        Further runs per lubricant likely to settle an undecided limit.
    evidence : Summary, LoadComparison or None
        What was judged; None where no run tells anything.
    learned : bool
        Whether the spread is moderated by earlier campaigns.
    """

    criterion: Criterion
    verdict: Verdict
    reason: CriterionReason
    side: Side
    limit: float
    confidence: float
    estimate: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    further_repeats: int | None = None
    evidence: Summary | LoadComparison | None = None
    learned: bool = False


@dataclass(frozen=True, slots=True)
class RatioJudged:
    """The ratio that a limit on a ratio is held against.

    Attributes
    ----------
    ratio, low, high : float or None
        The ratio and its limits.
    why_not : str
        Why there are none, where there are none.
    """

    ratio: float | None
    low: float | None
    high: float | None
    why_not: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The runs that a comparison rests on.

    Attributes
    ----------
    subject, reference : Cell
        The two oils' runs, with their blocks.
    others : tuple of Cell
        The runs of the other oils that were compared with the reference at this load.
    pooled : bool
        Whether all oils are taken to share one spread.
    right_censored : bool
        Whether bounds lie on the right, as those of quiet times do.
    step : float
        Step of the readings on the scale of the analysis.
    prior : VariancePrior or None
        What earlier campaigns tell of the spread.
    """

    subject: Cell
    reference: Cell
    others: tuple[Cell, ...]
    pooled: bool
    right_censored: bool
    step: float
    prior: VariancePrior | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadComparison:
    """One lubricant against the reference for one response at one load level.

    Attributes
    ----------
    response : Response
        What was compared.
    load_level : float
        Load level [N].
    result : Comparison
        Ratio (or difference, on the linear scale) with interval, adjusted p and method.
    unlike : str or None
        Why the two were run under different conditions; then no test was made.
    family : int
        Comparisons whose intervals hold together.
    blocked : str or None
        What in the fairness audit stands against calling it like for like.
    of_means : MeanRatio or None
        The ratio of the means, where zeros or negative values leave a difference to compare.
    compared : Compared or None
        The runs that it rests on; None where no test was made.
    """

    response: Response
    load_level: float
    result: Comparison
    unlike: str | None
    family: int
    blocked: str | None = None
    of_means: MeanRatio | None = None
    compared: Compared | None = field(default=None, repr=False, compare=False)

    @property
    def separated(self) -> bool:
        """Whether the interval excludes equality in a comparison of like with like."""
        found = self.result
        # A bound alone, without an estimate, separates nothing: it has not the confidence of an interval.
        if self.blocked is not None or (found.ratio is None and found.difference is None):
            return False
        equal = 1.0 if self.response.scale == "log" else 0.0
        over = found.low is not None and found.low > equal
        return over or (found.high is not None and found.high < equal)


def overall(verdicts: Iterable[Verdict]) -> Verdict | None:
    """Combine the verdicts of all criteria.

    Examples
    --------
    >>> str(overall([Verdict.MET, Verdict.UNDECIDED])), overall([])
    ('undecided', None)
    """
    seen = set(verdicts)
    for verdict in (Verdict.NOT_MET, Verdict.UNDECIDED, Verdict.MET):
        if verdict in seen:
            return verdict
    return None


def ratio_of(comparison: LoadComparison) -> RatioJudged:
    """Give a ratio with its limits: never a difference, which a limit on a ratio says nothing about."""
    result, means = comparison.result, comparison.of_means
    if means is not None:
        why = means.reason or "none"
        if no_ratio_reason(comparison.response) is None:
            why += "; zeros or negative values have no logarithms"
        return RatioJudged(means.ratio, means.low, means.high, why)
    if comparison.response.scale == "linear":
        return RatioJudged(None, None, None, result.note or result.method)
    return RatioJudged(result.ratio, result.low, result.high, result.note or result.method)


def no_ratio_reason(response: Response) -> str | None:
    """Say why a response has no ratios at all, if it has none."""
    if response.is_count:
        return f"{response.label.lower()} are counted, and counts are not compared"
    if is_offset_unit(response.unit):
        return NO_RATIO.format(label=response.label.lower(), unit=response.shown_unit)
    return None


def spread_of(summary: Summary) -> float | None:
    """Give the between-run spread of a summary as a percentage."""
    sd = summary.estimate.sd
    if sd is None or summary.response.scale != "log":
        return None
    return float(100.0 * np.sqrt(np.expm1(sd**2)))
