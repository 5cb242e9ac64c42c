"""The table of runs as a workbook: lists to choose from, hints at each cell, ready to print.

A second sheet tells each column's unit, meaning and what it accepts. The file holds no clock, so the same
content gives the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pinscar.bench.run_sheet_rules import add_rules, is_needed, rule_of, write_lists
from pinscar.campaign.columns import RUNS, find_column
from pinscar.page.cautions import BENCH
from pinscar.page.workbook import DARK, FACE, LIGHT, LINE, PREPARED, book_bytes, put_text
from pinscar.study.plan.table import PreparedTable

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


INTRODUCTION = (
    "One row per run, in the order given: the order is random on purpose, so that neither a day nor a "
    "warm rig "
    "favours an oil.",
    "Type numbers without their unit: it stands in the header. Leave a cell blank where nothing was "
    "measured, rather than 0 or n/a.",
    "Dark headers must be filled, light ones may stay blank. A run that went wrong stays in, with its reason "
    "in the column excluded.",
    "More runs go into the rows below. Columns may be moved; headers stay in row 1 and keep their names.",
    "Save as xlsx under the same name and close it; then: pinscar check FOLDER",
)
HEADS = ("column", "unit", "what it holds", "what to type", "must be filled")
GUIDE_WIDTHS = (22.0, 9.0, 36.0, 46.0, 14.0)


def write_guide(sheet: Worksheet, table: PreparedTable, lubricants: Sequence[str]) -> None:
    """Write the sheet."""
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    for letter, width in zip("ABCDE", GUIDE_WIDTHS, strict=True):
        sheet.column_dimensions[letter].width = width
    put_text(sheet.cell(1, 1), "How to fill in the sheet runs")
    sheet.cell(1, 1).font = Font(FACE, size=14, bold=True)
    row = 2
    for line in (BENCH, *INTRODUCTION):
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=len(HEADS))
        put_text(sheet.cell(row, 1), line)
        sheet.cell(row, 1).alignment = Alignment(wrap_text=True, vertical="top")
        sheet.cell(row, 1).font = Font(FACE, size=10, bold=line == BENCH)
        sheet.row_dimensions[row].height = 15.0 * (1 + len(line) // 128)
        row += 1
    row += 1
    below = Border(bottom=Side("thin", color=LINE))
    for place, head in enumerate(HEADS, 1):
        cell = sheet.cell(row, place)
        put_text(cell, head)
        cell.font, cell.fill = Font(FACE, size=10, bold=True), PatternFill("solid", fgColor=LIGHT)
    for number, cells in enumerate(_rows(table, lubricants), row + 1):
        lines = 1
        for place, (text, width) in enumerate(zip(cells, GUIDE_WIDTHS, strict=True), 1):
            cell = sheet.cell(number, place)
            put_text(cell, text)
            cell.font = Font(FACE, size=10)
            cell.alignment, cell.border = Alignment(wrap_text=True, vertical="top"), below
            lines = max(lines, 1 + int(len(text) / (1.25 * width)))
        sheet.row_dimensions[number].height = 15.0 * lines
    sheet.print_title_rows = f"{row}:{row}"


def _rows(table: PreparedTable, lubricants: Sequence[str]) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for name, unit in zip(table.names, table.units, strict=True):
        rule = rule_of(name, unit, lubricants)
        found.append((name, unit, rule.meaning, rule.hint, "yes" if is_needed(name) else ""))
    return found


SHEET = "runs"
SPARE = 40
"""Rows beyond the prepared ones that are ready to be typed into."""
RULED = 8
"""How many of those have lines, and so are printed."""
WIDTHS = {
    "run_id": 8.5,
    "planned_place": 8.5,
    "lubricant": 10.0,
    "run_at": 16.0,
    "operator": 8.0,
    "pin_state": 9.0,
    "excluded": 16.0,
    "note": 22.0,
}
USUAL_WIDTH = 7.0
HEAD_HEIGHT = 128.0  # points: the longest header set upright
ROW_HEIGHT = 23.0  # points: high enough to write by hand on a printed sheet


def run_sheet(table: PreparedTable, lubricants: Sequence[str], title: str) -> bytes:
    """Make the workbook of a prepared table.

    Examples
    --------
    >>> table = PreparedTable(("run_id", "load"), ("run_id", "load [N]"), (("run-01", "450"),))
    >>> run_sheet(table, ["R-10"], "Trial") == run_sheet(table, ["R-10"], "Trial")
    True
    """
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    sheet = book.create_sheet(SHEET)
    _write_cells(sheet, table)
    _shape(sheet, table)
    _set_print(sheet, title, landscape=True)
    _caution(sheet)
    guide = book.create_sheet("how to fill in")
    write_guide(guide, table, lubricants)
    _set_print(guide, title, landscape=False)
    lists = book.create_sheet("lists")
    lists.sheet_state = "hidden"
    add_rules(sheet, table, lubricants, write_lists(lists, lubricants), len(table.rows) + SPARE)
    return book_bytes(book)


def cell_format(name: str) -> str:
    r"""Give the number format of a column's cells.

    Examples
    --------
    >>> cell_format("run_id"), cell_format("run_at"), cell_format("load")
    ('@', 'yyyy\\-mm\\-dd\\ hh:mm', 'General')
    """
    column = find_column(RUNS, name)
    if column is None or column.kind in ("text", "choice"):
        return "@"
    if column.kind == "moment":
        return r"yyyy\-mm\-dd\ hh:mm" if name == "run_at" else r"yyyy\-mm\-dd"
    return "General"


def _write_cells(sheet: Worksheet, table: PreparedTable) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    thin, thick = Side("thin", color=LINE), Side("medium", color=DARK)
    for place, (name, head) in enumerate(zip(table.names, table.header, strict=True), 1):
        must = is_needed(name)
        cell = sheet.cell(1, place)
        put_text(cell, head, "General")
        cell.font = Font(FACE, size=9, bold=True, color="FFFFFF" if must else "000000")
        cell.fill = PatternFill("solid", fgColor=DARK if must else LIGHT)
        cell.alignment = Alignment(text_rotation=90, wrap_text=True, vertical="center", horizontal="center")
        cell.border = Border(left=thin, right=thin, bottom=thick)
    days = [
        row[table.names.index("planned_day")] if "planned_day" in table.names else "" for row in table.rows
    ]
    for line in range(len(table.rows) + SPARE):
        row = table.rows[line] if line < len(table.rows) else ("",) * len(table.names)
        ends = line + 1 >= len(table.rows) or days[line] != days[line + 1]
        border = Border(left=thin, right=thin, bottom=thick if line < len(table.rows) and ends else thin)
        for place, (name, text) in enumerate(zip(table.names, row, strict=True), 1):
            cell = sheet.cell(line + 2, place)
            cell.number_format, cell.font = cell_format(name), Font(FACE, size=10)
            if text:
                _put(cell, name, text)
                cell.fill = PatternFill("solid", fgColor=PREPARED)
            if line < len(table.rows) + RULED:
                cell.border = border
            wide = name in ("note", "excluded", "lubricant", "run_id", "operator")
            cell.alignment = Alignment(
                vertical="center", wrap_text=wide, horizontal="left" if cell_format(name) == "@" else None
            )


def _put(cell: Any, name: str, text: str) -> None:
    column = find_column(RUNS, name)
    if column is not None and column.kind == "number":
        cell.value = float(text)
    else:
        put_text(cell, text, cell_format(name))


def _shape(sheet: Worksheet, table: PreparedTable) -> None:
    from openpyxl.utils import get_column_letter

    for place, name in enumerate(table.names, 1):
        longest = max((len(row[place - 1]) for row in table.rows), default=0) + 1.5
        width = WIDTHS.get(name, USUAL_WIDTH)
        dimension = sheet.column_dimensions[get_column_letter(place)]
        dimension.width = max(width, min(longest, 24.0))
        dimension.number_format = cell_format(name)
    sheet.row_dimensions[1].height = HEAD_HEIGHT
    for line in range(2, len(table.rows) + SPARE + 2):
        sheet.row_dimensions[line].height = ROW_HEIGHT
    sheet.freeze_panes = "B2"
    sheet.sheet_view.tabSelected = True


def _caution(sheet: Any) -> None:
    """Put the cautions where work starts: over every printed page, and at the cell that is chosen first."""
    from openpyxl.worksheet.datavalidation import DataValidation

    sheet.oddHeader.left.text, sheet.oddHeader.left.size = BENCH, 8
    sheet.page_margins.top, sheet.page_margins.header = 0.8, 0.3
    # Row 1 must hold the headers, so on the screen the cautions are the hint of cell A1, shown as it opens.
    hint = DataValidation(None, promptTitle="Safety first", prompt=BENCH, showInputMessage=True)
    hint.add("A1")
    sheet.add_data_validation(hint)


def _set_print(sheet: Any, title: str, *, landscape: bool) -> None:
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.paperSize = 9  # A4
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.7
    if landscape:
        sheet.print_title_rows = "1:1"
    sheet.oddFooter.left.text = re.sub(r"\s+", " ", title).replace("&", "&&")[:120]
    sheet.oddFooter.right.text = "page &P of &N"
    sheet.oddFooter.left.size = sheet.oddFooter.right.size = 8
