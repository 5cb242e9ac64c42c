"""The second sheet of a run sheet: every column with its unit, its meaning and what it accepts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pinscar.decision.plan_table import PreparedTable
from pinscar.report.cautions import BENCH
from pinscar.report.run_sheet_look import FACE, LIGHT, LINE, put_text
from pinscar.report.run_sheet_rules import is_needed, rule_of

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
WIDTHS = (22.0, 9.0, 36.0, 46.0, 14.0)


def write_guide(sheet: Worksheet, table: PreparedTable, lubricants: Sequence[str]) -> None:
    """Write the sheet.

    Parameters
    ----------
    sheet : Worksheet
        An empty sheet.
    table : PreparedTable
        The table that is explained.
    lubricants : sequence of str
        Ids of the oils.
    """
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    for letter, width in zip("ABCDE", WIDTHS, strict=True):
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
        for place, (text, width) in enumerate(zip(cells, WIDTHS, strict=True), 1):
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
