"""The charts of scar growth and of chain duty.

Growth: scar length against time, with model curve, arrest point and measured scars. Duty: pressure over
sliding speed, with lines of equal product.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pinscar.decision.surrounding_states import BenchDuty, Growth, JointDuty
from pinscar.page import style
from pinscar.page.style import log_ticks, padded, spread_over
from pinscar.shown import to_shown
from pinscar.wording import listing, load_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


PANEL_MM = 62.0


def growth_chart(
    curves: Sequence[Growth],
    roles: Mapping[str, str],
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    panel_mm: float = PANEL_MM,
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw scar length against time, one panel per load, the oil's name at its curve."""
    levels = sorted({curve.load_level for curve in curves})
    longest = max(float(curve.time[-1]) for curve in curves)
    highest = to_shown(max(float(np.max(curve.end_length)) for curve in curves), "mm")
    with style.report_style():
        grid = (
            _new_grid(len(levels), width_mm, panel_mm)
            if axes is None
            else np.reshape(np.array(axes), (-1, 1))
        )
        for one, level in zip(grid.ravel(), levels, strict=False):
            at_level = [curve for curve in curves if curve.load_level == level]
            # A lower panel needs its labels further apart, in millimetres of scar.
            _panel(one, at_level, roles, 0.08 * highest * PANEL_MM / panel_mm)
            one.set_title(f"at {load_text(level)}")
            one.set_xlim(0.0, longest * 1.22)
            one.set_ylim(0.0, highest * 1.12)
        for one in grid[-1]:
            one.set_xlabel("Time [s]")
        for one in grid[:, 0]:
            one.set_ylabel("Scar length [mm]")
    return style.figure_of(list(grid.ravel()))


def _new_grid(panels: int, width_mm: float, panel_mm: float) -> NDArray[np.object_]:
    columns = panels if width_mm >= 120 and panels <= 3 else 1
    rows = -(-panels // columns)
    figure = style.new_figure(rows * panel_mm + 8.0, width_mm=width_mm)
    grid: NDArray[np.object_] = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
    return grid


def _panel(axes: Axes, curves: Sequence[Growth], roles: Mapping[str, str], least: float) -> None:
    heights = _apart([to_shown(float(curve.length[-1]), "mm") for curve in curves], least)
    looks = style.looks(roles)
    for curve, height in zip(curves, heights, strict=True):
        look = looks[curve.lubricant]
        axes.plot(curve.time, to_shown(curve.length, "mm"), color=look.colour, linestyle=look.line)
        chosen = spread_over(curve.end_length)
        axes.plot(
            curve.end_time[chosen],
            to_shown(curve.end_length[chosen], "mm"),
            linestyle="none",
            marker=look.marker,
            markersize=3.2,
            color=look.colour,
        )
        axes.plot(
            [curve.quiet_time],
            [to_shown(curve.quiet_length, "mm")],
            marker=look.marker,
            markersize=6.0,
            markerfacecolor=style.PAPER,
            markeredgecolor=look.colour,
        )
        axes.annotate(
            curve_label(curve.lubricant, roles),
            (float(curve.time[-1]), height),
            (5, 0),
            textcoords="offset points",
            va="center",
            fontsize=style.TEXT_SIZE - 0.5,
            color=look.colour,
            # no line of the grid runs through a name
            bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6},
        )
    axes.grid(axis="y")


LONGEST_LABEL = 12
"""Signs of a name that stands at its curve; a longer one is told by its number."""


def curve_label(name: str, roles: Mapping[str, str]) -> str:
    """Write an oil's name at its curve, or its place in the order of the oils where the name is long.

    Examples
    --------
    >>> roles = {"R-10": "reference", "Chain oil of the winter trial": "candidate"}
    >>> [curve_label(name, roles) for name in roles]
    ['R-10', 'oil 2']
    """
    return name if len(name) <= LONGEST_LABEL else f"oil {list(roles).index(name) + 1}"


