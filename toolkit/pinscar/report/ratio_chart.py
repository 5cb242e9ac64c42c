"""The chart of ratios to the reference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.wording import load_text, with_interval
from pinscar.report import style
from pinscar.report.axes import padded, set_log_axis
from pinscar.report.interval_chart import FRAME_MM, PANEL_MM, ROW_MM

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def ratio_chart(
    comparisons: Sequence[LoadComparison],
    roles: Mapping[str, str],
    reference: str,
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    axes: Sequence[Axes] | None = None,
) -> Figure:
    """Draw the ratios of one response to the reference, a panel a load.

    Parameters
    ----------
    comparisons : sequence of LoadComparison
        Comparisons of one response, each with a ratio.
    roles : dict of str to str
        Role of each lubricant.
    reference : str
        The reference.
    width_mm : float
        Width of the figure [mm]; under 120 the numbers at the margin shrink to n.
    axes : sequence of Axes, optional
        Where to draw, one a load; a new figure where not given.

    Returns
    -------
    Figure
        The chart.
    """
    levels = sorted({c.load_level for c in comparisons})
    panels = [
        sorted(
            (c for c in comparisons if c.load_level == level),
            key=_ratio,
            reverse=_lower_is_better(comparisons),
        )
        for level in levels
    ]
    heights = [len(panel) * ROW_MM + PANEL_MM for panel in panels]
    ends = [
        end
        for c in comparisons
        for end in (c.result.low, c.result.high, c.result.ratio, 1.0)
        if end is not None
    ]
    with style.report_style():
        if axes is None:
            axes = style.stacked_axes(heights, FRAME_MM, width_mm=width_mm)
        for one, level, panel in zip(axes, levels, panels, strict=True):
            _draw(one, panel, roles, wide=width_mm >= 120)
            one.set_title(f"at {load_text(level)}")
            set_log_axis(one, *padded(ends))
        label = comparisons[0].response.label
        axes[-1].set_xlabel(f"{label} as a ratio to {reference}")
    return style.figure_of(axes)


def _ratio(c: LoadComparison) -> float:
    return c.result.ratio or 0.0


def _lower_is_better(comparisons: Sequence[LoadComparison]) -> bool:
    return comparisons[0].response.better == "lower"


def _draw(axes: Axes, panel: Sequence[LoadComparison], roles: Mapping[str, str], *, wide: bool) -> None:
    axes.axvline(1.0, color=style.ROLES["reference"].colour, linewidth=1.2)
    for row, c in enumerate(panel):
        look, result = style.ROLES[roles[c.result.subject]], c.result
        if result.low is not None and result.high is not None:
            axes.plot(
                [result.low, result.high], [row, row], color=look.colour, linewidth=4.0, solid_capstyle="butt"
            )
        filled = look.colour if result.low is not None else style.PAPER
        axes.plot(
            [_ratio(c)],
            [row],
            marker=look.marker,
            markersize=7.0,
            color=filled,
            markeredgecolor=style.PAPER if result.low is not None else look.colour,
            markeredgewidth=1.2,
        )
        numbers = (
            with_interval(result.ratio, result.low, result.high) if c.unlike is None else "unlike, not tested"
        )
        runs = f"n = {result.n} and {result.n_reference}" if c.blocked is None else "not like for like"
        axes.annotate(
            f"{numbers}\n{runs}" if wide else f"n = {result.n}",
            (1.0, row),
            (6, 0),
            xycoords=("axes fraction", "data"),
            textcoords="offset points",
            va="center",
            fontsize=style.TEXT_SIZE - 0.5,
            annotation_clip=False,
            linespacing=1.15,
        )
    names = [c.result.subject for c in panel]
    axes.set_yticks(range(len(panel)), [f"{name}\n{roles[name]}" if wide else name for name in names])
    axes.set_ylim(-0.6, len(panel) - 0.4)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", which="major")
