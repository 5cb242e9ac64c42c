"""A table as a person typed it, written in the one form that is read, and how each column was read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from pinscar.campaign.codes import error
from pinscar.campaign.columns import LOAD_STEPS, READINGS, RUNS, Column, find_column
from pinscar.campaign.folder import is_outside, root_of, runs_file
from pinscar.campaign.frames import CellTextError, read_number
from pinscar.campaign.headers import split_header
from pinscar.campaign.quantities import GROUP_OF_THREE, QUANTITY, usual_unit
from pinscar.campaign.spreadsheets import NAME, TextTable, column_letter
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.campaign.typed_dates import SHOWN, Dates, as_read, read_dates
from pinscar.errors import Problem
from pinscar.units import UnitError, check_dimension, parse_unit, to_si, to_unit

YES = ("ja", "j", "yes", "y", "oui", "o", "sí", "si", "s", "true", "wahr", "vrai", "1", "x", "✓", "✔")
NO = ("nein", "n", "no", "non", "false", "falsch", "faux", "0")
MARKS: Mapping[tuple[str, ...], Mapping[str, str]] = MappingProxyType(
    {
        ("yes", "no"): {**dict.fromkeys(YES, "yes"), **dict.fromkeys(NO, "no")},
        ("none", "light", "heavy"): {
            **dict.fromkeys(("keine", "keiner", "kein", "ohne", "aucune", "aucun", *NO), "none"),
            **dict.fromkeys(
                ("leicht", "leichter", "gering", "wenig", "schwach", "légère", "faible"), "light"
            ),
            **dict.fromkeys(("stark", "starker", "viel", "dicht", "forte", "fort"), "heavy"),
        },
        ("new", "reground"): {
            **dict.fromkeys(("neu", "neuf", "neuve"), "new"),
            **dict.fromkeys(("nachgeschliffen", "geschliffen", "rectifié", "rectifiée"), "reground"),
        },
    }
)
"""The word meant, by the choices of the column and the word typed in small letters."""
NOT_EXCLUDED = frozenset({"nein", "n", "no", "non", "-", "–", "false", "falsch", "faux"})
"""Words in the column of exclusions that say no: the run counts, as with a blank cell."""


def usual_mark(text: str, options: tuple[str, ...]) -> str:
    """Give the word of a choice that a typed word or tick stands for.

    Examples
    --------
    >>> usual_mark("Ja", ("yes", "no")), usual_mark("x", ("yes", "no")), usual_mark("?", ("yes", "no"))
    ('yes', 'yes', '?')
    """
    return MARKS.get(options, {}).get(text.strip().casefold(), text)


@dataclass(frozen=True, slots=True)
class ColumnRead:
    """How a column was read.

    Attributes
    ----------
    letter : str
        Letter that a spreadsheet shows above it.
    header : str
        Its header, as the file has it.
    said : str
        How it was read, in a few words.
    """

    letter: str
    header: str
    said: str


@dataclass(frozen=True, slots=True)
class Settled:
    """A table in the form that is read.

    Attributes
    ----------
    table : TextTable
        The table; cells that were not understood stand as they were typed.
    problems : tuple of Problem
        Questions: cells with two readings.
    columns : tuple of ColumnRead
        How each column was read.
    """

    table: TextTable
    problems: tuple[Problem, ...]
    columns: tuple[ColumnRead, ...]


@dataclass(frozen=True, slots=True)
class _Typed:
    """A column's cells before and after."""

    header: str
    cells: tuple[str, ...]
    said: str
    problems: tuple[Problem, ...] = ()


def settle_table(table: TextTable, columns: tuple[Column, ...], dates: str | None = None) -> Settled:
    """Write what a person typed in the form that the checks read.

    Examples
    --------
    >>> from pinscar.campaign.columns import RUNS
    >>> table = TextTable(
    ...     file="runs.xlsx", header=("ring_speed [1/min]", "wear_stopped"), rows=((2, ("700/min", "ja")),)
    ... )
    >>> settled = settle_table(table, RUNS)
    >>> settled.table.header, settled.table.rows
    (('ring_speed [rpm]', 'wear_stopped'), ((2, ('700', 'yes')),))
    """
    cells = [tuple(one[place] for _, one in table.rows) for place in range(len(table.header))]
    heads = [_head(written, column, columns) for written, column in zip(table.header, cells, strict=True)]
    commas = _commas_in_text(table, heads, columns)
    done = [
        _settle(table, place, head, cells[place], find_column(columns, split_header(head)[0]), commas, dates)
        for place, head in enumerate(heads)
    ]
    rows = tuple((row, tuple(one.cells[line] for one in done)) for line, (row, _) in enumerate(table.rows))
    told = tuple(
        ColumnRead(column_letter(place), table.header[place], one.said)
        for place, one in enumerate(done)
        if table.header[place]
    )
    problems = tuple(problem for one in done for problem in one.problems)
    return Settled(replace(table, header=tuple(one.header for one in done), rows=rows), problems, told)


