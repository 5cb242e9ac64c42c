"""One reading more in the text of readings.csv: separator, decimal mark, units and all other text stay."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

import pandas as pd

from pinscar.campaign.columns import READINGS
from pinscar.campaign.headers import read_headers
from pinscar.campaign.tables import parse_csv
from pinscar.units import to_unit

FILE = "readings.csv"
STEP = 1e-6
"""Lengths are written to this or a finer step [m]."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A scar read by a person.

    Parameters
    ----------
    run_id : str
        The run.
    reader : str
        Who read it.
    length, width : float
        Axis of the scar along the pin, and across it [m].
    blind_code : str
        Code under which it was read; empty where the reader could know the oil.
    """

    run_id: str
    reader: str
    length: float
    width: float
    blind_code: str = ""


@dataclass(frozen=True, slots=True)
class _Record:
    """A row of the file: its text without line end, the line end, its cells."""

    body: str
    end: str
    cells: list[str]

    @property
    def filled(self) -> bool:
        return any(cell.strip() for cell in self.cells)


def next_number(readings: pd.DataFrame, run_id: str, reader: str) -> str:
    """Count on: the number of a reader's next reading of a run.

    Parameters
    ----------
    readings : DataFrame
        The readings there are, numbered: ``run_id``, ``reader``, ``reading``.
    run_id : str
        The run.
    reader : str
        The reader.

    Returns
    -------
    str
        One more than the largest number so far, or than the number of readings where that is more.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> readings = pd.DataFrame({"run_id": ["1", "1"], "reader": ["A", "A"], "reading": ["1", "3"]})
    >>> next_number(readings, "1", "A"), next_number(readings, "1", "B")
    ('4', '1')
    """
    mine = readings.loc[(readings["run_id"] == run_id) & (readings["reader"] == reader), "reading"]
    used = {str(one) for one in mine}
    largest = max((int(one) for one in used if one.isdecimal()), default=0)
    return next(str(one) for one in count(max(largest, len(mine)) + 1) if str(one) not in used)


def with_reading(text: str, reading: Reading, number: str, *, semicolons: bool = False) -> str:
    r"""Give the text of readings.csv with one row more at its end.

    What stands there stays as it is. A column that the row needs and the file lacks comes after the last one,
    and the rows before get a blank cell for it.

    Parameters
    ----------
    text : str
        The file's text, free of errors; empty where there is no file.
    reading : Reading
        The reading.
    number : str
        Number of the reading.
    semicolons : bool
        Whether a new file is separated by semicolons.

    Returns
    -------
    str
        The new text.

    References
    ----------
    RFC 4180 (quoting).

    Examples
    --------
    >>> one = Reading("1", "A", 3.7812e-3, 2.05e-3)
    >>> with_reading("run_id;reader;scar_length [um];scar_width [cm]\n1;A;3790;0,204", one, "2")
    'run_id;reader;scar_length [um];scar_width [cm];reading\n1;A;3790;0,204;\n1;A;3781;0,2050;2\n'
    """
    if not text:
        return _new_file(reading, number, ";" if semicolons else ",")
    declared = re.match(r'"?sep=(.)"?\r?\n', text)
    start = declared.end() if declared else 0
    table, _ = parse_csv(text, FILE)
    if table is None:
        raise ValueError(f"{FILE} can't be read")
    heads, _ = read_headers(table, READINGS)
    separator = ";" if table.decimal_comma else ","
    there = {head.name: head.position for head in heads}
    missing = [name for name in _needed(reading) if name not in there]
    records = _records(text[start:], separator)
    first = next(place for place, record in enumerate(records) if record.filled)
    header = records[first]
    added = [column.header for column in READINGS if column.name in missing]
    if added:
        records = _widened(records, first, len(table.header), added, separator)
    places = there | {name: len(table.header) + place for place, name in enumerate(missing)}
    units = {head.name: head.unit for head in heads}
    cells = _cells(reading, number, units, comma=_writes_commas(table.header, table.rows, separator))
    row = [""] * _row_width(records[first:])
    for name, cell in cells.items():
        if name in places:
            row[places[name]] = cell
    end = header.end or "\n"
    old = text[:start] + "".join(record.body + record.end for record in records)
    return old + ("" if records[-1].end else end) + _line(row, separator) + end


def _needed(reading: Reading) -> list[str]:
    """List the columns of a row, in the order in which they are documented."""
    return [column.name for column in READINGS if column.name != "blind_code" or reading.blind_code]


def _new_file(reading: Reading, number: str, separator: str) -> str:
    needed = _needed(reading)
    header = [column.header for column in READINGS if column.name in needed]
    units = {column.name: column.unit for column in READINGS}
    cells = _cells(reading, number, units, comma=separator == ";")
    return f"{_line(header, separator)}\n{_line([cells[name] for name in needed], separator)}\n"


def _records(text: str, separator: str) -> list[_Record]:
    """Split the text where the reader of tables splits it; a quoted cell may hold line ends."""
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(iter(lines), delimiter=separator, strict=True)
    records, before = [], 0
    for cells in reader:
        raw = "".join(lines[before : reader.line_num])
        before = reader.line_num
        body = re.sub(r"(\r\n|\r|\n)\Z", "", raw)
        records.append(_Record(body, raw[len(body) :], cells))
    return records


def _widened(
    records: list[_Record], first: int, named: int, added: Sequence[str], separator: str
) -> list[_Record]:
    """Add columns after the last one that has a name; blank cells that the header ends with make room."""
    header = records[first]
    blank = len(header.cells) - named
    kept = re.sub(rf'(?:{separator}\s*(?:"\s*")?\s*){{{blank}}}\Z', "", header.body)
    width = max(len(header.cells), named + len(added))
    cells = [*header.cells[:named], *added]
    body = kept + "".join(separator + one for one in added) + separator * (width - len(cells))
    wide = _Record(body, header.end, cells + [""] * (width - len(cells)))
    return [*records[:first], wide, *(_padded(one, width, separator) for one in records[first + 1 :])]


def _padded(record: _Record, width: int, separator: str) -> _Record:
    lacking = width - len(record.cells)
    if not record.filled or lacking <= 0:
        return record
    return _Record(record.body + separator * lacking, record.end, record.cells + [""] * lacking)


def _row_width(records: list[_Record]) -> int:
    """Give as many cells as the header has; one more where every row ends with a closing separator."""
    width, rows = len(records[0].cells), [one for one in records[1:] if one.filled]
    return width + 1 if rows and all(len(one.cells) == width + 1 for one in rows) else width


def _cells(reading: Reading, number: str, units: dict[str, str], *, comma: bool) -> dict[str, str]:
    return {
        "run_id": reading.run_id,
        "reader": reading.reader,
        "reading": number,
        "scar_length": _number(reading.length, units.get("scar_length", "mm"), comma=comma),
        "scar_width": _number(reading.width, units.get("scar_width", "mm"), comma=comma),
        "blind_code": reading.blind_code,
    }


def _number(metres: float, unit: str, *, comma: bool) -> str:
    step = float(to_unit(STEP, unit))
    places = max(0, math.ceil(-math.log10(step) - 1e-9))
    text = f"{float(to_unit(metres, unit)):.{places}f}"
    return text.replace(".", ",") if comma else text


def _writes_commas(
    header: tuple[str, ...], rows: tuple[tuple[int, tuple[str, ...]], ...], separator: str
) -> bool:
    """Tell the decimal mark: the file's own; where no number shows one, that which goes with semicolons."""
    if separator == ",":
        return False
    # one number with a comma anywhere makes the reader of tables doubt numbers such as 3.781
    if any(re.fullmatch(r"[+-]?\d+,\d+", cell) for _, row in rows for cell in row):
        return True
    numeric = [place for place, written in enumerate(header) if "[" in written]
    return not any("." in row[place] for _, row in rows for place in numeric)


def _line(cells: list[str], separator: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="").writerow(cells)
    return out.getvalue()
