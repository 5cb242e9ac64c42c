"""What the cells of every template show: pieces joined to one output, figures for print and phone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from pinscar.decision.kept_results import kept_result
from pinscar.language.current import current_speaker
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


def figure_for_both(
    draw: Callable[[float], Figure],
    *,
    alt: str,
    caption: str | Markup,
    key: str,
    made_from: tuple[object, ...] | None = None,
) -> str:
    """Draw a figure for print and for a phone, or take it as drawn before from the same things.

    What it is made from begins with the name of the chart, and holds all that the chart is told.
    """
    # In another language drawing also notes what could not be said.
    keep = made_from is not None and current_speaker() is None

    def drawn(width: float) -> style.Drawn:
        if not keep:
            return style.drawn(draw(width))
        return kept_result("figure", (width, made_from), lambda: style.drawn(draw(width)))

    wide, narrow = drawn(style.PRINT_WIDTH_MM), drawn(NARROW_MM)
    return style.figure_html(wide, alt=alt, caption=caption, key=key, narrow=narrow)
