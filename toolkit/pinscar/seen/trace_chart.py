"""The chart of traces: friction and temperature of each run against time, with what changed when."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pinscar.decision.traces import RunTrace
from pinscar.evidence.friction_stop import FrictionStop
from pinscar.evidence.recorder import longest_step
from pinscar.evidence.sound import QuietHeard
from pinscar.page import style
from pinscar.page.outline import NARROW_MM, figure_for_both
from pinscar.shown import to_shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_RUNS = 9
MOST_POINTS = 600
"""More readings than a panel has room for are thinned to that many points [1]."""
FRICTION_MM, TEMPERATURE_MM = 27.0, 22.0

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TraceDrawn:
    """A run to be drawn.

    Attributes
    ----------
    told : RunTrace
        Its trace, the zero of the force taken off.
    steps : tuple of tuple of float
        Start [s] and load [N] of each load step, one at 0 s at least.
    typed : float
        Typed quiet time [s]; NaN where blank.
    heard : QuietHeard or None
        What its recording tells; None without one.
    stop : FrictionStop or None
        When friction settled; None without readings of the force.
    """

    told: RunTrace
    steps: tuple[tuple[float, float], ...]
    typed: float
    heard: QuietHeard | None
    stop: FrictionStop | None


def trace_chart(
    runs: Sequence[TraceDrawn],
    roles: Mapping[str, str],
    *,
    width_mm: float = style.PRINT_WIDTH_MM,
    share: float = 1.0,
) -> Figure:
    """Draw friction coefficient over temperature, a pair of panels a run."""
    columns = min(3 if width_mm >= 120 else 2, len(runs))
    blocks = -(-len(runs) // columns)
    with style.report_style():
        figure = style.new_figure(blocks * share * (FRICTION_MM + TEMPERATURE_MM) + 8.0, width_mm=width_mm)
        heights = [FRICTION_MM, TEMPERATURE_MM] * blocks
        grid = figure.subplots(2 * blocks, columns, sharex=True, squeeze=False, height_ratios=heights)
        limits = [_limits([_course(run, column) for run in runs]) for column in (_mu, _celsius)]
        first = {mark: place for place in reversed(range(len(runs))) for mark in _marks(runs[place])}
        for place in range(blocks * columns):
            pair = [grid[2 * (place // columns) + row, place % columns] for row in (0, 1)]
            if place >= len(runs):
                for axes in pair:
                    axes.set_visible(False)
                continue
            run, role = runs[place], roles[runs[place].told.lubricant]
            _friction_panel(pair[0], run, role)
            _temperature_panel(pair[1], run, role)
            for mark, where in _marks(run).items():
                if place == first[mark]:
                    _label(pair[mark == "heard"], mark, *where)
            for axes, (low, high) in zip(pair, limits, strict=True):
                axes.set_ylim(low, high)
                axes.tick_params(labelleft=place % columns == 0)
            if place + columns >= len(runs):
                pair[1].set_xlabel("Time [s]")
                pair[1].tick_params(labelbottom=True)
            if place % columns == 0:
                # A low panel has no room for the long words.
                pair[0].set_ylabel("Friction\ncoefficient" if share >= 1.0 else "Friction\ncoeff.")
                pair[1].set_ylabel("Temperature\n[°C]" if share >= 1.0 else "Temp.\n[°C]")
        grid[0, 0].set_xlim(0.0, max(run.told.duration for run in runs))
        figure.align_ylabels()
    return figure


def draw_trace(pair: Sequence[Axes], run: TraceDrawn, role: str) -> None:
    """Draw one run on axes that are there already."""
    with style.report_style():
        _friction_panel(pair[0], run, role)
        _temperature_panel(pair[1], run, role)
        for mark, where in _marks(run).items():
            _label(pair[mark == "heard"], mark, *where)
        for axes, quantity in zip(pair, (_mu, _celsius), strict=True):
            axes.set_xlim(0.0, run.told.duration)
            axes.set_ylim(*_limits([_course(run, quantity)]))
        pair[0].set_ylabel("Friction\ncoefficient")
        pair[1].set_ylabel("Temperature\n[°C]")
        pair[1].set_xlabel("Time [s]")


def trace_figure(
    runs: Sequence[TraceDrawn],
    roles: Mapping[str, str],
    *,
    total: int,
    sentence: str,
    share: float = 1.0,
) -> str:
    """Draw the traces for print and for a phone, with caption."""
    caption = "Friction coefficient and temperature of each run, as read."
    if any(len(run.steps) > 1 for run in runs):
        caption += " Dashed line: the load was raised."
    if any(run.heard is not None and run.heard.accepted for run in runs):
        caption += " Upright line: end of the noise as heard, in the band of its interval."
    if any(not np.isnan(run.typed) for run in runs):
        caption += " Triangle at the top: typed quiet time."
    if any(run.stop is not None and run.stop.accepted for run in runs):
        caption += " Dot and bar at the foot: when friction had settled, with its interval."
    if total > len(runs):
        caption += f" The first {len(runs)} of {total} runs with a trace; the tables have all."
    return figure_for_both(
        lambda width: trace_chart(runs, roles, width_mm=width, share=1.0 if width == NARROW_MM else share),
        alt=sentence,
        caption=caption,
        key="traces",
        made_from=("trace_chart", [_shown_of(run) for run in runs], roles, share),
    )


def _shown_of(run: TraceDrawn) -> tuple[object, ...]:
    """Give all that the chart shows of a run; its wear is not among it."""
    told = run.told
    return (told.run_id, told.lubricant, told.duration, told.trace, run.steps, run.typed, run.heard, run.stop)


def _mu(run: TraceDrawn) -> FloatArray:
    starts, loads = np.array(run.steps, dtype=np.float64).T
    time, force = (run.told.trace[one].to_numpy(dtype=float) for one in ("time", "friction_force"))
    at = np.clip(np.searchsorted(starts, time, side="right") - 1, 0, None)
    return np.asarray(force / loads[at], dtype=np.float64)


def _celsius(run: TraceDrawn) -> FloatArray:
    return to_shown(run.told.trace["temperature"].to_numpy(dtype=float), "°C")


def _course(run: TraceDrawn, quantity: Callable[[TraceDrawn], FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Take the readings within the run, with a missing value in each gap: no line is drawn over it."""
    time = run.told.trace["time"].to_numpy(dtype=float)
    values = quantity(run)
    seen = np.isfinite(values) & (time >= 0.0) & (time <= run.told.duration)
    time, values = time[seen], values[seen]
    torn = np.flatnonzero(np.diff(time) > longest_step(time, 0.0, run.told.duration)) + 1
    kept = _enough_to_draw(values, torn)
    torn = np.searchsorted(kept, torn)
    return np.insert(time[kept], torn, np.nan), np.insert(values[kept], torn, np.nan)


