"""Read the tables of a page in another language back, so that they can be compared with results.json.

Nothing is guessed: each text that results.json lets expect is said in the language of the page, and a cell
that has just that stands for it. Of any other cell only the decimal mark is changed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from pinscar.language.catalogue import read_catalogue
from pinscar.language.numbers import locale_of
from pinscar.language.speaker import Speaker
from pinscar.tongues import OWN, languages
from pinscar.wording import load_text

_LANGUAGE = re.compile(r'<html lang="([a-z]{2,3})"')
HEADS = (
    *(
        "Limit",
        "Verdict",
        "Required",
        "Because",
        "Oil and load",
        "In words",
        "Run",
        "Load",
        "Length",
        "Width",
    ),
    *("Area", "Pressure", "Volume"),
)
"""Heads of the columns that are compared, without their units."""
_NAMED = ("lubricant", "reference", "run_id", "id", "ring", "operator")
_SAID = ("verdict", "requirement", "because", "conclusion")
_KINDS = ("criteria", "summaries", "comparisons", "runs")


def language_of_page(html: str) -> str:
    """Tell the language of a page.

    Examples
    --------
    >>> language_of_page('<html lang="de">'), language_of_page("<p>Met.</p>")
    ('de', 'en')
    """
    found = _LANGUAGE.search(html[:1000])
    return found[1] if found and found[1] in languages() else OWN


def reader_of(language: str, results: Mapping[str, Any], key: Callable[[str], str]) -> Callable[[str], str]:
    """Give what turns a text of the page into the English one; `key` brings texts to a common form."""
    speaker = Speaker(catalogue=read_catalogue(language), names=frozenset(_names(results)))
    mark = re.escape(locale_of(language).number_symbols["latn"]["decimal"])
    said = {key(speaker.say(text)): text for text in _expected(results)}

    def read(text: str) -> str:
        label, bracket, unit = text.partition(" [")
        if bracket and key(label) in said:
            return f"{said[key(label)]} [{unit}"
        return said.get(key(text)) or re.sub(rf"(?<=\d){mark}(?=\d)", ".", text)

    return read


def _entries(results: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    for kind in _KINDS:
        found = results.get(kind)
        if isinstance(found, Sequence):
            yield from (one for one in found if isinstance(one, Mapping))


def _names(results: Mapping[str, Any]) -> Iterator[str]:
    for one in _entries(results):
        yield from (one[key] for key in _NAMED if isinstance(one.get(key), str) and one[key].strip())


def _expected(results: Mapping[str, Any]) -> Iterator[str]:
    yield from HEADS
    yield from ("met", "not met", "undecided")
    for one in _entries(results):
        yield from (one[key] for key in _SAID if isinstance(one.get(key), str))
        if isinstance(one.get("response"), str):
            yield one["response"].replace("_", " ").capitalize()
        if isinstance(one.get("reference"), str):
            yield f"Ratio to {one['reference']}"
        if isinstance(one.get("load_N"), (int, float)):
            yield f"{one.get('lubricant')} at {load_text(float(one['load_N']))}"
