"""One run at the desk: what was typed, what it tells, and its picture, trace, recording and fling card."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from PIL import Image

from pinscar.campaign.codes import nearest
from pinscar.campaign_report.results import interval_cell
from pinscar.decision.evaluate import FLAGS
from pinscar.decision.evidence import CardSeen, RunSeen
from pinscar.decision.judgements import Summary
from pinscar.decision.record import Analysis
from pinscar.decision.recordings import RunHeard
from pinscar.decision.responses import Response, in_unit
from pinscar.desk.table import shown_units, si_units, styled
from pinscar.errors import UsageError
from pinscar.evidence.fling_card import FlingReading
from pinscar.evidence.scar_image import ScarReading
from pinscar.evidence.sound import QuietHeard
from pinscar.page import style
from pinscar.page.markup import Markup, paragraph, table
from pinscar.seen import cards, micrographs, sound, trace_chart, traces
from pinscar.seen.cards import card_lines
from pinscar.seen.sound_chart import draw_sound, sound_figure
from pinscar.seen.trace_chart import TraceDrawn
from pinscar.seen.traces import trace_drawn
from pinscar.shown import to_shown
from pinscar.units import to_unit
from pinscar.wording import listing, load_text, percentage, sentence, significant

if TYPE_CHECKING:
    from matplotlib.axes import Axes


BESIDE = (
    ("load", "Load", "N"),
    ("sliding_speed", "Sliding speed", "m/s"),
    ("sliding_distance", "Sliding distance", "m"),
    ("hertz_peak_pressure", "Hertz peak pressure", "MPa"),
    ("scar_depth", "Scar depth", "µm"),
    ("width_ratio", "Width over implied width", "1"),
)
"""What is computed of a run and is no response: column, label, unit."""
PIECES = ("micrograph", "trace", "recording", "fling card")


def run_html(
    analysis: Analysis,
    run: Mapping[Any, Any],
    seen: RunSeen | None,
    drawn: TraceDrawn | None,
    heard: RunHeard | None,
    card: CardSeen | None,
) -> str:
    """Show all that is known of a run."""
    roles = {run["lubricant"]: analysis.campaign.file.role_of(run["lubricant"])}
    parts = [
        Markup("<h3>Run {}: {} at {}</h3>").format(run["run_id"], run["lubricant"], load_text(run["load"])),
        *_remarks(analysis, run),
        Markup('<div class="beside">{}{}</div>').format(
            told_table(analysis, run), typed_table(analysis, run)
        ),
        *_pictures(seen, card),
        *([] if drawn is None else _trace(drawn, roles)),
        *([] if heard is None else _sound(heard, roles)),
        *_missing(run, dict(zip(PIECES, (seen, drawn, heard, card), strict=True))),
    ]
    return "\n".join(parts)


def told_table(analysis: Analysis, run: Mapping[Any, Any]) -> Markup:
    """Tabulate what a run tells, beside the estimate of its oil and load."""
    cells = {
        s.response.name: s
        for s in analysis.summaries
        if (s.cell.lubricant, s.cell.load_level) == (run["lubricant"], run["load_level"])
    }
    rows = [
        [f"{label} [{unit}]" if unit != "1" else label, significant(to_shown(run[name], unit)), "–", "–"]
        for name, label, unit in BESIDE
        if np.isfinite(run[name])
    ]
    lacking = []
    for response in analysis.responses:
        value = _value(response, run, cells.get(response.name))
        if value is None:
            lacking.append(response.label.lower())
            continue
        unit = "" if response.shown_unit == "1" else f" [{response.shown_unit}]"
        summary = cells.get(response.name)
        rows.append([f"{response.label}{unit}", value, *_estimate(summary)])
    note = f"Estimate with {percentage(analysis.confidence)} interval across repeats; n: runs."
    note += f" Not recorded for this run: {listing(lacking)}." if lacking else ""
    return table(
        ["Quantity", "This run", f"All {run['lubricant']} at this load", "n"],
        rows,
        caption="What the run tells",
        number_columns=(2, 3),
        note=note,
    )


def _estimate(summary: Summary | None) -> tuple[str, str]:
    if summary is None:
        return "–", "–"
    n = summary.estimate.n
    return ("single run" if n == 1 else interval_cell(summary)), str(n)


def _value(response: Response, run: Mapping[Any, Any], summary: Summary | None) -> str | None:
    """Write the run's value of a response; a bound is said as one."""
    bound, value = False, float(run.get(response.name, np.nan))
    if summary is not None and run["run_id"] in summary.cell.run_ids:
        place = summary.cell.run_ids.index(run["run_id"])
        bound, value = bool(summary.cell.censored[place]), float(summary.cell.values[place])
    elif response.name == "film_pressure":
        bound = bool(run["left_censored"])
    if not np.isfinite(value):
        return None
    text = significant((in_unit(response, value) or 0.0) * response.shown_factor)
    way = "at least" if response.censored_side == "right" else "at most"
    return f"{way} {text}" if bound else text


