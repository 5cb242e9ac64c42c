"""The words of a difference: two values, in as few digits as tell them apart."""

from __future__ import annotations

from collections.abc import Sequence

Field = tuple[str, object, object]
DIGEST = 64
"""Length of a SHA-256 in hexadecimal, which is shown by its beginning."""
INTERVAL = ("estimate", "ci_low", "ci_high")


def field_text(name: str, before: object, after: object) -> str:
    """Say how one field changed.

    Parameters
    ----------
    name : str
        The field.
    before, after : object
        Plain JSON values.

    Returns
    -------
    str
        Such as ``n 6 -> 7``; of a list, what it lost and gained.

    Examples
    --------
    >>> field_text("scar_length_mm", 3.05, 3.5), field_text("verdict", "met", "undecided")
    ('scar_length_mm 3.05 -> 3.5', "verdict 'met' -> 'undecided'")
    """
    if isinstance(before, list) and isinstance(after, list):
        lost = [str(item) for item in before if item not in after]
        gained = [str(item) for item in after if item not in before]
        told = [f"without {', '.join(lost)}"] * bool(lost) + [f"with {', '.join(gained)}"] * bool(gained)
        return f"{name} {' and '.join(told) or 'in another order'}"
    old, new = value_texts(before, after)
    return f"{name} {old} -> {new}"


def interval_text(fields: Sequence[Field]) -> list[str]:
    """Say how an entry changed whose estimate and interval moved together, in one phrase.

    Parameters
    ----------
    fields : sequence of (str, object, object)
        Name, value before, value after.

    Returns
    -------
    list of str
        One phrase for the interval and one for each further field; empty unless all three moved.

    Examples
    --------
    >>> interval_text((("estimate", 3.83, 4.02), ("ci_low", 3.53, 3.61), ("ci_high", 4.16, 4.47)))
    ['3.83 (3.53 to 4.16) -> 4.02 (3.61 to 4.47)']
    """
    by_name = {name: (before, after) for name, before, after in fields}
    middle = next((name for name in ("estimate", "ratio", "mean") if name in by_name), None)
    wanted = (middle, *INTERVAL[1:])
    if middle is None or not all(name in by_name for name in wanted):
        return []
    numbers = [value_texts(*by_name[name]) for name in wanted if name is not None]
    old, new = (f"{a} ({b} to {c})" for a, b, c in zip(*numbers, strict=True))
    rest = [field_text(*field) for field in fields if field[0] not in wanted]
    return [f"{old} -> {new}", *rest]


def value_texts(before: object, after: object) -> tuple[str, str]:
    """Write two values so that they read differently where they differ.

    Parameters
    ----------
    before, after : object
        Plain JSON values.

    Returns
    -------
    tuple of str
        Both texts; numbers in four significant figures, or as many as tell them apart.

    Examples
    --------
    >>> value_texts(0.123456789, 0.123459), value_texts(None, 2.0)
    (('0.123457', '0.123459'), ('none', '2'))
    """
    for digits in range(4, 18):
        old, new = (_text(value, digits) for value in (before, after))
        if old != new:
            break
    return old, new


def _text(value: object, digits: int) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value:.{digits}g}"
    if isinstance(value, str):
        # Two digests differ in their first digits all but surely; the loop shows more if they do not.
        return f"{value[: 2 * digits]}..." if len(value) == DIGEST else repr(value)
    return repr(value)
