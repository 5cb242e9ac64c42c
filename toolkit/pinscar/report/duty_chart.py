"""The chart of bench against service: pressure over sliding speed, with lines of equal product."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pinscar.decision.duty import BenchDuty, JointDuty
from pinscar.decision.wording import listing, load_text
from pinscar.report import style
from pinscar.report.axes import log_ticks, padded

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT_MM = 78.0


def duty_chart(
    joint: JointDuty, bench: Sequence[BenchDuty], *, width_mm: float = style.PRINT_WIDTH_MM
) -> Figure:
    """Draw the chain joint and the bench as points of pressure and sliding speed.

    Parameters
    ----------
    joint : JointDuty
        The joint.
    bench : sequence of BenchDuty
        The bench at each load level.
    width_mm : float
        Width of the figure [mm].

    Returns
    -------
    Figure
        The chart.
    """
    speeds = [joint.speed, *(b.speed for b in bench)]
    pressures = [joint.pressure * 1e-6, *(end * 1e-6 for b in bench for end in b.pressures)]
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
        axes.set_xlabel("Sliding speed [m/s]")
        axes.set_ylabel("Pressure [MPa]")
    return figure


def _bench(axes: Axes, speed: float, duties: Sequence[BenchDuty], look: style.RoleLook) -> None:
    low = min(duty.pressures[0] for duty in duties) * 1e-6
    high = max(duty.pressures[1] for duty in duties) * 1e-6
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