def typed_table(analysis: Analysis, run: Mapping[Any, Any]) -> Markup:
    """Tabulate what stands in the run's row of the file, in the units written there."""
    campaign = analysis.campaign
    runs = campaign.runs
    headers = {name: head for name, head in campaign.headers.items() if name in runs and name != "run_id"}
    row = runs[runs["run_id"] == run["run_id"]].to_dict("records")[0]
    # axes that were taken from repeated readings are not typed in this file
    taken = {"scar_length": row["scar_from"], "scar_width": row["width_from"]}
    row |= {name: None for name, source in taken.items() if source == "readings"}
    units = shown_units(analysis.runs, campaign.units)
    cells = {name: _typed(row[name], units.get(name)) for name in headers}
    blank = [name.replace("_", " ") for name, cell in cells.items() if not cell]
    rows = [[headers[name].replace("_", " "), cell] for name, cell in cells.items() if cell]
    note = f"Blank: {', '.join(blank)}." if blank else ""
    # weights are turned into a load as the file is read
    note += " The load comes from the weights." if "weights" in campaign.headers else ""
    return table(
        ["Column", "Typed"], rows, caption=f"What was typed, row {run['row']} of the file", note=note or None
    )


def _typed(value: Any, unit: str | None) -> str:
    if value is None or pd.isna(value):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, pd.Timestamp):
        return value.strftime("%Y-%m-%d %H:%M")
    if unit is None or isinstance(value, str):
        return str(value).strip()
    return f"{float(to_unit(float(value), unit)):.6g}".replace("-", "\N{MINUS SIGN}")


def _remarks(analysis: Analysis, run: Mapping[Any, Any]) -> Iterator[Markup]:
    if run["excluded"]:
        yield Markup(
            "<p><strong>Excluded:</strong> {} It is used nowhere, and its trace and recording {}</p>"
        ).format(sentence(run["excluded"]), "are not evaluated.")
    said = [sentence(FLAGS[flag]) for flag in run["flags"]]
    if said:
        yield Markup("<p><strong>Flags:</strong> {}</p>").format(" ".join(said))
    found = [f for f in analysis.findings if run["run_id"] in f.runs]
    for one in found:
        yield Markup("<p><strong>Audit, {}:</strong> {} {}</p>").format(one.severity, one.message, one.effect)


def _pictures(seen: RunSeen | None, card: CardSeen | None) -> Iterator[Markup]:
    shown = []
    if seen is not None:
        shown.append(_figure(micrographs.drawn(seen), _scar_words(seen), f"Micrograph of {seen.run_id}"))
    if card is not None:
        shown.append(_figure(cards.drawn(card), _card_words(card), f"Fling card of {card.run_id}"))
    if shown:
        yield Markup('<div class="beside">{}</div>').format(Markup("").join(shown))


def _scar_words(seen: RunSeen) -> str:
    reading = seen.reading
    if reading is None or reading.length is None or reading.width is None:
        return f"Micrograph: {seen.why_not}."
    pairs = zip(
        ("length", "width"),
        (reading.length, reading.width),
        (reading.length_uncertainty, reading.width_uncertainty),
        seen.typed,
        strict=True,
    )
    told = [
        f"{name} {to_shown(value, 'mm'):.2f} ± {to_shown(u or 0.0, 'mm'):.2f} mm "
        + ("(not typed)" if np.isnan(typed) else f"(typed {to_shown(typed, 'mm'):.2f})")
        for name, value, u, typed in pairs
    ]
    return f"Micrograph: {told[0]}, {told[1]}; score {reading.score:.2f}."


