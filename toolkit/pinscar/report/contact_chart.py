"""The chart of the contact: initial peak pressure against the pressure of the final scar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pinscar.decision.wording import load_text
from pinscar.report import style
from pinscar.report.axes import padded, set_log_axis
from pinscar.report.interval_chart import FRAME_MM, PANEL_MM

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_MM = 6.0


def contact_chart(
    runs: pd.DataFrame,
    roles: Mapping[str, str],
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw the fall of the contact pressure, a row an oil, a panel a load.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs with an initial peak pressure.
    roles : dict of str to str
        Role of each lubricant.
    width_mm : float
        Width of the figure [mm].
    axes : sequence of Axes, optional
        Where to draw, one a load; a new figure where not given.

    Returns
    -------
    Figure
        The chart.
    """
    known = runs.dropna(subset=["scar_pressure", "load_level"])
    levels = sorted(known["load_level"].unique())
    heights = [known.loc[known["load_level"] == v, "lubricant"].nunique() * ROW_MM + PANEL_MM for v in levels]
    pressures = pd.concat([known["scar_pressure"], known["hertz_peak_pressure"].dropna()]) * 1e-6
    with style.report_style():
        if axes is None:
            axes = style.stacked_axes(heights, FRAME_MM, width_mm=width_mm)
        for one, level in zip(axes, levels, strict=True):
            _draw(one, known[known["load_level"] == level], roles)
            one.set_title(f"at {load_text(float(level))}")
            set_log_axis(one, *padded([float(pressures.min()), float(pressures.max())]))
        axes[-1].set_xlabel("Contact pressure [MPa]")
    return style.figure_of(axes)


def _draw(axes: Axes, runs: pd.DataFrame, roles: Mapping[str, str]) -> None:
    order = runs.groupby("lubricant")["scar_pressure"].median().sort_values()
    for row, name in enumerate(order.index):
        own, look = runs[runs["lubricant"] == name], style.ROLES[roles[str(name)]]
        start, final = (
            float(own["hertz_peak_pressure"].median()) * 1e-6,
            own["scar_pressure"].to_numpy() * 1e-6,
        )
        if np.isfinite(start):
            axes.plot([float(np.median(final)), start], [row, row], color=look.tint, linewidth=2.5, zorder=1)
            axes.plot(
                [start], [row], marker="o", markersize=6.0, color=style.PAPER, markeredgecolor=look.colour
            )
        axes.plot(
            final,
            np.full(final.size, row),
            linestyle="none",
            marker=look.marker,
            markersize=3.6,
            color=look.colour,
        )
    axes.set_yticks(range(len(order)), [str(name) for name in order.index])
    axes.set_ylim(-0.6, len(order) - 0.4)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", which="major")
