"""Duty of a roller-chain joint: swing, joint pressure and speed; bench against service; chain sizes.

The sprocket is taken as rigid and the chain as running onto it without vibration (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive, read_table

LIFTING = (
    "This says nothing about the strength of a chain or its fitness to lift: the makers' instructions, "
    "lifting rules and a competent person decide."
)
"""Stands beside every number of chain service."""


def _teeth(teeth: ArrayLike) -> FloatArray:
    z = as_floats(teeth)
    if np.any(z < 5) or np.any((z != np.round(z)) & ~np.isnan(z)):
        raise ValueError(f"sprocket_teeth must be whole numbers of at least 5, found {z.flat[0]:g}")
    return z


def pitch_diameter(pitch: ArrayLike, sprocket_teeth: ArrayLike) -> FloatArray:
    r"""Compute the pitch diameter of a sprocket.

    .. math:: D = P / \sin(\pi / z)

    Parameters
    ----------
    pitch : array_like
        Chain pitch P [m], any shape; all arguments broadcast.
    sprocket_teeth : array_like
        Number of teeth z [-], whole, at least 5.

    Returns
    -------
    ndarray
        Pitch diameter [m].

    Raises
    ------
    ValueError
        If a number of teeth is not whole or under 5.

    References
    ----------
    ISO 606, sprockets, pitch circle diameter.

    Examples
    --------
    >>> f"{pitch_diameter(12.7e-3, 14) * 1e3:.2f}"
    '57.07'
    """
    return positive("pitch", pitch) / np.sin(np.pi / _teeth(sprocket_teeth))


def swing_angle(sprocket_teeth: ArrayLike) -> FloatArray:
    r"""Compute the angle that a joint swings through as it runs onto or off a sprocket.

    .. math:: \varphi = 2 \pi / z

    Parameters
    ----------
    sprocket_teeth : array_like
        Number of teeth z [-], any shape.

    Returns
    -------
    ndarray
        Swing angle [rad].

    Raises
    ------
    ValueError
        If a number of teeth is not whole or under 5.

    References
    ----------
    Derivation: neighbouring links on the sprocket stand at the angle of one tooth, 2 pi/z, in the strand at
    none (common practice: rigid sprocket).

    Examples
    --------
    >>> f"{np.degrees(swing_angle(19)):.4f}"
    '18.9474'
    """
    return 2.0 * np.pi / _teeth(sprocket_teeth)


def joint_pressure(chain_tension: ArrayLike, pin_diameter: ArrayLike, bush_length: ArrayLike) -> FloatArray:
    r"""Compute the mean pressure between pin and bush.

    .. math:: p = T / (d b)

    Parameters
    ----------
    chain_tension : array_like
        Tension of the strand T [N], any shape; all arguments broadcast.
    pin_diameter : array_like
        Pin diameter d [m].
    bush_length : array_like
        Bush length b [m].

    Returns
    -------
    ndarray
        Pressure on the projected bearing area [Pa].

    References
    ----------
    ISO 10823, bearing pressure of a chain joint on its bearing area (from memory); common practice.

    Examples
    --------
    >>> f"{joint_pressure(900.0, 4.45e-3, 11.3e-3) * 1e-6:.3f}"
    '17.898'
    """
    area = positive("pin_diameter", pin_diameter) * positive("bush_length", bush_length)
    return not_negative("chain_tension", chain_tension) / area


def joint_speed(pin_diameter: ArrayLike, sprocket_speed: ArrayLike) -> FloatArray:
    r"""Compute the sliding speed in a joint while its link swings.

    .. math:: v = \omega d / 2

    Parameters
    ----------
    pin_diameter : array_like
        Pin diameter d [m], any shape; both broadcast.
    sprocket_speed : array_like
        Angular speed of the sprocket [rad/s].

    Returns
    -------
    ndarray
        Sliding speed [m/s].

    References
    ----------
    Derivation: while it swings, a link turns with the sprocket and its neighbour stands, so the surfaces of
    pin and bush slide at omega d/2 (common practice).

    Examples
    --------
    >>> f"{joint_speed(4.45e-3, 120 * 2 * np.pi / 60):.6f}"
    '0.027960'
    """
    return positive("pin_diameter", pin_diameter) * not_negative("sprocket_speed", sprocket_speed) / 2.0


def sliding_per_swing(pin_diameter: ArrayLike, sprocket_teeth: ArrayLike) -> FloatArray:
    r"""Compute the sliding distance in a joint for one swing.

    .. math:: s = \varphi d / 2 = \pi d / z

    Parameters
    ----------
    pin_diameter : array_like
        Pin diameter d [m], any shape; both broadcast.
    sprocket_teeth : array_like
        Number of teeth z [-].

    Returns
    -------
    ndarray
        Sliding distance [m].

    Raises
    ------
    ValueError
        If a number of teeth is not whole or under 5.

    References
    ----------
    Derivation: arc of the swing at the pin's surface, phi d/2 with phi = 2 pi/z.

    Examples
    --------
    >>> f"{sliding_per_swing(4.45e-3, 19) * 1e3:.5f}"
    '0.73579'
    """
    return swing_angle(sprocket_teeth) * positive("pin_diameter", pin_diameter) / 2.0


def sliding_per_turn(pin_diameter: float, sprocket_teeth: ArrayLike) -> float:
    r"""Compute the sliding distance in one joint for one turn of the chain.

    .. math:: S = \sum_i 2 \pi d / z_i

    A joint swings twice at each sprocket, once as it runs on and once as it runs off.

    Parameters
    ----------
    pin_diameter : float
        Pin diameter d [m].
    sprocket_teeth : array_like
        Numbers of teeth of all sprockets that the chain runs over [-]; give each sprocket once.

    Returns
    -------
    float
        Sliding distance [m].

    Raises
    ------
    ValueError
        If a number of teeth is not whole or under 5.

    References
    ----------
    Derivation: two swings at each sprocket, as the joint runs on and off, each 2 pi/z times d/2 (common
    practice).

    Examples
    --------
    >>> f"{sliding_per_turn(4.45e-3, [19, 38]) * 1e3:.4f}"
    '2.2074'
    """
    return float(np.sum(2.0 * sliding_per_swing(pin_diameter, sprocket_teeth)))


def chain_speed(pitch: ArrayLike, sprocket_teeth: ArrayLike, sprocket_speed: ArrayLike) -> FloatArray:
    r"""Compute the mean speed of the chain.

    .. math:: v_c = P z \omega / (2 \pi)

    Parameters
    ----------
    pitch : array_like
        Chain pitch P [m], any shape; all arguments broadcast.
    sprocket_teeth : array_like
        Number of teeth z of the sprocket whose speed is given [-].
    sprocket_speed : array_like
        Angular speed of that sprocket [rad/s].

    Returns
    -------
    ndarray
        Chain speed [m/s].

    Raises
    ------
    ValueError
        If a number of teeth is not whole or under 5.

    References
    ----------
    Derivation: z links of length P pass in each turn of the sprocket, omega/(2 pi) turns a second; ISO 606
    uses the same mean speed (from memory).

    Examples
    --------
    >>> f"{chain_speed(12.7e-3, 19, 120 * 2 * np.pi / 60):.4f}"
    '0.4826'
    """
    links = _teeth(sprocket_teeth) * not_negative("sprocket_speed", sprocket_speed) / (2.0 * np.pi)
    return positive("pitch", pitch) * links


def service_distance(
    pin_diameter: float, sprocket_teeth: ArrayLike, pitch: float, links: int, speed: float, duration: float
) -> float:
    r"""Compute how far a joint slides in a time of service.

    .. math:: S_t = S \frac{v_c t}{P N}

    Parameters
    ----------
    pin_diameter : float
        Pin diameter [m].
    sprocket_teeth : array_like
        Numbers of teeth of all sprockets that the chain runs over [-].
    pitch : float
        Chain pitch P [m].
    links : int
        Number of links of the chain, N [-].
    speed : float
        Chain speed [m/s].
    duration : float
        Time of service [s].

    Returns
    -------
    float
        Sliding distance in one joint [m].

    Raises
    ------
    ValueError
        If a number of teeth is not whole or under 5.

    References
    ----------
    Derivation: in a time t the chain makes v t/(P N) turns, each of which slides `sliding_per_turn`.

    Examples
    --------
    >>> f"{service_distance(4.45e-3, [19, 19], 12.7e-3, 100, 0.4826, 3600.0):.3f}"
    '4.026'
    """
    turns = float(not_negative("speed", speed)) * float(not_negative("duration", duration))
    turns = turns / (float(positive("pitch", pitch)) * float(positive("links", links)))
    return sliding_per_turn(pin_diameter, sprocket_teeth) * turns


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


@dataclass(frozen=True, kw_only=True)
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
            quantity=quantity,
            unit=unit,
            bench=ours,
            service=theirs,
            ratio=None,
            verdict="not computed",
            sentence=_why_not(quantity, ours, theirs),
        )
    ratio = ours / theirs
    verb, scale, manner = _VERBS[quantity]
    verdict = _verdict(ratio)
    if verdict == "even":
        sentence = f"The bench {verb} about {scale} the service does."
    else:
        word = "more severe" if ratio > 1 else "less severe"
        sentence = f"The bench {verb} {_times(ratio)} {scale} the service: {word} {manner}."
    return SeverityRow(
        quantity=quantity,
        unit=unit,
        bench=ours,
        service=theirs,
        ratio=ratio,
        verdict=verdict,
        sentence=sentence,
    )


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


BUSH_LENGTH_NOTE = (
    "The bush length is from memory: treat it as an input, measured or from the chain's data sheet."
)


@dataclass(frozen=True, kw_only=True)
class ChainSize:
    """Dimensions of one roller chain.

    Attributes
    ----------
    designation : str
        Chain number, such as 08B.
    pitch : float
        Pitch [m].
    roller_diameter : float
        Largest roller diameter d1 [m].
    inner_width : float
        Smallest width between inner plates b1 [m].
    pin_diameter : float
        Largest pin diameter d2 [m]; of 06B from memory.
    bush_length : float
        Bush length b2 [m], from memory: see `BUSH_LENGTH_NOTE`.
    """

    designation: str
    pitch: float
    roller_diameter: float
    inner_width: float
    pin_diameter: float
    bush_length: float


def chain_sizes() -> dict[str, ChainSize]:
    """Return the table of roller chains by designation.

    Returns
    -------
    dict
        Sizes [m] by designation, small to large.

    References
    ----------
    ISO 606, series B, as dealers' tables print it; head of ``data/roller_chain_iso606.csv``.

    Examples
    --------
    >>> list(chain_sizes())
    ['06B', '08B', '10B', '12B', '16B']
    """
    rows = map(dict, read_table("roller_chain_iso606.csv"))
    return {row["designation"]: _size(row) for row in rows}


def chain_size(designation: str) -> ChainSize:
    """Look up one roller chain.

    Parameters
    ----------
    designation : str
        Chain number, such as ``08B``; a strand count (``08B-1``) and lower case are accepted.

    Returns
    -------
    ChainSize
        Its dimensions [m].

    Raises
    ------
    ValueError
        If the chain is not in the table.

    References
    ----------
    ISO 606, series B.

    Examples
    --------
    >>> chain_size("08B").pin_diameter
    0.00445
    """
    sizes = chain_sizes()
    key = designation.strip().upper().split("-")[0]
    if key not in sizes:
        raise ValueError(f"chain designation must be one of {', '.join(sizes)}, found {designation!r}")
    return sizes[key]


def _size(row: dict[str, str]) -> ChainSize:
    # Shifting the decimal point in the text gives exactly 0.00445 m; 4.45 * 1e-3 does not.
    return ChainSize(
        designation=row["designation"],
        pitch=float(f"{row['pitch']}e-3"),
        roller_diameter=float(f"{row['roller_diameter']}e-3"),
        inner_width=float(f"{row['inner_width']}e-3"),
        pin_diameter=float(f"{row['pin_diameter']}e-3"),
        bush_length=float(f"{row['bush_length']}e-3"),
    )
