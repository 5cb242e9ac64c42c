"""What the cells of every template show: pieces joined to one output, figures for print and phone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from pinscar.page import style
from pinscar.page.markup import Markup, tie_units

if TYPE_CHECKING:
    from IPython.display import HTML
    from matplotlib.figure import Figure

NARROW_MM = 92.0
"""Width of a figure for a phone."""


def as_html(parts: Sequence[str]) -> HTML:
    """Join pieces to the output of a cell."""
    from IPython.display import HTML

    return HTML(tie_units("\n".join(str(part) for part in parts)))


def figure_for_both(draw: Callable[[float], Figure], *, alt: str, caption: str | Markup, key: str) -> str:
    """Draw a figure for print and for a phone."""
    wide, narrow = draw(style.PRINT_WIDTH_MM), draw(NARROW_MM)
    return style.figure_html(wide, alt=alt, caption=caption, key=key, narrow=narrow)
