"""A table of runs as text with cells filled in: separator, units, quotes and all other text stay."""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from pathlib import Path

from pinscar.campaign.headers import split_header
from pinscar.campaign.spreadsheets import TextTable
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.errors import InputError
from pinscar.units import to_unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """A blank cell that evidence fills.

    Attributes
    ----------
    row : int
        Row as a spreadsheet shows it.
    run_id : str
        The run.
    column : str
        Name of the column, without unit.
    value : float
        Value [SI].
    source : str
        Where it comes from, a path relative to the campaign folder.
    uncertainty : float or None
        Standard uncertainty of the value [SI], where it is known.
    score : float or None
        Score of the reading, where it has one [1].
    """

    row: int
    run_id: str
    column: str
    value: float
    source: str
    uncertainty: float | None = None
    score: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftBlank:
    """A blank cell that evidence could not fill.

    Attributes
    ----------
    run_id, column : str
        The run and the column.
    source : str
        The evidence looked at.
    reason : str
        Why it could not.
    typed, read : float or None
        What a person typed and what evidence says [SI], where both were asked for.
    uncertainty, score : float or None
        Standard uncertainty [SI] and score [1] of what was read.
    """

    run_id: str
    column: str
    source: str
    reason: str
    typed: float | None = None
    read: float | None = None
    uncertainty: float | None = None
    score: float | None = None


Found = Filling | LeftBlank


def read_runs_table(folder: Path, name: str) -> TextTable:
    """Read the runs table as text."""
    table, problems = (read_xlsx if name.endswith(".xlsx") else read_csv)(folder / name, name)
    if table is None:
        raise InputError(problems)
    return table


def column_names(table: TextTable) -> dict[str, int]:
    """Tell the place of each column by its name without unit."""
    return {split_header(written)[0]: place for place, written in enumerate(table.header)}


def filled_text(table: TextTable, fillings: list[Filling], units: dict[str, str]) -> str:
    """Write the table with its cells filled, and a source column after the last for each filled column.

    A source column says "typed" where a person's value stands, the file where evidence filled the cell, and
    nothing where the cell is still blank. A source column of an earlier gathering is gone on with.
    """
    columns = list(dict.fromkeys(one.column for one in fillings))
    places = column_names(table)
    added = [name for name in columns if name not in places]
    header = [*table.header, *(f"{name} [{units[name]}]" for name in added)]
    header += [f"{name}_from" for name in columns if f"{name}_from" not in places]
    places = {split_header(written)[0]: place for place, written in enumerate(header)}
    comma = table.decimal_comma and _writes_commas(table)
    by_cell = {(one.row, one.column): one for one in fillings}
    rows = [header]
    for number, cells in table.rows:
        record = [*cells, *("" for _ in range(len(header) - len(table.header)))]
        for name in columns:
            filling, place, source = by_cell.get((number, name)), places[name], places[f"{name}_from"]
            if filling is not None:
                record[place] = _number(filling.value, split_header(header[place])[1], comma=comma)
                record[source] = filling.source
            elif record[place] and not record[source]:
                record[source] = "typed"
        rows.append(record)
    out = io.StringIO()
    csv.writer(out, delimiter=";" if table.decimal_comma else ",", lineterminator="\n").writerows(rows)
    return out.getvalue()


def _writes_commas(table: TextTable) -> bool:
    cells = [cell for _, row in table.rows for cell in row]
    return any(re.fullmatch(r"[+-]?\d+,\d+", cell) for cell in cells)


def _number(value: float, unit: str, *, comma: bool) -> str:
    """Four significant figures, never with an exponent, which a spreadsheet may show its own way."""
    number = float(to_unit(value, unit))
    places = max(0, 3 - math.floor(math.log10(abs(number)))) if number else 0
    text = f"{number:.{places}f}"
    return text.replace(".", ",") if comma else text
