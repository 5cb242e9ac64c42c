"""Control charts for a reference oil on one rig: individuals with moving ranges, EWMA, run rules, periods.

Positive responses are charted on their logarithms, as they are analysed. A one-way analysis of variance keeps
its digits where the groups share many leading ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc

from pinscar.stats.estimates import stable_mean, sum_of_squares

# Constants for ranges of two values, as control chart tables print them.
D2 = 1.128
D4 = 3.267
FEW_POINTS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class IndividualsChart:
    """An individuals and moving range chart.

    Parameters
    ----------
    values : ndarray
        Charted values in order of time.
    centre, sigma : float
        Centre line, and standard deviation from the moving ranges.
    lower, upper : float
        Limits at three sigma.
    moving_ranges : ndarray
        Distance of each value from the one before, one fewer than values.
    mean_moving_range, moving_range_upper : float
        Their mean over the baseline and upper limit; the lower limit is zero.
    n_baseline : int
        Values that the centre and the sigma rest on.
    note : str or None
        A plain sentence where the limits rest on few values.
    """

    values: NDArray[np.float64]
    centre: float
    sigma: float
    lower: float
    upper: float
    moving_ranges: NDArray[np.float64]
    mean_moving_range: float
    moving_range_upper: float
    n_baseline: int
    note: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EwmaChart:
    """A chart of the exponentially weighted moving average.

    Parameters
    ----------
    averages : ndarray
        The average after each value.
    centre, sigma, weight, width : float
        Centre, standard deviation of a value, weight of the newest value, and limits in sigmas of the
        average.
    lower, upper : ndarray
        Limits for each average.
    beyond : ndarray of bool
        Where the average is beyond a limit.
    """

    averages: NDArray[np.float64]
    centre: float
    sigma: float
    weight: float
    width: float
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    beyond: NDArray[np.bool_]


def individuals_chart(values: ArrayLike, baseline: ArrayLike | None = None) -> IndividualsChart:
    r"""Chart single values with limits from their moving ranges.

    .. math:: \hat\sigma = \overline{MR} / 1.128, \quad \bar x \pm 3 \hat\sigma, \quad MR_{max} =
    3.267\,\overline{MR}

    The moving range sees the short-term spread only, so a slow drift does not widen the limits. Independent,
    roughly normal values are assumed.

    Parameters
    ----------
    values : array_like
        Values in order of time [any one unit], shape (n,), finite.
    baseline : array_like of bool, optional
        Values that the limits rest on, shape (n,); all where left out. Ranges count between neighbours that
        are both in the baseline.

    Returns
    -------
    IndividualsChart
        Centre, sigma, limits and moving ranges.

    Raises
    ------
    ValueError
        Where the baseline holds no two neighbours, or these do not vary.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; ISO 7870-2:2013 (control charts).

    Examples
    --------
    >>> chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.centre, 2), round(chart.upper, 3), round(chart.lower, 3)
    (50.81, 55.804, 45.816)
    """
    x = _vector(values)
    used = np.ones(x.size, dtype=bool) if baseline is None else np.asarray(baseline, dtype=bool)
    if used.shape != x.shape:
        raise ValueError(f"baseline has shape {used.shape}, it must be that of the values {x.shape}")
    ranges = np.abs(np.diff(x))
    counted = ranges[used[1:] & used[:-1]]
    if counted.size == 0 or not bool(np.any(counted > 0.0)):
        raise ValueError("the baseline holds no neighbouring values that differ: no limits can be set")
    centre, mean_range, n = float(np.mean(x[used])), float(np.mean(counted)), int(np.sum(used))
    sigma = mean_range / D2
    note = (
        None
        if n >= FEW_POINTS
        else f"Limits from {n} values are provisional ({FEW_POINTS} are the usual minimum)."
    )
    return IndividualsChart(
        values=x,
        centre=centre,
        sigma=sigma,
        lower=centre - 3.0 * sigma,
        upper=centre + 3.0 * sigma,
        moving_ranges=ranges,
        mean_moving_range=mean_range,
        moving_range_upper=D4 * mean_range,
        n_baseline=n,
        note=note,
    )


def ewma_chart(
    values: ArrayLike,
    centre: float,
    sigma: float,
    weight: float = 0.3,
    width: float = 3.0,
    exact_limits: bool = True,
) -> EwmaChart:
    r"""Chart the exponentially weighted moving average, which sees small lasting shifts.

    .. math::
        z_i = \lambda x_i + (1 - \lambda) z_{i-1}, \quad z_0 = \text{centre}, \quad
        \text{centre} \pm L \sigma \sqrt{\frac{\lambda}{2 - \lambda} \left(1 - (1 - \lambda)^{2 i}\right)}

    Without `exact_limits` the last factor is left out: the limits are then the same for all points.

    Parameters
    ----------
    values : array_like
        Values in order of time [any one unit], shape (n,), finite.
    centre : float
        Centre, known or from a baseline [the unit of the values].
    sigma : float
        Standard deviation of one value [the unit of the values], positive.
    weight : float
        Weight of the newest value [-], over 0 up to 1.
    width : float
        Limits in standard deviations of the average [-], positive.
    exact_limits : bool
        Whether the limits start narrow and open to their final width.

    Returns
    -------
    EwmaChart
        Averages, limits, and which averages are beyond them.

    Raises
    ------
    ValueError
        Where sigma, weight or width is out of range.

    References
    ----------
    S. W. Roberts, Control chart tests based on geometric moving averages, 1959; NIST/SEMATECH e-Handbook of
    Statistical Methods, 6.3.2.4.

    Examples
    --------
    >>> chart = ewma_chart([52.0, 47.0, 53.0, 49.3], 50.0, 2.0539, exact_limits=False)
    >>> chart.averages.round(2), round(float(chart.upper[0]), 3)
    (array([50.6 , 49.52, 50.56, 50.18]), 52.588)
    """
    x = _vector(values)
    if not (sigma > 0.0 and 0.0 < weight <= 1.0 and width > 0.0):
        raise ValueError(f"sigma {sigma}, weight {weight}, width {width}: out of range")
    averages, last = np.empty_like(x), centre
    for position, value in enumerate(x.tolist()):
        last = weight * value + (1.0 - weight) * last
        averages[position] = last
    opening = 1.0 - (1.0 - weight) ** (2 * np.arange(1, x.size + 1)) if exact_limits else np.ones_like(x)
    half = width * sigma * np.sqrt(weight / (2.0 - weight) * opening)
    beyond = np.abs(averages - centre) > half
    return EwmaChart(
        averages=averages,
        centre=centre,
        sigma=sigma,
        weight=weight,
        width=width,
        lower=centre - half,
        upper=centre + half,
        beyond=beyond,
    )


def _vector(values: ArrayLike) -> NDArray[np.float64]:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.size == 0 or not bool(np.all(np.isfinite(x))):
        raise ValueError("values must be a row of one or more finite numbers")
    return x


RULES = MappingProxyType(
    {
        1: "one point beyond three sigma",
        2: "nine points in a row on one side of the centre",
        3: "six points in a row, each higher or each lower than the one before",
        4: "fourteen points in a row, going up and down by turns",
        5: "two of three points in a row beyond two sigma on one side",
        6: "four of five points in a row beyond one sigma on one side",
        7: "fifteen points in a row within one sigma",
        8: "eight points in a row, none within one sigma",
        9: "the exponentially weighted moving average beyond its limits",
    }
)

SEEN = MappingProxyType(
    {
        1: "one point beyond 3 sigma",
        2: "nine in a row on one side",
        3: "six in a row rising or falling",
        4: "fourteen in a row up and down by turns",
        5: "two of three beyond 2 sigma",
        6: "four of five beyond 1 sigma",
        7: "fifteen in a row within 1 sigma",
        8: "eight in a row, none within 1 sigma",
        9: "moving average beyond its limits",
    }
)
"""What was seen where a rule was triggered, short enough for a table; readers need no number."""

# Rules 3, 4, 7 and 8 look for particular causes and raise many false alarms when added as a matter of course.
USUAL_RULES = (1, 2, 5, 6)


@dataclass(frozen=True, slots=True)
class Signal:
    """A stretch of points that a run rule points at.

    Parameters
    ----------
    rule : int
        Number of the rule.
    first, last : int
        Positions of its first and last point.
    """

    rule: int
    first: int
    last: int


def seen(rules: Iterable[int]) -> list[str]:
    """Say what was seen where rules were triggered.

    Parameters
    ----------
    rules : iterable of int
        Numbers of the rules, from 1 to 9.

    Returns
    -------
    list of str
        A few words for each.

    References
    ----------
    Own wording of the rules of Nelson, see `run_rule_signals`.

    Examples
    --------
    >>> seen([1, 2])
    ['one point beyond 3 sigma', 'nine in a row on one side']
    """
    return [SEEN[rule] for rule in rules]


def run_rule_signals(
    values: ArrayLike, centre: float, sigma: float, rules: Sequence[int] = USUAL_RULES
) -> list[Signal]:
    """Find the stretches of points that the run rules 1 to 8 point at.

    Windows of one rule that overlap are joined to one signal. A point exactly on the centre is on neither
    side, one exactly on a sigma line is not beyond it.

    Parameters
    ----------
    values : array_like
        Values in order of time [any one unit], shape (n,), finite.
    centre : float
        Centre line [the unit of the values].
    sigma : float
        Standard deviation of one value [the unit of the values], positive.
    rules : sequence of int
        Numbers of the rules to apply, from 1 to 8.

    Returns
    -------
    list of Signal
        Signals, by first point, then rule.

    Raises
    ------
    ValueError
        Where sigma is not positive or a number is none of the rules.

    References
    ----------
    L. S. Nelson, The Shewhart control chart: tests for special causes, Journal of Quality Technology 16,
    1984, 237-239 (eight tests; his numbers 1 to 8).

    Examples
    --------
    >>> run_rule_signals([0.1, -0.2, 3.5, 0.3], 0.0, 1.0)
    [Signal(rule=1, first=2, last=2)]
    """
    if not sigma > 0.0:
        raise ValueError(f"sigma is {sigma}, it must be positive")
    unknown = [rule for rule in rules if rule not in _WINDOWS and rule not in _ZONES]
    if unknown:
        raise ValueError(f"rule {unknown[0]} is none of the rules 1 to 8")
    z = (np.asarray(values, dtype=np.float64) - centre) / sigma
    found = [signal for rule in rules for signal in _join(rule, _windows(z, rule))]
    return sorted(found, key=lambda signal: (signal.first, signal.rule))


def ewma_signals(beyond: ArrayLike) -> list[Signal]:
    """Turn the points where an average is beyond its limits into signals of rule 9.

    Parameters
    ----------
    beyond : array_like of bool
        Where the average is beyond a limit, shape (n,).

    Returns
    -------
    list of Signal
        One signal for each unbroken stretch.

    References
    ----------
    S. W. Roberts, Control chart tests based on geometric moving averages, 1959.

    Examples
    --------
    >>> ewma_signals([False, True, True, False, True])
    [Signal(rule=9, first=1, last=2), Signal(rule=9, first=4, last=4)]
    """
    hits = [(int(position), int(position)) for position in np.flatnonzero(np.asarray(beyond, dtype=bool))]
    return _join(9, hits, gap=1)


def _windows(z: NDArray[np.float64], rule: int) -> list[tuple[int, int]]:
    """First and last point of every window that breaks the rule."""
    if rule in _ZONES:
        return [*_zone_windows(z, *_ZONES[rule]), *_zone_windows(-z, *_ZONES[rule])]
    length, breaks = _WINDOWS[rule]
    return [
        (start, start + length - 1)
        for start in range(z.size - length + 1)
        if breaks(z[start : start + length])
    ]


def _zone_windows(z: NDArray[np.float64], wanted: int, length: int, sigmas: float) -> list[tuple[int, int]]:
    """Stretches of at most the length, from one point beyond to another, with the wanted number of them."""
    windows = []
    for last in np.flatnonzero(z > sigmas):
        start = max(0, int(last) - length + 1)
        beyond = start + np.flatnonzero(z[start : last + 1] > sigmas)
        if beyond.size >= wanted:
            windows.append((int(beyond[0]), int(last)))
    return windows


def _join(rule: int, windows: list[tuple[int, int]], gap: int = 0) -> list[Signal]:
    signals: list[Signal] = []
    for first, last in sorted(windows):
        if signals and first <= signals[-1].last + gap:
            signals[-1] = Signal(rule, signals[-1].first, max(last, signals[-1].last))
        else:
            signals.append(Signal(rule, first, last))
    return signals


def _same_side(z: NDArray[np.float64]) -> bool:
    return bool(np.all(z > 0.0) or np.all(z < 0.0))


def _steady(z: NDArray[np.float64]) -> bool:
    steps = np.diff(z)
    return bool(np.all(steps > 0.0) or np.all(steps < 0.0))


def _alternating(z: NDArray[np.float64]) -> bool:
    steps = np.diff(z)
    return bool(np.all(steps[1:] * steps[:-1] < 0.0))


# Rule: points beyond, of how many in a row, distance in sigma.
_ZONES = MappingProxyType({5: (2, 3, 2.0), 6: (4, 5, 1.0)})

_WINDOWS: MappingProxyType[int, tuple[int, Callable[[NDArray[np.float64]], bool]]] = MappingProxyType(
    {
        1: (1, lambda z: bool(abs(z[0]) > 3.0)),
        2: (9, _same_side),
        3: (6, _steady),
        4: (14, _alternating),
        7: (15, lambda z: bool(np.all(np.abs(z) < 1.0))),
        8: (8, lambda z: bool(np.all(np.abs(z) > 1.0))),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutOfControlPeriod:
    """A stretch of time in which the rig was out of control.

    Parameters
    ----------
    start, end : numpy.datetime64
        Time of the first and of the last point that a rule points at.
    last_good_before, first_good_after : numpy.datetime64 or None
        Times of the neighbouring points that triggered no rule; None where there is none (yet).
    rules : tuple of int
        Numbers of the rules.
    first, last : int
        Positions of the first and the last point, in order of time.
    statement : str
        The rules in words.
    """

    start: np.datetime64
    end: np.datetime64
    last_good_before: np.datetime64 | None
    first_good_after: np.datetime64 | None
    rules: tuple[int, ...]
    first: int
    last: int
    statement: str


@dataclass(frozen=True, slots=True)
class RigControl:
    """Control of a rig on its reference oil.

    Parameters
    ----------
    times : ndarray of datetime64
        Times in order.
    individuals : IndividualsChart
        Individuals and moving ranges.
    ewma : EwmaChart
        Exponentially weighted moving average.
    signals : tuple of Signal
        All signals.
    periods : tuple of OutOfControlPeriod
        Stretches of time out of control.
    """

    times: NDArray[np.datetime64]
    individuals: IndividualsChart
    ewma: EwmaChart
    signals: tuple[Signal, ...]
    periods: tuple[OutOfControlPeriod, ...]


def rig_control(
    times: ArrayLike,
    values: ArrayLike,
    baseline: ArrayLike | None = None,
    rules: Sequence[int] = USUAL_RULES,
    weight: float = 0.3,
) -> RigControl:
    """Chart the reference oil of a rig over time and find when the rig was out of control.

    Values are put in order of time; of equal times the given order is kept. Centre and sigma of both charts
    come from the baseline.

    Parameters
    ----------
    times : array_like of datetime64
        Time of each run, shape (n,), none missing.
    values : array_like
        Response of each run on the scale of analysis [any one unit], shape (n,), finite.
    baseline : array_like of bool, optional
        Runs that the limits rest on, shape (n,); all where left out.
    rules : sequence of int
        Numbers of the run rules to apply, from 1 to 8; rule 9, the moving average, always applies.
    weight : float
        Weight of the newest value in the moving average [-].

    Returns
    -------
    RigControl
        Charts, signals and periods.

    Raises
    ------
    ValueError
        Where lengths differ, a time is missing, or as the charts.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 and 6.3.2.4; L. S. Nelson, 1984.

    Examples
    --------
    >>> days = np.arange("2024-03-01", "2024-03-09", dtype="datetime64[D]")
    >>> study = rig_control(days, [1.0, 1.2, 0.9, 1.1, 1.0, 3.0, 1.1, 0.9], baseline=[True] * 5 + [False] * 3)
    >>> [(str(period.start), period.rules) for period in study.periods]
    [('2024-03-06', (1, 9))]
    """
    when, x = np.asarray(times, dtype="datetime64"), np.asarray(values, dtype=np.float64)
    if when.shape != x.shape or when.ndim != 1:
        raise ValueError("times and values must be rows of equal length")
    if bool(np.any(np.isnat(when))):
        raise ValueError("times must be known for every run: one is missing")
    order = np.argsort(when, kind="stable")
    used = None if baseline is None else np.asarray(baseline, dtype=bool)[order]
    chart = individuals_chart(x[order], used)
    average = ewma_chart(x[order], chart.centre, chart.sigma, weight)
    signals = run_rule_signals(x[order], chart.centre, chart.sigma, rules) + ewma_signals(average.beyond)
    return RigControl(
        when[order], chart, average, tuple(signals), out_of_control_periods(when[order], signals)
    )


def out_of_control_periods(times: ArrayLike, signals: Sequence[Signal]) -> tuple[OutOfControlPeriod, ...]:
    """Join signals whose points overlap or touch to periods of time.

    Parameters
    ----------
    times : array_like of datetime64
        Times of all points in order, shape (n,).
    signals : sequence of Signal
        Signals of any rules.

    Returns
    -------
    tuple of OutOfControlPeriod
        Periods in order of time.

    References
    ----------
    Own derivation: union of intervals of points.

    Examples
    --------
    >>> days = np.arange("2024-03-01", "2024-03-06", dtype="datetime64[D]")
    >>> periods = out_of_control_periods(days, [Signal(1, 1, 1), Signal(5, 1, 3)])
    >>> [(str(p.start), str(p.end), str(p.first_good_after), p.rules) for p in periods]
    [('2024-03-02', '2024-03-04', '2024-03-05', (1, 5))]
    """
    when = np.asarray(times, dtype="datetime64")
    stretches: list[list[Signal]] = []
    for signal in sorted(signals, key=lambda s: (s.first, s.last)):
        if stretches and signal.first <= max(s.last for s in stretches[-1]) + 1:
            stretches[-1].append(signal)
        else:
            stretches.append([signal])
    return tuple(_period(when, stretch) for stretch in stretches)


def periods_touching(
    periods: Sequence[OutOfControlPeriod], first: np.datetime64, last: np.datetime64
) -> tuple[OutOfControlPeriod, ...]:
    """Select the periods in which runs between two times may have been made.

    A period reaches from the last good point before it to the first good one after it: what happened between
    them is unknown. One without a good point after it is still open.

    Parameters
    ----------
    periods : sequence of OutOfControlPeriod
        Periods of a rig.
    first : numpy.datetime64
        Time of the first run in question.
    last : numpy.datetime64
        Time of the last run in question.

    Returns
    -------
    tuple of OutOfControlPeriod
        Those that touch the runs.

    References
    ----------
    Own derivation: overlap of intervals.

    Examples
    --------
    >>> days = np.arange("2024-03-01", "2024-03-06", dtype="datetime64[D]")
    >>> periods = out_of_control_periods(days, [Signal(1, 1, 1)])
    >>> len(periods_touching(periods, np.datetime64("2024-03-02"), np.datetime64("2024-03-09")))
    1
    >>> len(periods_touching(periods, np.datetime64("2024-03-04"), np.datetime64("2024-03-09")))
    0
    """
    return tuple(
        period
        for period in periods
        if (period.first_good_after is None or first < period.first_good_after)
        and (period.last_good_before is None or last > period.last_good_before)
    )


def _period(times: NDArray[np.datetime64], stretch: list[Signal]) -> OutOfControlPeriod:
    first, last = stretch[0].first, max(signal.last for signal in stretch)
    rules = tuple(sorted({signal.rule for signal in stretch}))
    words = "; ".join(RULES[rule] for rule in rules)
    return OutOfControlPeriod(
        start=times[first],
        end=times[last],
        last_good_before=times[first - 1] if first > 0 else None,
        first_good_after=times[last + 1] if last + 1 < times.size else None,
        rules=rules,
        first=first,
        last=last,
        statement=words,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWayAnova:
    """A one-way analysis of variance.

    Parameters
    ----------
    n : tuple of int
        Values in each group.
    means : tuple of float
        Mean of each group.
    sum_of_squares_between, sum_of_squares_within : float
        Sums of squares between and within the groups.
    df_between, df_within : int
        Their degrees of freedom.
    f : float or None
        Ratio of the mean squares; None where nothing varies within the groups.
    p : float or None
        Probability of a larger ratio where all groups have one mean.
    residual_sd : float
        Root of the mean square within.
    """

    n: tuple[int, ...]
    means: tuple[float, ...]
    sum_of_squares_between: float
    sum_of_squares_within: float
    df_between: int
    df_within: int
    f: float | None
    p: float | None
    residual_sd: float


def one_way_anova(groups: Sequence[ArrayLike]) -> OneWayAnova:
    r"""Analyse the variance of several groups into that between and that within them.

    .. math::
        F = \frac{\sum_i n_i (\bar x_i - \bar x)^2 / (k - 1)}{\sum_i \sum_j (x_{ij} - \bar x_i)^2 / (N - k)}

    All sums are of deviations, summed exactly; none is a difference of large squares. Normal values of equal
    variance are assumed.

    Parameters
    ----------
    groups : sequence of array_like
        Values of each group [any one unit], each of shape (n_i,); at least two groups, and
        more values than groups.

    Returns
    -------
    OneWayAnova
        Sums of squares, degrees of freedom, F, p and the residual standard deviation.

    Raises
    ------
    ValueError
        Where there are fewer than two groups, or no more values than groups.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3.3 and 7.4.3.4.

    Examples
    --------
    >>> result = one_way_anova([[1, 2, 3], [2, 3, 4]])
    >>> round(result.f, 9), result.df_between, result.df_within
    (1.5, 1, 4)
    """
    arrays = [np.asarray(group, dtype=np.float64) for group in groups]
    sizes = [array.size for array in arrays]
    if len(arrays) < 2 or sum(sizes) <= len(arrays):
        raise ValueError(f"{len(arrays)} groups of {sum(sizes)} values: needs two groups and a repeated one")
    origin = float(arrays[0].flat[0]) if sizes[0] else 0.0
    # Means about a common origin keep the digits in which the groups differ.
    shifted = [stable_mean(array - origin) for array in arrays]
    grand = math.fsum(n * mean for n, mean in zip(sizes, shifted, strict=True)) / sum(sizes)
    between = math.fsum(n * (mean - grand) ** 2 for n, mean in zip(sizes, shifted, strict=True))
    within = math.fsum(sum_of_squares(array) for array in arrays)
    df_between, df_within = len(arrays) - 1, sum(sizes) - len(arrays)
    mean_square = within / df_within
    f = between / df_between / mean_square if mean_square > 0.0 else None
    return OneWayAnova(
        n=tuple(sizes),
        means=tuple(origin + mean for mean in shifted),
        sum_of_squares_between=between,
        sum_of_squares_within=within,
        df_between=df_between,
        df_within=df_within,
        f=f,
        p=None if f is None else float(fdtrc(df_between, df_within, f)),
        residual_sd=math.sqrt(mean_square),
    )
