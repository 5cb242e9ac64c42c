"""Duty of a roller-chain joint: swing, joint pressure and speed, tension from power or torque.

The sprocket is taken as rigid and the chain as running onto it without vibration (common practice).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive

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
    Own derivation: neighbouring links on the sprocket stand at the angle of one tooth; in the strand at none.

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
    Own derivation: while it swings, a link turns with the sprocket and its neighbour stands (common
    practice).

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
    Own derivation: arc of the swing at the pin's surface.

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
    Own derivation: sum of the swings (common practice).

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
    Own derivation: z links pass for each turn of the sprocket.

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
    Own derivation: sliding per turn times the turns of the chain in that time.

    Examples
    --------
    >>> f"{service_distance(4.45e-3, [19, 19], 12.7e-3, 100, 0.4826, 3600.0):.3f}"
    '4.026'
    """
    turns = float(not_negative("speed", speed)) * float(not_negative("duration", duration))
    turns = turns / (float(positive("pitch", pitch)) * float(positive("links", links)))
    return sliding_per_turn(pin_diameter, sprocket_teeth) * turns


def tension_from_power(power: ArrayLike, speed: ArrayLike) -> FloatArray:
    r"""Compute the useful chain tension from the power that the chain carries.

    .. math:: T = P / v_c

    A rider's or a motor's power at the chain; centrifugal pull and the sag of the strand come on top.

    Parameters
    ----------
    power : array_like
        Power at the chain [W], any shape; both broadcast.
    speed : array_like
        Chain speed [m/s], above 0.

    Returns
    -------
    ndarray
        Chain tension [N].

    References
    ----------
    Own derivation: power is force times speed.

    Examples
    --------
    >>> f"{tension_from_power(250.0, 0.4826):.1f}"
    '518.0'
    """
    return not_negative("power", power) / positive("speed", speed)


def tension_from_torque(torque: ArrayLike, pitch_diameter: ArrayLike) -> FloatArray:
    r"""Compute the useful chain tension from the torque on a sprocket.

    .. math:: T = 2 M / D

    Parameters
    ----------
    torque : array_like
        Torque on the sprocket M [N m], any shape; both broadcast.
    pitch_diameter : array_like
        Pitch diameter of that sprocket D [m].

    Returns
    -------
    ndarray
        Chain tension [N].

    References
    ----------
    Own derivation: torque is force times pitch radius. The radius of a sprocket with z teeth swings between
    R cos(pi/z) and R, so the tension does by as much.

    Examples
    --------
    >>> f"{tension_from_torque(40.0, 77.159280e-3):.1f}"
    '1036.8'
    """
    return 2.0 * not_negative("torque", torque) / positive("pitch_diameter", pitch_diameter)
