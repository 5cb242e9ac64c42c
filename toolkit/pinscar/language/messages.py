"""A message with holes, and where it fits a text: literal words must stand there, holes take what is between.

The name of a hole says what it takes: ``n`` a number; ``q`` a number with its interval and unit; ``date`` a
date; ``oil`` names of the campaign; ``label`` what is measured; ``own`` anything, which stays as it is. Any
other name takes a phrase that the catalogue knows too. Digits at its end tell holes apart.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from pinscar.language.numbers import NUMBER

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
