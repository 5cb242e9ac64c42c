"""Lines of text that the PDF writer has measured once are not measured again.

The writer shapes the text of a table's cell for the least width, for the greatest, and for the line itself,
and all text of a page again when the page is laid out again. A line that fitted whole is the same line
wherever there is as much room.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from copy import copy
from typing import Any

USERS = ("weasyprint.layout.inline", "weasyprint.layout.preferred")
"""Modules of the writer that have text split into lines."""
SPLIT = "split_first_line"
"""What they call for it: text, style, context, room and more in; layout, length, rest, width and more out."""

Split = Callable[..., tuple[Any, ...]]


def remember_lines() -> None:
    """Have the writer remember the lines of the one document that this process makes."""
    users = [importlib.import_module(name) for name in USERS]
    if not all(hasattr(module, SPLIT) for module in users):
        return  # another release of the writer, which goes on measuring: a test says so
    quick = remembering(getattr(users[0], SPLIT))
    for module in users:
        setattr(module, SPLIT, quick)


def remembering(split: Split) -> Split:
    """Give the same function, which answers from memory where it was asked the same of the same style.

    Examples
    --------
    >>> def split(text, style, context, room, spacing):
    ...     print("measured"); return ["line"], len(text), None, 5.0
    >>> quick, style = remembering(split), object()
    >>> quick("oil", style, None, 7.0, 0)[1:], quick("oil", style, None, 6.0, 0)[1:]
    measured
    ((3, None, 5.0), (3, None, 5.0))
    """
    known: dict[tuple[Any, ...], tuple[Any, ...]] = {}
    whole: dict[tuple[Any, ...], tuple[Any, ...]] = {}
    styles: dict[int, object] = {}

    def split_first_line(
        text: str, style: Any, context: Any, room: float | None, *rest: Any, **more: Any
    ) -> tuple[Any, ...]:
        styles[id(style)] = style  # kept, so that no other style gets its number
        line = (text, id(style), rest)
        fitted = whole.get(line)
        if fitted is not None and (room is None or room >= fitted[3]):
            return _told(fitted, room)
        question = (*line, room, *more.items())
        if question not in known:
            known[question] = split(text, style, context, room, *rest, **more)
            _, length, left, *_ = known[question]
            if left is None and length == len(text.encode()):
                whole[line] = known[question]
        return _told(known[question], room)

    return split_first_line


def _told(line: tuple[Any, ...], room: float | None) -> tuple[Any, ...]:
    """Give a line as a copy: the drawing of one works on it."""
    layout = copy(line[0])
    if hasattr(layout, "max_width"):
        layout.max_width = room
    return (layout, *line[1:])
