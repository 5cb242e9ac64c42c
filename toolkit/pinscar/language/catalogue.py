"""Catalogues of messages in the PO format of gettext, one file a language, made ready to be found."""

from __future__ import annotations

import gettext
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pinscar.language.pattern import Pattern, pattern
from pinscar.tongues import FOLDER

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
