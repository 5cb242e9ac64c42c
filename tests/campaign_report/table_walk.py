"""Every number of a report's tables, looked for in results.json.

A number is found where an entry of results.json that belongs to the row (its run, or its oil and load) or to
the table's section holds it, in the unit of the column, to the rounding shown. The unit of a key is told by
its ending. These conversions are allowed, and no other: J to kJ, mm to m, a share to %, the power of ten in a
column's head, and the units of a response that states its own; "< 0.0001" stands for any p value below. A
number within words is found where the same words hold it in results.json.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from typing import Any

import pint

NUMBER = re.compile(r"(?<![\w.−-])[−+-]?\d+(?:\.\d+)?(?: × 10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+))?")
RAISED = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")
UNITS = {
    "N": (("_N", 1.0),), "s": (("_s", 1.0),), "mm": (("_mm", 1.0),), "m": (("_m", 1.0), ("_mm", 1e-3)),
    "mm²": (("_mm2", 1.0),), "mm³": (("_mm3", 1.0),), "µm": (("_um", 1.0), ("_mm", 1e3)),
    "kg": (("_kg", 1.0),),
    "MPa": (("_MPa", 1.0),), "kJ": (("_J", 1e-3),), "J/m": (("_J_per_m", 1.0),),
    "kJ/mm³": (("_kJ_per_mm3", 1.0),), "dB": (("_dB", 1.0),), "mPa s": (("_mPa_s", 1.0),),
    "W": (("_W", 1.0),), "g": (("_g", 1.0),), "EUR/kg": (("_per_kg", 1.0), (".values", 1.0)),
    "K": (("_K", 1.0),), "K/s": (("_K_per_s", 1.0),), "°C": (("_degC", 1.0),),
    "%": (
        ("_percent", 1.0), (".estimate", 100.0), (".ci_low", 100.0), (".ci_high", 100.0),
        (".share_of_variance", 100.0), (".share_of_sd", 100.0), (".false_alarm_share", 100.0),
        (".power", 100.0), ("_as_found", 100.0),
    ),
    "% of the run": (("_percent", 1.0),), "% of variance": (("_percent", 1.0),),
    "10⁻⁶ mm³/(N m)": (("_mm3_per_Nm", 1e6),), "1/GPa": (("_per_GPa", 1.0),),
    "mm²/s": (("_mm2_per_s", 1.0),), "kg/m³": (("_kg_per_m3", 1.0),), "m/s": (("_m_per_s", 1.0),),
}  # fmt: skip
"""By unit in a column's head: how a key of results.json ends, and what its number is multiplied by."""
SECTIONS = {
    "criteria": ("criteria",), "audit": ("audit",), "claims": ("claims",), "warnings": ("problems",),
    "lubricants": ("lubricants",), "duty": ("service",), "runs": ("runs",),
    "facts": ("conditions", "rig", "measurement", "service", "report"), "items": ("report",),
}  # fmt: skip
"""Where the rows of a table stand that are no run and no oil at a load."""
STUDY_SECTIONS = {
    "precision": ("precision",), "percent": ("precision",), "differences": ("precision",),
    "tests": ("precision",), "cells": ("precision",),
    "components": ("components",), "readers": ("readers",), "anova": ("anova",), "bias": ("bias",),
    "schemes": ("schemes",),
    "periods": ("out_of_control",), "limits": ("charts",), "points": ("charts",), "campaigns": ("campaigns",),
    "range": ("levels",), "references": ("levels",), "ratios": ("levels",),
    "rules": ("rule_counts",),
    "sheet": ("order",), "days": ("runs_of_each_day",), "steps": ("steps",), "pilot": ("pilot",),
    "facts": ("conditions", "rig", "measurement", "study", "campaign"),
    "forms": ("series",), "effects": ("models",), "terms": ("models",), "left-out": ("models",),
    "viscosity": ("viscosity",), "tradeoff": ("tradeoff",), "next": ("next_blends",),
    "foreseen": ("next_blends",), "weigh-out": ("weigh_out",), "batches": ("batches",),
}  # fmt: skip
"""The same for the tables of the studies, whose names may end in a number."""
DATES = {"Days", "When", "From", "Out of control", "Last good before", "First good after"}
ITEM_DATES = {"Taken", "Received", "Tested"}
"""Columns and facts that hold dates; results.json holds these as ISO 8601."""
ELSEWHERE = {"inputs", "versions"}
"""Tables of hashes and versions: these stand in manifest.json."""