def _card_words(card: CardSeen) -> str:
    if card.reading is None or card.reading.fling_area is None:
        return f"Fling card: {card.why_not}."
    typed = "not typed" if np.isnan(card.typed) else f"typed {to_shown(card.typed, 'mm²'):.0f} mm²"
    return f"Fling card: {card_lines(card.reading)[0]} ({typed})."


def _figure(pixels: NDArray[np.uint8] | None, words: str, alt: str) -> Markup:
    if pixels is None:
        return paragraph(words)
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=88, optimize=True)
    source = base64.b64encode(stream.getvalue()).decode("ascii")
    return Markup(
        '<figure><img alt="{}" style="max-width:100%;height:300px;object-fit:contain" '
        'src="data:image/jpeg;base64,{}"><figcaption>{}</figcaption></figure>'
    ).format(alt, source, words)


def _trace(drawn: TraceDrawn, roles: Mapping[str, str]) -> list[Markup]:
    said = traces.run_sentence(drawn)
    figure = trace_chart.trace_figure([drawn], roles, total=1, sentence=said)
    return [paragraph(said), Markup(figure)]


def _sound(heard: RunHeard, roles: Mapping[str, str]) -> list[Markup]:
    said = sound.run_sentence(heard)
    figure = sound_figure([heard], roles, sentence=said)
    return [paragraph(said), Markup(figure)]


def _missing(run: Mapping[Any, Any], pieces: Mapping[str, object]) -> Iterator[Markup]:
    counts = ("micrograph", "fling card") if run["excluded"] else PIECES
    lacking = [name for name in counts if pieces[name] is None]
    if lacking:
        yield Markup('<p class="note">No {} of this run is in the folder.</p>').format(
            " and no ".join(lacking)
        )


