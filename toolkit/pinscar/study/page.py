"""Pieces that the study reports share: reading campaigns, the front, lists, the head of their results."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from markupsafe import Markup

from pinscar.campaign.model import Campaign
from pinscar.campaign_report.setting import problems_table
from pinscar.decision.record import Analysis
from pinscar.decision.results_context import campaign_entry, setting_entries
from pinscar.decision.runs import run_days, when_run
from pinscar.page.markup import bullet_list, finding, paragraph, table
from pinscar.press.subject import read_several
from pinscar.wording import counted, date_range, with_interval


def study_head(analysis: Analysis) -> dict[str, Any]:
    """Collect what results.json says of the campaign, whichever study was made of it."""
    return {
        **campaign_entry(analysis),
        "overall": None,
        "problems": [problem.as_dict() for problem in analysis.campaign.problems],
    } | setting_entries(analysis)


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


def read_folders(folders: Sequence[str]) -> list[Campaign]:
    """Read the campaigns that a report is about."""
    from pinscar.errors import UsageError

    if not folders:
        raise UsageError("give the folders of the campaigns")
    return read_several(Path(), folders)


def inputs_of(campaigns: Sequence[Campaign]) -> Mapping[str, str]:
    """List the files that several campaigns were read from."""
    return {
        posixpath.normpath((one.folder / name).as_posix()): digest
        for one in campaigns
        for name, digest in one.inputs.items()
    }


def campaign_entries(campaigns: Sequence[Campaign], lubricant: str) -> list[dict[str, Any]]:
    """Give the campaigns with their days and runs as results.json holds them."""
    found = []
    for one in campaigns:
        counts = one.runs[one.runs["excluded"] == ""]
        found.append(
            {
                "id": one.file.campaign.id,
                "title": one.file.campaign.title,
                "days": run_days(counts),
                "n": len(counts),
                "n_reference": int((counts["lubricant"] == lubricant).sum()),
                "warnings": len(one.problems),
            }
        )
    return found


def campaigns_table(campaigns: Sequence[Campaign], lubricant: str, caption: str) -> Markup:
    """Tabulate the campaigns with their days and runs."""
    rows = [
        [
            one["id"],
            one["title"] or "no title",
            date_range(one["days"]) if one["days"] else "not recorded",
            str(one["n"]),
            str(one["n_reference"]),
            counted(one["warnings"], "warning") if one["warnings"] else "none",
        ]
        for one in campaign_entries(campaigns, lubricant)
    ]
    return table(
        ["Campaign", "Title", "Days", "Included runs", f"of {lubricant}", "Warnings of the check"],
        rows,
        caption=caption,
        key="campaigns",
        number_columns=(3, 4),
        long=len(rows) > 12,
    )
