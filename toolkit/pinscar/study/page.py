"""Pieces that the study reports share: the front, lists of what was left out, the head of their results."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import problems_table
from pinscar.decision.record import Analysis
from pinscar.decision.runs import when_run
from pinscar.page.markup import Markup, bullet_list, finding, paragraph
from pinscar.wording import counted, with_interval

if TYPE_CHECKING:
    pass


def front_parts(analysis: Analysis, found: str, sentences: Sequence[str]) -> list[str]:
    """Give question, finding and answer, which stand above the first section."""
    question = analysis.campaign.file.campaign.question
    when = when_run(analysis.included)
    lead = Markup('<p class="lead">{} <span class="nowrap">({})</span></p>').format(question, when)
    answer = paragraph(" ".join(sentences), "answer")
    return [*([lead] if question else []), finding(found), answer]


def left_out_parts(sentences: Sequence[str]) -> list[str]:
    """Say what had to stay out of a study."""
    if not sentences:
        return [Markup("<p>Nothing was left out.</p>")]
    head = Markup("<p>Left out, with the reason ({}):</p>").format(counted(len(sentences), "item"))
    return [head, bullet_list(sentences)]


def warning_parts(analysis: Analysis) -> list[str]:
    """Show the warnings of the check, where it has any."""
    found = problems_table(analysis)
    return [] if found is None else [found]


def sd_with_interval(value: float, low: float, high: float) -> str:
    """Write a standard deviation with its interval, no finer than the interval tells it.

    Examples
    --------
    >>> sd_with_interval(0.03687, 0.0293, 0.1616)
    '0.037 (0.029 to 0.16)'
    """
    return with_interval(value, low, high)
