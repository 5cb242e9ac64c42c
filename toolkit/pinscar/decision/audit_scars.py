"""Audit of the scars: geometry, wear still running, and how they were read."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pinscar.decision.finding import Finding, Weight
from pinscar.decision.wording import counted, listing

BLIND_COLUMNS = ("read_blind", "blind")
LEAN = "A reader who knows the product can lean on the edge of a scar without meaning to."


def off_geometry(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find scars whose width does not fit their length.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most two: widths off the geometry, and widths not measured.
    """
    del reference
    for flag, severity, words, effect in (
        (
            "width-off-geometry",
            Weight.CAUTION,
            "had a scar more than 15 % off the width that its length implies",
            "A tilted pin, a worn ring or a misread scar makes area and pressure of these runs doubtful.",
        ),
        (
            "width-implied",
            Weight.NOTE,
            "had no measured width",
            "Their area uses the width that the length implies and can't show tilt.",
        ),
        (
            "quiet-contradicts",
            Weight.CAUTION,
            "had a quiet time that contradicts what was noted about wear",
            "The noted state was used; check the sound or the trace.",
        ),
    ):
        chosen = _flagged(runs, flag)
        if chosen:
            verb = f"{counted(len(chosen), 'run')} {words}."
            yield Finding(flag, severity, verb, effect, chosen)


def wear_running(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find lubricants with runs that were still wearing, or not judged, at the end.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most two: still wearing, and not judged.
    """
    del reference
    running = _flagged(runs, "wear-running")
    if running:
        names = listing(sorted(set(runs.loc[runs["run_id"].isin(running), "lubricant"])))
        yield Finding(
            "wear-running",
            Weight.CAUTION,
            f"wear was still running at the end of {counted(len(running), 'run')} ({names}).",
            "Their film pressure is an upper bound; longer runs would turn bounds into values.",
            running,
        )
    unjudged = _flagged(runs, "wear-not-judged")
    if unjudged:
        yield Finding(
            "wear-not-judged",
            Weight.CAUTION,
            f"whether wear had stopped was not noted in {counted(len(unjudged), 'run')}.",
            "They are treated as still wearing, so their oil's film may be stronger than it looks here, and "
            "another oil's ratio to it smaller.",
            unjudged,
        )


def blind_reading(runs: pd.DataFrame, reference: str) -> Iterator[Finding]:
    """Find scars that were, or may have been, read by someone who knew the product.

    Parameters
    ----------
    runs : DataFrame
        Evaluated, included runs; a column ``read_blind`` (yes / no) records how each was read. Where it says
        nothing, a scar that was read under blind codes (``read_by_code``) counts as read blind.
    reference : str
        The reference lubricant; not used, every check has the same arguments.

    Yields
    ------
    Finding
        At most two: scars without a record, and scars read by someone who knew the product.
    """
    del reference
    nothing = pd.Series("", index=runs.index)
    column = next((runs[name] for name in BLIND_COLUMNS if name in runs), nothing)
    answers = column.fillna("").astype(str).str.strip().str.lower()
    by_code = runs["read_by_code"].astype(bool) if "read_by_code" in runs else nothing.astype(bool)
    untold = tuple(runs.loc[(answers == "") & ~by_code, "run_id"])
    if untold:
        every = len(untold) == len(runs)
        scars = "scars were" if every else _scars_were(len(untold))
        yield Finding(
            "blind-not-recorded",
            Weight.NOTE,
            f"no record says whether {scars} read blind.",
            LEAN,
            () if every else untold,
        )
    seen = tuple(runs.loc[answers.isin(["no", "false", "0"]), "run_id"])
    if seen:
        yield Finding(
            "read-knowing",
            Weight.CAUTION,
            f"{_scars_were(len(seen))} read by someone who knew the product.",
            LEAN,
            seen,
        )


def _scars_were(number: int) -> str:
    return f"{counted(number, 'scar')} {'was' if number == 1 else 'were'}"


def _flagged(runs: pd.DataFrame, flag: str) -> tuple[str, ...]:
    raised = np.array([flag in flags for flags in runs["flags"]], dtype=bool)
    return tuple(runs.loc[raised, "run_id"])