def _enough_to_draw(values: FloatArray, torn: NDArray[np.intp]) -> NDArray[np.intp]:
    """Choose the least and the greatest of many readings in a row, and the edges of gaps."""
    if values.size <= MOST_POINTS:
        return np.arange(values.size)
    chunks = np.array_split(np.arange(values.size), MOST_POINTS // 2)
    extremes = [chunk[pick(values[chunk])] for chunk in chunks for pick in (np.argmin, np.argmax)]
    ends = np.array([0, values.size - 1])
    return np.unique(np.concatenate([ends, np.array(extremes), torn - 1, torn]))


def _limits(courses: Sequence[tuple[FloatArray, FloatArray]]) -> tuple[float, float]:
    values = np.concatenate([one for _, one in courses])
    values = values[np.isfinite(values)]
    if not values.size:
        return 0.0, 1.0
    low, high = float(values.min()), float(values.max())
    room = 0.08 * (high - low) or 0.05 * abs(high) or 1.0
    return low - 2.5 * room, high + 2.5 * room


def _friction_panel(axes: Axes, run: TraceDrawn, role: str) -> None:
    told = run.told
    axes.set_title(f"{told.run_id}, {told.lubricant}", fontsize=style.TEXT_SIZE)
    _line(axes, _course(run, _mu), role)
    top = axes.get_xaxis_transform()
    for (start, load), (_, before) in zip(run.steps[1:], run.steps[:-1], strict=True):
        axes.axvline(start, color=style.MUTED, linewidth=0.8, linestyle=(0, (3, 2)))
        words = f" {before:.0f} to {load:.0f} N"
        late = start > 0.6 * told.duration
        axes.text(
            start, 0.97, f"{words} ", transform=top, ha="right" if late else "left", va="top", fontsize=7.0
        )
    heard = run.heard
    if heard is not None and heard.quiet_time is not None:
        axes.axvspan(heard.low or 0.0, heard.high or 0.0, color=style.RULE, linewidth=0)
        axes.axvline(heard.quiet_time, color=style.INK, linewidth=1.0)
    if not np.isnan(run.typed):
        mark: dict[str, Any] = {"marker": "v", "markersize": 5.5, "color": style.LIMIT, "linestyle": "none"}
        axes.plot([run.typed], [0.96], transform=top, clip_on=False, **mark)
    stop = run.stop
    if stop is not None and stop.time is not None and stop.low is not None and stop.high is not None:
        axes.plot([stop.low, stop.high], [0.06, 0.06], transform=top, color=style.INK, linewidth=1.0)
        axes.plot([stop.time], [0.06], transform=top, color=style.INK, marker="o", markersize=3.5)


def _marks(run: TraceDrawn) -> dict[str, tuple[float, float, str]]:
    """Say where on the time axis [s], how high up its panel [1], and on which side a mark has its name."""
    half, stop = 0.5 * run.told.duration, run.stop
    marks: dict[str, tuple[float, float, str]] = {}
    if run.heard is not None and run.heard.quiet_time is not None:
        at = run.heard.quiet_time
        marks["heard"] = (at, 0.06, "right" if at > half else "left")
    if not np.isnan(run.typed):
        # where the line of the noise comes soon after, the name stands before the mark
        soon = "heard" in marks and 0.0 <= marks["heard"][0] - run.typed < 0.2 * half
        marks["typed"] = (run.typed, 0.86, "right" if run.typed > half or soon else "left")
    if stop is not None and stop.low is not None and stop.high is not None:
        before = stop.low > 0.5 * half
        marks["settled"] = (stop.low if before else stop.high, 0.01, "right" if before else "left")
    return marks


def _label(axes: Axes, mark: str, at: float, height: float, side: str) -> None:
    """Name a mark beside it, once in the figure."""
    from matplotlib.patheffects import withStroke

    told = axes.text(
        at, height, f"  {mark}  ", transform=axes.get_xaxis_transform(), ha=side, va="bottom", fontsize=7.0
    )
    # A rim of paper keeps the name readable where a line runs behind it.
    told.set_path_effects([withStroke(linewidth=2.2, foreground=style.PAPER)])


def _temperature_panel(axes: Axes, run: TraceDrawn, role: str) -> None:
    _line(axes, _course(run, _celsius), role)
    for start, _ in run.steps[1:]:
        axes.axvline(start, color=style.MUTED, linewidth=0.8, linestyle=(0, (3, 2)))
    if run.heard is not None and run.heard.quiet_time is not None:
        axes.axvline(run.heard.quiet_time, color=style.INK, linewidth=1.0)


def _line(axes: Axes, course: tuple[FloatArray, FloatArray], role: str) -> None:
    axes.grid(axis="y")
    if not course[0].size:
        axes.text(0.5, 0.5, "not measured", transform=axes.transAxes, ha="center", va="center", fontsize=7.5)
        return
    axes.plot(*course, color=style.ROLES[role].colour, linewidth=0.9)
