"""Pieces that the study reports share: the front, lists of what was left out, the head of their results."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import problems_table, when_run
from pinscar.decision.record import Analysis
from pinscar.page.markup import Markup, bullet_list, finding, paragraph
from pinscar.wording import counted, significant

if TYPE_CHECKING:
    pass


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
    answer = paragraph(" ".join(sentences), "answer")
    return [*([lead] if question else []), finding(found), answer]


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
