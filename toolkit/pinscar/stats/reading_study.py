"""Reading study: how much of the spread of scar readings is the scars, the readers and the repeats.

Intervals of variance components are those of sums of independent mean squares. The layout is the largest
complete one in a list of readings. Bias is against a certified length.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri, fdtrc, fdtri

from pinscar.stats.estimates import stable_mean, standard_deviation
from pinscar.stats.uncertainty import combine, t_factor

METHOD = "modified large sample interval (Graybill and Wang 1980; Ting and others 1990)"


@dataclass(frozen=True, slots=True)
class VarianceComponent:
    """A variance, or a sum of variances, with its interval.

    Parameters
    ----------
    estimate : float
        The combination of mean squares, which chance can make negative.
    low, high : float
        Confidence limits, neither under zero.
    """

    estimate: float
    low: float
    high: float


def variance_component(
    coefficients: ArrayLike, mean_squares: ArrayLike, degrees_of_freedom: ArrayLike, confidence: float = 0.95
) -> VarianceComponent:
    r"""Estimate a linear combination of mean squares, with a modified large sample interval.

    .. math:: \hat\gamma = \sum_i c_i S_i^2, \quad L = \hat\gamma - \sqrt{V_L}, \quad U = \hat\gamma +
    \sqrt{V_U}

    .. math:: V_L = \sum_{c_q > 0} G_q^2 c_q^2 S_q^4 + \sum_{c_r < 0} H_r^2 c_r^2 S_r^4
              + \sum_{q, r} G_{qr}\, c_q |c_r|\, S_q^2 S_r^2

    with :math:`G = 1 - 1/F_{\alpha;n,\infty}`, :math:`H = 1/F_{1-\alpha;n,\infty} - 1` and
    :math:`G_{qr} = ((F - 1)^2 - G_q^2 F^2 - H_r^2)/F`, F the upper quantile for n_q and n_r degrees of
    freedom; the upper limit exchanges G and H and takes the lower quantile. For one mean square it is the
    exact chi-square interval. Independent mean squares of normal errors are assumed.

    Parameters
    ----------
    coefficients : array_like
        Coefficients c_i [-], shape (n,).
    mean_squares : array_like
        Mean squares S_i^2 [response squared], shape (n,), zero or more.
    degrees_of_freedom : array_like
        Their degrees of freedom [-], shape (n,), at least 1.
    confidence : float
        Two-sided confidence [-], between 0 and 1.

    Returns
    -------
    VarianceComponent
        Estimate and limits [response squared].

    Raises
    ------
    ValueError
        Where shapes differ or an argument is outside its range.

    References
    ----------
    F. A. Graybill and C.-M. Wang, Confidence intervals on nonnegative linear combinations of variances, 1980;
    N. Ting, R. K. Burdick, F. A. Graybill, S. Jeyaratnam and T.-F. C. Lu, Confidence intervals on linear
    combinations of variance components that are unrestricted in sign, 1990.

    Examples
    --------
    One mean square of 10 degrees of freedom: 10/20.483 and 10/3.247.

    >>> result = variance_component([1.0], [1.0], [10])
    >>> round(result.low, 3), round(result.high, 3)
    (0.488, 3.08)
    """
    c, squares, n = (np.asarray(v, np.float64) for v in (coefficients, mean_squares, degrees_of_freedom))
    if not c.shape == squares.shape == n.shape or c.ndim != 1:
        raise ValueError("coefficients, mean_squares and degrees_of_freedom must be rows of equal length")
    if bool(np.any(squares < 0.0)) or bool(np.any(n < 1.0)) or not 0.0 < confidence < 1.0:
        raise ValueError("mean squares must be 0 or more, degrees 1 or more, confidence between 0 and 1")
    alpha = (1.0 - confidence) / 2.0
    terms = c * squares
    estimate = float(np.sum(terms))
    low = estimate - math.sqrt(_half_width_squared(terms, n, alpha))
    high = estimate + math.sqrt(_half_width_squared(-terms, n, alpha))
    return VarianceComponent(estimate, max(low, 0.0), max(high, 0.0))


def _half_width_squared(terms: NDArray[np.float64], n: NDArray[np.float64], alpha: float) -> float:
    """Squared distance to the lower limit; for the upper one the signs of the terms are exchanged."""
    g = 1.0 - n / chdtri(n, alpha)
    h = n / chdtri(n, 1.0 - alpha) - 1.0
    total = float(np.sum(np.where(terms > 0.0, g, h) ** 2 * terms**2))
    for q in np.flatnonzero(terms > 0.0):
        for r in np.flatnonzero(terms < 0.0):
            f = float(fdtri(n[q], n[r], 1.0 - alpha))
            cross = ((f - 1.0) ** 2 - g[q] ** 2 * f**2 - h[r] ** 2) / f
            total += float(cross * terms[q] * -terms[r])
    return max(total, 0.0)


POOL_ABOVE = 0.25
POOLING_RULE = (
    "The reader by scar interaction is pooled with the repeats when its F test gives p above {limit:g}; "
    "otherwise it counts as a source of its own."
)
POOLING_REASON = (
    "The limit is high (0.25: Underwood, Experiments in Ecology, 1997) because few readers show a real "
    "interaction only faintly: at 0.05 it would often be pooled away."
)


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
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


def reading_study(
    values: ArrayLike, confidence: float = 0.95, pool_above: float = POOL_ABOVE
) -> ReadingStudy:
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
        default is Underwood's. Its reason is power: an interaction half as large as the repeats (standard
        deviations; 3 readers, 10 scars, 2 repeats) is kept in 61 % of studies at 0.25 and in 25 % at 0.05,
        one as large as the repeats in 97 % and 83 %. Pooled by mistake, it makes the readers look too far
        apart; kept by mistake, it costs a few degrees of freedom.

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
    3; the 1.41 of the distinct categories is common practice. A. J. Underwood, Experiments in Ecology, 1997,
    for pooling at p above 0.25 (from memory); the shares of studies are own computation from the F
    distribution.

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
        method=_method(pool_above),
        note=_note(x.shape),
    )


def _method(pool_above: float) -> str:
    reason = f" {POOLING_REASON}" if pool_above == POOL_ABOVE else ""
    return f"{POOLING_RULE.format(limit=pool_above)}{reason} Intervals: {METHOD}."


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
    found = []
    for source, (squares, df) in rows.items():
        f, p = tests.get(source, (None, None))
        mean = squares / df if df and source != "total" else None
        found.append(AnovaRow(source=source, sum_of_squares=squares, df=df, mean_square=mean, f=f, p=p))
    return tuple(found)


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
            source=name,
            variance=floored[name],
            low=min(limits[name].low, floored[name]),
            high=max(limits[name].high, floored[name]),
            share_of_variance=floored[name] / floored["total"] if floored["total"] > 0.0 else math.nan,
            share_of_sd=math.sqrt(floored[name] / floored["total"]) if floored["total"] > 0.0 else math.nan,
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


@dataclass(frozen=True, slots=True)
class ReadingLayout:
    """Readings in a complete crossed layout.

    Parameters
    ----------
    readers, scars : tuple of str
        Names along the first two axes.
    values : ndarray
        Readings, shape (readers, scars, repeats).
    left_out : tuple of str
        One plain sentence for each thing that had to stay out.
    """

    readers: tuple[str, ...]
    scars: tuple[str, ...]
    values: NDArray[np.float64]
    left_out: tuple[str, ...]


def reading_layout(readers: ArrayLike, scars: ArrayLike, values: ArrayLike) -> ReadingLayout:
    """Arrange readings as readers x scars x repeats, leaving out what does not fit, with a word about it.

    Every scar that not all readers have read stays out, then every repeat beyond the least number that any
    reader made of any scar; the first ones are kept, in the order of the list.

    Parameters
    ----------
    readers : array_like of str
        Reader of each reading, shape (n,).
    scars : array_like of str
        Scar (run) of each reading, shape (n,).
    values : array_like
        The readings [any one unit], shape (n,); NaN is a reading that was not made.

    Returns
    -------
    ReadingLayout
        Names, readings and what was left out.

    Raises
    ------
    ValueError
        Where the lengths differ, or no two readers have two scars in common.

    References
    ----------
    Own derivation: the crossed analysis of variance needs equal cells.

    Examples
    --------
    >>> layout = reading_layout(["A", "A", "B", "B", "A"], ["1", "2", "1", "2", "3"], [1, 2, 3, 4, 5])
    >>> layout.values.shape, layout.left_out
    ((2, 2, 1), ('Scar 3 was not read by B.',))
    """
    who, what, x = np.asarray(readers, str), np.asarray(scars, str), np.asarray(values, np.float64)
    if not who.shape == what.shape == x.shape or x.ndim != 1:
        raise ValueError("readers, scars and values must be rows of equal length")
    who, what, x = who[np.isfinite(x)], what[np.isfinite(x)], x[np.isfinite(x)]
    names, all_scars = tuple(dict.fromkeys(who.tolist())), tuple(dict.fromkeys(what.tolist()))
    counts = Counter(zip(who.tolist(), what.tolist(), strict=True))
    left_out = []
    kept = []
    for scar in all_scars:
        missing = [name for name in names if not counts[name, scar]]
        kept += [] if missing else [scar]
        left_out += [f"Scar {scar} was not read by {' or '.join(missing)}."] if missing else []
    if len(names) < 2 or len(kept) < 2:
        raise ValueError(f"{len(names)} readers with {len(kept)} scars that all have read: needs two of each")
    repeats = min(counts[name, scar] for name in names for scar in kept)
    surplus = sum(counts[name, scar] - repeats for name in names for scar in kept)
    if surplus:
        left_out.append(f"{surplus} readings beyond the first {repeats} of a reader on a scar stay out.")
    cube = [[x[(who == name) & (what == scar)][:repeats] for scar in kept] for name in names]
    return ReadingLayout(names, tuple(kept), np.array(cube, dtype=np.float64), tuple(left_out))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingBias:
    """Bias of readings against a certified value.

    Parameters
    ----------
    n : int
        Number of readings.
    mean : float
        Their mean.
    certified : float
        The certified value.
    bias : float
        Mean less certified value.
    low, high : float or None
        Confidence limits of the bias; None for a single reading.
    confidence : float
        Two-sided confidence.
    df : float or None
        Effective degrees of freedom.
    shown : bool or None
        Whether the interval leaves out zero; None for a single reading.
    statement : str
        The result in a plain sentence.
    """

    n: int
    mean: float
    certified: float
    bias: float
    low: float | None
    high: float | None
    confidence: float
    df: float | None
    shown: bool | None
    statement: str


def reading_bias(
    readings: ArrayLike, certified: float, confidence: float = 0.95, certificate_uncertainty: float = 0.0
) -> ReadingBias:
    r"""Estimate the bias of repeated readings of a certified length, with a t interval.

    .. math:: b = \bar x - x_0, \quad b \pm t_{\nu} \sqrt{s^2/n + u_0^2}

    The degrees of freedom are n - 1, or with a certificate's uncertainty the effective ones of Welch and
    Satterthwaite (not cut to a whole number). Independent normal readings are assumed.

    Parameters
    ----------
    readings : array_like
        Readings of the certified length [m], shape (n,), finite.
    certified : float
        Certified value x_0 [m], positive.
    confidence : float
        Two-sided confidence [-].
    certificate_uncertainty : float
        Standard uncertainty u_0 of the certified value [m].

    Returns
    -------
    ReadingBias
        Bias, interval and a statement.

    Raises
    ------
    ValueError
        Where the certified value is not positive, the uncertainty is negative or the confidence not in (0,
        1).

    References
    ----------
    JCGM 100:2008 (GUM), 4.2 and G.4; ISO 5725-4:2020 (estimation of bias against an accepted reference
    value).

    Examples
    --------
    >>> result = reading_bias([1.002e-3, 1.004e-3, 1.003e-3], 1e-3)
    >>> print(result.statement)
    The readings are 0.3 % long (interval 0.052 % to 0.55 %): a bias is shown.
    """
    if not certified > 0.0 or not certificate_uncertainty >= 0.0:
        raise ValueError("certified must be positive and certificate_uncertainty zero or more")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence}, it must lie between 0 and 1")
    mean = stable_mean(readings)
    bias = mean - certified
    n = np.asarray(readings).size
    if n == 1:
        statement = f"One reading, {_words(bias / certified)}: single reading, no interval."
        return ReadingBias(
            n=n,
            mean=mean,
            certified=certified,
            bias=bias,
            low=None,
            high=None,
            confidence=confidence,
            df=None,
            shown=None,
            statement=statement,
        )
    error = standard_deviation(readings) / math.sqrt(n)
    combined = combine([1, 1], [error, certificate_uncertainty], degrees_of_freedom=[n - 1, math.inf])
    df = float(combined.degrees_of_freedom or math.inf)
    half = t_factor(df, confidence) * combined.standard_uncertainty
    low, high = bias - half, bias + half
    shown = low > 0.0 or high < 0.0
    statement = _statement(bias / certified, low / certified, high / certified, shown)
    return ReadingBias(
        n=n,
        mean=mean,
        certified=certified,
        bias=bias,
        low=low,
        high=high,
        confidence=confidence,
        df=df,
        shown=shown,
        statement=statement,
    )


def _statement(bias: float, low: float, high: float, shown: bool) -> str:
    interval = f"(interval {100 * low:.2g} % to {100 * high:.2g} %)"
    if shown:
        return f"The readings are {_words(bias)} {interval}: a bias is shown."
    largest = max(abs(low), abs(high))
    return (
        f"The readings are {_words(bias)} {interval}: no bias is shown, and one of more than "
        f"{100 * largest:.2g} % is ruled out."
    )


def _words(bias: float) -> str:
    return f"{100 * abs(bias):.2g} % {'long' if bias >= 0.0 else 'short'}"
