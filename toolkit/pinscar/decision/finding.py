"""One finding of the fairness audit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Weight(StrEnum):
    """How much a finding weighs on the comparison."""

    NOTE = "note"
    CAUTION = "caution"
    BLOCKS = "blocks"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about how the runs were made that affects what they can show.

    Parameters
    ----------
    id : str
        Stable name of the check.
    severity : Weight
        A blocking finding stops the comparison from being called like for like.
    message : str
        What was found, one plain sentence.
    effect : str
        What it does to the conclusion, one plain sentence.
    runs : tuple of str
        The runs concerned; empty where all are.
    spares : tuple of str
        Responses whose comparisons a blocking finding does not stop.
    """

    id: str
    severity: Weight
    message: str
    effect: str
    runs: tuple[str, ...] = ()
    spares: tuple[str, ...] = ()
