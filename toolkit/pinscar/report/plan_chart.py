"""The chart of a plan: the chance of showing the wanted ratio against the repeats."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pinscar.decision.plan import Plan
from pinscar.report import style
from pinscar.stats.planning import ratio_power

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE_MM = 120.0


def power_chart(plan: Plan, *, width_mm: float = style.PRINT_WIDTH_MM) -> Figure:
    """Draw the power against the repeats, with the spread planned with and as the pilot found it.

    Parameters
    ----------
    plan : Plan
        The plan.
    width_mm : float
        Width of the figure [mm].

    Returns
    -------
    Figure
        The chart.
    """
    most = max(10, 2 * plan.repeats)
    numbers = np.arange(2, most + 1)
    wide = width_mm >= WIDE_MM
    with style.report_style():
        figure = style.new_figure(66.0, width_mm=width_mm)
        axes = figure.subplots()
        _curve(axes, plan, numbers, plan.log_sd, "candidate", "spread planned with" if wide else "planned")
        if plan.pilot is not None:
            _curve(
                axes, plan, numbers, plan.log_sd_found, "reference", "spread as found" if wide else "found"
            )
        axes.axhline(plan.wanted.power, color=style.LIMIT, linewidth=1.0, linestyle=(0, (4, 2)))
        axes.annotate(
            f"wanted {100 * plan.wanted.power:.3g} %",
            (most, plan.wanted.power),
            (0, -3),
            textcoords="offset points",
            ha="right",
            va="top",
            fontsize=style.TEXT_SIZE - 1.0,
            color=style.LIMIT,
        )
        _mark(axes, plan)
        axes.set_ylim(0.0, 1.04)
        axes.set_xlim(1.5, most + 0.5)
        ticks = np.linspace(0.0, 1.0, 6)
        axes.set_yticks(ticks, [f"{100 * tick:.0f}" for tick in ticks])
        step = 1 if most <= 20 else 2 if most <= 40 else 10
        axes.set_xticks(range(2, most + 1, step * (1 if wide else 2)))
        axes.set_xlabel("Repeats of each oil at each load")
        axes.set_ylabel(f"Chance to show {plan.wanted.ratio:g} [%]")
        axes.grid(axis="y", which="major")
    return figure


def _curve(
    axes: Axes,
    plan: Plan,
    numbers: np.ndarray[tuple[int, ...], np.dtype[np.int_]],
    sd: float,
    role: str,
    label: str,
) -> None:
    wanted, look = plan.wanted, style.ROLES[role]
    powers = ratio_power(numbers, wanted.ratio, sd, 1.0 - wanted.confidence, comparisons=plan.comparisons)
    axes.plot(numbers, powers, marker=look.marker, markersize=3.6, color=look.colour, linewidth=1.2)
    # Where the curve has risen halfway there is room beside it: left of the higher curve, right of the lower.
    place = int(np.argmax(powers >= 0.45)) if bool(np.any(powers >= 0.45)) else powers.size - 1
    left = role == "reference"
    axes.annotate(
        label,
        (numbers[place], powers[place]),
        (-6 if left else 6, 4 if left else -8),
        textcoords="offset points",
        ha="right" if left else "left",
        fontsize=style.TEXT_SIZE - 0.5,
        color=look.colour,
    )


def _mark(axes: Axes, plan: Plan) -> None:
    axes.axvline(plan.repeats, color=style.INK, linewidth=0.8, linestyle=(0, (1, 1.5)))
    axes.annotate(
        f"this plan: {plan.repeats}",
        (plan.repeats, 0.0),
        (4, 4),
        textcoords="offset points",
        fontsize=style.TEXT_SIZE - 0.5,
    )
