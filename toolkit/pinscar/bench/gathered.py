"""The table that `pinscar gather` shows before it writes: what was read beside what was typed."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

from pinscar.campaign.table_text import Filling, Found
from pinscar.shown import to_shown

UNITS = MappingProxyType(
    {
        "quiet_time": "s",
        "quiet_after": "s",
        "quiet_before": "s",
        "peak_temperature": "degC",
        "ambient_temperature": "degC",
        "scar_length": "mm",
        "scar_width": "mm",
        "micrograph_scale": "um/px",
        "fling_area": "mm^2",
    }
)
"""The columns that evidence fills, each with the unit that it is written in."""

SHOWN = MappingProxyType(
    {"degC": ("°C", "K", 1), "mm": ("mm", "mm", 3), "um/px": ("µm/px", "µm/px", 4), "mm^2": ("mm²", "mm²", 2),
     "s": ("s", "s", 1)}
)  # fmt: skip
"""Of each of those units: that of a value, that of a difference, and the places shown."""


def signed(value: float, places: int) -> str:
    """Write a difference with its sign, and none where it rounds to zero."""
    rounded = round(value, places)
    return f"{rounded:+.{places}f}" if rounded else f"{0.0:.{places}f}"


HEAD = ("run", "column", "typed", "read", "u", "difference", "score")


def cells_of(one: Found) -> list[str]:
    """Give the cells of a reading: typed, read, standard uncertainty, difference and score."""
    unit = UNITS[one.column]
    of_value, of_difference, places = SHOWN[unit]
    typed, read = (None, one.value) if isinstance(one, Filling) else (one.typed, one.read)
    both = typed is not None and read is not None
    difference = (read or 0.0) - (typed or 0.0) if both else None

    def shown(value: float | None, unit: str) -> str:
        return "-" if value is None else f"{to_shown(value, unit):.{places}f}"

    return [
        one.run_id,
        f"{one.column} [{unit}]",
        shown(typed, of_value),
        shown(read, of_value),
        shown(one.uncertainty, of_difference),
        "-" if difference is None else signed(to_shown(difference, of_difference), places),
        "-" if one.score is None else f"{one.score:.2f}",
    ]


def readings_table(found: Sequence[Found]) -> list[str]:
    """Lay out what was read, a line each under a head; nothing where nothing was read."""
    rows = [cells_of(one) for one in found if isinstance(one, Filling) or one.read is not None]
    if not rows:
        return []
    table = [list(HEAD), *rows]
    wide = [max(len(row[column]) for row in table) for column in range(len(HEAD))]
    lines = []
    for row in table:
        words = [cell.ljust(wide[n]) if n < 2 else cell.rjust(wide[n]) for n, cell in enumerate(row)]
        lines.append("  ".join(words).rstrip())
    return lines
