"""What `pinscar check` prints."""

from __future__ import annotations

from pathlib import Path

from pinscar import terminal
from pinscar.bench.check import Check
from pinscar.campaign.how_read import how_read
from pinscar.campaign.tables import read_text
from pinscar.campaign.to_fill import label
from pinscar.campaign.typed_dates import told_dates
from pinscar.problems import Severity
from pinscar.same_errors import shortened
from pinscar.shell_words import command
from pinscar.wording import counted, listing

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
