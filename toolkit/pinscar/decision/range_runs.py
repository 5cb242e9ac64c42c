"""The runs of several campaigns that may be compared through a reference oil, and why the others may not."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from pinscar.campaign.campaign import Campaign
from pinscar.decision.audit import audit
from pinscar.decision.audit_factors import with_readers
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.grouping import by_cell, by_level
from pinscar.decision.likeness import unlike_reason
from pinscar.decision.responses import Response
from pinscar.decision.together import combined_runs, refuse_same_ids, unlike_rig
from pinscar.decision.wording import counted, load_text

SAME_LOAD = "load-not-shared"
"""The one blocking finding that is no fault of a run: a load at which the reference was not run."""


def comparable_runs(
    campaigns: Sequence[Campaign], reference: str, response: Response
) -> tuple[pd.DataFrame, list[str]]:
    """Collect the runs that are alike over all campaigns.

    Parameters
    ----------
    campaigns : sequence of Campaign
        Checked campaigns.
    reference : str
        The oil that joins them.
    response : Response
        What is compared, on the log scale.

    Returns
    -------
    tuple of DataFrame and list of str
        Runs as from `combined_runs`, and a plain sentence for all that was left out.

    Raises
    ------
    InputError
        Where two campaigns have the same id.
    """
    refuse_same_ids(campaigns)
    left_out: list[str] = []
    kept, blocked = [], set()
    for one in campaigns:
        name = one.file.campaign.id
        unlike = unlike_rig(one.file.rig, campaigns[0].file.rig)
        if unlike is not None:
            left_out.append(f"Campaign {name}: {unlike} as in {campaigns[0].file.campaign.id}.")
            continue
        kept.append(one)
        for oil, level, reason in _blocked(one, reference, response.name):
            blocked.add((name, oil, level))
            left_out.append(f"{oil} of campaign {name}, by that campaign's audit: {reason}")
    runs = combined_runs(kept, [response.name])
    excluded = runs[runs["excluded"] != ""]
    left_out += [
        f"{counted(len(own), 'run')} of campaign {name}: excluded by the operator."
        for name, own in excluded.groupby("campaign")
    ]
    runs = runs[(runs["excluded"] == "") & runs["load_level"].notna()]
    bad = runs[~(runs[response.name] > 0.0)]
    left_out += [
        f"{counted(len(own), 'run')} of campaign {name}: no positive value of {response.label.lower()}."
        for name, own in bad.groupby("campaign")
    ]
    runs = runs[runs[response.name] > 0.0]
    keys = zip(runs["campaign"], runs["lubricant"], runs["load"], strict=True)
    free = [not any(_same(key, other) for other in blocked) for key in keys]
    return _like_campaigns(runs[free], reference, left_out)


def _same(key: tuple[str, str, float], other: tuple[str, str, float]) -> bool:
    return key[:2] == other[:2] and abs(key[2] - other[2]) <= 0.005 * other[2]


def _blocked(campaign: Campaign, reference: str, response: str) -> list[tuple[str, float, str]]:
    """Oils and loads that the campaign's own audit does not let compare with the reference."""
    runs = evaluate_runs(campaign)
    included = runs[runs["excluded"] == ""]
    findings = [
        finding
        for finding in audit(with_readers(runs, campaign.readings), reference)
        if finding.severity is Weight.BLOCKS and finding.id != SAME_LOAD and response not in finding.spares
    ]
    found = []
    for level, oil, cell in by_cell(included):
        if oil == reference:
            continue
        base = included[(included["lubricant"] == reference) & (included["load_level"] == level)]
        finding = next((one for one in findings if _concerns(one, cell, base)), None)
        if finding is not None:
            found.append((oil, level, finding.message))
    return found


def _concerns(finding: Finding, cell: pd.DataFrame, base: pd.DataFrame) -> bool:
    named = set(finding.runs)
    return not named or set(cell["run_id"]) <= named or (not base.empty and set(base["run_id"]) <= named)


def _like_campaigns(
    runs: pd.DataFrame, reference: str, left_out: list[str]
) -> tuple[pd.DataFrame, list[str]]:
    """Leave out campaigns whose reference was run unlike the first campaign's at the same load."""
    parts = []
    for level, own in by_level(runs):
        first: pd.DataFrame | None = None
        for name, group in own.groupby("campaign", sort=False):
            base = group[group["lubricant"] == reference]
            if not base.empty and first is not None:
                reason = unlike_reason(base, first, f"campaign {first['campaign'].iloc[0]}")
                if reason is not None:
                    left_out.append(f"Campaign {name} at {load_text(level)}: {reason}.")
                    continue
            first = base if first is None and not base.empty else first
            parts.append(group)
    return (pd.concat(parts) if parts else runs.iloc[:0]), left_out