@dataclass
class Table:
    """A table of a page: its name, its heads with their units, and its rows of text."""

    key: str
    heads: list[tuple[str, str]] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)


class Tables(HTMLParser):
    """Reads the tables off a page."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[Table] = []
        self._key = ""
        self._cell: list[str] | None = None
        self._in_table = self._in_head = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what begins."""
        known = dict(attrs)
        if tag == "div" and (known.get("id") or "").startswith("table-"):
            self._key = (known["id"] or "").removeprefix("table-")
        elif tag == "table":
            self.found.append(Table("facts" if known.get("class") == "facts" else self._key))
            self._in_table = True
        elif tag in ("thead", "tbody"):
            self._in_head = tag == "thead"
        elif tag == "tr" and self._in_table and not self._in_head:
            self.found[-1].rows.append([])
        elif tag in ("td", "th") and self._in_table:
            self._cell = []
        elif tag == "br" and self._cell is not None:
            self._cell.append(" ")

    def handle_data(self, data: str) -> None:
        """Collect the text of a cell."""
        if self._cell is not None:
            self._cell.append(data)

    def handle_endtag(self, tag: str) -> None:
        """Note what ends."""
        if tag in ("td", "th") and self._cell is not None:
            text = plain("".join(self._cell))
            if self._in_head:
                unit = re.search(r"\[(.+)\]$", text)
                head = re.sub(r"\s*\[.+\]$", "", text)
                self.found[-1].heads.append((head, unit.group(1) if unit else ""))
            else:
                self.found[-1].rows[-1].append(text)
            self._cell = None
        elif tag == "table":
            self._in_table = self._in_head = False
            self._key = ""


def plain(text: str) -> str:
    """Give text with ordinary spaces, none beside another."""
    text = re.sub(r"(?<=\d)\u202f(?=\d{3})", "", text)  # thousands are set apart
    return re.sub(r"[\s\u2007\u2008\u2009\u00a0\u202f]+", " ", text).strip()


def tables(html: str) -> list[Table]:
    """Read the tables off a page."""
    reader = Tables()
    reader.feed(html)
    return reader.found


def leaves(value: Any, path: str = "", unit: str = "") -> Iterator[tuple[str, Any, str]]:
    """List the numbers and words below a value: key with those around it, value, and the unit beside it."""
    if isinstance(value, Mapping):
        unit = str(value.get("unit") or unit)
        for key, item in value.items():
            yield from leaves(item, f"{path}.{key}", unit)
    elif isinstance(value, Sequence) and not isinstance(value, str):
        for item in value:
            yield from leaves(item, path, unit)
    elif value is not None and not isinstance(value, bool):
        yield path, value, unit


def entries(value: Any) -> Iterator[Mapping[str, Any]]:
    """List every record in results.json, those within others too."""
    if isinstance(value, Mapping):
        yield value
        for item in value.values():
            yield from entries(item)
    elif isinstance(value, list):
        for item in value:
            yield from entries(item)


def of_row(results: Mapping[str, Any], table: Table, row: Sequence[str], *, study: bool = False) -> list[Any]:
    """Choose what of results.json a row is about; a study's tables are of its results as a whole."""
    if study:
        sections = STUDY_SECTIONS.get(re.sub(r"-\d+$", "", table.key), ())
        return [results[name] for name in sections if results.get(name) is not None]
    named = [one for one in entries(results) if one.get("run_id") is not None and one["run_id"] == row[0]]
    if named:
        return named
    cell = re.match(r"(?:.* of )?(\S+) at ([\d.]+) N$", row[0])
    if cell:
        oil, load = cell.group(1), float(cell.group(2))
        found = [
            one
            for one in entries(results)
            if one.get("lubricant") == oil and abs(float(one.get("load_N") or 0.0) / load - 1.0) < 0.005
        ]
        return [one for one in found if "run_id" not in one]
    return [results[name] for name in SECTIONS.get(table.key, ()) if results.get(name) is not None]


