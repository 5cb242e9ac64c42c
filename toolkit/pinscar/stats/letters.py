"""Letter groups: groups that share a letter are not separated."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from string import ascii_lowercase


def letter_groups(names: Sequence[str], different: Collection[tuple[str, str]]) -> dict[str, str]:
    """Give letters to groups so that two share a letter exactly when they are not separated.

    Insert and absorb: starting from one letter for all, each pair that differs splits every letter that holds
    both; letters whose groups all share another letter are dropped.

    Parameters
    ----------
    names : sequence of str
        The groups, in the order in which letters are to be dealt (commonly by falling mean).
    different : collection of (str, str)
        Pairs that are told apart, in either order.

    Returns
    -------
    dict of str to str
        The letters of each group, in the order of the names.

    Raises
    ------
    ValueError
        If a name is repeated, a pair names an unknown group, or a group is told apart from itself.

    References
    ----------
    Piepho, "An algorithm for a letter-based representation of all-pairwise comparisons", J. Comput. Graph.
    Stat. 13 (2004) 456-466.

    Examples
    --------
    >>> letter_groups(["A", "B", "C"], [("A", "C")])
    {'A': 'a', 'B': 'ab', 'C': 'b'}
    """
    if len(set(names)) != len(names):
        raise ValueError("names must not repeat")
    position = {name: i for i, name in enumerate(names)}
    columns = [frozenset(names)] if names else []
    for first, second in different:
        if first not in position or second not in position or first == second:
            raise ValueError(f"different must hold pairs of two known names, found ({first!r}, {second!r})")
        columns = _absorb([part for column in columns for part in _split(column, first, second)])
    columns.sort(key=lambda column: sorted(position[name] for name in column))
    return {name: "".join(_letter(i) for i, column in enumerate(columns) if name in column) for name in names}


def _split(column: frozenset[str], first: str, second: str) -> list[frozenset[str]]:
    if first in column and second in column:
        return [column - {first}, column - {second}]
    return [column]


def _absorb(columns: list[frozenset[str]]) -> list[frozenset[str]]:
    distinct = list(dict.fromkeys(columns))
    return [column for column in distinct if not any(column < other for other in distinct)]


def _letter(index: int) -> str:
    rounds, place = divmod(index, len(ascii_lowercase))
    return ascii_lowercase[place] + (str(rounds + 1) if rounds else "")
