"""Tables in parquet files, read as text like any other table, bounded by what their pages unpack to."""

from __future__ import annotations

import math
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from pinscar.campaign.codes import CELLS, COLUMNS, MIB, UNPACKED, error, too_large, too_many
from pinscar.campaign.spreadsheets import TextTable
from pinscar.campaign.tables import shape_table
from pinscar.errors import Problem
from pinscar.import_path import let_pyarrow_in

if TYPE_CHECKING:
    import pyarrow as pa


HEAD = 16 * 1024
"""Most bytes that the head of a page is looked for in; statistics of text make it long."""


def unpacked_bytes(file: IO[bytes], start: int, length: int) -> int:
    """Add up what the pages of one column unpack to.

    Examples
    --------
    >>> import io
    >>> head = bytes([0x15, 0, 0x15, 20, 0x15, 8, 0])  # type 0, 10 bytes unpacked, 4 packed
    >>> unpacked_bytes(io.BytesIO(head + b"abcd"), 0, 11)
    10
    """
    total, place = 0, start
    while place < start + length:
        file.seek(place)
        unpacked, packed, head = _page(file.read(HEAD))
        total += unpacked
        place += head + packed
    return total


def _page(data: bytes) -> tuple[int, int, int]:
    """Return a page's size unpacked and packed, and the length of its head [bytes]."""
    numbers: dict[int, int] = {}
    try:
        end = _struct(data, 0, numbers)
        unpacked, packed = numbers[2], numbers[3]
    except (IndexError, KeyError, RecursionError) as error:
        raise ValueError("the head of a page cannot be read") from error
    if unpacked < 0 or packed < 0:
        raise ValueError("a page has a size below zero")
    return unpacked, packed, end


def _struct(data: bytes, place: int, numbers: dict[int, int] | None = None) -> int:
    field = 0
    while data[place]:
        step, kind = data[place] >> 4, data[place] & 15
        place += 1
        if step:
            field += step
        else:
            value, place = _varint(data, place)
            field = (value >> 1) ^ -(value & 1)
        if kind in (4, 5, 6) and numbers is not None:
            value, place = _varint(data, place)
            numbers[field] = (value >> 1) ^ -(value & 1)
        elif kind not in (1, 2):  # a truth value stands in the kind itself
            place = _skip(data, place, kind)
    return place + 1


def _skip(data: bytes, place: int, kind: int) -> int:
    if kind in (1, 2, 3):
        return place + 1
    if kind in (4, 5, 6):
        return _varint(data, place)[1]
    if kind == 7:
        return place + 8
    if kind == 8:
        length, place = _varint(data, place)
        return place + length
    if kind in (9, 10):
        count, inner = data[place] >> 4, data[place] & 15
        place += 1
        if count == 15:
            count, place = _varint(data, place)
        for _ in range(count):
            place = _skip(data, place, inner)
        return place
    if kind == 12:
        return _struct(data, place)
    raise ValueError("the head of a page holds something unknown")


def _varint(data: bytes, place: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = data[place]
        place += 1
        value |= (byte & 127) << shift
        if byte < 128:
            return value, place
        shift += 7
        if shift > 63:
            raise ValueError("a number is too long")


MEND = "write the table again as parquet, or as CSV UTF-8"


def read_parquet(path: Path, name: str) -> tuple[TextTable | None, list[Problem]]:
    """Read a parquet file, numbers turned to text without loss.

    Rows count as in a csv file of the same table: the names of the columns are row 1, the first reading is
    row 2. The index that pandas writes as a column is a column like any other.

    Examples
    --------
    >>> read_parquet(Path("nowhere.parquet"), "nowhere.parquet")[1][0].code
    'parquet-unreadable'
    """
    let_pyarrow_in()
    import pyarrow as pa
    import pyarrow.parquet

    large = too_large(path, name)
    if large:
        return None, large
    try:
        with path.open("rb") as file:
            wrong = _parquet_bomb(pyarrow.parquet.ParquetFile(file), path, name)
            if wrong:
                return None, wrong
            records, problems = _records(pyarrow.parquet.read_table(file, use_threads=False), name)
    except OSError as failure:
        reason = (failure.strerror or "it is damaged, or no parquet file").lower()
        return None, [error("parquet-unreadable", name, f"the file cannot be opened ({reason})", MEND)]
    except (pa.ArrowException, ValueError, MemoryError):  # ValueError: text that is no UTF-8
        message = "the file cannot be opened (it is damaged, or no parquet file)"
        return None, [error("parquet-unreadable", name, message, MEND)]
    table, shape_problems = shape_table(name, records, decimal_comma=False)
    return table, problems + shape_problems


def _parquet_bomb(file: Any, path: Path, name: str) -> list[Problem]:
    """Refuse a table that holds far more than its size says, before any of it is unpacked."""
    said = file.metadata
    mend = "leave columns out that pinscar does not read, or every second reading"
    if said.num_columns > COLUMNS:
        return [too_many("columns", COLUMNS, name, mend)]
    if said.num_rows * max(1, said.num_columns) > CELLS:
        return [too_many("cells", CELLS, name, mend)]
    groups = [said.row_group(place) for place in range(said.num_row_groups)]
    chunks = [group.column(place) for group in groups for place in range(group.num_columns)]
    if sum(chunk.total_uncompressed_size for chunk in chunks) > UNPACKED:
        return [too_many("MiB when unpacked", UNPACKED // MIB, name, mend)]
    if sum(group.num_rows for group in groups) != said.num_rows or _page_bytes(path, chunks) > UNPACKED:
        return [error("parquet-unreadable", name, "the file says less of itself than it holds", MEND)]
    return []


def _page_bytes(path: Path, chunks: list[Any]) -> int:
    with path.open("rb") as file:
        return sum(
            unpacked_bytes(
                file,
                min(chunk.data_page_offset, chunk.dictionary_page_offset or chunk.data_page_offset),
                chunk.total_compressed_size,
            )
            for chunk in chunks
        )


def _records(columns: pa.Table, name: str) -> tuple[list[list[str]], list[Problem]]:
    """Turn the file to rows of text, the names of the columns first."""
    cells, problems = [], []
    for field, column in zip(columns.schema, columns.columns, strict=True):
        what = _not_numbers(field.type)
        if what:
            problems.append(_wrong_type(name, field.name, what))
        cells.append([""] * columns.num_rows if what else [_cell_text(one) for one in column.to_pylist()])
    heads = [field.name.strip() for field in columns.schema]
    return [heads, *map(list, zip(*cells, strict=True))], problems


def _not_numbers(kind: pa.DataType) -> str:
    """Say in words what a column holds that can be neither a number nor its text."""
    from pyarrow import types

    words = (
        ("dates and times", types.is_temporal(kind) and not types.is_duration(kind)),
        ("spans of time", types.is_duration(kind)),
        ("yes and no", types.is_boolean(kind)),
        ("bytes", types.is_binary(kind) or types.is_large_binary(kind) or types.is_fixed_size_binary(kind)),
        ("lists", types.is_nested(kind)),
    )
    return next((what for what, found in words if found), "")


def _wrong_type(name: str, column: str, what: str) -> Problem:
    message = f"the column holds {what}, and no numbers"
    mend = "write numbers in the unit that its name says"
    if what in ("dates and times", "spans of time"):
        mend = "write seconds from the run's start, as numbers, in a column time [s]"
    return error("parquet-type", name, message, mend, column=column)


def _cell_text(value: Any) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value).replace("\u00a0", " ").strip()
