"""Audit of the conditions: whether the lubricants were run alike.

Audit of the handling: sample shaken, timer started with the load, and what the notes let slip.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.runs import SETTLED_WHERE_STOPPED, by_cell, by_level, by_lubricant, unlike_reason
from pinscar.wording import counted, listing, load_text

GAP_TOLERANCE = 0.02
"""Share of the duration that a timer may be off without being told."""
YES, NO = ("yes", "true", "1"), ("no", "false", "0")


@dataclass(frozen=True, slots=True)
class NoteWords:
    """Words in a note that ask for a second look.

    Parameters
    ----------
    id : str
        Name of the finding.
    pattern : str
        Regular expression, matched without regard to case.
    subject : str
        What the note speaks of.
    effect : str
        What that does to the conclusion.
    """

    id: str
    pattern: str
    subject: str
    effect: str


NOTES = (
    NoteWords(
        "note-on-load",
        r"\b(load|plates?|weights?|hanger)\b|\b(raised|lowered|added) (at|after|in)\b",
        "the load",
        "No load step is recorded for them: if the load changed, pressure and scar belong to another load.",
    ),
    NoteWords(
        "note-on-timer",
        r"\b(timer|stop-?watch|clock)\b|\bstarted late\b|\bby hand\b|\brestarted\b",
        "the timing",
        "If the real duration is another, scar and wear are not those of a repeat.",
    ),
    NoteWords(
        "note-on-label",
        r"\b(labels?|swapped|mixed up|mix-up|wrong (oil|can|bottle|sample))\b|\bwhich oil\b",
        "which oil it was",
        "Results of runs with another oil than stated count for the wrong one.",
    ),
)
"""What notes can let slip, in English words; a note in another language is not understood."""


def shaking(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find samples that were not shaken among ones that were.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs; a column ``shaken`` (yes / no) records it.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking where a lubricant was never shaken and the reference always, or the other way round.
    """
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
        first, second = (reference, listing(apart)) if others_unshaken else (listing(apart), reference)
        yield Finding(
            "shaken",
            Weight.BLOCKS,
            f"all {first} runs used shaken samples, all {second} runs unshaken ones.",
            "Settled components may not have reached the contact, so shaking may explain the difference.",
            tuple(known.loc[known["lubricant"].isin(apart), "run_id"]),
        )
    rest = known[unshaken & ~known["lubricant"].isin(apart)]
    if not rest.empty:
        yield Finding(
            "shaken",
            Weight.CAUTION,
            f"{counted(len(rest), 'run')} used a sample that was not shaken, the others shaken ones.",
            "Settled components may not have reached the contact; these runs may make the lubricant look "
            "better or worse.",
            tuple(rest["run_id"]),
        )


def apart_from_reference(runs: pd.DataFrame, raised: pd.Series, reference: str) -> list[str]:
    """Name the lubricants that differ from the reference in something throughout.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    raised : Series of bool
        Whether each of them has it.
    reference : str
        The reference lubricant.

    Returns
    -------
    list of str
        Lubricants that always have it where the reference never does, or never where it always does.
    """
    share = raised.groupby(runs["lubricant"], sort=False).mean()
    base = share.get(reference, float("nan"))
    return [str(name) for name, value in share.items() if abs(value - base) == 1.0]