def _head(written: str, cells: Sequence[str], columns: tuple[Column, ...]) -> str:
    """Give a header with its unit as units are read; one without takes the unit that all its cells have."""
    name, unit = split_header(written)
    column = find_column(columns, name)
    dimension = column.dimension if column else ""
    if unit:
        usual = usual_unit(unit, dimension)
        return written if usual == unit else f"{name} [{usual}]"
    if column is None or not column.needs_unit:
        return written
    typed = {usual_unit(match.group(2), dimension) for cell in cells if (match := QUANTITY.fullmatch(cell))}
    whole = all(QUANTITY.fullmatch(cell) for cell in cells if cell)
    return f"{name} [{typed.pop()}]" if whole and len(typed) == 1 and _fits(typed, column) else written


def _fits(units: set[str], column: Column) -> bool:
    try:
        for unit in units:
            check_dimension(unit, column.dimension)
    except UnitError:
        return False
    return True


def _commas_in_text(table: TextTable, heads: Sequence[str], columns: tuple[Column, ...]) -> bool:
    """Tell whether cells typed as text have decimal commas beyond doubt."""
    numeric = [_is_number(head, find_column(columns, split_header(head)[0])) for head in heads]
    return any(
        numeric[place] and _is_plain_comma(cells[place])
        for row, cells in table.rows
        for place in range(len(heads))
        if (row, place) in table.typed
    )


def _is_plain_comma(cell: str) -> bool:
    match = QUANTITY.fullmatch(cell)
    if match is None:
        return False
    return "," in match.group(1) and not GROUP_OF_THREE.fullmatch(match.group(1))


def _is_number(head: str, column: Column | None) -> bool:
    return column.kind == "number" if column else bool(split_header(head)[1])


def _settle(
    table: TextTable,
    place: int,
    head: str,
    cells: tuple[str, ...],
    column: Column | None,
    commas: bool,
    dates: str | None,
) -> _Typed:
    if _is_number(head, column):
        return _settle_numbers(table, place, head, cells, column, commas)
    if column is not None and column.kind == "moment":
        return _settle_dates(table, head, cells, dates)
    if column is not None and column.kind == "choice":
        return _settle_marks(head, cells, column.options)
    if column is not None and column.name == "excluded":
        kept = tuple("" if cell.casefold() in NOT_EXCLUDED else cell for cell in cells)
        return _Typed(head, kept, f"text: {_count(sum(map(bool, kept)), 'run')} excluded")
    filled = sum(map(bool, cells))
    return _Typed(head, cells, f"text, {filled} filled" if filled else "text, all blank")


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


def _settle_numbers(
    table: TextTable, place: int, head: str, cells: tuple[str, ...], column: Column | None, commas: bool
) -> _Typed:
    unit = split_header(head)[1]
    dimension = column.dimension if column else ""
    new: list[str] = []
    problems: list[Problem] = []
    for (row, _), cell in zip(table.rows, cells, strict=True):
        typed = (row, place) in table.typed
        try:
            new.append(_number(table, cell, unit, dimension, commas=commas, typed=typed))
        except CellTextError as wrong:
            problems.append(
                error(wrong.code, table.file, wrong.message, wrong.mend, row=row, column=head, value=cell)
            )
            new.append(cell)
    turned = sum(one != cell for one, cell in zip(new, cells, strict=True))
    return _Typed(head, tuple(new), _said_of_numbers(table, unit, cells, new, turned), tuple(problems))


def _number(table: TextTable, cell: str, unit: str, dimension: str, *, commas: bool, typed: bool) -> str:
    """Give a cell as a number in the header's unit; as it stands where it is one, or can't be read."""
    match = QUANTITY.fullmatch(cell)
    if match is None or not (match.group(2) or (typed and "," in cell) or (typed and commas)):
        return cell
    text, own = match.group(1), usual_unit(match.group(2), dimension)
    if typed and GROUP_OF_THREE.fullmatch(text) and not commas:
        return cell  # 1,200 may be 1200 or 1.2: refused where it is read
    try:
        number = read_number(
            text, decimal_comma=table.decimal_comma or typed, commas_used=typed and commas and not own
        )
    except CellTextError as wrong:
        if wrong.code == "value-decimal-mark" and typed and commas:
            raise
        return cell
    if own:
        scaled = _in_unit(number, own, unit, dimension)
        if scaled is None:
            return cell
        number = scaled
    shown = f"{number:.15g}"
    return shown.replace(".", ",") if table.decimal_comma else shown


def _in_unit(number: float, own: str, unit: str, dimension: str) -> float | None:
    """Give a number in the header's unit; None where its own unit measures something else."""
    if own == unit:
        return number
    try:
        if dimension:
            check_dimension(own, dimension)
        elif parse_unit(own).dimensionality != parse_unit(unit or "1").dimensionality:
            return None
        return float(to_unit(to_si(number, own), unit or "1"))
    except UnitError:
        return None


