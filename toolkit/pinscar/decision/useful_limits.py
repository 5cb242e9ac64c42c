"""Limits that tell something: one that lies out of all reason is no limit, and the note says why."""

from __future__ import annotations

from dataclasses import replace

from pinscar.stats.checks import Estimate
from pinscar.stats.family import Comparison

FARTHEST = 1000.0
"""Factor from the estimate beyond which a limit tells nothing that anybody at a bench doubts."""
FAR = "no {which} from these data: over {factor:.0f} times away, since {why}"
BOUNDS = "runs are bounds"
FEW = "the runs are few and scatter widely"


def useful_estimate(found: Estimate) -> Estimate:
    """Leave out the limits of an estimate on the log scale that lie out of all reason.

    Examples
    --------
    >>> far = Estimate(2, 0, 1.0, 1e-5, 1e5, 0.95, "log", 1.0, 1.0, "t interval")
    >>> useful_estimate(far).low is None, useful_estimate(far).note[:24]
    (True, 'no limits from these dat')
    """
    if found.scale != "log" or found.estimate is None:
        return found
    low, high = _kept(found.estimate, found.low, found.high)
    note = _note((found.low, low), (found.high, high), found.n_censored)
    return found if note is None else replace(found, low=low, high=high, note=_joined(note, found.note))


def useful_comparison(found: Comparison) -> Comparison:
    """Leave out the limits of a ratio that lie out of all reason; without any limit there is no p either."""
    if found.ratio is None:
        return found
    low, high = _kept(found.ratio, found.low, found.high)
    note = _note((found.low, low), (found.high, high), found.n_censored + found.n_censored_reference)
    if note is None:
        return found
    p = None if low is None and high is None else found.p_adjusted
    return replace(found, low=low, high=high, p_adjusted=p, note=_joined(note, found.note))


def _kept(estimate: float, low: float | None, high: float | None) -> tuple[float | None, float | None]:
    return (
        None if low is None or low < estimate / FARTHEST else low,
        None if high is None or high > estimate * FARTHEST else high,
    )


def _note(
    low: tuple[float | None, float | None], high: tuple[float | None, float | None], bounds: int
) -> str | None:
    lost = [kept is None and had is not None for had, kept in (low, high)]
    if not any(lost):
        return None
    which = "limits" if all(lost) else "lower limit" if lost[0] else "upper limit"
    return FAR.format(which=which, factor=FARTHEST, why=BOUNDS if bounds else FEW)


def _joined(note: str, other: str | None) -> str:
    return note if other is None else f"{note}; {other}"
