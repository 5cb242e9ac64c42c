"""How the runs of a campaign are summarised and compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pinscar.stats.variance_prior import VariancePrior


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """What every summary, comparison and claim of a campaign has in common.

    Attributes
    ----------
    confidence : float
        Confidence of the intervals; simultaneous for the comparisons at one load, and for all claims [1].
    block : str, optional
        Column that holds the block of each run.
    pooled : bool
        True where the campaign says that all oils share one spread.
    units : mapping of str to str
        Unit in which each column was typed: tells how finely it was read.
    priors : mapping of str to VariancePrior
        What earlier campaigns tell of the spread of each response, where that is used.
    typed_steps : mapping of str to float
        Steps of the readings that campaign.toml states, in SI units by column.
    """

    confidence: float
    block: str | None = None
    pooled: bool = False
    units: Mapping[str, str] = field(default_factory=dict)
    priors: Mapping[str, VariancePrior] = field(default_factory=dict)
    typed_steps: Mapping[str, float] = field(default_factory=dict)
