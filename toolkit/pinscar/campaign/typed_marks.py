"""Words for the choices of a table, as people type them in several languages, and ticks."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

YES = ("ja", "j", "yes", "y", "oui", "o", "sí", "si", "s", "true", "wahr", "vrai", "1", "x", "✓", "✔")
NO = ("nein", "n", "no", "non", "false", "falsch", "faux", "0")
MARKS: Mapping[tuple[str, ...], Mapping[str, str]] = MappingProxyType(
    {
        ("yes", "no"): {**dict.fromkeys(YES, "yes"), **dict.fromkeys(NO, "no")},
        ("none", "light", "heavy"): {
            **dict.fromkeys(("keine", "keiner", "kein", "ohne", "aucune", "aucun", *NO), "none"),
            **dict.fromkeys(
                ("leicht", "leichter", "gering", "wenig", "schwach", "légère", "faible"), "light"
            ),
            **dict.fromkeys(("stark", "starker", "viel", "dicht", "forte", "fort"), "heavy"),
        },
        ("new", "reground"): {
            **dict.fromkeys(("neu", "neuf", "neuve"), "new"),
            **dict.fromkeys(("nachgeschliffen", "geschliffen", "rectifié", "rectifiée"), "reground"),
        },
    }
)
"""The word meant, by the choices of the column and the word typed in small letters."""
NOT_EXCLUDED = frozenset({"nein", "n", "no", "non", "-", "–", "false", "falsch", "faux"})
"""Words in the column of exclusions that say no: the run counts, as with a blank cell."""


def usual_mark(text: str, options: tuple[str, ...]) -> str:
    """Give the word of a choice that a typed word or tick stands for.

    Examples
    --------
    >>> usual_mark("Ja", ("yes", "no")), usual_mark("x", ("yes", "no")), usual_mark("?", ("yes", "no"))
    ('yes', 'yes', '?')
    """
    return MARKS.get(options, {}).get(text.strip().casefold(), text)
