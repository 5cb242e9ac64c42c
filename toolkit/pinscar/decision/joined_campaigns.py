"""Several campaigns taken together: their runs in one table, and whether their rigs are alike."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from pinscar.campaign.model import Campaign, Rig
from pinscar.decision.audit import audit, with_readers
from pinscar.decision.evaluate import evaluate_runs
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.responses import STANDARD, Response, own_responses
from pinscar.decision.runs import by_cell, by_level, load_levels, unlike_reason
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.shown import to_shown
from pinscar.wording import counted, listing, load_text

SAME_LOAD = "load-not-shared"
"""The one blocking finding that is no fault of a run: a load at which the reference was not run."""


RIG_KEYS = (
    ("geometry", "contact", None),
    ("pin_diameter", "pin diameter", "mm"),
    ("ring_diameter", "ring diameter", "mm"),
    ("crossing_angle", "crossing angle", "°"),
)
"""What of a rig decides the size of a scar besides load, speed and duration."""

COLUMNS = ("run_id", "lubricant", "load", "duration", "ring_speed", "run_at", "run_day", "excluded")


def combined_runs(campaigns: Sequence[Campaign], responses: Sequence[str]) -> pd.DataFrame:
    """Put the evaluated runs of several campaigns into one table.

    Load levels are formed over all of them, so that 450 N in one campaign and 451 N in another are one level.
    """
    refuse_same_ids(campaigns)
    frames = [_part(campaign, responses) for campaign in campaigns]
    runs = pd.concat([frame for frame in frames if not frame.empty], ignore_index=True)
    runs["load_level"] = load_levels(runs["load"], runs["excluded"] == "")
    return runs


def refuse_same_ids(campaigns: Sequence[Campaign]) -> None:
    """Refuse campaigns that could not be told apart."""
    ids = [campaign.file.campaign.id for campaign in campaigns]
    twice = [one for one in dict.fromkeys(ids) if ids.count(one) > 1]
    if twice:
        raise InputError(
            [
                Problem(
                    code="campaign-id-twice",
                    severity=Severity.ERROR,
                    file="campaign.toml",
                    message=f"{ids.count(one)} of these campaigns have the same id",
                    mend="give each campaign its own id",
                    column="campaign.id",
                    value=one,
                )
                for one in twice
            ]
        )


def unbounded_response(campaigns: Sequence[Campaign], name: str) -> Response:
    """Find a response that can be followed over campaigns: one whose values are never bounds."""
    known = {r.name: r for one in campaigns for r in own_responses(one.units)} | {r.name: r for r in STANDARD}
    if name not in known:
        raise UsageError(f"no campaign has the response {name!r}; there are {', '.join(sorted(known))}")
    if known[name].censored_side:
        raise UsageError(
            f"{name} can be a bound, which cannot be followed over campaigns; take scar_area instead"
        )
    return known[name]


def unlike_rig(rig: Rig, base: Rig) -> str | None:
    """Say in what a rig differs from another so that scars on the two don't compare."""
    for key, words, unit in RIG_KEYS:
        own, other = getattr(rig, key), getattr(base, key)
        if unit is None or own is None or other is None:
            if own != other:
                return f"its {words} is {own}, not {other}"
        elif not math.isclose(own, other, rel_tol=1e-3):
            shown, here = (f"{to_shown(value, unit):.4g} {unit}" for value in (own, other))
            return f"its {words} is {shown}, not {here}"
    return None


def _part(campaign: Campaign, responses: Sequence[str]) -> pd.DataFrame:
    runs = evaluate_runs(campaign)
    part = runs[[*COLUMNS, "left_censored"]].copy()
    for name in responses:
        part[name] = runs[name].astype(float) if name in runs else math.nan
    part.insert(0, "campaign", campaign.file.campaign.id)
    days = pd.to_datetime(runs["run_day"].where(runs["run_day"] != ""), errors="coerce")
    part["time"] = pd.to_datetime(runs["run_at"]).fillna(days)
    return part


HISTORY = (
    "the history that {campaign} names ({named}): a product range takes the scatter of repeats from the runs "
    "that it joins, so earlier campaigns count only where they are given here"
)


def history_left_out(campaigns: Sequence[Campaign]) -> list[str]:
    """Say of each campaign that asks for earlier ones' scatter that it is not counted in here."""
    settings = [one.file.campaign for one in campaigns]
    return [HISTORY.format(campaign=one.id, named=listing(one.history)) for one in settings if one.history]


def comparable_runs(
    campaigns: Sequence[Campaign], reference: str, response: Response
) -> tuple[pd.DataFrame, list[str]]:
    """Collect the runs that are alike over all campaigns."""
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


def _same(key: tuple[str, str, float], other: tuple[str, str, float]) -> bool:
    return key[:2] == other[:2] and abs(key[2] - other[2]) <= 0.005 * other[2]