TRACE_UNITS = {"time": "s", "friction_force": "N", "temperature": "K", "motor_power": "W"}
TRACE_MM, SOUND_MM, PICTURE_MM = (40.0, 34.0), (48.0,), (100.0,)


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a campaign; a notebook shows all that is known of it.

    Attributes
    ----------
    run_id : str
        The run.
    analysis : Analysis
        The evaluation of its campaign, with every response.
    """

    run_id: str
    analysis: Analysis

    @property
    def values(self) -> pd.Series:
        """Its row of the runs table, SI units, which stand in ``values.attrs["units"]``."""
        row = self._row.iloc[0].rename(self.run_id)
        row.attrs["units"] = si_units(self.analysis.runs, self.analysis.campaign.units)
        return row

    @property
    def trace(self) -> pd.DataFrame | None:
        """Its trace with the zero of the force taken off, SI units; None where none counts."""
        drawn = self._drawn()
        if drawn is None:
            return None
        frame = drawn.told.trace.copy()
        frame.attrs["units"] = {name: unit for name, unit in TRACE_UNITS.items() if name in frame}
        return frame

    @property
    def recording(self) -> QuietHeard | None:
        """What its recording tells; None where none counts."""
        heard = self._heard()
        return None if heard is None else heard.heard

    @property
    def scar(self) -> ScarReading | None:
        """What is read off its micrograph; None where there is none, or no scale of it."""
        seen = self._seen()
        return None if seen is None else seen.reading

    @property
    def fling(self) -> FlingReading | None:
        """What is read off its fling card; None where there is none, or it can't be read."""
        card = self._card()
        return None if card is None else card.reading

    def plot_trace(self, ax: Any = None) -> list[Axes]:
        """Draw friction coefficient and temperature against time."""
        drawn = self._drawn()
        if drawn is None:
            raise UsageError(f"{self.run_id} has no usable trace; traces lie in traces/RUN_ID.csv")
        axes = _axes(ax, TRACE_MM)
        trace_chart.draw_trace(axes, drawn, self._role)
        return axes

    def plot_sound(self, ax: Axes | None = None) -> Axes:
        """Draw the level of the recording against time, with the end of the noise."""
        heard = self._heard()
        if heard is None:
            raise UsageError(
                f"{self.run_id} has no usable recording; recordings lie in sound/, such as RUN_ID.wav"
            )
        if heard.heard.level is None:
            raise UsageError(f"{self.run_id}: {heard.heard.reason}")
        axes = _axes(ax, SOUND_MM)
        draw_sound(axes[0], heard, self._role)
        return axes[0]

    def plot_scar(self, ax: Axes | None = None) -> Axes:
        """Show the micrograph with the outline and axes that were read."""
        seen = self._seen()
        if seen is None:
            raise UsageError(f"{self.run_id} has no micrograph; they lie in micrographs/RUN_ID.jpg")
        picture = micrographs.drawn(seen)
        if picture is None:
            raise UsageError(f"{self.run_id}: {seen.why_not}")
        return _picture(ax, picture, f"{self.run_id}, {self._oil}")

    def plot_fling(self, ax: Axes | None = None) -> Axes:
        """Show the fling card, laid flat, with its drops outlined."""
        card = self._card()
        if card is None:
            raise UsageError(f"{self.run_id} has no fling card; they lie in fling/RUN_ID.jpg")
        picture = cards.drawn(card)
        if picture is None:
            raise UsageError(f"{self.run_id}: {card.why_not}")
        return _picture(ax, picture, f"{self.run_id}, {self._oil}")

    def _repr_html_(self) -> str:
        run = self._row.to_dict("records")[0]
        return styled(run_html(self.analysis, run, self._seen(), self._drawn(), self._heard(), self._card()))

    def __repr__(self) -> str:
        run = self._row.iloc[0]
        out = f", excluded: {run['excluded']}" if run["excluded"] else ""
        return f"<run {self.run_id}: {self._oil} at {run['load']:.0f} N{out}>"

    @property
    def _row(self) -> pd.DataFrame:
        return self.analysis.runs[self.analysis.runs["run_id"] == self.run_id]

    @property
    def _oil(self) -> str:
        return str(self._row["lubricant"].iloc[0])

    @property
    def _role(self) -> str:
        return self.analysis.campaign.file.role_of(self._oil)

    def _seen(self) -> RunSeen | None:
        return self.analysis.evidence.micrograph(self.run_id)

    def _card(self) -> CardSeen | None:
        return self.analysis.evidence.card(self.run_id)

    def _drawn(self) -> TraceDrawn | None:
        told = self.analysis.evidence.trace(self.run_id)
        return None if told is None else trace_drawn(self.analysis, told)

    def _heard(self) -> RunHeard | None:
        return self.analysis.evidence.recording(self.run_id)


def run_named(analysis: Analysis, run_id: str) -> Run:
    """Find a run by its name."""
    known = [str(name) for name in analysis.runs["run_id"]]
    if run_id in known:
        return Run(run_id, analysis)
    near = nearest(str(run_id), known)
    meant = "" if near is None else f"; did you mean {near!r}?"
    raise UsageError(f"no run is called {run_id!r}{meant} (there are {len(known)}: {known[0]} … {known[-1]})")


def _picture(ax: Axes | None, pixels: Any, title: str) -> Axes:
    axes = _axes(ax, PICTURE_MM)[0]
    with style.report_style():
        axes.imshow(pixels)
        axes.set_title(title, fontsize=style.TEXT_SIZE)
        axes.set_axis_off()
    return axes


def _axes(given: Any, heights: Sequence[float]) -> list[Axes]:
    """Give the person's own axes, or those of a new figure that the notebook shows."""
    if given is None:
        import matplotlib.pyplot as plt

        size = (style.PRINT_WIDTH_MM / 25.4, (sum(heights) + 8.0) / 25.4)
        with style.report_style():
            figure = plt.figure(figsize=size, layout="constrained")
            grid = figure.subplots(len(heights), 1, sharex=True, squeeze=False, height_ratios=list(heights))
        return list(grid[:, 0])
    axes = list(np.ravel(given))
    if len(axes) != len(heights):
        raise UsageError(f"this chart needs {len(heights)} axes, not {len(axes)}")
    return axes
