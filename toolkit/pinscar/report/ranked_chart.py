"""The chart of one load's oils, best first, with the letters of those that are not separated."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pinscar.decision.ranking import Ranking
from pinscar.report import style
from pinscar.report.interval_chart import interval_chart

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LETTERS_AT = {True: 78.0, False: 38.0}
"""Distance of the letters from the axes [pt], beside a wide count with its bounds and a narrow one."""
NO_LETTER = "–"


def ranked_chart(
    ranking: Ranking, roles: Mapping[str, str], *, width_mm: float = style.PRINT_WIDTH_MM
) -> Figure:
    """Draw the ranking with every run and, at the right, the letters.

    Parameters
    ----------
    ranking : Ranking
        The oils at one load.
    roles : dict of str to str
        Role of each lubricant.
    width_mm : float
        Width of the figure [mm].

    Returns
    -------
    Figure
        The chart.
    """
    figure = interval_chart(ranking.response, ranking.summaries, roles, width_mm=width_mm, numbers=False)
    if ranking.letters:
        with style.report_style():
            _add_letters(figure.axes[0], ranking, wide=width_mm >= 120)
    return figure


def _add_letters(axes: Axes, ranking: Ranking, *, wide: bool) -> None:
    # The chart has ordered its rows itself, so the letters follow the names that stand at them.
    names = [label.get_text().split("\n")[0] for label in axes.get_yticklabels()]
    for row, name in enumerate(names):
        _note(
            axes, row, ranking.letters.get(name, NO_LETTER), wide, weight="bold", size=style.TEXT_SIZE + 1.5
        )
    _note(axes, len(names) - 0.42, "group", wide, weight="normal", size=style.TEXT_SIZE - 0.5)


def _note(axes: Axes, row: float, text: str, wide: bool, *, weight: str, size: float) -> None:
    axes.annotate(
        text,
        (1.0, row),
        (LETTERS_AT[wide], 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        va="center" if weight == "bold" else "bottom",
        fontsize=size,
        fontweight=weight,
        color=style.INK if weight == "bold" else style.MUTED,
        annotation_clip=False,
    )
