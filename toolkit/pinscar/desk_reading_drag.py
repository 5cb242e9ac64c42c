"""Dragging an ellipse on a picture: where its handles are, which one is meant, what a drag makes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

import numpy as np

from pinscar.evidence.ellipse import Ellipse

Handle = Literal["middle", "length+", "length-", "width+", "width-", "turn"]
Point = tuple[float, float]
Size = tuple[int, int]
Field = Literal["x", "y", "length", "width", "angle"]
FIELDS: tuple[Field, ...] = ("x", "y", "length", "width", "angle")
STEEPEST = np.pi / 4
"""Most that the length may lean from the pin's axis [rad]; beyond it the other axis would be the length."""
SMALLEST = 2.0
"""Shortest half-axis [points]."""


def handle_points(ellipse: Ellipse, size: Size, stem: float) -> dict[Handle, Point]:
    """Place the handles: the middle, the ends of both axes, and one to turn, on a stem beyond the length.

    Parameters
    ----------
    ellipse : Ellipse
        The ellipse, `a` along the pin.
    size : tuple of int and int
        Columns and rows of the picture.
    stem : float
        Length of the stem [points].

    Returns
    -------
    dict of str to tuple of float and float
        Columns and rows [points]. The stem goes to the side on which it ends within the picture, or into the
        ellipse where neither does.

    Examples
    --------
    >>> handle_points(Ellipse(50.0, 40.0, 20.0, 10.0, 0.0), (100, 80), 9.0)["turn"]
    (79.0, 40.0)
    >>> handle_points(Ellipse(75.0, 40.0, 20.0, 10.0, 0.0), (100, 80), 9.0)["turn"]
    (46.0, 40.0)
    >>> handle_points(Ellipse(50.0, 40.0, 48.0, 30.0, 0.0), (100, 80), 9.0)["turn"]
    (89.0, 40.0)
    """
    along, across = _directions(ellipse)
    points: dict[Handle, Point] = {
        "length+": _at(ellipse, along, ellipse.a),
        "length-": _at(ellipse, along, -ellipse.a),
        "width+": _at(ellipse, across, ellipse.b),
        "width-": _at(ellipse, across, -ellipse.b),
    }
    places = [_at(ellipse, along, distance) for distance in (ellipse.a + stem, -ellipse.a - stem)]
    inside = _at(ellipse, along, ellipse.a - stem)
    points["turn"] = next((place for place in places if _within(place, size)), inside)
    points["middle"] = (ellipse.x, ellipse.y)
    return points


def grabbed(ellipse: Ellipse, at: Point, size: Size, stem: float, reach: float) -> Handle | None:
    """Tell which handle a pointer is on; anywhere else inside of the ellipse stands for the middle.

    Parameters
    ----------
    ellipse : Ellipse
        The ellipse.
    at : tuple of float and float
        The pointer's column and row [points].
    size : tuple of int and int
        Columns and rows of the picture.
    stem : float
        Length of the stem of the turning handle [points].
    reach : float
        How far from a handle it may be grabbed [points].

    Returns
    -------
    str or None
        The handle, or None where there is nothing to grab.

    Examples
    --------
    >>> oval = Ellipse(50.0, 40.0, 20.0, 10.0, 0.0)
    >>> [grabbed(oval, at, (100, 80), 9.0, 4.0) for at in ((71.0, 41.0), (55.0, 42.0), (90.0, 70.0))]
    ['length+', 'middle', None]
    """
    points = handle_points(ellipse, size, stem)
    away = {name: float(np.hypot(x - at[0], y - at[1])) for name, (x, y) in points.items()}
    nearest = min(away, key=lambda name: away[name])
    if away[nearest] <= reach:
        return nearest
    along, across = _directions(ellipse)
    offset = np.array(at) - (ellipse.x, ellipse.y)
    inside = np.hypot(offset @ along / ellipse.a, offset @ across / ellipse.b) < 1
    return "middle" if inside else None


def dragged(start: Ellipse, handle: Handle, down: Point, now: Point, size: Size) -> Ellipse:
    """Give the ellipse that a drag makes.

    The end of an axis moves along it while the other end stays, as with a pair of callipers; the turning
    handle turns about the middle.

    Parameters
    ----------
    start : Ellipse
        The ellipse when the button went down.
    handle : str
        The handle that was grabbed.
    down, now : tuple of float and float
        The pointer then and now: columns and rows [points].
    size : tuple of int and int
        Columns and rows of the picture; the middle can't leave it.

    Returns
    -------
    Ellipse
        The new ellipse.

    Examples
    --------
    >>> oval = Ellipse(50.0, 40.0, 20.0, 10.0, 0.0)
    >>> dragged(oval, "length+", (70.0, 40.0), (76.0, 55.0), (100, 80))
    Ellipse(x=53.0, y=40.0, a=23.0, b=10.0, angle=0.0)
    """
    moved = np.array(now) - np.array(down)
    if handle == "middle":
        return confined(replace(start, x=start.x + float(moved[0]), y=start.y + float(moved[1])), size)
    if handle == "turn":
        before, after = (np.arctan2(y - start.y, x - start.x) for x, y in (down, now))
        turn = (after - before + np.pi) % (2 * np.pi) - np.pi
        return confined(replace(start, angle=start.angle + float(turn)), size)
    along, across = _directions(start)
    axis, half = (along, start.a) if handle.startswith("length") else (across, start.b)
    sign = 1 if handle.endswith("+") else -1
    new = max(SMALLEST, half + sign * float(moved @ axis) / 2)
    x, y = _at(start, axis, sign * (new - half))
    longer = {"a": new} if handle.startswith("length") else {"b": new}
    return confined(replace(start, x=x, y=y, **longer), size)


