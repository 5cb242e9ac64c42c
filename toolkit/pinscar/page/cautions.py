"""The cautions where work starts, and the mark of a report on example or invented data.

Cautions stand on run sheets, the printed plan and the comparison sheet.
"""

from __future__ import annotations

from collections.abc import Iterable

from pinscar.campaign.model import Campaign
from pinscar.campaign.to_fill import CODE
from pinscar.errors import Problem

BENCH = (
    "Local rules come first. Hot metal, rotating parts, flung oil, smoke and solvents can hurt: guard the "
    "ring, no loose sleeves or hair, wear eye protection, extract smoke, keep solvents from ignition "
    "sources, let parts cool. Ask a qualified person."
)
"""All that a person must know before the first run, short enough for a hint of a spreadsheet (255 signs)."""


EXAMPLE = "Example data"
INVENTED = "Invented data"
MEANING = {
    EXAMPLE: "rows of the starter stand among the runs; pinscar check names them. Nothing here is a result.",
    INVENTED: "no such oils, rig or runs exist. Nothing here is a result.",
    "": "",
}
"""What each mark means, in words that follow it."""


def has_examples(problems: Iterable[Problem]) -> bool:
    """Tell whether a check found example rows."""
    return any(problem.code == CODE for problem in problems)


def data_mark(campaigns: Iterable[Campaign], titles: Iterable[str | None] = ()) -> str:
    """Give the mark of a report.

    Examples
    --------
    >>> data_mark([], ["Oils (invented demo data)"]), data_mark([], ["Oils, campaign 7"])
    ('Invented data', '')
    """
    every = [
        one
        for campaign in campaigns
        for one in (campaign, *campaign.control, *campaign.history, *campaign.reference_history)
    ]
    if any(has_examples(one.problems) for one in every):
        return EXAMPLE
    named = [*titles, *(one.file.campaign.title for one in every)]
    return INVENTED if any("invented" in (title or "").casefold() for title in named) else ""
