"""Pieces that the reports on several campaigns share: reading them, their files, their warnings."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pinscar.campaign.record import Campaign
from pinscar.decision.runs import run_days
from pinscar.page.markup import Markup, table
from pinscar.press.subject import read_several
from pinscar.wording import counted, date_range


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
