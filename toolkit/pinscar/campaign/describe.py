"""The columns that a campaign has, told to the person who made them."""

from __future__ import annotations

from dataclasses import dataclass

from pinscar.campaign.campaign import Campaign
from pinscar.campaign.columns import RUNS, SETTINGS, find_column


@dataclass(frozen=True, slots=True)
class ColumnNote:
    """What pinscar does with a column.

    Parameters
    ----------
    header : str
        Header as the file has it.
    meaning : str
        What it holds, or what becomes of it.
    known : bool
        False for the user's own columns.
    filled : int
        Rows that have a value [1].
    """

    header: str
    meaning: str
    known: bool
    filled: int


def describe_columns(campaign: Campaign) -> list[ColumnNote]:
    """Describe the columns that the runs' file has: the known ones first, then the user's own.

    Parameters
    ----------
    campaign : Campaign
        A campaign that was read.

    Returns
    -------
    list of ColumnNote
        One a column.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> from pinscar.campaign.columns import RUNS
    >>> find_column(RUNS, "quiet_time").meaning
    'when the rubbing noise stopped'
    """
    notes = []
    for name, header in campaign.headers.items():
        values = campaign.runs["load" if name == "weights" else name]
        filled = int((values.notna() & (values.astype(str) != "")).sum())
        column = find_column(RUNS, name)
        own = "your own column, " + ("usable as a response" if name in campaign.units else "kept as text")
        notes.append(ColumnNote(header, column.meaning if column else own, column is not None, filled))
    return sorted(notes, key=lambda note: not note.known)


def response_columns(campaign: Campaign) -> list[str]:
    """List the columns of the runs that can be a response.

    Parameters
    ----------
    campaign : Campaign
        A campaign that was read.

    Returns
    -------
    list of str
        Their names.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> "load" in SETTINGS
    True
    """
    return [name for name in campaign.units if name not in SETTINGS]
