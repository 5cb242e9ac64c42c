"""Audit of the handling: sample shaken, timer started with the load, and what the notes let slip."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.grouping import by_level, by_lubricant
from pinscar.decision.wording import counted, listing, load_text

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
        At most one a subject; a note on the load is left out of runs that have load steps.
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
