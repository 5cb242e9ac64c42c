"""``lubricants.csv`` or ``.xlsx``, a row an oil; and compositions and prices against each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from pinscar.campaign.codes import error, nearest, plain, warning
from pinscar.campaign.frames import CellTextError, read_number
from pinscar.campaign.headers import split_header
from pinscar.campaign.model import CampaignFile, Lubricant
from pinscar.campaign.quantities import FieldError, is_balance
from pinscar.campaign.spreadsheets import TextTable
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.errors import Problem
from pinscar.units import UnitError, check_dimension

STEM = "lubricants"
NAMES = ("lubricants.csv", "lubricants.xlsx")
ID = "lubricant"
WORDS = ("role", "name", "batch")
"""Columns without a unit, beside the oil itself."""
NUMBERS = MappingProxyType(
    {
        "kinematic_viscosity_40": "mm^2/s",
        "kinematic_viscosity_100": "mm^2/s",
        "density_15": "kg/m^3",
        "pressure_viscosity": "1/GPa",
        "drive_loss": "W",
        "price": "EUR/kg",
    }
)
"""Columns with a unit that are no component, each with a unit to write."""

_CODES = MappingProxyType(
    {
        "toml-unit-missing": "unit-missing",
        "toml-unit-unknown": "unit-unknown",
        "toml-unit-wrong": "unit-wrong",
        "toml-out-of-range": "value-out-of-range",
        "toml-not-a-choice": "value-not-a-choice",
        "toml-quantity-unreadable": "value-not-a-number",
        "toml-not-a-quantity": "value-not-a-number",
    }
)


@dataclass(frozen=True, slots=True)
class OilColumn:
    """A column of the table.

    Attributes
    ----------
    position : int
        Place in the row, from 0 on.
    written : str
        Its header.
    key : str
        Key of ``[[lubricants]]``, or the component.
    unit : str
        Its unit; blank where it takes none.
    is_component : bool
        Whether its cells are shares.
    """

    position: int
    written: str
    key: str
    unit: str
    is_component: bool


def lubricants_file(folder: Path) -> str | None:
    """Find the table of oils.

    Examples
    --------
    >>> lubricants_file(Path("nowhere")) is None
    True
    """
    return next((name for name in NAMES if (folder / name).exists()), None)


def add_table(folder: Path, file: CampaignFile) -> tuple[CampaignFile, list[Problem]]:
    """Add what a table of oils says to campaign.toml.

    Examples
    --------
    >>> rig = {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    >>> file = CampaignFile.model_validate({"campaign": {"id": "c", "reference": "R-10"}, "rig": rig})
    >>> add_table(Path("nowhere"), file) == (file, [])
    True
    """
    name = lubricants_file(folder)
    if name is None:
        return file, []
    if all((folder / one).exists() for one in NAMES):
        message = "both lubricants.csv and lubricants.xlsx are there, and they may differ"
        return file, [error("file-twice", NAMES[0], message, "keep one of the two")]
    table, problems = (read_xlsx if name.endswith(".xlsx") else read_csv)(folder / name, name)
    if table is None:
        return file, problems
    oils, found = oils_of(table)
    merged, twice = _merged(file, oils, name)
    return merged, [*problems, *found, *twice]


def oils_of(table: TextTable) -> tuple[list[tuple[int, Lubricant]], list[Problem]]:
    """Read the oils of a table.

    Examples
    --------
    >>> header = ("lubricant", "base [%]", "AW-1 [%]")
    >>> table = TextTable(file="lubricants.csv", header=header, rows=((2, ("C-1", "balance", "2")),))
    >>> oils_of(table)[0][0][1].composition
    {'base': 0.98, 'AW-1': 0.02}
    """
    columns, problems = _columns(table)
    if problems:
        at = next((one.position for one in columns if one.key == ID), None)
        return (
            [] if at is None else [one for row, cells in table.rows for one in _named(row, cells[at])]
        ), problems
    oils: list[tuple[int, Lubricant]] = []
    for row, cells in table.rows:
        raw, wrong = _raw(table, columns, row, cells)
        if wrong:
            oils += _named(row, raw.get("id"))
        else:
            try:
                oils.append((row, Lubricant.model_validate(raw)))
            except ValidationError as failure:
                wrong = [
                    _problem(table.file, columns, row, cells, dict(one))
                    for one in failure.errors(include_url=False)
                ]
                oils += _named(row, raw.get("id"))
        problems += wrong
    return oils, problems


def _named(row: int, name: Any) -> list[tuple[int, Lubricant]]:
    """Keep the name of an oil whose row is wrong, so that its runs are not said to be of an unknown oil."""
    try:
        return [(row, Lubricant(id=name))]
    except ValidationError:
        return []


def _columns(table: TextTable) -> tuple[list[OilColumn], list[Problem]]:
    found: list[OilColumn] = []
    problems: list[Problem] = []
    for position, written in enumerate(table.header):
        name, unit = split_header(written)
        if not name:
            continue
        known = name in (ID, *WORDS, *NUMBERS)
        near = None if known else nearest(name, (ID, "id", *WORDS, *NUMBERS), 0.85)
        if near:
            mend = f"write {ID if near == 'id' else near}"
            message = "pinscar does not know this column"
            problems.append(error("column-near-miss", table.file, message, mend, row=1, column=written))
        elif name in NUMBERS and not unit:
            mend = f"write it as {name} [{NUMBERS[name]}]"
            problems.append(
                error("unit-missing", table.file, "the column needs a unit", mend, row=1, column=written)
            )
        elif not known and not _is_share(unit):
            mend = f"write it as {name} [%] if it is a component, or take the column out"
            message = "the column is no component, since shares need a unit such as %"
            problems.append(error("unit-missing", table.file, message, mend, row=1, column=written))
        elif name in {one.key for one in found}:
            mend = "keep one of the two columns"
            problems.append(
                error("column-twice", table.file, "the column is there twice", mend, row=1, column=written)
            )
        else:
            found.append(OilColumn(position, written, name, unit, not known))
    if not problems and ID not in {one.key for one in found}:
        message = f"the column {ID} is missing"
        problems.append(error("column-missing", table.file, message, f"add a column {ID}", row=1))
    return found, problems


def _is_share(unit: str) -> bool:
    try:
        check_dimension(unit, "pure number")
    except UnitError:
        return False
    return bool(unit)


def _raw(
    table: TextTable, columns: Sequence[OilColumn], row: int, cells: Sequence[str]
) -> tuple[dict[str, Any], list[Problem]]:
    """Write a row as campaign.toml would say it."""
    raw: dict[str, Any] = {}
    shares: dict[str, str] = {}
    problems: list[Problem] = []
    for column in columns:
        cell = cells[column.position]
        if column.key == ID and not cell:
            mend = "fill it in"
            problems.append(
                error("value-missing", table.file, "the cell is blank", mend, row=row, column=column.written)
            )
        if not cell:
            continue
        if not column.unit or (column.is_component and is_balance(cell)):
            written = cell
        else:
            try:
                number = read_number(cell, decimal_comma=table.decimal_comma)
            except CellTextError as wrong:
                place = {"column": column.written, "value": cell}
                mend = f'{wrong.mend}, or write "balance"' if column.is_component else wrong.mend
                problems.append(error(wrong.code, table.file, wrong.message, mend, row=row, **place))
                continue
            written = f"{number:.12g} {column.unit}"
        if column.is_component:
            shares[column.key] = written
        else:
            raw["id" if column.key == ID else column.key] = written
    return (raw | {"composition": shares} if shares else raw), problems


def _problem(
    file: str, columns: Sequence[OilColumn], row: int, cells: Sequence[str], detail: Mapping[str, Any]
) -> Problem:
    failure = detail.get("ctx", {}).get("error")
    if not isinstance(failure, FieldError):
        raise TypeError(f"no plain words for {detail['type']} at {detail['loc']}")
    key = failure.key or str(detail["loc"][-1])
    column = next((one for one in columns if one.key == (ID if key == "id" else key)), None)
    code = _CODES.get(failure.code, failure.code)
    return error(
        code,
        file,
        failure.message,
        failure.mend,
        row=row,
        column=column.written if column else None,
        value=cells[column.position] if column else None,
    )


def _merged(
    file: CampaignFile, oils: Sequence[tuple[int, Lubricant]], name: str
) -> tuple[CampaignFile, list[Problem]]:
    """Join the oils of both places; what one oil has in both is an error, so that neither wins unseen."""
    joined = {one.id: one for one in file.lubricants}
    if len(joined) != len(file.lubricants):
        return file, []  # an id that stands twice is told by itself
    problems: list[Problem] = []
    seen: set[str] = set()
    for row, oil in oils:
        if oil.id in seen:
            mend = "give each its own id, or keep one row"
            place = {"column": ID, "value": oil.id}
            problems.append(error("id-twice", name, "this oil is there twice", mend, row=row, **place))
            continue
        seen.add(oil.id)
        other = joined.get(oil.id)
        both = (oil.model_fields_set & other.model_fields_set) - {"id"} if other else set()
        differing = sorted(key for key in both if getattr(oil, key) != getattr(other, key))
        if differing:
            message = f"{', '.join(differing)} of {oil.id} differs from campaign.toml"
            mend = "keep it in one of the two files"
            problems.append(error("lubricant-stated-twice", name, message, mend, row=row, value=oil.id))
            continue
        if other is None:
            joined[oil.id] = oil
        else:
            joined[oil.id] = other.model_copy(
                update={key: getattr(oil, key) for key in oil.model_fields_set - both - {"id"}}
            )
    return file.model_copy(update={"lubricants": tuple(joined.values())}), problems


def placed_in_table(
    problems: Sequence[Problem], typed: CampaignFile, joined: CampaignFile, name: str
) -> list[Problem]:
    """Name the table where a problem is about what only the table says of an oil.

    Examples
    --------
    >>> rig = {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    >>> typed = CampaignFile.model_validate(
    ...     {"campaign": {"id": "c", "reference": "C-1"}, "rig": rig, "lubricants": [{"id": "C-1"}]})
    >>> wrong = Problem(
    ...     code="warning",
    ...     severity="w",
    ...     file="campaign.toml",
    ...     message="message",
    ...     mend="mend",
    ...     column="lubricants[1].price",
    ... )
    >>> print(placed_in_table([wrong], typed, typed, "lubricants.csv")[0])
    lubricants.csv, column price: message (found 'C-1'); mend
    """
    owners = {f"lubricants[{place}]": one for place, one in enumerate(joined.lubricants, 1)}
    said = {f"lubricants[{place}]": one.model_fields_set for place, one in enumerate(typed.lubricants, 1)}
    found = []
    for one in problems:
        head, _, key = (one.column or "").partition(".")
        of_table = name and head in owners and key.partition(".")[0] not in said.get(head, set())
        if one.file == "campaign.toml" and of_table:
            oil = owners[head].id
            column = key.removeprefix("composition").removeprefix(".") or None
            value = one.value if one.value and oil in one.message else oil
            one = replace(one, file=name, column=column, value=value)
        found.append(one)
    return found


FILE = "campaign.toml"
SAME = 1e-6
"""Shares that differ by less are one [1]."""
ALIKE = 0.85
"""How alike two names of components are that may be one."""


def check_compositions(file: CampaignFile) -> list[Problem]:
    """Check the compositions and prices of all oils.

    Examples
    --------
    >>> oils = [{"id": name, "composition": {"base": "balance", "AW-1": "1 %"}} for name in ("C-1", "C-2")]
    >>> rig = {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    >>> file = CampaignFile.model_validate(
    ...     {"campaign": {"id": "c", "reference": "C-1"}, "rig": rig, "lubricants": oils})
    >>> check_compositions(file)[0].message
    'C-1 and C-2 have one composition'
    """
    return [*_components(file), *_same(file), *_currencies(file)]


def _components(file: CampaignFile) -> Iterator[Problem]:
    declared = [one.id for one in file.components]
    for number, name in enumerate(declared):
        if name in declared[:number]:
            column, value = f"components[{number + 1}].id", name
            yield error(
                "id-twice", FILE, "this id is there twice", "give each its own id", column=column, value=value
            )
    first: dict[str, str] = dict.fromkeys(declared, "[[components]]")
    for number, oil in enumerate(file.lubricants):
        for name in oil.composition or {}:
            if name in first:
                continue
            column, value = f"lubricants[{number + 1}].composition.{name}", name
            near = nearest(name, list(first), ALIKE) or _swapped(name, first)
            if declared:
                mend = f"write {near}" if near else "add it as [[components]]"
                message = f"the component is not declared as [[components]], in {oil.id}"
                yield error("component-unknown", FILE, message, mend, column=column, value=value)
            elif near and not _numbered_apart(near, name):
                message = f"{near} (in {first[near]}) and {name} (in {oil.id}) count as two components"
                mend = f"write {near} if they are one, or declare both as [[components]]"
                yield warning("component-near-miss", FILE, message, mend, column=column, value=value)
            first.setdefault(name, oil.id)


def _swapped(name: str, known: Iterable[str]) -> str | None:
    """Find a name of the same letters in another order: in short names a swap leaves little that is alike."""
    return next((one for one in known if sorted(plain(one)) == sorted(plain(name))), None)


def _numbered_apart(one: str, other: str) -> bool:
    """Whether two names differ in their digits: AW-1 and AW-2 are meant to be two."""
    digits = [[letter for letter in name if letter.isdigit()] for name in (one, other)]
    return digits[0] != digits[1] and plain(one) != plain(other)


def _same(file: CampaignFile) -> Iterator[Problem]:
    oils = [(number, one) for number, one in enumerate(file.lubricants) if one.composition]
    for place, (number, oil) in enumerate(oils):
        for _, other in oils[:place]:
            if oil.batch and other.batch and oil.batch != other.batch:
                continue  # two batches of one formula, said so
            if _is_same(oil.composition or {}, other.composition or {}):
                mend = (
                    "correct one of the two, or state batch for both if they are two batches of one formula"
                )
                column = f"lubricants[{number + 1}].composition"
                message = f"{other.id} and {oil.id} have one composition"
                yield warning("composition-same", FILE, message, mend, column=column)
                break


def _is_same(one: dict[str, float], other: dict[str, float]) -> bool:
    return all(abs(one.get(name, 0.0) - other.get(name, 0.0)) < SAME for name in {*one, *other})


def _currencies(file: CampaignFile) -> Iterator[Problem]:
    known: str | None = None
    prices = [(f"lubricants[{number}]", one.price) for number, one in enumerate(file.lubricants, 1)]
    prices += [(f"components[{number}]", one.price) for number, one in enumerate(file.components, 1)]
    for owner, price in prices:
        if price is not None:
            known = known or price.currency
            if price.currency != known:
                column, value = f"{owner}.price", price.currency
                message = f"the prices before it are in {known}"
                yield error(
                    "price-currencies",
                    FILE,
                    message,
                    "write all prices in one currency",
                    column=column,
                    value=value,
                )
