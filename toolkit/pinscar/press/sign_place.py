"""Where a record's signature line is: found by the words of its table, so that the field stands on it."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

HEADS = ("Signature", "Unterschrift")
ROLES = {"author": ("Author", "Verfasser", "Autor"), "approver": ("Approver", "Freigabe", "Genehmigt")}
RIGHT_MARGIN, LEAST_WIDTH = 48.0, 90.0
BELOW, ABOVE = 6.0, 15.0
"""Distance from the line of text to the lower and the upper side of the field [pt]."""


@dataclass(frozen=True, slots=True)
class Place:
    """A rectangle on a page.

    Attributes
    ----------
    page : int
        The page, from 0 on.
    box : tuple of int
        Left, lower, right and upper side [pt].
    on_line : bool
        Whether it is the signature line; False where none was found and the foot of the last page is used.
    """

    page: int
    box: tuple[int, int, int, int]
    on_line: bool


def signature_place(pdf: bytes, role: str) -> Place:
    """Find the line that a role signs on."""
    import pypdf

    reader = pypdf.PdfReader(io.BytesIO(pdf))
    for number in reversed(range(len(reader.pages))):
        page = reader.pages[number]
        words = _words(page)
        heads = [(x, y) for text, x, y in words if text in HEADS]
        lines = [(x, y) for text, x, y in words if text in ROLES[role]]
        for left, top in heads:
            below = [y for _, y in lines if y < top]
            if below:
                right = max(float(page.mediabox.width) - RIGHT_MARGIN, left + LEAST_WIDTH)
                line = max(below)
                return Place(number, _whole(left - 2, line - BELOW, right, line + ABOVE), True)
    width = float(reader.pages[-1].mediabox.width)
    left = width - 230.0 if role == "approver" else 60.0
    return Place(len(reader.pages) - 1, _whole(left, 52.0, left + 170.0, 80.0), False)


def _words(page: Any) -> list[tuple[str, float, float]]:
    found: list[tuple[str, float, float]] = []

    def see(text: str, outer: Any, inner: Any, *_: Any) -> None:
        if text.strip():
            x = outer[0] * inner[4] + outer[2] * inner[5] + outer[4]
            y = outer[1] * inner[4] + outer[3] * inner[5] + outer[5]
            found.append((text.strip(), float(x), float(y)))

    page.extract_text(visitor_text=see)
    return found


def _whole(*sides: float) -> tuple[int, int, int, int]:
    left, lower, right, upper = (round(side) for side in sides)
    return left, lower, right, upper
