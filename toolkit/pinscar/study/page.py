"""Pieces that the reports of both studies share: the front, lists, figures for print and phone.

What the results of every study begin with: schema, campaign, warnings.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import problems_table, when_run
from pinscar.decision.record import Analysis
from pinscar.page import style
from pinscar.page.markup import Markup, finding, tie_units
from pinscar.wording import counted, significant

if TYPE_CHECKING:
    from IPython.display import HTML
    from matplotlib.figure import Figure


NARROW_MM = 92.0


def as_html(parts: Sequence[str]) -> HTML:
    """Join pieces to the output of a cell.

    Parameters
    ----------
    parts : sequence of str
        Ready HTML.

    Returns
    -------
    HTML
        The cell's output.
    """
    from IPython.display import HTML

    return HTML(tie_units("\n".join(str(part) for part in parts)))


def front_parts(analysis: Analysis, found: str, sentences: Sequence[str]) -> list[str]:
    """Give question, finding and answer, which stand above the first section.

    Parameters
    ----------
    analysis : Analysis
        The evaluated campaign.
    found : str
        The finding in words.
    sentences : sequence of str
        Two sentences or so that say how it was found.

    Returns
    -------
    list of str
        Ready HTML.
    """
    question = analysis.campaign.file.campaign.question
    when = when_run(analysis.included)
    lead = Markup('<p class="lead">{} <span class="nowrap">({})</span></p>').format(question, when)
    answer = Markup('<p class="answer">{}</p>').format(" ".join(sentences))
    return [*([lead] if question else []), finding(found), answer]


def bullet_list(sentences: Sequence[str]) -> Markup:
    """Give sentences as a list.

    Parameters
    ----------
    sentences : sequence of str
        One an item.

    Returns
    -------
    Markup
        A ``<ul>`` element.
    """
    return Markup("<ul>{}</ul>").format(
        Markup("").join(Markup("<li>{}</li>").format(sentence) for sentence in sentences)
    )


def left_out_parts(sentences: Sequence[str]) -> list[str]:
    """Say what had to stay out of a study.

    Parameters
    ----------
    sentences : sequence of str
        One for each thing; may be empty.

    Returns
    -------
    list of str
        Ready HTML.
    """
    if not sentences:
        return [Markup("<p>Nothing was left out.</p>")]
    head = Markup("<p>Left out, with the reason ({}):</p>").format(counted(len(sentences), "item"))
    return [head, bullet_list(sentences)]


def warning_parts(analysis: Analysis) -> list[str]:
    """Show the warnings of the check, where it has any.

    Parameters
    ----------
    analysis : Analysis
        The evaluated campaign.

    Returns
    -------
    list of str
        Ready HTML.
    """
    found = problems_table(analysis)
    return [] if found is None else [found]


def figure_for_both(draw: Callable[[float], Figure], *, alt: str, caption: str | Markup, key: str) -> str:
    """Draw a figure for print and for a phone.

    Parameters
    ----------
    draw : callable
        Draws it, given the width [mm].
    alt : str
        What it shows, as a sentence.
    caption : str or Markup
        Caption.
    key : str
        Name for references.

    Returns
    -------
    str
        A ``<figure>`` element.
    """
    wide, narrow = draw(style.PRINT_WIDTH_MM), draw(NARROW_MM)
    return style.figure_html(wide, alt=alt, caption=caption, key=key, narrow=narrow)


def sd_with_interval(value: float, low: float, high: float) -> str:
    """Write a standard deviation with its interval, which is too lopsided for a common last digit.

    Parameters
    ----------
    value, low, high : float
        The standard deviation and its limits.

    Returns
    -------
    str
        Three significant figures, and two for the limits.

    Examples
    --------
    >>> sd_with_interval(0.03687, 0.0293, 0.1616)
    '0.0369 (0.029 to 0.16)'
    """
    return f"{significant(value)} ({significant(low, 2)} to {significant(high, 2)})"