def timer_gaps(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose timer did not start with the load, from a column ``timer_gap [s]``.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking where a lubricant's usual gap differs from the reference's by more than 2 % of the duration.
    """
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
                "timer-gap",
                Weight.BLOCKS,
                f"at {load_text(level)} the timer usually started {gaps[name]:.3g} s after the load with "
                f"{name}, {gaps[reference]:.3g} s with {reference}.",
                f"{name} and {reference} rubbed for different times: not like for like.",
                own_runs,
            )
    rest = late[~late["run_id"].isin(blocked)]
    if not rest.empty:
        yield Finding(
            "timer-gap",
            Weight.CAUTION,
            f"in {counted(len(rest), 'run')} the timer started more than 2 % of the duration off the load.",
            "These runs rubbed longer or shorter than stated.",
            tuple(rest["run_id"]),
        )


def notes(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find notes that speak of load, timing or label where no column says so.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most one per subject; a note on the load is left out of runs that have load steps.
    """
    del reference
    if "note" not in runs:
        return
    said = runs["note"].fillna("").astype(str)
    stepped = pd.Series(["load-steps" in flags for flags in runs["flags"]], index=runs.index, dtype=bool)
    for words in NOTES:
        hits = said.map(lambda text, p=words.pattern: re.search(p, text, re.IGNORECASE) is not None)
        if words.id == "note-on-load":
            hits &= ~stepped
        if hits.any():
            quoted = [f"{run.run_id}: {run.note}" for run in runs[hits].itertuples()]
            yield Finding(
                words.id,
                Weight.CAUTION,
                f"the note of {counted(int(hits.sum()), 'run')} speaks of {words.subject} "
                f"({'; '.join(quoted[:3])}{'; ...' if len(quoted) > 3 else ''}).",
                words.effect,
                tuple(runs.loc[hits, "run_id"]),
            )


SETTING_TOLERANCE = 0.02
DOSE_TOLERANCE = 0.10


def unlike_conditions(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants whose typical duration or speed differs from the reference's at the same load.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        One a lubricant and load, blocking.
    """
    for level, group in by_level(runs):
        base = group[group["lubricant"] == reference]
        if base.empty:
            continue
        for lubricant, own in by_lubricant(group):
            reason = None if lubricant == reference else unlike_reason(own, base)
            if reason is not None:
                settled = unlike_reason(own, base, response=SETTLED_WHERE_STOPPED) is None
                yield Finding(
                    "unlike-conditions",
                    Weight.BLOCKS,
                    f"{lubricant} at {load_text(level)} was {reason}.",
                    "Wear had stopped in all runs of both, so longer runs change no film pressure: these are "
                    "compared all the same, everything else is shown side by side but not tested."
                    if settled
                    else f"{lubricant} and {reference} are shown side by side at this load but not tested "
                    "against each other.",
                    tuple(own["run_id"]),
                    (SETTLED_WHERE_STOPPED,) if settled else (),
                )


def load_not_shared(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants that were run at a load at which the reference was not.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        One a load, blocking.
    """
    with_reference = set(runs.loc[runs["lubricant"] == reference, "load_level"])
    for level, group in by_level(runs):
        if level not in with_reference:
            names = listing(sorted(set(group["lubricant"])))
            yield Finding(
                "load-not-shared",
                Weight.BLOCKS,
                f"{names} ran at {load_text(level)}, {reference} did not.",
                "Results at different loads are not compared.",
                tuple(group["run_id"]),
            )


def odd_settings(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find single runs whose duration or speed differs from the rest at their load.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most one a setting.
    """
    del reference
    for column, words in (("duration", "a duration"), ("ring_speed", "a ring speed")):
        usual = runs.groupby(["lubricant", "load_level"])[column].transform("median")
        odd = runs[(runs[column] - usual).abs() > SETTING_TOLERANCE * usual]
        if not odd.empty:
            yield Finding(
                f"odd-{column.replace('_', '-')}",
                Weight.CAUTION,
                f"{counted(len(odd), 'run')} had {words} more than 2 % off the others of the same "
                "lubricant and load.",
                "Scar and wear volume grow with sliding distance, so these runs are not quite repeats of "
                "the others.",
                tuple(odd["run_id"]),
            )


def stepped_loads(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find runs whose load was raised while running.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking where only one side of a comparison has such runs throughout.
    """
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
        cells = listing([f"{name} at {load_text(level)}" for name, level in one_sided])
        raised = [(name, level) for name, level in one_sided if share[(name, level)] == 1.0]
        told = [
            f"{which} of {listing([f'{name} at {load_text(level)}' for name, level in group])} had the load "
            f"raised while running, {other} of {reference} there"
            for which, other, group in (
                ("all runs", "none", raised),
                ("no run", "all", [cell for cell in one_sided if cell not in raised]),
            )
            if group
        ]
        yield Finding(
            "load-history",
            Weight.BLOCKS,
            f"{'; '.join(told)}.",
            f"The scar keeps the history of the lower load; {cells} can't be called like for like.",
            tuple(runs.loc[apart, "run_id"]),
        )
    rest = stepped & ~apart
    if rest.any():
        yield Finding(
            "load-history",
            Weight.CAUTION,
            f"the load was raised while running in {counted(int(rest.sum()), 'run')}.",
            "Their final pressure is that of the last load, but the scar keeps the history of the "
            "earlier one.",
            tuple(runs.loc[rest, "run_id"]),
        )


def pin_preparation(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find re-ground pins among new ones.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking where one lubricant ran on re-ground pins only and the reference on new ones only.
    """
    states = runs[runs["pin_state"].isin(["new", "reground"])]
    if states["pin_state"].nunique() < 2:
        return
    reground = states["pin_state"] == "reground"
    apart = apart_from_reference(states, reground, reference)
    if apart:
        others_reground = bool(reground[states["lubricant"].isin(apart)].all())
        first, second = (listing(apart), reference) if others_reground else (reference, listing(apart))
        yield Finding(
            "pin-preparation",
            Weight.BLOCKS,
            f"all {first} runs used re-ground pins, all {second} runs new ones.",
            "The pins may explain the difference between them.",
            tuple(states.loc[states["lubricant"].isin(apart), "run_id"]),
        )
    rest = states[reground & ~states["lubricant"].isin(apart)]
    if not rest.empty:
        yield Finding(
            "pin-preparation",
            Weight.CAUTION,
            f"{counted(len(rest), 'run')} used re-ground pins, the others new ones.",
            "A re-ground surface can wear in differently; the spread includes that.",
            tuple(rest["run_id"]),
        )


def doses(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants with a dose of their own, and single runs whose dose is off their lubricant's.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant.

    Yields
    ------
    Finding
        Blocking for each lubricant whose usual dose is more than 10 % off the reference's; a caution for
        single runs.
    """
    known = runs[runs["dose"].notna()]
    usual = {name: float(group["dose"].median()) for name, group in by_lubricant(known)}
    base = usual.get(reference, np.nan)
    for name, dose in usual.items():
        if abs(dose - base) > DOSE_TOLERANCE * base:
            yield Finding(
                "dose",
                Weight.BLOCKS,
                f"{name} was dosed with {dose * 1e6:.3g} mL, {reference} with {base * 1e6:.3g} mL.",
                "More lubricant cools and feeds the contact, so the dose may explain a difference.",
                tuple(runs.loc[runs["lubricant"] == name, "run_id"]),
            )
    own = runs["lubricant"].map(usual)
    odd = runs[(runs["dose"] - own).abs() > DOSE_TOLERANCE * own]
    if not odd.empty:
        amounts = listing(sorted({f"{dose * 1e6:.3g}" for dose in own[odd.index]}))
        yield Finding(
            "dose",
            Weight.CAUTION,
            f"{counted(len(odd), 'run')} had a dose more than 10 % off the usual {amounts} mL.",
            "More lubricant cools and feeds the contact; these runs may make the lubricant look "
            "better or worse.",
            tuple(odd["run_id"]),
        )
