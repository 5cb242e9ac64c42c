"""Say every text of a chart in another language before it is laid out."""

from __future__ import annotations

import textwrap
from functools import cache
from typing import TYPE_CHECKING, Any

from pinscar.language.speaker import Speaker

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.ticker import Formatter


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
    >>> from pinscar.language.catalogue import read_catalogue
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
