"""The charts of the report at the desk, drawn on new axes or on given ones, and sketches that explain."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pinscar.campaign_report.figures import limits_of, pressure_fall_chart, ratio_chart
from pinscar.campaign_report.growth_and_duty import growth_chart
from pinscar.campaign_report.interval_chart import FRAME_MM, PANEL_MM, ROW_MM, interval_chart
from pinscar.contact.geometry import CrossedCylinders
from pinscar.contact.overlap import sagitta
from pinscar.decision.criteria import judge
from pinscar.decision.judgements import Side
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.runs import same_level
from pinscar.errors import UsageError
from pinscar.page import style
from pinscar.shipped import nearest
from pinscar.shown import to_shown
from pinscar.wording import listing, load_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes


GROWTH_MM = 62.0


@dataclass(frozen=True, slots=True)
class Plots:
    """The charts of one campaign.

    Each method takes `ax`: none (a new figure, shown by the notebook), one axes, or one for each load; and
    `load`, in N, to draw one load only. It returns what it drew on: the axes where it is one, else a list.

    Attributes
    ----------
    analysis : Analysis
        The evaluation.
    """

    analysis: Analysis

    def film_pressure(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw the film pressure of each oil with every run; an open arrow is a run that gives a bound."""
        return self.response("film_pressure", ax, load)

    def scar_area(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw the scar area of each oil with every run."""
        return self.response("scar_area", ax, load)

    def response(self, name: str, ax: Any = None, load: float | None = None) -> Any:
        """Draw any response of each oil with every run, intervals and release limits."""
        response = response_named(self.analysis, name)
        found = [s for s in self.analysis.summaries if s.response.name == name]
        levels = _levels((s.cell.load_level for s in found), load)
        found = [s for s in found if s.cell.load_level in levels]
        limits = [limit for limit in limits_of(self.analysis, response) if limit.load_level in levels]
        axes = _axes(ax, [sum(s.cell.load_level == level for s in found) * ROW_MM for level in levels])
        interval_chart(response, found, self._roles(), limits, axes=axes)
        return _given_back(axes)

    def ratio(self, name: str = "scar_area", ax: Any = None, load: float | None = None) -> Any:
        """Draw each oil's ratio to the reference."""
        response_named(self.analysis, name)
        found = [
            c for c in self.analysis.comparisons if c.response.name == name and c.result.ratio is not None
        ]
        if not found:
            raise UsageError(f"no ratio of {name} to {self.analysis.reference} could be computed")
        levels = _levels((c.load_level for c in found), load)
        found = [c for c in found if c.load_level in levels]
        axes = _axes(ax, [sum(c.load_level == level for c in found) * ROW_MM for level in levels])
        ratio_chart(found, self._roles(), self.analysis.reference, axes=axes)
        return _given_back(axes)

    def contact(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw the fall of the contact pressure from the first touch to the final scar."""
        runs = self.analysis.included.dropna(subset=["scar_pressure", "load_level"])
        levels = _levels(runs["load_level"], load)
        runs = runs[runs["load_level"].isin(levels)]
        oils = [runs.loc[runs["load_level"] == level, "lubricant"].nunique() for level in levels]
        axes = _axes(ax, [count * ROW_MM for count in oils])
        pressure_fall_chart(runs, self._roles(), axes=axes)
        return _given_back(axes)

    def growth(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw how the scars grew: the wear-arrest model through quiet times and final scars."""
        curves = self.analysis.context.growth
        if not curves:
            raise UsageError("the wear-arrest model needs crossed cylinders and quiet times")
        levels = _levels((curve.load_level for curve in curves), load)
        axes = _axes(ax, [GROWTH_MM] * len(levels))
        growth_chart([c for c in curves if c.load_level in levels], self._roles(), axes=axes)
        return _given_back(axes)

    def _roles(self) -> dict[str, str]:
        return self.analysis.roles


def response_named(analysis: Analysis, name: str) -> Response:
    """Find a response by its name."""
    known = {response.name: response for response in analysis.responses}
    if name not in known:
        raise UsageError(f"no run has the response {name!r}{nearest(name, list(known))}")
    return known[name]


def _levels(found: Iterable[float], load: float | None) -> list[float]:
    levels = sorted({float(level) for level in found})
    chosen = [level for level in levels if load is None or same_level(level, load)]
    if not chosen:
        raise UsageError(f"nothing was run at {load:g} N; there is {listing([load_text(v) for v in levels])}")
    return chosen


def _axes(given: Any, heights: Sequence[float]) -> list[Axes]:
    """Give one axes a load: the person's own, or those of a new figure that the notebook shows."""
    if given is None:
        import matplotlib.pyplot as plt

        panels = [height + PANEL_MM for height in heights]
        size = (style.PRINT_WIDTH_MM / 25.4, (sum(panels) + FRAME_MM) / 25.4)
        with style.report_style():
            figure = plt.figure(figsize=size, layout="constrained")
            grid = figure.subplots(len(panels), 1, sharex=True, squeeze=False, height_ratios=panels)
        return list(grid[:, 0])
    axes = list(given.ravel() if hasattr(given, "ravel") else given if _is_several(given) else [given])
    if len(axes) != len(heights):
        raise UsageError(
            f"there are {len(heights)} loads and {len(axes)} axes; give one axes a load, or load="
        )
    return axes


def _is_several(given: Any) -> bool:
    return isinstance(given, list | tuple)


def _given_back(axes: list[Axes]) -> Any:
    return axes[0] if len(axes) == 1 else axes


Interval = tuple[float | None, float | None]


def scar_sketch(axes: Sequence[Axes], pair: CrossedCylinders, length: float) -> None:
    """Draw a scar to scale: along the pin, across it, and from above, with L, W, h, Rp and Rr."""
    along, across, above = axes
    depth, width = (
        to_shown(float(pair.scar_depth(length)), "mm"),
        to_shown(float(pair.implied_width(length)), "mm"),
    )
    pin, ring, long = (
        to_shown(pair.pin_radius, "mm"),
        to_shown(pair.ring_radius, "mm"),
        to_shown(length, "mm"),
    )
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
    """Draw intervals against a limit, each with its verdict; one open below is drawn as a bound."""
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
