"""When a rig was out of control, from the runs of its reference oil in order of time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.control import EwmaChart, IndividualsChart, ewma_chart, individuals_chart
from pinscar.stats.run_rules import RULES, USUAL_RULES, Signal, ewma_signals, run_rule_signals


@dataclass(frozen=True, slots=True)
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

    A period reaches from the last good point before it to the first good one after it: between these nobody
    knows. One without a good point after it is still open.

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
