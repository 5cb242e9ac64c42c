"""How many reports are told of: one line while they are made, a table at the end."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from typing import Any

from pinscar.press.request import Outcome, Request
from pinscar.wording import counted

MADE = "made, no limits"
"""What stands for the verdict of a report without release limits."""


class Tally:
    """The line over all reports of a command.

    Attributes
    ----------
    total : int
        How many are to be made.

    Examples
    --------
    >>> tally = Tally(3)
    >>> tally.ended(Outcome(folder="spring", report="spring/report", status=1, errors=("no runs",)))
    '1 of 3 done, 1 failed'
    """

    def __init__(self, total: int) -> None:
        self._total = total
        self._done = self._failed = 0
        self._steps: dict[str, str] = {}
        self._guard = threading.Lock()

    def step(self, request: Request, step: Mapping[str, Any]) -> str:
        """Note how far one is, and return the line."""
        with self._guard:
            self._steps[str(request.folder)] = str(step["text"])
            return self._line()

    def ended(self, outcome: Outcome) -> str:
        """Note that one has ended, and return the line."""
        with self._guard:
            self._steps.pop(outcome.folder, None)
            self._done += 1
            self._failed += bool(outcome.status)
            return self._line()

    def _line(self) -> str:
        parts = []
        if self._total > 1:
            parts.append(f"{self._done} of {self._total} done")
            parts += [f"{self._failed} failed"] if self._failed else []
        parts += [f"{folder}: {text}" for folder, text in self._steps.items()]
        return ", ".join(parts)


def table(outcomes: Sequence[Outcome]) -> list[str]:
    r"""Lay out what came of many requests, a line each: campaign, verdict, time, what failed.

    Examples
    --------
    >>> good = Outcome(folder="spring", report="spring/report", status=0, limits="met (2 of 2)", seconds=8.4)
    >>> bad = Outcome(
    ...     folder="autumn",
    ...     report="autumn/report",
    ...     status=1,
    ...     errors=("runs.csv, row 3: no load",),
    ...     seconds=0.5,
    ... )
    >>> print("\n".join(table([good, bad])))
    campaign  verdict       time   what failed
    spring    met (2 of 2)  8.4 s
    autumn    no report     0.5 s  runs.csv, row 3: no load
    2 campaigns, 1 failed
    """
    rows = [("campaign", "verdict", "time", "what failed"), *map(_row, outcomes)]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    lines = ["  ".join([*(row[i].ljust(widths[i]) for i in range(3)), row[3]]).rstrip() for row in rows]
    failed = sum(bool(one.status) for one in outcomes)
    return [*lines, f"{counted(len(outcomes), 'campaign')}, {failed or 'none'} failed"]


def _row(outcome: Outcome) -> tuple[str, str, str, str]:
    verdict = "no report" if outcome.status else outcome.limits or MADE
    more = len(outcome.errors) - 1
    said = " ".join(outcome.errors[0].split()) if outcome.errors else ""
    return (
        outcome.folder,
        verdict,
        f"{outcome.seconds:.1f} s",
        said + (f" (and {more} more)" if more > 0 else ""),
    )
