"""The recordings and traces of the sheet to look over: what was heard or read, drawn over its course."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pinscar.bench.gathered import signed
from pinscar.bench.review_sheet import Card
from pinscar.campaign.folder import evidence_by_run
from pinscar.decision.recordings import RunHeard, hear_file
from pinscar.evidence.warming import Warming
from pinscar.page import style
from pinscar.seen.sound_chart import draw_sound
from pinscar.shown import to_shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE_MM = (90.0, 60.0)
"""Width and height of a chart on the sheet."""

ROLE = "candidate"
"""Whose colour a course is drawn in: the sheet knows runs, no roles."""

CLOSE = 3.0
"""A typed temperature farther from the trace than so many standard uncertainties is looked at early."""

BY_EYE = 0.5
"""A typed temperature was read off a display to that [K] (common practice)."""


def heard_cards(folder: Path, runs: pd.DataFrame) -> Iterator[Card]:
    """Give a card for each recording: its level against time, with the end of the noise as it was heard."""
    files = evidence_by_run(folder, "sound")
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        duration, typed = float(run["duration"]), float(run["quiet_time"])
        told = RunHeard(
            run_id=run["run_id"],
            lubricant=run["lubricant"],
            load=float("nan"),
            duration=duration,
            typed=typed,
            file=file,
            heard=hear_file(folder / file, duration, run_at=run.get("run_at")),
            friction=None,
        )
        yield _heard_card(told)


def _heard_card(told: RunHeard) -> Card:
    heard = told.heard
    said = "no end heard"
    if heard.faded and heard.low is not None and heard.high is not None:
        said = f"faded between {heard.low:.1f} and {heard.high:.1f} s"
    elif heard.quiet_time is not None and heard.low is not None and heard.high is not None:
        said = f"{heard.quiet_time:.1f} s ({heard.low:.1f} to {heard.high:.1f} s)"
    apart = ""
    if not np.isnan(told.typed):
        said += f"; typed {told.typed:.1f} s"
        apart = ", which disagrees" if told.typed_off else ""
    lines = [("Quiet after", said + apart)]
    if heard.note:
        lines.append(("Tolerated", heard.note))
    refused = "" if heard.accepted or heard.faded else f"time it by hand: {heard.reason}"
    image = ""
    if heard.level is not None:
        with style.report_style():
            figure = style.new_figure(SIZE_MM[1], width_mm=SIZE_MM[0])
            draw_sound(figure.subplots(), told, ROLE)
        image = style.drawn(figure)[0]
    wide = (
        (heard.high - heard.low) / told.duration if heard.low is not None and heard.high is not None else 1.0
    )
    sure = -1.0 if refused else -0.25 if told.typed_off else 1.0 - wide
    return Card(f"{told.run_id}: recording", sure, image, tuple(lines), refused)


def warmed_cards(
    runs: pd.DataFrame,
    traces: Mapping[str, pd.DataFrame],
    warmings: Mapping[str, Warming | None],
    refused: Mapping[str, str],
) -> Iterator[Card]:
    """Give a card for each trace: the temperature against time, with start and peak as they were read."""
    for run in runs.to_dict("records"):
        name = run["run_id"]
        title = f"{name}: temperature"
        if name in refused:
            yield Card(title, -1.0, "", (), f"read by hand: {refused[name]}")
        elif name in warmings:
            warming = warmings[name]
            if warming is None:
                yield Card(title, -1.0, "", (), "read by hand: it has no two temperatures within the run")
            else:
                yield _warmed_card(title, run, traces[name], warming)


def _warmed_card(title: str, run: Mapping[Any, Any], trace: pd.DataFrame, warming: Warming) -> Card:
    lines, off = [], False
    for name, column, value, u in (
        ("Peak", "peak_temperature", warming.peak, warming.peak_uncertainty),
        ("Start", "ambient_temperature", warming.start, warming.start_uncertainty),
    ):
        typed = float(run[column])
        said = f"{to_shown(value, '°C'):.1f} °C"
        said += "" if np.isnan(u) else f", u {u:.1f} K"
        if not np.isnan(typed):
            said += f"; typed {to_shown(typed, '°C'):.1f} °C ({signed(value - typed, 1)} K)"
            # a start is no reading of the room's temperature: only the peak is set against what was typed
            off |= column == "peak_temperature" and abs(value - typed) > CLOSE * np.hypot(
                0.0 if np.isnan(u) else u, BY_EYE
            )
        lines.append((name, said))
    if warming.spikes:
        lines.append(("Left out", f"{warming.spikes} readings as spikes"))
    if warming.gaps:
        lines.append(("Gaps", ", ".join(f"{low:.0f} to {high:.0f} s" for low, high in warming.gaps)))
    with style.report_style():
        figure = style.new_figure(SIZE_MM[1], width_mm=SIZE_MM[0])
        _draw_temperature(figure.subplots(), trace, warming, float(run["duration"]))
    sure = -0.25 if off else 1.0 - _relative(warming)
    return Card(title, sure, style.drawn(figure)[0], tuple(lines), "")


def _relative(warming: Warming) -> float:
    """Give the uncertainty of the rise over the rise, 1 where it isn't known or there is no rise."""
    u = warming.rise_uncertainty
    return 1.0 if np.isnan(u) or warming.rise <= u else float(u / warming.rise)


def _draw_temperature(axes: Axes, trace: pd.DataFrame, warming: Warming, duration: float) -> None:
    """Draw the readings with their peak, start, and the load steps."""
    there = trace[trace["temperature"].notna()]
    time = there["time"].to_numpy(dtype=float)
    celsius = to_shown(there["temperature"].to_numpy(dtype=float), "°C")
    axes.plot(time, celsius, color=style.ROLES[ROLE].colour, linewidth=0.7, marker=".", markersize=2.0)
    peak, start = to_shown(warming.peak, "°C"), to_shown(warming.start, "°C")
    for value, at, name in ((peak, warming.time_of_peak, "peak"), (start, 0.0, "start")):
        axes.axhline(value, color=style.INK, linewidth=0.8)
        axes.plot([at], [value], marker="o", markersize=4.0, color=style.INK, linestyle="none")
        axes.annotate(
            name, (duration, value), xytext=(-3, 3), textcoords="offset points", ha="right", fontsize=7.5
        )
    for step in warming.steps:
        axes.axvline(step.begun, color=style.MUTED, linewidth=0.8, linestyle=(0, (3, 2)))
    room = 0.15 * max(peak - start, 1.0)
    axes.set_xlim(min(0.0, float(time.min())), max(duration, float(time.max())))
    axes.set_ylim(start - room, peak + 2.0 * room)
    axes.grid(axis="y")
    axes.set(xlabel="Time [s]", ylabel="Temperature [°C]")
