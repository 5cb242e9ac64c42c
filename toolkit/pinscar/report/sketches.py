"""Sketches that explain: the geometry of an oval scar, and an interval against a limit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pinscar.contact.crossed_cylinders import CrossedCylinders
from pinscar.contact.segment import sagitta
from pinscar.decision.verdict import Side, judge
from pinscar.report import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Interval = tuple[float | None, float | None]


def scar_sketch(axes: Sequence[Axes], pair: CrossedCylinders, length: float) -> None:
    """Draw a scar to scale: along the pin, across it, and from above, with L, W, h, Rp and Rr.

    Parameters
    ----------
    axes : sequence of Axes
        Three, side by side.
    pair : CrossedCylinders
        Pin and ring at a right angle.
    length : float
        Length of the scar [m].
    """
    along, across, above = axes
    depth, width = float(pair.scar_depth(length)) * 1e3, float(pair.implied_width(length)) * 1e3
    pin, ring, long = pair.pin_radius * 1e3, pair.ring_radius * 1e3, length * 1e3
    with style.report_style():
        _side_view(along, ring, long, depth, pin)
        _end_view(across, pin, width, depth)
        _top_view(above, long, width)
        for one, title in zip(axes, ("From the side", "From the pin's end", "From above"), strict=True):
            one.set_title(title)
            one.set_aspect("equal")
            one.set_anchor("N")
            one.axis("off")


def verdict_sketch(
    axes: Axes, intervals: Sequence[Interval], limit: float, side: Side, quantity: str, unit: str
) -> None:
    """Draw intervals against a limit, each with its verdict; one open below is drawn as a bound.

    Parameters
    ----------
    axes : Axes
        Where to draw.
    intervals : sequence of tuple of float or None
        Ends of each interval, in the unit; None where that end is open.
    limit : float
        The limit, in the unit.
    side : {"at least", "at most"}
        The side on which the true value must lie.
    quantity, unit : str
        What is drawn, as printed.
    """
    ends = [end for interval in intervals for end in interval if end is not None]
    room = 0.25 * (max(*ends, limit) - min(*ends, limit))
    left, right = min(*ends, limit) - room, max(*ends, limit) + room
    with style.report_style():
        for row, (low, high) in enumerate(intervals):
            _interval(axes, -row, (low, high), (left, right))
            axes.text(right, -row, str(judge(low, high, limit, side)), va="center")
        axes.axvline(limit, color=style.LIMIT, linewidth=0.8)
        axes.text(limit, 0.55, f" {side} {limit:g} {unit}", color=style.LIMIT, va="bottom")
        axes.set(xlim=(left, right + 2.0 * room), ylim=(0.6 - len(intervals), 1.2), yticks=[])
        axes.set_xlabel(f"{quantity} [{unit}]")
        axes.spines[["left", "top", "right"]].set_visible(False)


def _interval(axes: Axes, row: float, interval: Interval, reach: tuple[float, float]) -> None:
    look = style.ROLES["candidate"]
    known = [end for end in interval if end is not None]
    if len(known) == 2:
        axes.plot(known, [row, row], color=look.colour)
        axes.plot(sum(known) / 2.0, row, look.marker, color=look.colour)
        return
    tip = reach[0] if interval[0] is None else reach[1]
    arrow = {"arrowstyle": "->", "color": look.colour, "shrinkA": 0.0, "shrinkB": 0.0}
    axes.annotate("", (tip, row), (known[0], row), arrowprops=arrow)
    axes.plot(known[0], row, look.marker, color=look.colour, markerfacecolor=style.PAPER)


def _side_view(axes: Axes, ring: float, long: float, depth: float, pin: float) -> None:
    x = np.linspace(-0.78 * long, 0.78 * long, 300)
    edge = sagitta(ring, np.abs(x)) - depth  # the ring's underside, 0 at the pin's unworn surface
    axes.fill_between(x, -0.75 * pin, np.minimum(edge, 0.0), color=style.ROLES["reference"].tint, linewidth=0)
    axes.plot(x, edge, color=style.ROLES["candidate"].colour)
    _dimension(axes, (-long / 2, 1.9), (long / 2, 1.9), "L", (0.0, 2.0))
    _dimension(axes, (0.0, 0.0), (0.0, -depth), "h", (0.3, -0.5 * depth), above=False)
    axes.plot(x, np.zeros_like(x), color=style.MUTED, linewidth=0.5, linestyle=":")
    axes.text(x[0], -0.6 * pin, "pin", color=style.MUTED)
    axes.set_ylim(-0.75 * pin, 0.6 * pin)
    axes.text(x[-1], edge[-1], "ring, Rr", color=style.ROLES["candidate"].colour, va="bottom", ha="right")


def _end_view(axes: Axes, pin: float, width: float, depth: float) -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 721)
    x, y = pin * np.cos(turn), np.minimum(pin * np.sin(turn) - pin, -depth)
    axes.fill(x, y, color=style.ROLES["reference"].tint, linewidth=0)
    axes.plot(x, pin * np.sin(turn) - pin, color=style.ROLES["reference"].colour, linewidth=0.8)
    axes.plot([-1.1 * pin, 1.1 * pin], [-depth, -depth], color=style.ROLES["candidate"].colour)
    _dimension(axes, (-width / 2, 0.9), (width / 2, 0.9), "W", (0.0, 1.0))
    _dimension(axes, (0.0, -pin), (0.8 * pin, -1.6 * pin), "Rp", (0.35 * pin, -1.12 * pin), above=False)
    axes.set_ylim(-2.05 * pin, 0.6 * pin)


def _top_view(axes: Axes, long: float, width: float) -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 361)
    look = style.ROLES["candidate"]
    axes.fill(long / 2 * np.cos(turn), width / 2 * np.sin(turn), color=look.tint, linewidth=0)
    axes.plot(long / 2 * np.cos(turn), width / 2 * np.sin(turn), color=look.colour)
    _dimension(axes, (-long / 2, 0.0), (long / 2, 0.0), "L", (0.25 * long, 0.1))
    _dimension(axes, (0.0, -width / 2), (0.0, width / 2), "W", (0.3, 0.22 * width), above=False)


def _dimension(
    axes: Axes,
    start: tuple[float, float],
    end: tuple[float, float],
    name: str,
    place: tuple[float, float],
    *,
    above: bool = True,
) -> None:
    arrow = {"arrowstyle": "<->", "color": style.INK, "linewidth": 0.7, "shrinkA": 0.0, "shrinkB": 0.0}
    axes.annotate("", end, start, arrowprops=arrow)
    # No mathtext: a notebook draws after the style has been left, and would look for other fonts then.
    axes.text(
        *place, name, style="italic", ha="center" if above else "left", va="bottom" if above else "center"
    )
