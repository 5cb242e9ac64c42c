"""The part of the report on recordings: finding, table of typed against heard, chart of level, and method."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pinscar.decision.record import Analysis
from pinscar.decision.recordings import GAIN, RunHeard, gains, loudness_of
from pinscar.page import style
from pinscar.page.markup import NO_BREAK, Markup, finding, method_note, table
from pinscar.page.outline import NARROW_MM, figure_for_both
from pinscar.wording import counted, listing

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def sound_sentence(runs: Sequence[RunHeard]) -> str:
    """Say what the recordings tell."""
    times = [run.heard.quiet_time for run in runs if run.heard.quiet_time is not None]
    said = f"{len(times)} of {counted(len(runs), 'recording')} tell when the rubbing noise stopped"
    if times:
        said += (
            f": after {min(times):.0f} to {max(times):.0f} s"
            if len(times) > 1
            else f": after {times[0]:.0f} s"
        )
    return " ".join([f"{said}.", _typed_against_heard(runs), *_against_friction(runs)]).strip()


def run_sentence(run: RunHeard) -> str:
    """Say what the recording of one run tells."""
    heard = run.heard
    typed = "none typed" if pd.isna(run.typed) else f"typed {run.typed:.0f} s"
    if heard.faded:
        between = f"between {heard.low:.0f} and {heard.high:.0f} s"
        return f"Recording: the noise faded, and ended {between}; {typed}."
    if not heard.accepted:
        return f"Recording: the end of the noise is not determined ({heard.reason}); {typed}."
    off = ", which disagrees" if run.typed_off else ""
    said = [f"quiet after {_interval(heard.quiet_time, heard.low, heard.high)} s ({typed}{off})"]
    if heard.contrast is not None:
        said.append(f"the rubbing noise was {heard.contrast:.0f} dB above what remained")
    if heard.scrape_share is not None:
        said.append(f"rubbing took {100 * heard.scrape_share:.0f} % of the run")
    return f"Recording: {'; '.join(said)}."


def _typed_against_heard(runs: Sequence[RunHeard]) -> str:
    both = [run for run in runs if run.heard.accepted and not pd.isna(run.typed)]
    off = [run for run in both if run.typed_off]
    if not both:
        return "None of these runs has a typed quiet time to compare with."
    if not off:
        return f"The typed quiet time agrees in {_all(len(both))}."
    named = ", ".join(
        f"{run.run_id}: typed {run.typed:.0f} s, heard {run.heard.quiet_time:.0f} s" for run in off
    )
    return f"Typed and heard disagree in {len(off)} of {counted(len(both), 'run')} ({named})."


def _against_friction(runs: Sequence[RunHeard]) -> list[str]:
    both = [run for run in runs if run.heard.accepted and run.friction is not None and run.friction.accepted]
    apart = [run for run in both if run.friction_gap]
    if not both:
        return []
    if not apart:
        return [f"Sound and friction agree in {_all(len(both))} with both."]
    named = ", ".join(f"{run.run_id} by {run.friction_gap:.0f} s" for run in apart)
    return [
        f"Sound and friction disagree in {len(apart)} of {counted(len(both), 'run')} with both ({named})."
    ]


def _all(number: int) -> str:
    return "the one run" if number == 1 else f"all {number} runs"


UNKNOWN = "not determined"
CONTRAST = "Contrast: the rubbing noise above what remained when it had stopped."


def sound_table(runs: Sequence[RunHeard], gains: Sequence[str]) -> Markup:
    """Tabulate typed against heard quiet times."""
    loudness, why = _loudness(runs, gains)
    headers: list[str | tuple[str, str]] = [
        "Run", "Oil", ("Typed", "s"), ("Heard", "s"), ("Friction settled", "s"), ("Contrast", "dB"),
        ("Rubbing", "% of the run"),
    ]  # fmt: skip
    rows = [_row(run) for run in runs]
    if loudness:
        headers.append(("Loudness", "dB"))
        rows = [[*row, loudness.get(run.run_id, UNKNOWN)] for row, run in zip(rows, runs, strict=True)]
    refused = [f"{run.run_id}: {run.heard.reason}" for run in runs if not run.heard.accepted]
    noted = [f"{run.run_id}: {run.heard.note}" for run in runs if run.heard.note]
    refused += [
        f"{run.run_id}, friction: {run.friction.reason}"
        for run in runs
        if run.friction is not None and not run.friction.accepted
    ]
    note = " ".join(
        [
            CONTRAST,
            why,
            *(["Not determined, because: " + "; ".join(refused) + "."] if refused else []),
            *(["Tolerated: " + "; ".join(noted) + "."] if noted else []),
        ]
    )
    return table(
        headers,
        rows,
        caption="Quiet time as typed, as heard, and from friction",
        key="sound",
        number_columns=list(range(2, len(headers))),
        note=note,
    )


def _row(run: RunHeard) -> list[str]:
    heard, friction = run.heard, run.friction
    typed = (
        "not noted"
        if pd.isna(run.typed)
        else f"{run.typed:.3g}" + (f"{NO_BREAK}(disagrees)" if run.typed_off else "")
    )
    settled = "no trace" if friction is None else _interval(friction.time, friction.low, friction.high)
    settled += f"{NO_BREAK}(disagrees)" if run.friction_gap else ""
    contrast = UNKNOWN if heard.contrast is None else f"{heard.contrast:.0f}"
    share = UNKNOWN if heard.scrape_share is None else f"{100 * heard.scrape_share:.0f}"
    told = _interval(heard.quiet_time, heard.low, heard.high)
    told = f"faded, {heard.low:.0f} to {heard.high:.0f}" if heard.faded else told
    return [run.run_id, run.lubricant, typed, told, settled, contrast, share]


def _interval(value: float | None, low: float | None, high: float | None) -> str:
    if value is None or low is None or high is None:
        return UNKNOWN
    places = 1 if high - low < 5.0 else 0
    return f"{value:.{places}f} ({low:.{places}f} to {high:.{places}f})"


def _loudness(runs: Sequence[RunHeard], gains: Sequence[str]) -> tuple[dict[str, str], str]:
    """Say how loud the runs of one gain were; say which runs stay out, and why."""
    found = loudness_of(runs, gains)
    written = {run.run_id: gain for run, gain in zip(runs, gains, strict=True)}
    if not found.groups:
        return {}, f"Loudness is not compared: {_why_not_louder(found.unknown, found.alone)}."
    shown = dict.fromkeys(found.unknown, "gain not noted") | dict.fromkeys(found.alone, "other gain")
    for group in found.groups.values():
        shown |= {run_id: _decibels(level) for run_id, level in group.items()}
    parts = [f"that of {first} at gain {written[first]}" for first in found.groups]
    note = f"Loudness of the rubbing noise against {listing(parts)}."
    if len(found.groups) > 1 or found.alone or found.unknown:
        note += " Runs at different or unknown gains are not compared: the recorder's setting would show."
    return shown, note


def _decibels(level: float) -> str:
    text = f"{level:+.1f}"
    return "0.0" if text in ("+0.0", "-0.0") else text.replace("-", "\u2212")


def _why_not_louder(unknown: Sequence[str], alone: Sequence[str]) -> str:
    if not unknown and not alone:
        return "no recording gives it"
    if unknown and not alone:
        return f"no column {GAIN} says that runs were recorded at one gain"
    return f"by the column {GAIN}, no two runs that tell it were recorded at one gain"


def sound_method(confidence: float) -> Markup:
    """Say how a recording was read."""
    return method_note(
        "A-weighted level (IEC 61672-1) from 500 to 8000 Hz, or as far as the recording goes, in frames of "
        "0.1 s; change points by optimal partitioning (Killick, Fearnhead and Eckley, J. Am. Stat. Assoc. "
        "107, 2012); about the last change, by likelihood, a fitted step down; its end is the quiet "
        f"time, with its {100 * confidence:.0f} % interval. Friction counts as settled when 5 % of its fall "
        "is left. The intervals leave out a recorder started late or a wrong clock: 2 s are allowed "
        "before two times are said to disagree. A typed quiet time is the one used; pinscar gather fills in "
        "blank ones."
    )


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


def sound_parts(analysis: Analysis, *, with_method: bool = True, panel_mm: float = PANEL_MM) -> list[str]:
    """Show what the recordings tell: typed against heard quiet times, and each level against time."""
    heard = analysis.evidence.recordings
    if not heard:
        return [finding("No recordings: the folder sound holds none of an included run.")]
    roles = {run.lubricant: analysis.campaign.file.role_of(run.lubricant) for run in heard}
    sentence = sound_sentence(heard)
    return [
        finding(sentence),
        sound_figure(heard, roles, sentence=sentence, panel_mm=panel_mm),
        sound_table(heard, gains(analysis.campaign, heard)),
        *([sound_method(analysis.confidence)] if with_method else []),
    ]
