"""Audit of conditions and handling: whether the lubricants were run alike.

Loads, speeds, doses and pins; sample shaken, timer started with the load, and what the notes let slip.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from types import MappingProxyType

import numpy as np
import pandas as pd

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.runs import SETTLED_WHERE_STOPPED, by_cell, by_level, by_lubricant, unlike_reason

GAP_TOLERANCE = 0.02
"""Share of the duration that a timer may be off without being told."""
YES, NO = ("yes", "true", "1"), ("no", "false", "0")


NOTES = MappingProxyType(
    {
        "note-on-load": r"\b(load|plates?|weights?|hanger)\b|\b(raised|lowered|added) (at|after|in)\b",
        "note-on-timer": r"\b(timer|stop-?watch|clock)\b|\bstarted late\b|\bby hand\b|\brestarted\b",
        "note-on-label": (
            r"\b(labels?|swapped|mixed up|mix-up|wrong (oil|can|bottle|sample))\b|\bwhich oil\b"
        ),
    }
)
"""What notes can let slip, in English words; a note in another language is not understood."""


def shaking(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find samples that were not shaken among ones that were."""
    if "shaken" not in runs:
        return
    answers = runs["shaken"].fillna("").astype(str).str.strip().str.lower()
    known = runs[answers.isin([*YES, *NO])]
    unshaken = answers[known.index].isin(NO)
    if not unshaken.any() or unshaken.all():
        return
    apart = apart_from_reference(known, unshaken, reference)
    if apart:
        others_unshaken = bool(unshaken[known["lubricant"].isin(apart)].all())
        first, second = ([reference], apart) if others_unshaken else (apart, [reference])
        yield Finding(
            id="shaken",
            severity=Weight.BLOCKS,
            values={"shaken": first, "unshaken": second},
            runs=tuple(known.loc[known["lubricant"].isin(apart), "run_id"]),
            text="shaken-throughout",
        )
    rest = known[unshaken & ~known["lubricant"].isin(apart)]
    if not rest.empty:
        yield Finding(
            id="shaken",
            severity=Weight.CAUTION,
            values={"n": len(rest)},
            runs=tuple(rest["run_id"]),
            text="shaken-some",
        )


def apart_from_reference(runs: pd.DataFrame, raised: pd.Series, reference: str) -> list[str]:
    """Name the lubricants that differ from the reference in something throughout."""
    share = raised.groupby(runs["lubricant"], sort=False).mean()
    base = share.get(reference, float("nan"))
    return [str(name) for name, value in share.items() if abs(value - base) == 1.0]


