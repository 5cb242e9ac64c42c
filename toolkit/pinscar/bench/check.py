"""What `pinscar check` tells of a campaign folder, and the lines that it prints."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pinscar import terminal
from pinscar.campaign.columns import PLANNED, RESERVED, RUNS
from pinscar.campaign.folder import runs_file
from pinscar.campaign.model import Campaign
from pinscar.campaign.report_checks import Missing, missing_for_issue
from pinscar.campaign.tables import read_csv, read_text, read_xlsx
from pinscar.campaign.to_fill import UNFILLED, gathered, label, only_unfilled
from pinscar.campaign.typed_dates import told_dates
from pinscar.campaign.typed_table import column_letters, how_read
from pinscar.decision.check import check_all
from pinscar.decision.runs import load_levels
from pinscar.errors import Problem, Severity, grouped, shortened
from pinscar.page.cautions import has_examples
from pinscar.shipped import shipped_folder
from pinscar.terminal import command
from pinscar.wording import counted, listing

LINE = re.compile(r'\s*(?P<key>[\w-]+)\s*=\s*(?P<value>"(?:[^"\\]|\\.)*"\s*|[^#]*)(?P<note>#.*)?')
SECTION = re.compile(r"\s*\[\[?\s*([\w.-]+)\s*\]\]?\s*(#.*)?")
WHOLE = "# All values here are examples"
"""A line of the starter that was made without any question; whoever deletes it has gone through the file."""


def starter_values(folder: Path) -> list[str]:
    """List the values of a campaign's rig and oils that nobody has replaced or confirmed.

    A value counts as confirmed where its mark "example" was taken away.
    """
    text, _ = read_text(folder / "campaign.toml", "campaign.toml")
    if text is None or "example" not in text:  # a mark, or the line over a starter, has the word
        return []
    from pinscar.bench.prepare import (
        DEFAULTS,
        EXAMPLE,
        STARTER,
    )  # here: what it imports, most checks do without

    starter = shipped_folder("templates") / STARTER / "campaign.toml"
    whole = set(_lines(starter.read_text(encoding="utf-8"))) if WHOLE in text else set()
    found = []
    for key, value, note in _lines(text):
        marked = EXAMPLE in note and DEFAULTS.get(key, value) == value
        same = key.startswith("rig.") and any(one[:2] == (key, value) for one in whole)
        if marked or same:
            found.append(f"{key} = {value.strip(chr(34))}")
    return found


def _lines(text: str) -> list[tuple[str, str, str]]:
    section, found = "", []
    for line in text.splitlines():
        head = SECTION.fullmatch(line)
        if head:
            section = head.group(1)
            continue
        match = LINE.fullmatch(line)
        if match and not line.lstrip().startswith("#"):
            found.append((f"{section}.{match['key']}", match["value"].strip(), match["note"] or ""))
    return found


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


MOST_NAMED = 6
"""How many of the starter's values are named in the one line about them."""


def tell(found: Check, folder: Path, *, every: bool) -> None:
    """Print what a check found."""
    lines = [(label(problem), str(problem)) for problem in found.told]
    whole = [f"{said}: {text}" for said, text in lines]
    shown = whole if every else shortened(whole, command("pinscar", "check", folder, "--all"))
    for line in shown:
        grave = line.startswith((f"{Severity.ERROR}:",))
        terminal.complain(line, terminal.RED if grave else terminal.YELLOW)
    for name, unit in found.unknown_columns.items():
        kept = "text" if unit is None else f"unit {unit}, usable as a response"
        terminal.say(f"kept column {name} ({kept})")
    if found.starter:
        terminal.say(starter_line(found.starter, every=every))
    terminal.say(found.summary, "" if found.status else terminal.GREEN)


def tell_missing(found: Check) -> None:
    """Print what an issued report would still lack."""
    if found.status:
        terminal.say("what an issued report lacks is told when the errors are mended")
        return
    for one in found.missing:
        terminal.say(str(one))
    if found.missing:
        number = counted(len(found.missing), "thing is", "things are")
        terminal.say(f"for a report that is issued {number} still missing (ISO/IEC 17025:2017, from memory)")
    else:
        terminal.say("nothing is missing that an issued report must say; a person still has to read it")


def starter_line(values: tuple[str, ...], *, every: bool) -> str:
    """Say which values still are the starter's."""
    named = values if every else values[:MOST_NAMED]
    more = [f"{len(values) - len(named)} more"] if len(values) > len(named) else []
    return (
        f"still the starter's in campaign.toml: {listing([*named, *more])}; put your own there, or take the "
        "mark # example away where the value is right"
    )


def as_read(folder: Path) -> list[str]:
    """Say how each column of a campaign's tables was read."""
    lines = []
    for table in how_read(folder, _dates(folder)):
        lines.append(f"{table.file}: {table.said}")
        wide = max((len(one.header) for one in table.columns), default=0)
        lines += [f"  {one.letter:>2}  {one.header.ljust(wide)}  {one.said}" for one in table.columns]
    return lines


def _dates(folder: Path) -> str | None:
    text, _ = read_text(folder / "campaign.toml", "campaign.toml")
    return None if text is None else told_dates(text)
