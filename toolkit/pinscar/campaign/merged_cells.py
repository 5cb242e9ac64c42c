"""Merged cells of a workbook: what holds for several runs is filled in, what was measured is not."""

from __future__ import annotations

from typing import Any

from pinscar.campaign.columns import RUNS, SETTINGS, find_column
from pinscar.campaign.title_rows import header_place


def fill_merged(sheet: Any, records: list[list[str]]) -> None:
    """Fill the blank cells of each merge down a column that holds a setting or words."""
    filled = [row for row, record in enumerate(records) if any(record)]
    if not filled:
        return
    top = filled[header_place([records[row] for row in filled])]
    for area in sheet.merged_cells.ranges:
        column = area.min_col - 1
        if area.min_row - 1 <= top or not is_filled(area, records[top][column]):
            continue
        value = records[area.min_row - 1][column]
        for row in range(area.min_row - 1, min(area.max_row, len(records))):
            records[row][column] = value


def is_filled(area: Any, header: str) -> bool:
    """Tell whether a merge is one down a column whose value can hold for several runs.

    A name of a run and a number that was measured belong to one run only.
    """
    name, _, unit = header.partition("[")
    column = find_column(RUNS, name.strip())
    if area.min_col != area.max_col or name.strip() == "run_id":
        return False
    if column is None:
        return not unit
    return column.kind != "number" or column.name in SETTINGS
