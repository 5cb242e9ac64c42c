"""How long a scale bar is drawn on a picture."""

from __future__ import annotations

LENGTHS_MM = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Round lengths, from a scratch on a scar to a card [mm]."""


def bar_length(room: float) -> float:
    """Choose the length of a scale bar.

    Parameters
    ----------
    room : float
        Most that it may be long [mm].

    Returns
    -------
    float
        The longest round length that fits, or the shortest one where none does [mm].

    Examples
    --------
    >>> bar_length(2.6), bar_length(0.001)
    (2.0, 0.02)
    """
    return max((length for length in LENGTHS_MM if length <= room), default=LENGTHS_MM[0])
