"""Bench against service: four quantities on both sides, their ratio, and which side is harder."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

EVEN_WITHIN = 0.10
"""A ratio this near to 1 is called even [-] (own rule)."""


@dataclass(frozen=True)
class Duty:
    """What a sliding contact goes through, on the bench or in service.

    Attributes
    ----------
    pressure : float or None
        Mean pressure on the contact [Pa]; None or NaN when not known.
    speed : float or None
        Sliding speed [m/s].
    distance : float or None
        Sliding distance in the time looked at [m].
    """

    pressure: float | None
    speed: float | None
    distance: float | None


@dataclass(frozen=True)
class SeverityRow:
    """One line of the comparison.

    Attributes
    ----------
    quantity : str
        ``pressure``, ``sliding speed``, ``pressure times speed`` or ``sliding distance``.
    unit : str
        SI unit of both values.
    bench, service : float or None
        The two values, None when not known.
    ratio : float or None
        Bench over service [-], None when there is none.
    verdict : str
        ``bench more severe``, ``bench less severe``, ``even`` or ``not computed``.
    sentence : str
        Plain sentence for the report.
    """

    quantity: str
    unit: str
    bench: float | None
    service: float | None
    ratio: float | None
    verdict: str
    sentence: str


def bench_against_service(bench: Duty, service: Duty) -> tuple[SeverityRow, ...]:
    """Set the bench test against the service duty, quantity by quantity.

    More pressure, speed, their product, or distance counts as more severe. Speed is the exception in one
    respect, and the sentence says so: it makes heat but also draws oil in, so a fast bench is kinder to the
    film.

    Parameters
    ----------
    bench : Duty
        The bench's end state: scar pressure [Pa], sliding speed [m/s], sliding distance [m].
    service : Duty
        The service duty: joint pressure [Pa], joint speed [m/s], sliding distance in the time looked at [m].

    Returns
    -------
    tuple of SeverityRow
        Pressure, speed, pressure times speed, distance.

    References
    ----------
    Common practice: pressure, speed and their product as the measures of a dry or boundary bearing's duty.

    Examples
    --------
    >>> rows = bench_against_service(Duty(120e6, 1.466, 88.0), Duty(17.9e6, 0.028, 4.0))
    >>> rows[0].sentence
    'The bench presses 6.7 times as hard as the service: more severe in pressure.'
    >>> [row.verdict for row in rows]
    ['bench more severe', 'bench more severe', 'bench more severe', 'bench more severe']
    """
    return (
        _row("pressure", "Pa", bench.pressure, service.pressure),
        _row("sliding speed", "m/s", bench.speed, service.speed),
        _row("pressure times speed", "W/m^2", _product(bench), _product(service)),
        _row("sliding distance", "m", bench.distance, service.distance),
    )


_VERBS = {
    "pressure": ("presses", "as hard as", "in pressure"),
    "sliding speed": ("slides", "as fast as", "in heat, though speed also draws oil into the contact"),
    "pressure times speed": ("loads the surface", "as much, by pressure times speed, as", "in heat per area"),
    "sliding distance": ("slides", "as far as", "in distance"),
}


def _product(duty: Duty) -> float | None:
    pressure, speed = _known(duty.pressure), _known(duty.speed)
    return None if pressure is None or speed is None else pressure * speed


def _known(value: float | None) -> float | None:
    return None if value is None or np.isnan(value) else float(value)


def _row(quantity: str, unit: str, bench: float | None, service: float | None) -> SeverityRow:
    ours, theirs = _known(bench), _known(service)
    if ours is None or theirs is None or theirs <= 0 or ours < 0:
        return SeverityRow(
            quantity, unit, ours, theirs, None, "not computed", _why_not(quantity, ours, theirs)
        )
    ratio = ours / theirs
    verb, scale, manner = _VERBS[quantity]
    verdict = _verdict(ratio)
    if verdict == "even":
        sentence = f"The bench {verb} about {scale} the service does."
    else:
        word = "more severe" if ratio > 1 else "less severe"
        sentence = f"The bench {verb} {_times(ratio)} {scale} the service: {word} {manner}."
    return SeverityRow(quantity, unit, ours, theirs, ratio, verdict, sentence)


def _verdict(ratio: float) -> str:
    if 1.0 / (1.0 + EVEN_WITHIN) <= ratio <= 1.0 + EVEN_WITHIN:
        return "even"
    return "bench more severe" if ratio > 1 else "bench less severe"


def _times(ratio: float) -> str:
    return f"{ratio:.2g} times" if ratio < 100 else f"{ratio:.0f} times"


def _why_not(quantity: str, bench: float | None, service: float | None) -> str:
    missing = [side for side, value in (("bench", bench), ("service", service)) if value is None]
    if missing:
        return f"Not computed, because the {quantity} of the {' and of the '.join(missing)} is not known."
    return f"Not computed, because a {quantity} of zero or less has no ratio."
