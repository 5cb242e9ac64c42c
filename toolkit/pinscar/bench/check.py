"""What `pinscar check` tells of a campaign folder."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pinscar.bench.starter_values import starter_values
from pinscar.campaign.columns import PLANNED, RESERVED, RUNS
from pinscar.campaign.folder import runs_file
from pinscar.campaign.how_read import column_letters
from pinscar.campaign.missing_for_issue import Missing, missing_for_issue
from pinscar.campaign.record import Campaign
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.campaign.to_fill import UNFILLED, gathered, only_unfilled
from pinscar.decision.check import check_all
from pinscar.decision.runs import load_levels
from pinscar.page.cautions import has_examples
from pinscar.problems import Problem, Severity
from pinscar.same_errors import grouped
from pinscar.wording import counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """The state of a campaign folder.

    Attributes
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
    starter : tuple of str
        Values of campaign.toml that still are the starter's.
    nothing_made : bool
        Whether no run was made yet and nothing is wrong besides.
    missing : tuple of Missing
        What an issued report would still lack; empty where the folder has errors.
    """

    folder: str
    problems: tuple[Problem, ...]
    summary: str
    counts: dict[str, int]
    unknown_columns: dict[str, str | None]
    starter: tuple[str, ...] = ()
    nothing_made: bool = False
    missing: tuple[Missing, ...] = ()

    @property
    def status(self) -> int:
        """Exit status: 1 where any problem is an error."""
        return int(any(problem.severity is Severity.ERROR for problem in self.problems))

    @property
    def lines(self) -> tuple[Problem, ...]:
        """The problems as a terminal tells them: a column's blank cells, and the same error, in one line."""
        return tuple(grouped(gathered(self.problems), lambda file: column_letters(Path(self.folder), file)))

    @property
    def told(self) -> tuple[Problem, ...]:
        """The lines worth reading: before any run is made, blank cells are nothing to tell one by one."""
        return tuple(one for one in self.lines if not (self.nothing_made and one.code in UNFILLED))

    def as_dict(self) -> dict[str, Any]:
        """Return the record for ``--json``."""
        return {
            "folder": self.folder,
            "status": self.status,
            "summary": self.summary,
            "counts": self.counts,
            "unknown_columns": self.unknown_columns,
            "starter_values": list(self.starter),
            "missing_for_issue": [asdict(one) for one in self.missing],
            "problems": [problem.as_dict() for problem in self.problems],
        }


def check_folder(folder: Path) -> Check:
    """Check a campaign folder."""
    campaign, problems = check_all(folder)
    order = list(dict.fromkeys(problem.file for problem in problems))
    grouped_by_file = tuple(sorted(problems, key=lambda problem: order.index(problem.file)))
    counts = _counts(campaign) if campaign else {}
    unfilled, rows = only_unfilled(problems), _rows(folder)
    return Check(
        folder=str(folder),
        problems=grouped_by_file,
        summary=_summary(grouped_by_file, counts, rows),
        counts=counts,
        unknown_columns=_unknown(campaign) if campaign else {},
        starter=tuple(starter_values(folder)),
        nothing_made=bool(unfilled) and unfilled == rows,
        missing=tuple(missing_for_issue(campaign)) if campaign else (),
    )


def _rows(folder: Path) -> int:
    """Count the rows of the runs table; 0 where it cannot be read."""
    name, _ = runs_file(folder) if folder.is_dir() else (None, [])
    if name is None or not (folder / name).is_file():
        return 0
    table, _ = (read_xlsx if name.endswith(".xlsx") else read_csv)(folder / name, name)
    return len(table.rows) if table else 0


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


def _summary(problems: tuple[Problem, ...], counts: dict[str, int], rows: int) -> str:
    errors = sum(problem.severity is Severity.ERROR for problem in problems)
    warnings = len(problems) - errors
    noted = [counted(errors, "error")] * bool(errors) + [counted(warnings, "warning")] * bool(warnings)
    unfilled = only_unfilled(problems)
    if unfilled:
        of = "" if unfilled == rows else f" of {rows}"
        runs = f"{unfilled}{of} runs" if of else counted(unfilled, "run")
        to_do = "be made" if unfilled == rows else "be made or filled in"
        rest = f", {noted[-1]}; not ready to report" if warnings else "; nothing else is wrong"
        return f"{runs} still to {to_do}{rest}"
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
    known = {column.name for column in RUNS} | RESERVED | set(PLANNED)
    return {name: campaign.units.get(name) for name in campaign.runs.columns if name not in known}