def timer_gaps(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose timer did not start with the load, from a column ``timer_gap [s]``."""
    if "timer_gap" not in runs:
        return
    late = runs[runs["timer_gap"].abs() > GAP_TOLERANCE * runs["duration"]]
    blocked: set[str] = set()
    for level, group in by_level(runs[runs["timer_gap"].notna()]):
        gaps = {name: float(own["timer_gap"].median()) for name, own in by_lubricant(group)}
        allowed = GAP_TOLERANCE * float(group["duration"].median())
        apart = [n for n, gap in gaps.items() if reference in gaps and abs(gap - gaps[reference]) > allowed]
        for name in apart:
            own_runs = tuple(group.loc[group["lubricant"] == name, "run_id"])
            blocked.update(own_runs)
            yield Finding(
                id="timer-gap",
                severity=Weight.BLOCKS,
                values={
                    "load": level,
                    "oil": name,
                    "gap": gaps[name],
                    "reference": reference,
                    "gap_of_reference": gaps[reference],
                },
                runs=own_runs,
                text="timer-gap-throughout",
            )
    rest = late[~late["run_id"].isin(blocked)]
    if not rest.empty:
        yield Finding(
            id="timer-gap",
            severity=Weight.CAUTION,
            values={"n": len(rest)},
            runs=tuple(rest["run_id"]),
            text="timer-gap-some",
        )


def notes(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find notes that speak of load, timing or label where no column says so."""
    del reference
    if "note" not in runs:
        return
    said = runs["note"].fillna("").astype(str)
    stepped = pd.Series(["load-steps" in flags for flags in runs["flags"]], index=runs.index, dtype=bool)
    for name, pattern in NOTES.items():
        hits = said.map(lambda text, p=pattern: re.search(p, text, re.IGNORECASE) is not None)
        if name == "note-on-load":
            hits &= ~stepped
        if hits.any():
            quoted = [f"{run.run_id}: {run.note}" for run in runs[hits].itertuples()]
            yield Finding(
                id=name,
                severity=Weight.CAUTION,
                values={"n": len(quoted), "notes": quoted},
                runs=tuple(runs.loc[hits, "run_id"]),
            )


SETTING_TOLERANCE = 0.02
DOSE_TOLERANCE = 0.10


def unlike_conditions(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants whose typical duration or speed differs from the reference's at the same load."""
    for level, group in by_level(runs):
        base = group[group["lubricant"] == reference]
        if base.empty:
            continue
        for lubricant, own in by_lubricant(group):
            reason = None if lubricant == reference else unlike_reason(own, base)
            if reason is not None:
                settled = unlike_reason(own, base, response=SETTLED_WHERE_STOPPED) is None
                yield Finding(
                    id="unlike-conditions",
                    severity=Weight.BLOCKS,
                    values={"oil": lubricant, "reference": reference, "load": level, "reason": reason},
                    runs=tuple(own["run_id"]),
                    spares=(SETTLED_WHERE_STOPPED,) if settled else (),
                    text="unlike-but-settled" if settled else "unlike-conditions",
                )


def load_not_shared(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants that were run at a load at which the reference was not."""
    with_reference = set(runs.loc[runs["lubricant"] == reference, "load_level"])
    for level, group in by_level(runs):
        if level not in with_reference:
            yield Finding(
                id="load-not-shared",
                severity=Weight.BLOCKS,
                values={"oils": sorted(set(group["lubricant"])), "load": level, "reference": reference},
                runs=tuple(group["run_id"]),
            )


def odd_settings(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find single runs whose duration or speed differs from the rest at their load."""
    del reference
    for column in ("duration", "ring_speed"):
        usual = runs.groupby(["lubricant", "load_level"])[column].transform("median")
        odd = runs[(runs[column] - usual).abs() > SETTING_TOLERANCE * usual]
        if not odd.empty:
            yield Finding(
                id=f"odd-{column.replace('_', '-')}",
                severity=Weight.CAUTION,
                values={"n": len(odd)},
                runs=tuple(odd["run_id"]),
            )


def stepped_loads(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose load was raised while running."""
    stepped = np.array(["load-steps" in flags for flags in runs["flags"]], dtype=bool)
    if not stepped.any():
        return
    flagged = runs.assign(stepped=stepped)
    share = {(name, level): float(group["stepped"].mean()) for level, name, group in by_cell(flagged)}
    one_sided = [
        (name, level)
        for (name, level), value in share.items()
        if (reference, level) in share and abs(value - share[(reference, level)]) == 1.0
    ]
    in_cells = [cell in one_sided for cell in zip(runs["lubricant"], runs["load_level"], strict=True)]
    apart = np.array(in_cells, dtype=bool)
    if one_sided:
        raised = [cell for cell in one_sided if share[cell] == 1.0]
        histories = [
            [was_raised, reference, [list(cell) for cell in group]]
            for was_raised, group in (
                (True, raised),
                (False, [cell for cell in one_sided if cell not in raised]),
            )
            if group
        ]
        yield Finding(
            id="load-history",
            severity=Weight.BLOCKS,
            values={"histories": histories, "cells": [list(cell) for cell in one_sided]},
            runs=tuple(runs.loc[apart, "run_id"]),
            text="load-history-throughout",
        )
    rest = stepped & ~apart
    if rest.any():
        yield Finding(
            id="load-history",
            severity=Weight.CAUTION,
            values={"n": int(rest.sum())},
            runs=tuple(runs.loc[rest, "run_id"]),
            text="load-history-some",
        )


def pin_preparation(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find re-ground pins among new ones."""
    states = runs[runs["pin_state"].isin(["new", "reground"])]
    if states["pin_state"].nunique() < 2:
        return
    reground = states["pin_state"] == "reground"
    apart = apart_from_reference(states, reground, reference)
    if apart:
        others_reground = bool(reground[states["lubricant"].isin(apart)].all())
        first, second = (apart, [reference]) if others_reground else ([reference], apart)
        yield Finding(
            id="pin-preparation",
            severity=Weight.BLOCKS,
            values={"reground": first, "new": second},
            runs=tuple(states.loc[states["lubricant"].isin(apart), "run_id"]),
            text="pin-preparation-throughout",
        )
    rest = states[reground & ~states["lubricant"].isin(apart)]
    if not rest.empty:
        yield Finding(
            id="pin-preparation",
            severity=Weight.CAUTION,
            values={"n": len(rest)},
            runs=tuple(rest["run_id"]),
            text="pin-preparation-some",
        )


def doses(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants with a dose of their own, and single runs whose dose is off their lubricant's."""
    known = runs[runs["dose"].notna()]
    usual = {name: float(group["dose"].median()) for name, group in by_lubricant(known)}
    base = usual.get(reference, np.nan)
    for name, dose in usual.items():
        if abs(dose - base) > DOSE_TOLERANCE * base:
            yield Finding(
                id="dose",
                severity=Weight.BLOCKS,
                values={"oil": name, "dose": dose, "reference": reference, "dose_of_reference": base},
                runs=tuple(runs.loc[runs["lubricant"] == name, "run_id"]),
                text="dose-throughout",
            )
    own = runs["lubricant"].map(usual)
    odd = runs[(runs["dose"] - own).abs() > DOSE_TOLERANCE * own]
    if not odd.empty:
        yield Finding(
            id="dose",
            severity=Weight.CAUTION,
            values={"n": len(odd), "doses": [float(dose) for dose in own[odd.index]]},
            runs=tuple(odd["run_id"]),
            text="dose-some",
        )