def shown(match: re.Match[str]) -> tuple[float, float]:
    """Give the number that stands there, and half a unit of its last digit."""
    text = match.group(0).replace("−", "-")
    power = 0 if match.group(1) is None else int(match.group(1).translate(RAISED))
    digits = text.split(" ")[0]
    value = float(digits)
    whole, _, decimals = digits.lstrip("+-").partition(".")
    place = -len(decimals) if decimals else len(whole) - len(whole.rstrip("0")) if value else 0
    return value * 10.0**power, 0.5 * 10.0 ** (place + power)


def factors(unit: str, path: str, own: str, registry: pint.UnitRegistry[Any]) -> Iterator[float]:
    """List what a number of results.json may be multiplied by to stand in a column."""
    if not unit or unit == "1":
        yield 1.0
        return
    for ending, factor in UNITS.get(unit, ()):
        if any(f".{part}".endswith(ending) for part in path.split(".")):
            yield factor
    if own and own != "1" and (factor := _converted(own, unit, registry)) is not None:
        yield factor


@cache
def _converted(own: str, unit: str, registry: pint.UnitRegistry[Any]) -> float | None:
    """Give what one of a response's own unit is in that of a column; None where it is another quantity."""
    printed, scale = _as_pint(unit)
    try:
        return float(registry.Quantity(1.0, own).to(registry.Unit(printed)).magnitude) / scale
    except pint.PintError:
        return None


def _as_pint(unit: str) -> tuple[str, float]:
    """Write a printed unit as pint reads it, and the power of ten before it."""
    power = re.match(r"10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+) ", unit)
    scale = 10.0 ** int(power.group(1).translate(RAISED)) if power else 1.0
    rest = unit[power.end() :] if power else unit
    rest = re.sub(r"([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)", lambda m: f"**{m.group(1).translate(RAISED)}", rest)
    return rest.replace("°C", "delta_degC").replace("(N m)", "(N*m)").replace("µ", "u"), scale


def missing(html: str, results: Mapping[str, Any], *, study: bool = False) -> tuple[int, list[str]]:
    """Count the numbers in a page's tables, and list those that results.json does not hold."""
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
    registry.define("px = pixel")
    count, lost = 0, []
    for table in tables(html):
        if table.key in ELSEWHERE:
            continue
        for row in table.rows:
            known = list(leaves(of_row(results, table, row, study=study)))
            words = [plain(str(value)) for _, value, _ in known if isinstance(value, str)]
            for place, cell in enumerate(row):
                if row[0] == "Versions" or (place == 0 and table.key != "facts"):
                    continue
                head, unit = table.heads[place] if table.heads else ("", "")
                unit = _unit_of_row(row[0]) if head in ("Bench", "Joint") else unit
                if study and (head in DATES or row[0] in DATES):
                    continue
                if table.key == "items" and head in ITEM_DATES:
                    continue
                for match in NUMBER.finditer(cell):
                    own = "%" if study and not unit and "%" in cell else unit
                    count += 1
                    if not _found(match, own, known, words, registry):
                        lost.append(f"{table.key}, {row[0]}, {head} [{own}]: {match.group(0)} in {cell!r}")
    return count, lost


def _unit_of_row(head: str) -> str:
    found = re.search(r"\[(.+?)\]", head)
    return found.group(1) if found else ""


def _found(
    match: re.Match[str],
    unit: str,
    known: Sequence[tuple[str, Any, str]],
    words: Sequence[str],
    registry: pint.UnitRegistry[Any],
) -> bool:
    value, half = shown(match)
    # "0.04 % short" stands for -0.04 %, and its interval is turned round with it.
    sign = -1.0 if re.search(r"\d % (short|smaller|lower)", match.string) else 1.0
    if match.string[: match.start()].endswith("< "):
        return any(path.endswith((".p", ".p_adjusted")) and number < value for path, number, _ in known)
    for path, number, own in known:
        if isinstance(number, str):
            continue
        for factor in factors(unit, path, own, registry):
            if math.isfinite(number) and abs(sign * number * factor - value) <= half * (1.0 + 1e-9):
                return True
    token = re.compile(rf"(?<![\w.]){re.escape(match.group(0))}(?!\d)")
    return any(token.search(text) for text in words)
