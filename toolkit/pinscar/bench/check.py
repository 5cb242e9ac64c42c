"""What `pinscar check` tells of a campaign folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pinscar.campaign.columns import RESERVED, RUNS
from pinscar.campaign.record import Campaign
from pinscar.campaign.to_fill import gathered, only_unfilled
from pinscar.decision.check import check_all
from pinscar.decision.runs import load_levels
from pinscar.page.cautions import has_examples
from pinscar.problems import Problem, Severity
from pinscar.wording import counted


@dataclass(frozen=True, slots=True)
class Check:
    """The state of a campaign folder.

    Parameters
    ----------
    folder : str
        The folder, as the person wrote it.
    problems : tuple of Problem
        Every problem, grouped by file.
    summary : str
        One line that sums it up.
    counts : dict
        Runs, lubricants, load levels, excluded runs; empty where the folder has errors.
    unknown_columns : dict
        Columns of the runs table that pinscar does not know and keeps: their unit, or None for text.
    """

    folder: str
    problems: tuple[Problem, ...]
    summary: str
    counts: dict[str, int]
    unknown_columns: dict[str, str | None]

    @property
    def status(self) -> int:
        """Exit status: 1 where any problem is an error."""
        return int(any(problem.severity is Severity.ERROR for problem in self.problems))

    @property
    def lines(self) -> tuple[Problem, ...]:
        """The problems as a terminal tells them: a column's blank cells in one line."""
        return tuple(gathered(self.problems))

    def as_dict(self) -> dict[str, Any]:
        """Return the record for ``--json``.

        Returns
        -------
        dict
            Plain JSON types.
        """
        return {
            "folder": self.folder,
            "status": self.status,
            "summary": self.summary,
            "counts": self.counts,
            "unknown_columns": self.unknown_columns,
            "problems": [problem.as_dict() for problem in self.problems],
        }


def check_folder(folder: Path) -> Check:
    """Check a campaign folder.

    Parameters
    ----------
    folder : pathlib.Path
        The folder.

    Returns
    -------
    Check
        Its state; problems are data here, nothing is raised for them.
    """
    campaign, problems = check_all(folder)
    order = list(dict.fromkeys(problem.file for problem in problems))
    grouped = tuple(sorted(problems, key=lambda problem: order.index(problem.file)))
    counts = _counts(campaign) if campaign else {}
    return Check(
        str(folder), grouped, _summary(grouped, counts), counts, _unknown(campaign) if campaign else {}
    )


def _counts(campaign: Campaign) -> dict[str, int]:
    runs = campaign.runs
    included = runs["excluded"] == ""
    levels = load_levels(runs["load"], included)
    return {
        "runs": len(runs),
        "lubricants": int(runs.loc[included, "lubricant"].nunique()),
        "load_levels": len(set(levels[included.to_numpy()])),
        "excluded": int((~included).sum()),
    }


def _summary(problems: tuple[Problem, ...], counts: dict[str, int]) -> str:
    errors = sum(problem.severity is Severity.ERROR for problem in problems)
    warnings = len(problems) - errors
    noted = [counted(errors, "error")] * bool(errors) + [counted(warnings, "warning")] * bool(warnings)
    unfilled = only_unfilled(problems)
    if unfilled:
        noted = [f"{counted(unfilled, 'run')} still to fill in", *noted[1:]]
    if errors:
        return f"{', '.join(noted)}; not ready to report"
    said = [
        counted(counts["runs"], "run"),
        counted(counts["lubricants"], "lubricant"),
        counted(counts["load_levels"], "load level"),
        f"{counts['excluded']} excluded",
    ]
    marked = ", marked as example data" if has_examples(problems) else ""
    return f"{', '.join([*said, *noted])}; ready to report{marked}"


def _unknown(campaign: Campaign) -> dict[str, str | None]:
    known = {column.name for column in RUNS} | RESERVED
    return {name: campaign.units.get(name) for name in campaign.runs.columns if name not in known}
