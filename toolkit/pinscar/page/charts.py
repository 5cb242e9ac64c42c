"""Pieces that several charts share: rows with names, notes in the right margin."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pinscar.page.style import TEXT_SIZE

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def name_rows(axes: Axes, names: Sequence[str], *, downwards: bool = False) -> None:
    """Name the rows of a chart at its left edge, with a grid of upright lines and no axis line."""
    ends = (-0.6, len(names) - 0.4)
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(*(reversed(ends) if downwards else ends))
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", which="major")


WIDE_NAME, NARROW_NAME, TIGHT_NAME = 24, 14, 30
"""Signs of a name in one line beside a chart; tight rows have one line only."""


def row_name(name: str, role: str, *, wide: bool, tight: bool = False) -> str:
    r"""Write an oil's name beside its row: a long one over two lines, the role below a short one.

    Examples
    --------
    >>> row_name("R-10", "reference", wide=True), row_name("Chain oil 5 of the older lot", "x", wide=True)
    ('R-10\nreference', 'Chain oil 5 of the older\nlot')
    """
    if tight and wide and len(name) + len(role) > TIGHT_NAME:
        return textwrap.shorten(name, TIGHT_NAME, placeholder=" …")
    lines = textwrap.wrap(name, WIDE_NAME if wide else NARROW_NAME, break_on_hyphens=False)
    if len(lines) == 1:
        between = ", " if tight else "\n"
        return f"{name}{between}{role}" if wide else name
    rest = lines[1] if len(lines) == 2 else f"{lines[1]} …"
    return f"{lines[0]}\n{rest}"


def margin_note(axes: Axes, text: str, row: float, offset: float = 6.0, **look: Any) -> None:
    """Write a note into the right margin, beside a row or a level line."""
    usual: dict[str, Any] = {"va": "center", "fontsize": TEXT_SIZE - 0.5}
    axes.annotate(
        text,
        (1.0, row),
        (offset, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        annotation_clip=False,
        **usual | look,
    )
