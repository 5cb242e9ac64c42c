"""Repeated scar readings: numbered, checked against the runs, and used where a run's own scar is blank.

A further reading is added to the text of readings.csv: separator, decimal mark, units and all other text
stay.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.codes import error, warning
from pinscar.campaign.columns import READINGS
from pinscar.campaign.frames import rows_of
from pinscar.campaign.headers import read_headers
from pinscar.campaign.tables import parse_csv
from pinscar.errors import Problem
from pinscar.shown import to_shown
from pinscar.units import to_unit

DIFFER = 0.05
"""Share by which the runs' scar and the readings' mean may differ without a warning."""

FILE = "readings.csv"


def number_readings(readings: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Give readings without a number one, and find numbers used twice.

    Examples
    --------
    >>> readings = pd.DataFrame({"run_id": ["1", "1"], "reader": ["A", "A"], "reading": ["", ""],
    ...                          "row": [2, 3]})
    >>> number_readings(readings)[0]["reading"].tolist()
    ['1', '2']
    """
    counted = (readings.groupby(["run_id", "reader"]).cumcount() + 1).astype(str)
    readings = readings.assign(reading=readings["reading"].where(readings["reading"] != "", counted))
    twice = readings[readings.duplicated(["run_id", "reader", "reading"]) & (readings["run_id"] != "")]
    mend = "number the readings 1, 2, 3 in the column reading, or take one out"
    problems = []
    for one in rows_of(twice):
        message = f"{one['reader']} has a second reading {one['reading']} of run {one['run_id']}"
        problems.append(error("readings-twice", FILE, message, mend, row=one["row"], column="reading"))
    return readings, problems


def fill_scars(
    runs: pd.DataFrame, readings: pd.DataFrame, columns: dict[str, str], file: str
) -> tuple[pd.DataFrame, list[Problem]]:
    """Take a blank scar from the readings: the mean of the readers' means.

    Examples
    --------
    >>> runs = pd.DataFrame({"run_id": ["1"], "scar_length": [np.nan], "scar_width": [np.nan],
    ...                      "excluded": [""], "row": [2]})
    >>> readings = pd.DataFrame({"run_id": ["1"] * 3, "reader": ["A", "A", "B"],
    ...                          "scar_length": [0.002, 0.004, 0.005], "scar_width": [np.nan] * 3,
    ...                          "blind_code": ["K07", "K31", "M02"], "row": [2, 3, 4]})
    >>> runs, problems = fill_scars(runs, readings, {}, "runs.csv")
    >>> runs["scar_length"].tolist(), runs["scar_from"].tolist(), runs["width_from"].tolist()
    ([0.004], ['readings'], [''])
    >>> runs["read_by_code"].tolist()
    [True]
    """
    problems = unknown_runs(runs["run_id"].tolist(), readings)
    means = (
        readings.groupby(["run_id", "reader"])[["scar_length", "scar_width"]].mean().groupby("run_id").mean()
    )
    for name, origin in (("scar_length", "scar_from"), ("scar_width", "width_from")):
        own = runs[name].to_numpy(dtype=float)
        read = means[name].reindex(runs["run_id"]).to_numpy(dtype=float)
        problems += _differences(runs, own, read, columns.get(name, name), file)
        source = np.where(~np.isnan(own), "runs", np.where(~np.isnan(read), "readings", ""))
        runs = runs.assign(**{name: np.where(np.isnan(own), read, own)})
        runs[origin] = pd.Series(source.tolist(), dtype=object, index=runs.index)
    coded = (readings["blind_code"] != "").groupby(readings["run_id"]).all()
    by_code = runs["run_id"].map(coded.to_dict()).eq(True)
    runs = runs.assign(read_by_code=by_code & (runs["scar_from"] == "readings"))
    if "scar_length" in columns:
        problems += _blank_scars(runs, columns["scar_length"], file)
    return runs, problems


def unknown_runs(run_ids: Collection[str], readings: pd.DataFrame) -> list[Problem]:
    """Find readings of runs that there aren't.

    Examples
    --------
    >>> readings = pd.DataFrame({"run_id": ["1", "l"], "row": [2, 3]})
    >>> [(one.row, one.value, one.message) for one in unknown_runs(["1"], readings)]
    [(3, 'l', 'no run has this run_id')]
    """
    message, mend = "no run has this run_id", "correct the run_id, or take the row out"
    known = {"", *run_ids}
    return [
        error("readings-unknown-run", FILE, message, mend, row=row, column="run_id", value=run_id)
        for run_id, row in zip(readings["run_id"], readings["row"], strict=True)
        if run_id not in known
    ]


def _differences(
    runs: pd.DataFrame, own: NDArray[np.float64], read: NDArray[np.float64], column: str, file: str
) -> list[Problem]:
    found = []
    for run, mine, theirs in zip(rows_of(runs), own, read, strict=True):
        if abs(mine - theirs) > DIFFER * mine:
            shown, here = f"{to_shown(theirs, 'mm'):.4g} mm", f"{to_shown(mine, 'mm'):.4g} mm"
            message = f"the readings' mean {shown} is more than 5 % off the {here} here"
            mend = f"check run {run['run_id']} in both files; the value here is the one used"
            found.append(warning("readings-differ", file, message, mend, row=run["row"], column=column))
    return found


def _blank_scars(runs: pd.DataFrame, column: str, file: str) -> list[Problem]:
    mend = "fill it in, give its readings in readings.csv, or write the reason in the column excluded"
    blank = runs["row"][runs["scar_length"].isna() & (runs["excluded"] == "")]
    return [
        error("value-missing", file, "the scar length is blank", mend, row=row, column=column)
        for row in blank.tolist()
    ]


STEP = 1e-6
"""Lengths are written to this or a finer step [m]."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A scar read by a person.

    Attributes
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
    """Tell whether the file writes decimal commas: as its numbers do, else as usual beside its separator."""
    if separator == ",":
        return False
    # one number with a comma shows that the file writes decimal commas
    if any(re.fullmatch(r"[+-]?\d+,\d+", cell) for _, row in rows for cell in row):
        return True
    numeric = [place for place, written in enumerate(header) if "[" in written]
    return not any("." in row[place] for _, row in rows for place in numeric)


def _line(cells: list[str], separator: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="").writerow(cells)
    return out.getvalue()
