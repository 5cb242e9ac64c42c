"""What each column of a run sheet accepts and says, made from the columns' definitions.

The rules become a spreadsheet's data validation with its hints; here too are the cells' look and the guard
that keeps a spreadsheet from changing text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from pinscar.campaign.columns import RUNS, Column, find_column
from pinscar.campaign.frames import NOT_A_REASON
from pinscar.errors import either
from pinscar.page.workbook import put_text
from pinscar.study.plan.table import PreparedTable
from pinscar.units import to_unit

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


Weight = Literal["stop", "warning"]
Kind = Literal["", "decimal", "whole", "date", "list", "unique", "reason"]
FIRST_DAY = 36526
"""1 January 2000 as a spreadsheet counts days: a date before it is a slip."""
PLANNED = {
    "planned_day": "day that the run is planned on",
    "planned_place": "place of the run within its day; keep to it, or the order is no longer fair",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What the cells of a column accept.

    Attributes
    ----------
    kind : str
        A spreadsheet's kind of validation: ``decimal``, ``whole``, ``date``, ``list``; besides ``unique``,
        ``reason`` and, for any text, nothing.
    meaning : str
        What the column holds.
    hint : str
        What may be typed, in one sentence.
    refusal : str
        What is said of something else.
    weight : {"stop", "warning"}
        Whether something else is refused, or asked about once.
    low, high : float or None
        Ends of the range, in the column's unit.
    low_allowed : bool
        Whether `low` itself is accepted.
    options : tuple of str
        Words of a list.
    """

    kind: Kind
    meaning: str
    hint: str
    refusal: str = ""
    weight: Weight = "stop"
    low: float | None = None
    high: float | None = None
    low_allowed: bool = True
    options: tuple[str, ...] = ()


def rule_of(name: str, unit: str, lubricants: Sequence[str]) -> Rule:
    """Give the rule of a column.

    Examples
    --------
    >>> rule_of("load", "kN", ["R-10"]).hint
    'A number in kN, without the unit; mostly between 0.005 and 20.'
    """
    column = find_column(RUNS, name)
    if column is None:
        return Rule(
            kind="",
            meaning=PLANNED.get(name, "your own column"),
            hint="Prepared beforehand: leave it as it is.",
        )
    if name == "lubricant":
        return Rule(
            kind="list",
            meaning=column.meaning,
            hint="Choose from the list, which has the oils of campaign.toml.",
            refusal="This oil is not in campaign.toml; if it is meant, it counts as one more candidate.",
            weight="warning",
            options=tuple(lubricants),
        )
    special = {
        "run_id": Rule(
            kind="unique",
            meaning=column.meaning,
            hint="Letters, digits, points and hyphens; each run has its own.",
            refusal="Another run has this name already.",
            weight="warning",
        ),
        "excluded": Rule(
            kind="reason",
            meaning=column.meaning,
            hint="Leave it blank to include the run; any text excludes it.",
            refusal=(
                "Give a real reason. Leave the cell blank to include the run, or write why it is excluded."
            ),
        ),
    }
    if name in special:
        return special[name]
    kinds = {"number": _number, "choice": _choice, "moment": _moment}
    return kinds[column.kind](column, unit) if column.kind in kinds else _text(column)


def is_needed(name: str) -> bool:
    """Tell whether a column must be filled in every run: what the dark headers say.

    Examples
    --------
    >>> is_needed("scar_length"), is_needed("scar_width"), is_needed("note")
    (True, False, False)
    """
    column = find_column(RUNS, name)
    return name in ("load", "weights", "scar_length") or (column is not None and column.filled)


def _text(column: Column) -> Rule:
    return Rule(
        kind="", meaning=column.meaning, hint="Any text." if not column.filled else "Text; must be filled."
    )


def _choice(column: Column, unit: str) -> Rule:
    del unit
    named = either(column.options)
    hint = f"Choose {named}; or leave it blank."
    return Rule(
        kind="list",
        meaning=column.meaning,
        hint=hint,
        refusal=f"Write {named}, or leave the cell blank.",
        options=column.options,
    )


def _moment(column: Column, unit: str) -> Rule:
    del unit
    example = "2026-03-02 09:10" if column.name == "run_at" else "2026-03-02"
    hint = f"Type it like {example}."
    return Rule(
        kind="date",
        meaning=column.meaning,
        hint=hint,
        refusal=f"This is not a date. {hint}",
        weight="warning",
        low=FIRST_DAY,
    )


def _number(column: Column, unit: str) -> Rule:
    whole = "whole number" if column.whole else "number"
    hint = f"A {whole} in {unit}, without the unit" if unit else f"A {whole}"
    least = "zero or more" if column.low_allowed else "more than zero"
    kind: Kind = "whole" if column.whole else "decimal"
    if column.usual is None:
        low = 0.0 if column.dimension != "temperature" else None
        refusal = f"This must be a {whole}, {least}{f', in {unit}' if unit else ''}, typed without a unit."
        return Rule(
            kind=kind,
            meaning=column.meaning,
            hint=f"{hint}; {least}.",
            refusal=refusal,
            low=low,
            low_allowed=column.low_allowed,
        )
    low, high = (float(f"{float(one):.2g}") for one in to_unit(column.usual, unit or "1"))
    between = f"mostly between {low:.6g} and {high:.6g}"
    within = f" in {unit}" if unit else ""
    refusal = f"A {whole}{within} is expected, without the unit, {between}. Keep it as typed?"
    return Rule(
        kind=kind,
        meaning=column.meaning,
        hint=f"{hint}; {between}.",
        refusal=refusal,
        weight="warning",
        low=low,
        high=high,
    )


LONGEST_TITLE, LONGEST_TEXT = 32, 255
"""What a spreadsheet takes at most as title and text of a hint."""


def write_lists(sheet: Worksheet, lubricants: Sequence[str]) -> dict[str, str]:
    """Write the lists that rules refer to, one per column."""
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
    """Lay the rules over the rows of a sheet, the spare ones too."""
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
