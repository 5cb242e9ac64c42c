"""Numbers and dates as a language writes them; what is no number (a version, a digest) is left alone."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache

from babel import Locale
from babel.dates import format_date

from pinscar.wording import MONTHS

NUMBER = re.compile(
    r"(?:[<>≤≥≈]\s?)?[-+−±]?\d+(?:[\u202f ]\d{3}(?!\d))*(?:\.\d+)?(?:e[-+]\d+)?"
    r"(?:\s×\s10[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)?\*?(?![\w.]*\d)"
)
"""A number as the report writes it, with its sign or relation."""
UNITS = (
    *("MPa", "GPa", "1/GPa", "mPa s", "mm²/s", "mm³/(N m)", "mm²", "mm³", "mm", "µm", "nm", "m/s", "m/s²"),
    *(
        "°C",
        "K",
        "kg/m³",
        "kg",
        "mg",
        "g",
        "mL",
        "kJ",
        "J",
        "W/mm²",
        "J/mm³",
        "kJ/mm³",
        "W",
        "N",
        "kN",
        "rpm",
    ),
    *("%", "°", "s", "ms", "min", "h", "m", "dB", "kHz", "Hz", "MB", "GB", "px", "µm/px", "Pa", "mm²/(m N)"),
    *("10⁻⁶ mm³/(N m)", "V", "bar", "points", "N m", "K/s", "J/m", "K/min", "N/mm²", "1/s", "g/mL", "mN"),
)
"""Units that stand behind a number and are written alike in every language."""
_POINT = re.compile(r"(?<![\w.])(\d[\d\u202f]*)\.(\d+)(?![\w]*\.\d|[A-Za-z\d])")
_DAY = rf"(\d{{1,2}}) ({'|'.join(MONTHS)})"
DATE = re.compile(rf"(?:(\d{{1,2}})(?: ({'|'.join(MONTHS)}))?(?: (\d{{4}}))? to )?{_DAY} (\d{{4}})")


@cache
def locale_of(language: str) -> Locale:
    """Give the rules of a language for numbers and dates."""
    return Locale.parse(language)


def local_numbers(text: str, language: str) -> str:
    """Write the decimal mark of every number in a text as a language does.

    Examples
    --------
    >>> local_numbers("118.5 (104 to 1 200.25), version 2.1.4", "de")
    '118,5 (104 to 1 200,25), version 2.1.4'
    """
    mark = locale_of(language).number_symbols["latn"]["decimal"]
    return text if mark == "." else _POINT.sub(rf"\1{mark}\2", text)


def local_date(text: str, language: str, to: str) -> str | None:
    """Write a date or a span of dates as a language does; None where the text is none.

    Examples
    --------
    >>> local_date("14 to 16 April 2026", "de", "bis"), local_date("450 N", "de", "bis")
    ('14. bis 16. April 2026', None)
    """
    found = DATE.fullmatch(text)
    if found is None:
        return None
    first_day, first_month, first_year, day, month, year = found.groups()
    end = _written(day, month, year, language)
    if first_day is None:
        return end
    start = _written(first_day, first_month or month, first_year or year, language)
    for part, said in ((year, first_year), (month, first_month)):
        if said is None:
            word = part if part.isdigit() else _written("1", part, year, language).split(" ")[1]
            start = start.removesuffix(word).rstrip(" ,") if start.endswith(word) else start
    return f"{start} {to} {end}"


def _written(day: str, month: str, year: str, language: str) -> str:
    date = dt.date(int(year), MONTHS.index(month) + 1, int(day))
    return format_date(date, "long", locale_of(language))
