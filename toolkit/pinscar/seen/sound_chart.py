"""The chart of recordings: the level of each against time, with the end of the noise as it was heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from pinscar.decision.recordings import RunHeard
from pinscar.page import style
from pinscar.page.outline import NARROW_MM, figure_for_both

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS = 12
PANEL_MM = 36.0


def sound_chart(
    runs: Sequence[RunHeard],
    roles: Mapping[str, str],
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    panel_mm: float = PANEL_MM,
) -> Figure:
    """Draw level against time for each recording that has one."""
    columns = min(3 if width_mm >= 120 else 1, len(runs))
    rows = -(-len(runs) // columns)
    with style.report_style():
        figure = style.new_figure(rows * panel_mm + 8.0, width_mm=width_mm)
        grid = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
        for axes, run in zip(grid.ravel(), runs, strict=False):
            _panel(axes, run, roles[run.lubricant])
        for axes in grid.ravel()[len(runs) :]:
            axes.set_visible(False)
        grid[0, 0].set_xlim(0.0, max(run.duration for run in runs))
        for column in range(columns):
            last = max(row for row in range(rows) if row * columns + column < len(runs))
            grid[last, column].set_xlabel("Time [s]")
            grid[last, column].tick_params(labelbottom=True)
        figure.supylabel("Level above what remains [dB]", fontsize=style.TEXT_SIZE)
    return figure


def draw_sound(axes: Axes, run: RunHeard, role: str) -> None:
    """Draw one recording on axes that are there already."""
    with style.report_style():
        _panel(axes, run, role)
        axes.set_xlim(0.0, run.duration)
        axes.set(xlabel="Time [s]", ylabel="Level above\nwhat remains [dB]")


def sound_figure(
    runs: Sequence[RunHeard], roles: Mapping[str, str], *, sentence: str, panel_mm: float = PANEL_MM
) -> str:
    """Draw the recordings for print and for a phone, with caption."""
    drawn = [run for run in runs if run.heard.level is not None]
    shown = drawn[:MOST_PANELS]
    if not shown:
        return ""
    caption = (
        "Sound level in the band of the rubbing noise. Upright line: end of the noise as heard, in the band "
        "of its interval"
    )
    if any(not np.isnan(run.typed) for run in shown):
        caption += "; triangle at the top: the typed quiet time"
    caption += "."
    if len(drawn) > len(shown):
        caption += f" The first {len(shown)} of {len(drawn)} recordings; the table has all."
    return figure_for_both(
        lambda width: sound_chart(
            shown, roles, width_mm=width, panel_mm=PANEL_MM if width == NARROW_MM else panel_mm
        ),
        alt=sentence,
        caption=caption,
        key="sound",
        made_from=("sound_chart", shown, roles, panel_mm),
    )


def _panel(axes: Axes, run: RunHeard, role: str) -> None:
    level = run.heard.level
    assert level is not None  # the caller chose the runs
    quiet = run.heard.quiet_level
    # Without a quiet part, the weakest twentieth of the recording stands in for it.
    zero = float(np.percentile(level.level, 5.0)) if quiet is None else quiet
    axes.plot(level.time, level.level - zero, color=style.ROLES[role].colour, linewidth=0.6)
    axes.set_title(f"{run.run_id}, {run.lubricant}", fontsize=style.TEXT_SIZE)
    axes.grid(axis="y")
    if run.heard.faded and run.heard.low is not None and run.heard.high is not None:
        axes.axvspan(run.heard.low, run.heard.high, color=style.RULE, linewidth=0)
        axes.text(0.97, 0.9, "faded", transform=axes.transAxes, ha="right", va="top", fontsize=7.5)
    elif run.heard.quiet_time is None or run.heard.low is None or run.heard.high is None:
        axes.text(0.97, 0.9, "no end heard", transform=axes.transAxes, ha="right", va="top", fontsize=7.5)
    else:
        axes.axvspan(run.heard.low, run.heard.high, color=style.RULE, linewidth=0)
        axes.axvline(run.heard.quiet_time, color=style.INK, linewidth=1.0)
    if not np.isnan(run.typed):
        axes.plot(
            [run.typed],
            [0.96],
            transform=axes.get_xaxis_transform(),
            marker="v",
            markersize=5.5,
            linestyle="none",
            color=style.LIMIT,
            clip_on=False,
        )