def _said_of_numbers(
    table: TextTable, unit: str, cells: Sequence[str], new: Sequence[str], turned: int
) -> str:
    values = []
    for cell in new:
        try:
            values.append(read_number(cell, decimal_comma=table.decimal_comma) if cell else None)
        except CellTextError:
            values.append(None)
    numbers = [value for value in values if value is not None]
    said = f"numbers in {unit}" if unit and unit != "1" else "numbers without a unit"
    if numbers:
        low, high = min(numbers), max(numbers)
        said += f", {len(numbers)} filled, " + (f"all {low:g}" if low == high else f"{low:g} to {high:g}")
    unread = sum(bool(cell) for cell in new) - len(numbers)
    said += f"; {_count(unread, 'cell')} not read" if unread else ""
    if not any(cells):
        said += ", all blank"
    if turned:
        first = next((one, cell) for one, cell in zip(new, cells, strict=True) if one != cell)
        said += f"; {turned} typed otherwise, such as {first[1]!r} = {first[0]}"
    return said


def _settle_dates(table: TextTable, head: str, cells: tuple[str, ...], told: str | None) -> _Typed:
    read = read_dates(cells, told)
    filled = sum(map(bool, cells))
    said = f"dates, {filled} filled" if filled else "dates, all blank"
    place = next((n for n, cell in enumerate(cells) if read.cells[n] != cell), None)
    if place is not None:
        form = "day.month.year" if "." in cells[place].split(" ")[0] else SHOWN.get(read.order, read.order)
        said += f"; {form}, such as {cells[place]!r} = {read.cells[place]}"
    if not read.open_cells:
        return _Typed(head, read.cells, said)
    return _Typed(head, read.cells, f"{said}; two readings", (_question(table, head, cells, read),))


def _question(table: TextTable, head: str, cells: tuple[str, ...], read: Dates) -> Problem:
    rows = [table.rows[place][0] for place in read.open_cells]
    cell = cells[read.open_cells[0]]
    both = " or ".join(f"{as_read(cell, order)} ({order})" for order in read.open_readings)
    message = f"this date can be {both}"
    if len(rows) > 1:
        message += f", and so can {len(rows) - 1} more, down to row {rows[-1]}"
    mend = 'write dates as 2026-03-04, or add dates = "day first", or "month first", to [campaign]'
    if "year first" in read.open_readings:
        mend = "write dates as 2026-03-04, with all four digits of the year"
    return error("value-date-two-ways", table.file, message, mend, row=rows[0], column=head, value=cell)


def _settle_marks(head: str, cells: tuple[str, ...], options: tuple[str, ...]) -> _Typed:
    new = tuple(usual_mark(cell, options) for cell in cells)
    counts = Counter((cell.casefold(), one) for cell, one in zip(cells, new, strict=True) if cell)
    said = [
        f"{typed} = {one} ({number})" if typed != one.casefold() else f"{one} ({number})"
        for (typed, one), number in counts.items()
    ]
    blank = sum(not cell for cell in cells)
    said += [f"blank ({blank})"] * bool(blank)
    return _Typed(head, new, f"{' or '.join(options)}: {', '.join(said)}")


@dataclass(frozen=True, slots=True)
class TableRead:
    """How a table was read.

    Attributes
    ----------
    file : str
        Its name.
    said : str
        How the file was read as a whole.
    columns : tuple of ColumnRead
        How each column was read.
    """

    file: str
    said: str
    columns: tuple[ColumnRead, ...]


def how_read(folder: Path, dates: str | None = None) -> list[TableRead]:
    """Tell how each table of a campaign folder was read.

    Examples
    --------
    >>> how_read(Path("nowhere"))
    []
    """
    name, _ = runs_file(folder) if folder.is_dir() else (None, [])
    known = [(name, RUNS), ("load_steps.csv", LOAD_STEPS), ("readings.csv", READINGS)]
    found = []
    for file, columns in known:
        if file is None or not (folder / file).is_file() or is_outside(folder / file, root_of(folder)):
            continue
        table, _ = (read_xlsx if file.endswith(".xlsx") else read_csv)(folder / file, file)
        if table is not None:
            found.append(
                TableRead(file, _said(folder / file, table), settle_table(table, columns, dates).columns)
            )
    return found


def _said(path: Path, table: TextTable) -> str:
    rows = f"{len(table.rows)} row{'' if len(table.rows) == 1 else 's'}"
    if path.suffix == ".xlsx":
        return f"spreadsheet, {rows}"
    try:
        path.read_bytes().decode("utf-8")
        encoding = "UTF-8"
    except UnicodeDecodeError:
        encoding = NAME
    marks = "semicolons, decimal commas allowed" if table.decimal_comma else "commas"
    return f"{encoding} text separated by {marks}, {rows}"


def column_letters(folder: Path, file: str) -> dict[str, str]:
    """Give the letter above each column of a table, by its header."""
    path = folder / file
    if not path.is_file() or path.suffix not in (".csv", ".xlsx"):
        return {}
    columns = {"load_steps.csv": LOAD_STEPS, "readings.csv": READINGS}.get(file, RUNS)
    table, _ = (read_xlsx if path.suffix == ".xlsx" else read_csv)(path, file)
    if table is None:
        return {}
    settled = settle_table(table, columns)
    letters = {one.header: one.letter for one in settled.columns}
    named = [head for head in settled.table.header if head]
    return letters | {head: one.letter for head, one in zip(named, settled.columns, strict=True)}
