"""Reading study: how much of the spread of scar readings is the scars, the readers and the repeats."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc

from pinscar.stats.components import METHOD, variance_component

POOLING_RULE = (
    "The reader by scar interaction is pooled with the repeats when its F test gives p above {limit:g}; "
    "otherwise it counts as a source of its own."
)


@dataclass(frozen=True, slots=True)
class AnovaRow:
    """One line of an analysis of variance table.

    Parameters
    ----------
    source : str
        Reader, scar, interaction, repeats or total.
    sum_of_squares : float
        Sum of squares.
    df : int
        Degrees of freedom.
    mean_square : float or None
        Their ratio; None for the total, and where there are no degrees of freedom.
    f, p : float or None
        F ratio and its probability, where the line is tested.
    """

    source: str
    sum_of_squares: float
    df: int
    mean_square: float | None
    f: float | None = None
    p: float | None = None


@dataclass(frozen=True, slots=True)
class ReadingComponent:
    """One source of spread in a reading study.

    Parameters
    ----------
    source : str
        Repeats, reader, interaction, reading (the three together), scar or total.
    variance : float
        Variance, a negative estimate set to zero.
    low, high : float
        Its confidence limits.
    share_of_variance : float
        Part of the total variance.
    share_of_sd : float
        Its standard deviation over that of the total; these do not add up to 1.
    """

    source: str
    variance: float
    low: float
    high: float
    share_of_variance: float
    share_of_sd: float


@dataclass(frozen=True, slots=True)
class ReadingStudy:
    """Result of a reading study.

    Parameters
    ----------
    n_readers, n_scars, n_repeats : int
        Size of the study.
    table : tuple of AnovaRow
        The full table, with the interaction as a line of its own.
    pooled : bool
        Whether the interaction was pooled with the repeats.
    components : tuple of ReadingComponent
        Sources of spread.
    category_ratio : float or None
        1.41 times the sd of the scars over that of the reading; None where the readings do not vary.
    distinct_categories : int or None
        That ratio cut to a whole number, at least 1: how many groups of scars the reading can tell apart.
    confidence : float
        Confidence of the intervals.
    method : str
        Rule of pooling and kind of interval, as a report prints it.
    note : str or None
        A plain sentence where something is off.
    """

    n_readers: int
    n_scars: int
    n_repeats: int
    table: tuple[AnovaRow, ...]
    pooled: bool
    components: tuple[ReadingComponent, ...]
    category_ratio: float | None
    distinct_categories: int | None
    confidence: float
    method: str
    note: str | None


def reading_study(values: ArrayLike, confidence: float = 0.95, pool_above: float = 0.25) -> ReadingStudy:
    r"""Analyse a crossed study of readers x scars x repeats into its variance components.

    With o readers, p scars and r repeats, and the interaction kept,

    .. math::
        \sigma_e^2 = MS_e, \quad \sigma_{op}^2 = (MS_{op} - MS_e)/r, \quad
        \sigma_o^2 = (MS_o - MS_{op})/(p r), \quad \sigma_p^2 = (MS_p - MS_{op})/(o r)

    With the interaction pooled, MS_e is that of interaction and repeats together and stands for MS_op.
    Readers and scars are both a random sample; normal, independent effects are assumed. Negative estimates
    are set to zero.

    Parameters
    ----------
    values : array_like
        Readings [any one unit], shape (readers, scars, repeats), at least 2 x 2 x 1, finite.
    confidence : float
        Two-sided confidence of the intervals [-].
    pool_above : float
        The interaction is pooled when its F test gives a larger probability [-]; 0 pools always, 1 never. The
        default is a choice of this tool: with few readers the test misses a real interaction often, so the
        limit is high, and the interaction is pooled only where the readings show little sign of it.

    Returns
    -------
    ReadingStudy
        Table, components with intervals and shares, distinct categories.

    Raises
    ------
    ValueError
        Where the readings are no complete layout of at least two readers and two scars.

    References
    ----------
    R. K. Burdick, C. M. Borror and D. C. Montgomery, Design and Analysis of Gauge R and R Studies, 2005, ch.
    3; the 1.41 of the distinct categories is common practice.

    Examples
    --------
    >>> study = reading_study([[[1.0, 1.1], [2.0, 2.1], [3.0, 3.2]], [[1.1, 1.2], [2.2, 2.1], [3.1, 3.2]]])
    >>> study.pooled, study.distinct_categories
    (True, 15)
    """
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 3 or x.shape[0] < 2 or x.shape[1] < 2 or x.shape[2] < 1:
        raise ValueError(
            f"values has shape {x.shape}, it must be readers x scars x repeats, at least 2 x 2 x 1"
        )
    if not bool(np.all(np.isfinite(x))):
        raise ValueError("values must be finite: every reader reads every scar equally often")
    rows = _sums_of_squares(x)
    f, p = _f_test(rows["interaction"], rows["repeats"])
    pooled = p is None or p > pool_above
    error = _pool(rows["interaction"], rows["repeats"]) if pooled else rows["interaction"]
    components = _components(rows, error, pooled, x.shape, confidence)
    ratio = _category_ratio(components)
    return ReadingStudy(
        n_readers=x.shape[0],
        n_scars=x.shape[1],
        n_repeats=x.shape[2],
        table=_table(rows, error, (f, p)),
        pooled=pooled,
        components=components,
        category_ratio=ratio,
        distinct_categories=None if ratio is None else max(1, math.floor(ratio)),
        confidence=confidence,
        method=f"{POOLING_RULE.format(limit=pool_above)} Intervals: {METHOD}.",
        note=_note(x.shape),
    )


_Line = tuple[float, int]  # sum of squares, degrees of freedom


def _sums_of_squares(x: NDArray[np.float64]) -> dict[str, _Line]:
    o, p, r = x.shape
    centred = x - x.mean()
    reader, scar, cell = centred.mean(axis=(1, 2)), centred.mean(axis=(0, 2)), centred.mean(axis=2)
    interaction = cell - reader[:, None] - scar[None, :] + centred.mean()
    return {
        "reader": (p * r * float(np.sum((reader - centred.mean()) ** 2)), o - 1),
        "scar": (o * r * float(np.sum((scar - centred.mean()) ** 2)), p - 1),
        "interaction": (r * float(np.sum(interaction**2)), (o - 1) * (p - 1)),
        "repeats": (float(np.sum((centred - cell[:, :, None]) ** 2)), o * p * (r - 1)),
        "total": (float(np.sum((centred - centred.mean()) ** 2)), o * p * r - 1),
    }


def _pool(one: _Line, other: _Line) -> _Line:
    return one[0] + other[0], one[1] + other[1]


def _f_test(line: _Line, error: _Line) -> tuple[float | None, float | None]:
    if error[1] == 0 or error[0] <= 0.0:
        return None, None
    f = line[0] / line[1] / (error[0] / error[1])
    return f, float(fdtrc(line[1], error[1], f))


def _table(
    rows: dict[str, _Line], error: _Line, interaction_test: tuple[float | None, float | None]
) -> tuple[AnovaRow, ...]:
    tests = {"reader": _f_test(rows["reader"], error), "scar": _f_test(rows["scar"], error)}
    tests["interaction"] = interaction_test
    return tuple(
        AnovaRow(
            source,
            squares,
            df,
            squares / df if df and source != "total" else None,
            *tests.get(source, (None, None)),
        )
        for source, (squares, df) in rows.items()
    )


def _components(
    rows: dict[str, _Line], error: _Line, pooled: bool, shape: tuple[int, ...], confidence: float
) -> tuple[ReadingComponent, ...]:
    """Each source as a combination of the mean squares of scar, reader, error and, unpooled, repeats."""
    o, p, r = shape
    lines = [rows["scar"], rows["reader"], error] + ([] if pooled else [rows["repeats"]])
    squares = np.array([line[0] / line[1] for line in lines])
    parts = {
        "repeats": [0.0, 0.0, 1.0] if pooled else [0.0, 0.0, 0.0, 1.0],
        "reader": [0.0, 1.0 / (p * r), -1.0 / (p * r)],
        "interaction": [0.0, 0.0, 0.0] if pooled else [0.0, 0.0, 1.0 / r, -1.0 / r],
        "scar": [1.0 / (o * r), 0.0, -1.0 / (o * r)],
    }
    weights = {name: np.pad(part, (0, len(lines) - len(part))) for name, part in parts.items()}
    weights["reading"] = weights["repeats"] + weights["reader"] + weights["interaction"]
    weights["total"] = weights["reading"] + weights["scar"]
    floored = {name: max(float(weights[name] @ squares), 0.0) for name in parts}
    floored["reading"] = floored["repeats"] + floored["reader"] + floored["interaction"]
    floored["total"] = floored["reading"] + floored["scar"]
    shown = ["repeats", "reader", *([] if pooled else ["interaction"]), "reading", "scar", "total"]
    limits = {
        name: variance_component(weights[name], squares, [line[1] for line in lines], confidence)
        for name in shown
    }
    # A sum of floored parts can pass the limit of the unfloored sum: the interval is widened to hold it.
    return tuple(
        ReadingComponent(
            name,
            floored[name],
            min(limits[name].low, floored[name]),
            max(limits[name].high, floored[name]),
            floored[name] / floored["total"] if floored["total"] > 0.0 else math.nan,
            math.sqrt(floored[name] / floored["total"]) if floored["total"] > 0.0 else math.nan,
        )
        for name in shown
    )


def _category_ratio(components: tuple[ReadingComponent, ...]) -> float | None:
    variance = {component.source: component.variance for component in components}
    if variance["reading"] <= 0.0:
        return None
    return 1.41 * math.sqrt(variance["scar"] / variance["reading"])


def _note(shape: tuple[int, ...]) -> str | None:
    o, p, r = shape
    sentences = []
    if r == 1:
        sentences.append(
            "Each scar was read once by each reader: the interaction cannot be told from the repeats."
        )
    if o < 3 or p < 5:
        sentences.append(f"{o} readers and {p} scars are few: the intervals for readers or scars are wide.")
    return " ".join(sentences) or None
