"""The part of the report on recordings: finding, table of typed against heard, chart of level, and method."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from pinscar.decision.record import Analysis
from pinscar.decision.recordings import GAIN, RunHeard, gains, loudness_of
from pinscar.page.markup import NO_BREAK, Markup, finding, method_note, table
from pinscar.seen.sound_chart import PANEL_MM, sound_figure
from pinscar.wording import counted, listing


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
    refused = _by_reason({run.run_id: run.heard.reason for run in runs if not run.heard.accepted})
    refused += _by_reason(
        {
            run.run_id: run.friction.reason
            for run in runs
            if run.friction is not None and not run.friction.accepted
        },
        of=", friction",
    )
    noted = [f"{run.run_id}: {run.heard.note}" for run in runs if run.heard.note]
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


def _by_reason(reasons: Mapping[str, str], of: str = "") -> list[str]:
    """Say each reason once, with all runs that it holds for."""
    runs: dict[str, list[str]] = {}
    for run_id, reason in reasons.items():
        runs.setdefault(reason, []).append(run_id)
    return [f"{listing(ids)}{of}: {reason}" for reason, ids in runs.items()]


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
