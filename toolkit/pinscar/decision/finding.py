"""One finding of the fairness audit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from pinscar.decision.audit_words import finding_sentences


class Weight(StrEnum):
    """How much a finding weighs on the comparison."""

    NOTE = "note"
    CAUTION = "caution"
    BLOCKS = "blocks"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something about how the runs were made that bears on what they can show.

    Attributes
    ----------
    id : str
        Stable name of the check.
    severity : Weight
        A blocking finding stops the comparison from being called like for like.
    values : mapping of str to object
        Its numbers and names, SI units, plain JSON types.
    runs : tuple of str
        The runs concerned; empty where all are.
    spares : tuple of str
        Responses whose comparisons a blocking finding does not stop.
    text : str
        Key of its sentences in `pinscar.decision.audit_words`; the id where not given.
    """

    id: str
    severity: Weight
    values: Mapping[str, Any] = field(default_factory=dict, hash=False)
    runs: tuple[str, ...] = ()
    spares: tuple[str, ...] = ()
    text: str = ""

    @property
    def message(self) -> str:
        """What was found, one plain sentence."""
        return finding_sentences(self.text or self.id, self.values)[0]

    @property
    def effect(self) -> str:
        """What it does to the conclusion, one plain sentence."""
        return finding_sentences(self.text or self.id, self.values)[1]
