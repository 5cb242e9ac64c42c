"""tables.xlsx: the tables of results.json as sheets, for whoever goes on in a spreadsheet."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from pinscar.page.workbook import FACE, LIGHT, book_bytes, put_text

NAME = "tables.xlsx"
FIRST = ("criteria", "summaries", "comparisons", "claims", "audit", "runs")
"""Sheets that come first, in this order; others follow as results.json has them."""
ABOUT = "about"
WIDEST = 48.0


def tables_of(results: Mapping[str, Any]) -> dict[str, list[Mapping[str, Any]]]:
    """Find the tables of results.json.

    Examples
    --------
    >>> list(tables_of({"runs": [{"run_id": "1"}], "criteria": [], "overall": "met"}))
    ['runs']
    """
    found = {
        name: [row for row in value if isinstance(row, dict)]
        for name, value in results.items()
        if isinstance(value, list) and value and all(isinstance(row, dict) for row in value)
    }
    names = [*(name for name in FIRST if name in found), *(name for name in found if name not in FIRST)]
    return {name: list(found[name]) for name in names}


def tables_bytes(results: Mapping[str, Any]) -> bytes | None:
    """Write the tables of results.json as a workbook."""
    import openpyxl

    tables = tables_of(results)
    if not tables:
        return None
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    _write_about(book.create_sheet(ABOUT), results)
    for name, rows in tables.items():
        _write(book.create_sheet(name[:31]), rows, str(results.get("data_mark", "")))
    return book_bytes(book)


def _write_about(sheet: Any, results: Mapping[str, Any]) -> None:
    from openpyxl.styles import Alignment, Font

    campaign = results.get("campaign")
    lines = [(str(key), value) for key, value in campaign.items()] if isinstance(campaign, dict) else []
    lines += [(key, value) for key, value in results.items() if not isinstance(value, dict | list)]
    lines.append(
        ("note", "Units stand in the names of columns or in the column unit. The report says what each "
                 "number means and how sure it is; these tables alone do not.")
    )  # fmt: skip
    for row, (key, value) in enumerate(lines, 1):
        put_text(sheet.cell(row, 1), key)
        _put(sheet.cell(row, 2), value)
        sheet.cell(row, 1).font = Font(FACE, size=10, bold=True)
        sheet.cell(row, 2).font = Font(FACE, size=10)
        sheet.cell(row, 2).alignment = Alignment(wrap_text=True, vertical="top", horizontal="left")
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 20.0, 80.0


def _write(sheet: Any, rows: Sequence[Mapping[str, Any]], mark: str) -> None:
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    names = list(dict.fromkeys(name for row in rows for name in row))
    face, plain = Font(FACE, size=10), Alignment(wrap_text=False, vertical="top")
    wrapped = Alignment(wrap_text=True, vertical="top")
    for place, name in enumerate(names, 1):
        cell = sheet.cell(1, place)
        put_text(cell, str(name))
        cell.font, cell.fill = Font(FACE, size=10, bold=True), PatternFill("solid", fgColor=LIGHT)
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
        longest = max(len(_text(row.get(name))) for row in rows)
        sheet.column_dimensions[get_column_letter(place)].width = min(max(longest + 2.0, 10.0), WIDEST)
    for line, row in enumerate(rows, 2):
        for place, name in enumerate(names, 1):
            cell = sheet.cell(line, place)
            _put(cell, row.get(name))
            cell.font = face
            cell.alignment = wrapped if len(_text(row.get(name))) > WIDEST else plain
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = sheet.dimensions
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"
    sheet.oddHeader.left.text = mark


def _put(cell: Any, value: Any) -> None:
    """Put a value into a cell: numbers as numbers, all else as text that is no formula to a spreadsheet."""
    if value is None:
        return
    if isinstance(value, int | float) and not isinstance(value, bool):
        cell.value = value
    else:
        put_text(cell, _text(value), "General")


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list) and all(isinstance(one, str | int | float) for one in value):
        return ", ".join(map(str, value))
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else str(value)
