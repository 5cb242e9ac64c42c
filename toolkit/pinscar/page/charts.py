"""Pieces that several charts share: rows with names, notes in the right margin."""

from __future__ import annotations

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
