"""The chart of scar length against time: model curve, arrest point and measured scars."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pinscar.decision.growth import Growth
from pinscar.decision.wording import load_text
from pinscar.report import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PANEL_MM = 62.0


def growth_chart(
    curves: Sequence[Growth],
    roles: Mapping[str, str],
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw scar length against time, a panel a load, the oil's name at its curve.

    Parameters
    ----------
    curves : sequence of Growth
        At least one.
    roles : mapping of str to str
        Role of each lubricant.
    width_mm : float
        Width of the figure [mm]; panels stand side by side from 120 on.
    axes : sequence of Axes, optional
        Where to draw, one a load; a new figure where not given.

    Returns
    -------
    Figure
        The chart.
    """
    levels = sorted({curve.load_level for curve in curves})
    longest = max(float(curve.time[-1]) for curve in curves)
    highest = max(float(np.max(curve.end_length)) for curve in curves) * 1e3
    with style.report_style():
        grid = _new_grid(len(levels), width_mm) if axes is None else np.reshape(np.array(axes), (-1, 1))
        for one, level in zip(grid.ravel(), levels, strict=False):
            at_level = [curve for curve in curves if curve.load_level == level]
            _panel(one, at_level, roles, highest)
            one.set_title(f"at {load_text(level)}")
            one.set_xlim(0.0, longest * 1.22)
            one.set_ylim(0.0, highest * 1.12)
        for one in grid[-1]:
            one.set_xlabel("Time [s]")
        for one in grid[:, 0]:
            one.set_ylabel("Scar length [mm]")
    return style.figure_of(list(grid.ravel()))


def _new_grid(panels: int, width_mm: float) -> NDArray[np.object_]:
    columns = panels if width_mm >= 120 and panels <= 3 else 1
    rows = -(-panels // columns)
    figure = style.new_figure(rows * PANEL_MM + 8.0, width_mm=width_mm)
    grid: NDArray[np.object_] = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
    return grid


def _panel(axes: Axes, curves: Sequence[Growth], roles: Mapping[str, str], highest: float) -> None:
    heights = _apart([float(curve.length[-1]) * 1e3 for curve in curves], 0.065 * highest)
    for curve, height in zip(curves, heights, strict=True):
        look = style.ROLES[roles[curve.lubricant]]
        axes.plot(curve.time, curve.length * 1e3, color=look.colour)
        axes.plot(
            curve.end_time,
            curve.end_length * 1e3,
            linestyle="none",
            marker=look.marker,
            markersize=3.2,
            color=look.colour,
        )
        axes.plot(
            [curve.quiet_time],
            [curve.quiet_length * 1e3],
            marker="o",
            markersize=6.0,
            markerfacecolor=style.PAPER,
            markeredgecolor=look.colour,
        )
        axes.annotate(
            curve.lubricant,
            (float(curve.time[-1]), height),
            (5, 0),
            textcoords="offset points",
            va="center",
            fontsize=style.TEXT_SIZE - 0.5,
            color=look.colour,
        )
    axes.grid(axis="y")


def _apart(values: list[float], least: float) -> list[float]:
    """Move labels up where they would cover one another."""
    order = np.argsort(values)
    placed = list(values)
    for below, above in pairwise(order):
        placed[above] = max(placed[above], placed[below] + least)
    return placed
