"""The messages of a language: catalogues, messages with holes, and how it writes numbers and dates."""

from __future__ import annotations

import datetime as dt
import gettext
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from babel import Locale
from babel.dates import format_date

from pinscar.shipped import FOLDER
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


_HOLE = re.compile(r"\{([a-z]+)(\d*)\}")
_BRACKET = re.compile(r"[()]")
WORD = re.compile(r"[^\W\d_]{2,}")
Said = Callable[[str, str], "str | None"]
"""Says what stands in a hole of a kind; None where it cannot."""
Reach = Callable[[str, str, int], int]
"""Tells how far a hole of a kind that begins at a place of a text can go at most."""
_QUICK = frozenset(["n", "oil", "q", "date"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One message.

    Attributes
    ----------
    literals : tuple of str
        Texts around the holes; one more than there are holes.
    kinds : tuple of str
        Kinds of the holes.
    names : tuple of str
        Names of the holes, with their digits.
    words : frozenset of str
        Words that a text must have to fit.
    said : tuple of str
        The message in the other language; more than one where it depends on a number.
    counted : bool
        Whether the first number chooses among them.
    weight : tuple of int
        How much of a text it fixes; the heaviest is tried first.
    """

    literals: tuple[str, ...]
    kinds: tuple[str, ...]
    names: tuple[str, ...]
    words: frozenset[str]
    said: tuple[str, ...]
    counted: bool
    weight: tuple[int, int]


def pattern(message: str, said: tuple[str, ...], *, counted: bool = False) -> Pattern:
    """Read a message.

    Examples
    --------
    >>> pattern("{n} of {n2} runs", ("{n} von {n2} Läufen",)).literals
    ('', ' of ', ' runs')
    """
    parts = _HOLE.split(message)
    literals, kinds, digits = parts[::3], parts[1::3], parts[2::3]
    names = tuple(a + b for a, b in zip(kinds, digits, strict=True))
    words = frozenset(word for one in literals for word in WORD.findall(one))
    weight = (sum(map(len, literals)), -len(kinds))
    return Pattern(
        literals=tuple(literals),
        kinds=tuple(kinds),
        names=names,
        words=words,
        said=said,
        counted=counted,
        weight=weight,
    )


def fits(
    found: Pattern, text: str, say: Said, reach: Reach = lambda _kind, text, _start: len(text)
) -> dict[str, str] | None:
    """Give what each hole says where a message fits a text, and None where it doesn't.

    Examples
    --------
    >>> one = pattern("{n} of {x} runs", ("{n} von {x} Läufen",))
    >>> fits(one, "3 of all runs", lambda kind, text: text.upper())
    {'n': '3', 'x': 'ALL'}
    """
    if not text.startswith(found.literals[0]) or not text.endswith(found.literals[-1]):
        return None
    return _from(found, text, 0, len(found.literals[0]), say, reach)


def _from(
    found: Pattern, text: str, place: int, start: int, say: Said, reach: Reach
) -> dict[str, str] | None:
    if place == len(found.kinds):
        return {} if start == len(text) else None
    kind = found.kinds[place]
    furthest = reach(kind, text, start)
    for end in _ends(text, start, found.literals[place + 1], place + 1 == len(found.kinds), kind):
        if end > furthest:
            break
        inside = text[start:end]
        if kind in _QUICK:
            said = say(kind, inside)
        elif kind == "own":
            said = inside
        else:
            said = say(kind, inside) if balanced(inside) else None
        if said is None:
            continue
        rest = _from(found, text, place + 1, end + len(found.literals[place + 1]), say, reach)
        if rest is not None:
            return {found.names[place]: said, **rest}
    return None


def _ends(text: str, start: int, literal: str, last: bool, kind: str) -> Iterator[int]:
    """Give the places where a hole may end, from near to far."""
    if kind == "n":
        number = NUMBER.match(text, start)
        if number and text.startswith(literal, number.end()):
            yield number.end()
        return
    if last:
        if text.endswith(literal) and len(text) - len(literal) > start:
            yield len(text) - len(literal)
        return
    end = text.find(literal, start + 1) if literal else -1
    while end >= 0:
        yield end
        end = text.find(literal, end + 1)


def balanced(text: str) -> bool:
    """Tell whether brackets of a text are closed in it.

    Examples
    --------
    >>> balanced("a (b)"), balanced("a) (b")
    (True, False)
    """
    opened = text.count("(")
    if opened != text.count(")"):
        return False
    depth = 0
    for sign in _BRACKET.findall(text) if opened else ():
        depth += 1 if sign == "(" else -1
        if depth < 0:
            return False
    return True


SCRIPT = "script"
"""Context of messages that are pieces of the page's script."""
FORMULA = "formula"
"""Context of the words that formulas are read out with."""


@dataclass(frozen=True, kw_only=True)
class Catalogue:
    """The messages of one language.

    Attributes
    ----------
    language : str
        Its code.
    whole : mapping
        Messages without holes.
    by_word : mapping
        Messages with holes, by the rarest of their words; under "" those that have none.
    script, formula : mapping
        Pieces of the page's script, and words of formulas.
    plural : str
        Rule that chooses among plural forms, in gettext's notation.
    """

    language: str
    whole: Mapping[str, str]
    by_word: Mapping[str, Sequence[Pattern]]
    script: Mapping[str, str]
    formula: Mapping[str, str]
    plural: str


@cache
def read_catalogue(language: str, folder: Path = FOLDER) -> Catalogue:
    """Read the catalogue of a language; messages without a translation, or marked fuzzy, are left out."""
    from babel.messages.pofile import read_po

    with (folder / f"{language}.po").open("rb") as file:
        found = read_po(file, locale=language, abort_invalid=True)
    whole: dict[str, str] = {}
    special: dict[str, dict[str, str]] = {SCRIPT: {}, FORMULA: {}}
    patterns: list[Pattern] = []
    for message in found:
        strings = message.string if isinstance(message.string, (tuple, list)) else (message.string,)
        said = tuple(one for one in strings if one)
        if not message.id or message.fuzzy or len(said) < len(strings):
            continue
        forms = message.id if isinstance(message.id, (tuple, list)) else (message.id,)
        for place, form in enumerate(forms):
            if message.context in special:
                special[message.context][form] = said[0]
            elif "{" not in form:
                whole[form] = said[min(place, len(said) - 1)]
            else:
                chosen = said[:1] if place == 0 else said
                patterns.append(pattern(form, chosen, counted=len(chosen) > 1))
    return Catalogue(
        language=language,
        whole=whole,
        by_word=_by_rarest_word(patterns),
        script=special[SCRIPT],
        formula=special[FORMULA],
        plural=found.plural_expr,
    )


def plural_rule(catalogue: Catalogue) -> Callable[[int], int]:
    """Give the function that chooses among plural forms."""
    return gettext.c2py(catalogue.plural)


def _by_rarest_word(patterns: Sequence[Pattern]) -> dict[str, list[Pattern]]:
    counts: dict[str, int] = {}
    for one in patterns:
        for word in one.words:
            counts[word] = counts.get(word, 0) + 1
    found: dict[str, list[Pattern]] = {}
    for one in patterns:
        key = min(sorted(one.words), key=counts.__getitem__, default="")
        found.setdefault(key, []).append(one)
    return found
