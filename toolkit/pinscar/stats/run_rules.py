"""Run rules of a control chart: by number inside, by what was seen for readers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