def _apart(values: list[float], least: float) -> list[float]:
    """Move labels up where they would cover one another."""
    order = np.argsort(values)
    placed = list(values)
    for below, above in pairwise(order):
        placed[above] = max(placed[above], placed[below] + least)
    return placed


HEIGHT_MM = 78.0


def duty_chart(
    joint: JointDuty, bench: Sequence[BenchDuty], *, width_mm: float = style.PRINT_WIDTH_MM
) -> Figure:
    """Draw the chain joint and the bench as points of pressure and sliding speed."""
    speeds = [joint.speed, *(b.speed for b in bench)]
    pressures = [
        to_shown(joint.pressure, "MPa"),
        *(to_shown(end, "MPa") for b in bench for end in b.pressures),
    ]
    with style.report_style():
        figure = style.new_figure(HEIGHT_MM, width_mm=width_mm)
        axes = figure.subplots()
        axes.set_xscale("log")
        axes.set_yscale("log")
        axes.set_xlim(*padded(speeds, 0.22))
        axes.set_ylim(*padded(pressures, 0.25))
        _plain_ticks(axes)
        _equal_products(axes)
        joint_look, bench_look = style.ROLES["reference"], style.ROLES["candidate"]
        _point(axes, joint.speed, pressures[0], joint_look, "chain joint in service")
        for speed in dict.fromkeys(duty.speed for duty in bench):
            _bench(axes, speed, [duty for duty in bench if duty.speed == speed], bench_look)
        axes.set_xlabel(f"Sliding speed [m/s]{style.LOG}")
        axes.set_ylabel(f"Pressure [MPa]{style.LOG}")
    return figure


def _bench(axes: Axes, speed: float, duties: Sequence[BenchDuty], look: style.RoleLook) -> None:
    low = to_shown(min(duty.pressures[0] for duty in duties), "MPa")
    high = to_shown(max(duty.pressures[1] for duty in duties), "MPa")
    loads = listing([load_text(duty.load_level) for duty in duties])
    axes.plot([speed, speed], [low, high], color=look.colour, linewidth=4.0, solid_capstyle="butt")
    axes.annotate(
        f"bench, final scars\nat {loads}",
        (speed, math.sqrt(low * high)),
        (-9, 0),
        textcoords="offset points",
        ha="right",
        va="center",
        fontsize=style.TEXT_SIZE,
    )


def _plain_ticks(axes: Axes) -> None:
    x_ticks, y_ticks = log_ticks(*axes.get_xlim()), log_ticks(*axes.get_ylim())
    axes.set_xticks(x_ticks, [f"{tick:g}" for tick in x_ticks])
    axes.set_yticks(y_ticks, [f"{tick:g}" for tick in y_ticks])
    axes.set_xticks([], minor=True)
    axes.set_yticks([], minor=True)


def _equal_products(axes: Axes) -> None:
    # On logarithmic axes, equal pressure times speed is a straight line falling to the right.
    x = np.array(axes.get_xlim())
    (x_low, x_high), (y_low, y_high) = axes.get_xlim(), axes.get_ylim()
    for exponent in range(math.ceil(math.log10(x_low * y_low)), math.floor(math.log10(x_high * y_high)) + 1):
        product = 10.0**exponent
        axes.plot(x, product / x, color=style.RULE, linewidth=0.7, zorder=0, scaley=False, scalex=False)
        at_top = product / y_high
        if x_low * 1.15 < at_top < x_high / 1.15:
            axes.annotate(
                f"{product:g} W/mm²",
                (at_top, y_high),
                (0, 2),
                textcoords="offset points",
                ha="center",
                va="bottom",
                fontsize=style.TEXT_SIZE - 1.5,
                color=style.MUTED,
                annotation_clip=False,
            )


def _point(axes: Axes, x: float, y: float, look: style.RoleLook, label: str) -> None:
    axes.plot([x], [y], marker=look.marker, markersize=7.0, color=look.colour)
    axes.annotate(
        label,
        (x, y),
        (9, 0),
        textcoords="offset points",
        ha="left",
        va="center",
        fontsize=style.TEXT_SIZE,
    )
