"""The rules of a run sheet's columns, as a spreadsheet's data validation with its hints."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from pinscar.campaign.frames import NOT_A_REASON
from pinscar.decision.plan_table import PreparedTable
from pinscar.report.run_sheet_look import put_text
from pinscar.report.run_sheet_rules import Rule, rule_of

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

LONGEST_TITLE, LONGEST_TEXT = 32, 255
"""What a spreadsheet takes at most as title and text of a hint."""


def write_lists(sheet: Worksheet, lubricants: Sequence[str]) -> dict[str, str]:
    """Write the lists that rules refer to, one a column.

    Parameters
    ----------
    sheet : Worksheet
        An empty sheet.
    lubricants : sequence of str
        Ids of the oils.

    Returns
    -------
    dict of str to str
        Where each list stands, by column: ``lubricant`` and ``excluded``.
    """
    places = {}
    for place, (name, heading, items) in enumerate(
        (
            ("lubricant", "oils of campaign.toml", list(lubricants)),
            ("excluded", "not accepted as a reason", sorted(NOT_A_REASON)),
        ),
        1,
    ):
        letter = "AB"[place - 1]
        for row, text in enumerate([heading, *items], 1):
            put_text(sheet.cell(row, place), text)
        sheet.column_dimensions[letter].width = 28.0
        places[name] = f"{sheet.title}!${letter}$2:${letter}${len(items) + 1}"
    return places


def add_rules(
    sheet: Worksheet, table: PreparedTable, lubricants: Sequence[str], lists: dict[str, str], rows: int
) -> None:
    """Lay the rules over the rows of a sheet, the spare ones too.

    Parameters
    ----------
    sheet : Worksheet
        The sheet of the runs.
    table : PreparedTable
        What it shows.
    lubricants : sequence of str
        Ids of the oils.
    lists : dict of str to str
        Where the lists stand.
    rows : int
        Rows under the header that the rules are for.
    """
    from openpyxl.utils import get_column_letter

    for place, (name, head, unit) in enumerate(zip(table.names, table.header, table.units, strict=True), 1):
        letter = get_column_letter(place)
        rule = rule_of(name, unit, lubricants)
        made = _validation(rule, name, letter, lists)
        made.promptTitle, made.errorTitle = head[:LONGEST_TITLE], head[:LONGEST_TITLE]
        made.prompt = f"{rule.meaning[0].upper()}{rule.meaning[1:]}. {rule.hint}"[:LONGEST_TEXT]
        made.error = rule.refusal[:LONGEST_TEXT] or None
        made.showInputMessage, made.showErrorMessage = True, bool(rule.kind)
        made.errorStyle = rule.weight
        made.allow_blank = True
        made.add(f"{letter}2:{letter}{rows + 1}")
        sheet.add_data_validation(made)


def _validation(rule: Rule, name: str, letter: str, lists: dict[str, str]) -> Any:
    from openpyxl.worksheet.datavalidation import DataValidation

    if rule.kind == "list":
        source = lists.get(name) or '"' + ",".join(rule.options) + '"'
        return DataValidation("list", formula1=source)
    if rule.kind == "unique":
        return DataValidation("custom", formula1=f"COUNTIF(${letter}$2:${letter}$1000,{letter}2)=1")
    if rule.kind == "reason":
        return DataValidation("custom", formula1=f"COUNTIF({lists[name]},{letter}2)=0")
    if not rule.kind:
        return DataValidation(None)
    if rule.low is not None and rule.high is not None:
        return DataValidation(
            rule.kind, operator="between", formula1=f"{rule.low:.10g}", formula2=f"{rule.high:.10g}"
        )
    low = -1e6 if rule.low is None else rule.low
    return DataValidation(
        rule.kind,
        operator="greaterThanOrEqual" if rule.low_allowed else "greaterThan",
        formula1=f"{low:.10g}",
    )
