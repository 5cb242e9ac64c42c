"""Reading scars by hand at the desk: a picture with an ellipse to drag, its numbers, a button to save."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

import ipywidgets
import numpy as np
from numpy.typing import NDArray

from pinscar.bench.readings_file import Saved, save_with_undo, saved_readings, take_back
from pinscar.campaign.scar_readings import Reading
from pinscar.decision.media import read_picture
from pinscar.desk.scar_canvas import FIELDS, Field, ScarCanvas, numbers_of, with_number
from pinscar.desk.scar_round import (
    Picture,
    Round,
    Start,
    begin_round,
    left_words,
    progress_line,
    runs_read,
    start_of,
)
from pinscar.desk.table import problems_table, styled
from pinscar.errors import InputError, PinscarError, UsageError
from pinscar.evidence.ellipse import Ellipse
from pinscar.import_path import leave_folder
from pinscar.page.markup import Markup
from pinscar.shown import to_shown

LABELS = {"x": "Middle x", "y": "Middle y", "length": "Length", "width": "Width", "angle": "Angle"}
HELP = (
    "Drag the middle to move, an end of an axis to change length or width, the round handle to turn. "
    "The length lies along the pin, left to right in the picture."
)


def read_scars(
    folder: str | Path,
    reader: str,
    *,
    blind: bool = True,
    start: Literal["fit", "middle"] = "fit",
    seed: int = 1,
    width: int = 620,
) -> ReadingDesk:
    """Read the scars of a campaign by hand, in a notebook.

    Parameters
    ----------
    folder : str or pathlib.Path
        The campaign folder, with pictures in ``micrographs``.
    reader : str
        Who reads; it is written beside each reading.
    blind : bool
        Whether runs and oils are hidden behind codes, and the order is shuffled.
    start : {"fit", "middle"}
        Where the ellipse starts: at the automatic fit, which is quick, or in the middle of the picture, which
        influences no reading.
    seed : int
        Seed of codes and order; take another one for another round.
    width : int
        Width of the picture on the screen [px].

    Returns
    -------
    ReadingDesk
        The desk; a notebook shows it.

    Raises
    ------
    InputError
        If the runs or the readings have errors, or there is nothing to read.
    UsageError
        If the reader has no name, or there is no such start.

    References
    ----------
    Reading blind and in shuffled order: ISO 5725-2, section 5 (from memory); common practice.

    Examples
    --------
    >>> from pinscar.desk.campaign import demo
    >>> desk = read_scars(demo(), "A. Reader", start="middle", seed=7)
    >>> type(desk).__name__
    'ReadingDesk'
    """
    leave_folder(str(folder))
    return ReadingDesk(folder, reader, blind=blind, start=start, seed=seed, width=width)


class ReadingDesk:
    """Widgets that read scars by hand; the arguments are those of `read_scars`.

    Attributes
    ----------
    folder : str or pathlib.Path
        The campaign folder.
    reader : str
        Who reads.
    blind : bool
        Whether runs and oils are hidden.
    start : {"fit", "middle"}
        Where the ellipse starts.
    seed : int
        Seed of codes and order.
    width : int
        Width of the picture on the screen [px].
    """

    def __init__(
        self,
        folder: str | Path,
        reader: str,
        *,
        blind: bool = True,
        start: Literal["fit", "middle"] = "fit",
        seed: int = 1,
        width: int = 620,
    ) -> None:
        if start not in ("fit", "middle"):
            raise UsageError(f"start must be 'fit' or 'middle', not {start!r}")
        if not reader.strip() or not reader.isprintable():
            raise UsageError("the reader needs a name, in one line")
        self.round: Round = begin_round(Path(folder), reader.strip(), blind=blind, seed=seed)
        self._start = start
        self._seen: dict[str, tuple[NDArray[np.generic], Start]] = {}
        self._saved: list[tuple[int, bool, Saved]] = []
        self._telling = False
        self._number = 0
        self._read = runs_read(saved_readings(self.round.folder, self.round.run_ids), self.round)
        self._make_widgets(width)
        self._go(next((n for n, one in enumerate(self.round.pictures) if one.run_id not in self._read), 0))

    @property
    def picture(self) -> Picture:
        """The picture that is shown."""
        return self.round.pictures[self._number]

    @property
    def ellipse(self) -> Ellipse | None:
        """The ellipse as it is now [points]; None where the picture can't be shown."""
        return self.canvas.ellipse

    def previous(self) -> None:
        """Show the picture before this one."""
        self._go(self._number - 1)

    def next(self) -> None:
        """Show the picture after this one."""
        self._go(self._number + 1)

    def reset(self) -> None:
        """Put the ellipse back to where it started."""
        if self.ellipse is not None:
            self.put(self._seen[self.picture.run_id][1].ellipse)

    def put(self, ellipse: Ellipse) -> None:
        """Put the ellipse somewhere, as dragging does."""
        self.canvas.put(ellipse)
        self._tell(ellipse)

    def save(self) -> None:
        """Write the reading into readings.csv and go on to the next picture that isn't read yet."""
        shown, ellipse = self.picture, self.ellipse
        if ellipse is None or shown.scale is None:
            return
        reading = Reading(
            shown.run_id,
            self.round.reader,
            2 * ellipse.a * shown.scale,
            2 * ellipse.b * shown.scale,
            shown.code,
        )
        try:
            saved = save_with_undo(self.round.folder, reading, self.round.run_ids)
        except InputError as wrong:
            self.outcome.value = problems_table(
                wrong.problems, "nothing was saved, and readings.csv is as it was"
            )._repr_html_()
            return
        except PinscarError as wrong:
            self.outcome.value = _told(f"Not saved: {wrong}.")
            return
        self._saved.append((self._number, shown.run_id in self._read, saved))
        self._read.add(shown.run_id)
        left = [n for n, one in enumerate(self.round.pictures) if one.run_id not in self._read]
        after = [n for n in left if n > self._number]
        self._go((after or left or [self._number])[0])
        self.outcome.value = _told(
            f"{shown.name} saved: length {to_shown(reading.length, 'mm'):.3f} mm, "
            f"width {to_shown(reading.width, 'mm'):.3f} mm "
            f"(reading {saved.number} of {self.round.reader}); {left_words(len(left))}."
        )
        self._enable()

    def undo(self) -> None:
        """Take the last reading that was saved here out of readings.csv again, and show its picture."""
        if not self._saved:
            return
        number, before, saved = self._saved[-1]
        try:
            take_back(self.round.folder, saved)
        except PinscarError as wrong:
            self.outcome.value = _told(f"Not taken back: {wrong}.")
            return
        self._saved.pop()
        if not before:
            self._read.discard(self.round.pictures[number].run_id)
        self._go(number)
        self.outcome.value = _told(f"{self.picture.name}: its last reading is taken out of readings.csv.")

    def _make_widgets(self, width: int) -> None:
        self.canvas = ScarCanvas(self._tell, width)
        self.canvas.widget.layout = ipywidgets.Layout(width=f"{width}px", flex="0 0 auto")
        self.head, self.notice, self.outcome = ipywidgets.HTML(), ipywidgets.HTML(), ipywidgets.HTML()
        self.bar = ipywidgets.IntProgress(
            max=len(self.round.pictures), layout=ipywidgets.Layout(width="auto", height="14px")
        )
        self.progress = ipywidgets.HTML()
        full, half = ipywidgets.Layout(width="15.2em"), ipywidgets.Layout(width="7.45em")
        style = {"description_width": "7.6em"}
        self.fields: dict[Field, ipywidgets.FloatText] = {
            name: ipywidgets.FloatText(layout=full, style=style) for name in FIELDS
        }
        for name, field in self.fields.items():
            field.observe(lambda change, name=name: self._typed(name, change["new"]), names="value")
        again = "Back to the automatic fit" if self._start == "fit" else "Back to the middle"
        self.back = ipywidgets.Button(description="Previous", icon="arrow-left", layout=half)
        self.forth = ipywidgets.Button(description="Next", icon="arrow-right", layout=half)
        self.again = ipywidgets.Button(description=again, layout=full)
        self.button = ipywidgets.Button(
            description="Save and go on", icon="check", button_style="primary", layout=full
        )
        self.back.on_click(lambda _: self.previous())
        self.forth.on_click(lambda _: self.next())
        self.again.on_click(lambda _: self.reset())
        self.button.on_click(lambda _: self.save())
        self.takes_back = ipywidgets.Button(description="Undo last save", icon="undo", layout=full)
        self.takes_back.on_click(lambda _: self.undo())

    def _go(self, number: int) -> None:
        self._number = min(max(number, 0), len(self.round.pictures) - 1)
        self.outcome.value = ""
        shown = self.picture
        self.head.value = _told(f"{shown.name}", kind="finding")
        try:
            pixels, start = self._looked_at(shown)
            self.canvas.show(pixels, shown.scale, start.ellipse)
        except (InputError, ValueError) as wrong:
            self.canvas.clear()
            reason = wrong.problems[0].message if isinstance(wrong, InputError) else wrong
            self.notice.value = _told(f"This picture can't be read: {reason}.")
        else:
            self.notice.value = _told(" ".join([start.words, *self._remarks(shown)]))
            self._label()
            self._tell(start.ellipse)
        self._enable()

    def _looked_at(self, shown: Picture) -> tuple[NDArray[np.generic], Start]:
        if shown.run_id not in self._seen:
            self.notice.value = _told("Looking for the scar ...")
            pixels = read_picture(shown.path)
            self._seen[shown.run_id] = (pixels, start_of(pixels, shown.scale, self._start))
        return self._seen[shown.run_id]

    def _remarks(self, shown: Picture) -> list[str]:
        remarks = []
        if shown.scale is None:
            remarks.append(
                "Its micrograph_scale is blank in the runs table: without it there are no millimetres, and "
                "nothing can be saved."
            )
        if shown.run_id in self._read:
            remarks.append("You have read it in this round; saving adds another reading.")
        return remarks

    def _enable(self) -> None:
        self.back.disabled = self._number == 0
        self.forth.disabled = self._number == len(self.round.pictures) - 1
        nothing = self.ellipse is None
        for widget in (self.again, *self.fields.values()):
            widget.disabled = nothing
        self.button.disabled = nothing or self.picture.scale is None
        self.takes_back.disabled = not self._saved
        self.bar.value = len(self._read)
        self.progress.value = _told(
            progress_line(len(self._read), len(self.round.pictures), self.round.reader)
        )

    def _point(self) -> float:
        """Size of a point in the unit shown: millimetres, or points where there is no scale."""
        return 1.0 if self.picture.scale is None else to_shown(self.picture.scale, "mm")

    def _label(self) -> None:
        unit = "px" if self.picture.scale is None else "mm"
        for name, field in self.fields.items():
            field.description = f"{LABELS[name]} [{'deg' if name == 'angle' else unit}]"
            field.step = 0.1 if name == "angle" else 1.0 if self.picture.scale is None else 0.005

    def _tell(self, ellipse: Ellipse) -> None:
        """Show the numbers of the ellipse; what is shown must not come back as if it had been typed."""
        self._telling = True
        try:
            for name, value in numbers_of(ellipse, self._point()).items():
                self.fields[name].value = round(value, 2 if name == "angle" else 3) + 0.0
        finally:
            self._telling = False

    def _typed(self, name: Field, value: float) -> None:
        seen = self._seen.get(self.picture.run_id)
        if self._telling or self.ellipse is None or seen is None:
            return
        size = (seen[0].shape[1], seen[0].shape[0])
        self.put(with_number(self.ellipse, name, value, self._point(), size))

    def _ipython_display_(self) -> None:
        from IPython.display import display

        display(self.widget)

    @property
    def widget(self) -> Any:
        """All of it, laid out."""
        row, column = ipywidgets.HBox, ipywidgets.VBox
        side = column(
            [
                self.head,
                self.progress,
                self.bar,
                *(self.fields[name] for name in ("length", "width", "angle", "x", "y")),
                self.again,
                row([self.back, self.forth]),
                self.button,
                self.takes_back,
            ],
            layout=ipywidgets.Layout(margin="0 0 0 12px", min_width="15.6em"),
        )
        top = row(
            [self.canvas.widget, side],
            layout=ipywidgets.Layout(flex_flow="row wrap", align_items="flex-start"),
        )
        return column([top, self.outcome, self.notice, ipywidgets.HTML(_told(HELP, kind="note"))])


def _told(text: str, kind: str = "told") -> str:
    return styled(Markup('<div class="{}">{}</div>').format(kind, text))
