"""Line up the numbers of a table column on the decimal mark, padding them with spaces as wide as a figure."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

FIGURE_SPACE = "\u2007"  # as wide as a tabular figure and as a sign
POINT_SPACE = "\u2008"  # as wide as the decimal mark
THIN_SPACE = "\u202f"  # between groups of three figures
MINUS = "\u2212"

_NUMBER = re.compile(
    r"(?P<lead>(?:[<>≤≥≈]\s?)?)(?P<sign>[-+−±]?)(?P<whole>\d[\d\u202f]*)(?P<fraction>\.\d+)?(?P<rest>(?![\d.:/-]).*)",
    re.DOTALL,
)


_SPACES = (FIGURE_SPACE, POINT_SPACE, THIN_SPACE)


@dataclass(frozen=True, slots=True)
class _Parts:
    before: str
    fraction: str
    rest: str

    def spaces(self, space: str) -> int:
        """Count the signs before the decimal mark that are as wide as a space."""
        narrow = self.before.count(POINT_SPACE), self.before.count(THIN_SPACE)
        counts = dict(zip((POINT_SPACE, THIN_SPACE), narrow, strict=True))
        return counts.get(space, len(self.before) - sum(narrow))


def align_on_decimal_mark(cells: Sequence[str]) -> list[str]:
    """Pad the cells of one column so that their decimal marks stand under one another.

    The first number of a cell counts; what follows it (an interval, a power of ten) starts at one place too.
    A cell that does not start with a number ("not measured") is left as it is. Right only with tabular
    figures of a face whose U+2007 and U+2008 are as wide as its figure and its decimal mark; the bundled
    face is one, and a test measures it.

    Parameters
    ----------
    cells : sequence of str
        The texts of the column, plain.

    Returns
    -------
    list of str
        The padded texts; a hyphen used as a minus has become a minus sign.

    References
    ----------
    The Unicode Standard, chapter 6, "Space Characters": U+2007 FIGURE SPACE is as wide as a tabular figure,
    U+2008 PUNCTUATION SPACE as wide as a period.

    Examples
    --------
    >>> for cell in align_on_decimal_mark(["9.25", "118 (104 to 134)"]):
    ...     print(cell.replace(FIGURE_SPACE, "_").replace(POINT_SPACE, ","))
    __9.25
    118,__ (104 to 134)
    """
    parts = [_split(cell) for cell in cells]
    numbers = [part for part in parts if part is not None]
    before = {space: max((part.spaces(space) for part in numbers), default=0) for space in _SPACES}
    digits = max((len(part.fraction) for part in numbers), default=0)
    return [
        cell if part is None else _padded(part, before, digits)
        for cell, part in zip(cells, parts, strict=True)
    ]


def starts_with_number(cell: str) -> bool:
    """Say whether a cell's text starts with a number that can be aligned.

    Parameters
    ----------
    cell : str
        Plain text of a cell.

    Returns
    -------
    bool
        False for words, for dates and for an empty text.

    References
    ----------
    Own rule: a relation sign and a sign may stand before the figures.

    Examples
    --------
    >>> starts_with_number("< 0.0001"), starts_with_number("not measured"), starts_with_number("2024-05-02")
    (True, False, False)
    """
    return _split(cell) is not None


def _split(cell: str) -> _Parts | None:
    match = _NUMBER.fullmatch(cell)
    if match is None:
        return None
    sign = match["sign"].replace("-", MINUS)
    lead = re.sub(r"\s", POINT_SPACE, match["lead"])
    return _Parts(lead + sign + match["whole"], match["fraction"] or "", match["rest"])


def _padded(part: _Parts, before: Mapping[str, int], digits: int) -> str:
    left = "".join(space * (before[space] - part.spaces(space)) for space in _SPACES)
    if part.fraction or not digits:
        right = FIGURE_SPACE * (digits - len(part.fraction))
    else:
        right = POINT_SPACE + FIGURE_SPACE * (digits - 1)
    return f"{left}{part.before}{part.fraction}{right}{part.rest}"