def confined(ellipse: Ellipse, size: Size) -> Ellipse:
    """Keep an ellipse to what a reading can be: the middle in the picture, no axis without length, not steep.

    Parameters
    ----------
    ellipse : Ellipse
        Any ellipse.
    size : tuple of int and int
        Columns and rows of the picture.

    Returns
    -------
    Ellipse
        The nearest that may be.

    Examples
    --------
    >>> confined(Ellipse(120.0, 40.0, 20.0, 0.0, 0.0), (100, 80))
    Ellipse(x=99.5, y=40.0, a=20.0, b=2.0, angle=0.0)
    """
    longest = float(np.hypot(*size))
    return Ellipse(
        float(np.clip(ellipse.x, -0.5, size[0] - 0.5)),
        float(np.clip(ellipse.y, -0.5, size[1] - 0.5)),
        float(np.clip(ellipse.a, SMALLEST, longest)),
        float(np.clip(ellipse.b, SMALLEST, longest)),
        float(np.clip(ellipse.angle, -STEEPEST, STEEPEST)),
    )


def in_the_middle(size: Size) -> Ellipse:
    """Give the ellipse to start from where nothing was looked for.

    Parameters
    ----------
    size : tuple of int and int
        Columns and rows of the picture.

    Returns
    -------
    Ellipse
        In the middle, half as long as the picture is wide.

    Examples
    --------
    >>> in_the_middle((480, 360))
    Ellipse(x=239.5, y=179.5, a=120.0, b=60.0, angle=0.0)
    """
    return Ellipse((size[0] - 1) / 2, (size[1] - 1) / 2, size[0] / 4, size[0] / 8, 0.0)


def numbers_of(ellipse: Ellipse, point: float) -> dict[Field, float]:
    """Give the numbers of an ellipse as they are shown.

    Parameters
    ----------
    ellipse : Ellipse
        The ellipse.
    point : float
        Size of a point of the picture, in the unit shown.

    Returns
    -------
    dict of str to float
        Middle, from the picture's upper left corner; length and width; angle [deg].

    Examples
    --------
    >>> numbers_of(Ellipse(99.5, 49.5, 60.0, 30.0, 0.0), 0.02)
    {'x': 2.0, 'y': 1.0, 'length': 2.4, 'width': 1.2, 'angle': 0.0}
    """
    return {
        "x": (ellipse.x + 0.5) * point,
        "y": (ellipse.y + 0.5) * point,
        "length": 2 * ellipse.a * point,
        "width": 2 * ellipse.b * point,
        "angle": float(np.degrees(ellipse.angle)),
    }


def with_number(ellipse: Ellipse, field: Field, value: float, point: float, size: Size) -> Ellipse:
    """Change one number of an ellipse; the others keep more digits than are shown.

    Parameters
    ----------
    ellipse : Ellipse
        The ellipse.
    field : str
        Which number.
    value : float
        The number, as `numbers_of` gives it.
    point : float
        Size of a point of the picture, in the unit shown.
    size : tuple of int and int
        Columns and rows of the picture.

    Returns
    -------
    Ellipse
        The new ellipse, confined.

    Examples
    --------
    >>> with_number(Ellipse(99.5, 49.5, 60.0, 30.0, 0.0), "length", 2.5, 0.02, (200, 100)).a
    62.5
    """
    changes: Mapping[Field, dict[str, float]] = {
        "x": {"x": value / point - 0.5},
        "y": {"y": value / point - 0.5},
        "length": {"a": value / point / 2},
        "width": {"b": value / point / 2},
        "angle": {"angle": float(np.radians(value))},
    }
    return confined(replace(ellipse, **changes[field]), size)


def _directions(ellipse: Ellipse) -> tuple[np.ndarray, np.ndarray]:
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    return np.array([c, s]), np.array([-s, c])


def _at(ellipse: Ellipse, direction: np.ndarray, distance: float) -> Point:
    return (ellipse.x + distance * float(direction[0]), ellipse.y + distance * float(direction[1]))


def _within(point: Point, size: Size) -> bool:
    return -0.5 <= point[0] <= size[0] - 0.5 and -0.5 <= point[1] <= size[1] - 0.5
