"""The language of the charts that this process, a kernel, draws, and their texts said in it."""

from __future__ import annotations

import json
import os
import pickle
import textwrap
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pinscar.language.speaker import Speaker

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.ticker import Formatter


PLACE = "PINSCAR_LANGUAGE"
"""Environment variable by which a kernel knows the file; unset everywhere else, and for English."""
NAME = "language.pickle"
NOTED = "untranslated.jsonl"
"""Names of the file, and of the one where the kernel notes what it could not say."""


def announce(folder: Path) -> None:
    """Let this process know the language that was handed over to it."""
    os.environ.pop(PLACE, None)
    if (folder / NAME).is_file():
        os.environ[PLACE] = str(folder / NAME)


def hand_over(speaker: Speaker | None, folder: Path) -> None:
    """Write down the language for the kernel to take; nothing for English."""
    (folder / NOTED).unlink(missing_ok=True)
    if speaker is None:
        (folder / NAME).unlink(missing_ok=True)
    else:
        (folder / NAME).write_bytes(pickle.dumps(speaker))


def current_speaker() -> Speaker | None:
    """Give who says the texts of charts; None for English."""
    place = os.environ.get(PLACE)
    return None if place is None else _speaker(place)


@cache
def _speaker(place: str) -> Speaker:
    found = pickle.loads(Path(place).read_bytes())
    assert isinstance(found, Speaker)  # written by hand_over, into a folder of this person's own
    return found


def said(text: str) -> str:
    """Say a text that is drawn into a picture."""
    speaker = current_speaker()
    if speaker is None:
        return text
    found = speaker.say(text)
    note_missing(speaker)
    return found


def note_missing(speaker: Speaker) -> None:
    """Note what the charts so far could not say, for the worker to read."""
    place = Path(os.environ[PLACE]).with_name(NOTED)
    place.write_text("".join(f"{json.dumps(one)}\n" for one in speaker.missing), encoding="utf-8")


def noted(folder: Path) -> list[str]:
    """Read what the kernel could not say."""
    place = folder / NOTED
    lines = place.read_text(encoding="utf-8").splitlines() if place.is_file() else []
    return [str(json.loads(line)) for line in lines]


def say_figure(figure: Figure, speaker: Speaker) -> None:
    """Say titles, labels, notes, legends and ticks of a figure."""
    from matplotlib.text import Text

    said: Any = _said_formatter()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            for ticker in (axis.major, axis.minor):
                ticker.formatter = said(ticker.formatter, speaker)
    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        if text.get_text().strip():
            text.set_text(said_lines(text.get_text(), speaker))


def said_lines(text: str, speaker: Speaker) -> str:
    r"""Say a text of one or more lines: as one where it is known so, else line by line.

    Examples
    --------
    >>> from pinscar.language.messages import read_catalogue
    >>> said_lines("R-10\nreference", Speaker(catalogue=read_catalogue("de"), names=frozenset(["R-10"])))
    'R-10\nReferenz'
    """
    lines = text.split("\n")
    joined = " ".join(lines)
    if joined in speaker.names:
        return text
    if len(lines) > 1 and all(speaker.known(line) is not None for line in lines):
        return "\n".join(speaker.say(line) for line in lines)
    if len(lines) > 1 and speaker.known(joined) is not None:
        return textwrap.fill(speaker.say(joined), max(map(len, lines)) + 2, break_long_words=False)
    if len(lines) > 1 and speaker.general(joined) not in speaker.missing:
        return "\n".join(speaker.say(line) for line in lines)
    return speaker.say(text)


@cache
def _said_formatter() -> type[Formatter]:
    """Make the kind of formatter that says what another one writes; only a chart imports matplotlib."""
    from matplotlib.ticker import Formatter

    class Said(Formatter):
        def __init__(self, inner: Formatter, speaker: Speaker) -> None:
            self.inner, self.speaker = inner, speaker

        def __call__(self, value: float, position: int | None = None) -> str:
            return said_lines(self.inner(value, position), self.speaker)

        def format_ticks(self, values: Any) -> list[str]:
            return [said_lines(one, self.speaker) for one in self.inner.format_ticks(values)]

        def get_offset(self) -> str:
            return said_lines(self.inner.get_offset(), self.speaker)

        def set_locs(self, locs: Any) -> None:
            self.inner.set_locs(locs)

    return Said
