"""Names that people write almost right."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Sequence


def nearest(name: str, names: Collection[str], cutoff: float = 0.6) -> str | None:
    """Find the name that another one was probably meant for.

    Parameters
    ----------
    name : str
        The name as written.
    names : collection of str
        The names there are.
    cutoff : float
        How alike the two must be, from 0 to 1 [1].

    Returns
    -------
    str or None
        The nearest, or None where none is near.

    References
    ----------
    Own definition, on Ratcliff and Obershelp's similarity (as `difflib` computes it).

    Examples
    --------
    >>> nearest("r10", ["R-10", "C-21"])
    'R-10'
    """

    def likeness(one: str) -> tuple[float, float]:
        # the bare names decide, and between two that are bare alike the names as written
        return _ratio(plain(name), plain(one)), _ratio(name, one)

    best = max(sorted(names), key=likeness, default=None)
    return best if best is not None and likeness(best)[0] >= cutoff else None


def _ratio(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one, other).ratio()


def plain(name: str) -> str:
    """Strip a name of what people vary without meaning it: case, blanks, hyphens, underscores and points.

    Parameters
    ----------
    name : str
        The name as written.

    Returns
    -------
    str
        The bare name.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> plain("R-10") == plain("r 10")
    True
    """
    return re.sub(r"[\s_\-.]+", "", name.casefold())


def either(words: Sequence[str]) -> str:
    """Offer words to choose from.

    Parameters
    ----------
    words : sequence of str
        The words, at least one.

    Returns
    -------
    str
        ``a``, ``a or b`` or ``a, b or c``.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> either(["yes"]), either(["none", "light", "heavy"])
    ('yes', 'none, light or heavy')
    """
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]


def listed(names: Collection[str]) -> str:
    """List names for a message.

    Parameters
    ----------
    names : collection of str
        The names.

    Returns
    -------
    str
        The names in order, separated by commas.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> listed({"R-10", "C-21"})
    'C-21, R-10'
    """
    return ", ".join(sorted(names))
