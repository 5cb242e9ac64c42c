"""Dates as people type them: a column is read where all its cells leave one reading, else a question."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

DOTS = 200
"""Most points of a line: the parser takes time with the square of the parts of a key."""


TYPED = re.compile(
    r"(\d{1,4})([./-])\s?(\d{1,2})\2\s?(\d{1,4})"
    r"(?:(?:\s*,\s*|\s+|T)(\d{1,2})(?:[:.h](\d{2}))(?::(\d{2}))?\s*(am|pm|a\.m\.|p\.m\.|uhr|h)?)?",
    re.IGNORECASE,
)
ORDERS: Mapping[str, tuple[int, int, int]] = MappingProxyType(
    {"day first": (2, 1, 0), "month first": (2, 0, 1), "year first": (0, 1, 2)}
)
"""Where year, month and day stand among the three numbers, by the name of the reading."""
SHOWN = MappingProxyType({"day first": "day/month/year", "month first": "month/day/year"})


@dataclass(frozen=True, slots=True)
class Dates:
    """A column of dates.

    Attributes
    ----------
    cells : tuple of str
        The cells, those that were understood in ISO 8601 form.
    order : str
        The reading of the cells typed otherwise, a key of `ORDERS`; blank where all are in ISO form.
    open_readings : tuple of str
        Readings that are all possible and differ; blank where the column is clear.
    open_cells : tuple of int
        Places of the cells that can be read in two ways.
    """

    cells: tuple[str, ...]
    order: str = ""
    open_readings: tuple[str, ...] = ()
    open_cells: tuple[int, ...] = ()


def read_dates(cells: Sequence[str], told: str | None = None) -> Dates:
    """Read a column of dates.

    Numbers with points between are day, month, year; a number of four digits that stands first is the year.
    With slashes or hyphens the day or the month may stand first: a cell such as 25/3/2026 settles it for the
    column.

    Examples
    --------
    >>> read_dates(["04.03.2026 8:30"]).cells
    ('2026-03-04T08:30:00',)
    >>> read_dates(["4/3/2026", "25/3/2026"]).cells
    ('2026-03-04', '2026-03-25')
    >>> read_dates(["4/3/2026", "5/3/2026"]).open_readings
    ('day first', 'month first')
    """
    typed = {place: match for place, cell in enumerate(cells) if (match := _match(cell))}
    if not typed:
        return Dates(tuple(cells))
    free = {place: match for place, match in typed.items() if match[2] != "." and len(match[1]) < 3}
    settled = {
        place: _moment(match, "year first" if len(match[1]) == 4 else "day first")
        for place, match in typed.items()
        if place not in free
    }
    readings = _readings(free, told)
    order = next(iter(readings), "day first" if settled else "")
    chosen = readings.get(order, {})
    new = {place: moment for place, moment in {**settled, **chosen}.items() if moment}
    found = tuple(new.get(place, cell) for place, cell in enumerate(cells))
    different = tuple(place for place in free if len({reading[place] for reading in readings.values()}) > 1)
    if not different:
        return Dates(found, order)
    return Dates(found, order, tuple(readings), different)


def as_read(cell: str, order: str) -> str:
    """Write a date of a column in words, by one of its readings.

    Examples
    --------
    >>> as_read("3/4/2026", "day first"), as_read("3/4/2026", "month first")
    ('3 April 2026', '4 March 2026')
    """
    match = _match(cell)
    moment = _moment(match, order) if match else None
    if moment is None:
        return ""
    day = dt.date.fromisoformat(moment[:10])
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def _match(cell: str) -> re.Match[str] | None:
    if re.match(r"\d{4}-\d{2}-\d{2}", cell):
        return None  # ISO form already
    return TYPED.fullmatch(cell.strip())


def _readings(free: Mapping[int, re.Match[str]], told: str | None) -> dict[str, dict[int, str]]:
    """List the readings under which every cell of the column is a date."""
    if not free:
        return {}
    possible = [told] if told else list(_possible(free))
    found: dict[str, dict[int, str]] = {}
    for order in possible:
        moments = {place: _moment(match, order) for place, match in free.items()}
        if all(moments.values()):
            found[order] = {place: moment for place, moment in moments.items() if moment}
    return found


def _possible(free: Mapping[int, re.Match[str]]) -> Iterator[str]:
    yield "day first"
    yield "month first"
    if all(len(match[4]) <= 2 for match in free.values()):
        yield "year first"


def _moment(match: re.Match[str], order: str) -> str | None:
    """Give a typed date in ISO form; None where the calendar does not have it."""
    parts = (match[1], match[3], match[4])
    year, month, day = (parts[place] for place in ORDERS[order])
    if len(year) not in (2, 4) or len(day) > 2 or len(month) > 2:
        return None
    full = int(year) + (2000 if len(year) == 2 else 0)
    try:
        date = dt.date(full, int(month), int(day))
        if match[5] is None:
            return date.isoformat()
        hour = _hour(int(match[5]), (match[8] or "").casefold().replace(".", ""))
        return dt.datetime.combine(date, dt.time(hour, int(match[6]), int(match[7] or 0))).isoformat()
    except ValueError:
        return None


def _hour(hour: int, half: str) -> int:
    if half not in ("am", "pm"):
        return hour
    if not 1 <= hour <= 12:
        raise ValueError
    return hour % 12 + (12 if half == "pm" else 0)


def told_dates(text: str) -> str | None:
    r"""Tell which of day and month stands first, as campaign.toml says, whatever else is wrong in that file.

    Examples
    --------
    >>> told_dates('[campaign]\ndates = "day first"')
    'day first'
    """
    if "dates" not in text or any(line.count(".") > DOTS for line in text.splitlines()):
        return None
    try:
        section = tomllib.loads(text).get("campaign")
    except (ValueError, RecursionError):
        return None
    said = section.get("dates") if isinstance(section, dict) else None
    return said if said in SHOWN else None
