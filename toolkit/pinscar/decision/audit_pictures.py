"""Findings of the fairness audit that pictures of scars give: how the pin sat on the ring."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from pinscar.decision.finding import Finding, Weight

if TYPE_CHECKING:
    from pinscar.decision.pictures import RunSeen

SHAPES = {"teardrop": "pin-tilted", "two lobes": "scar-of-two-lobes", "cut off": "scar-cut-off"}
"""Shapes of scars that tell something about the test, with the finding they make."""


def picture_findings(seen: Sequence[RunSeen], included: Sequence[str]) -> Iterator[Finding]:
    """Find scars whose shape says that the pin did not sit evenly; runs that are left out don't count."""
    looked = [run for run in seen if run.run_id in set(included) and run.reading is not None]
    told = [run for run in looked if run.reading is not None and run.reading.shape]
    for shape, name in SHAPES.items():
        runs = tuple(run.run_id for run in told if run.reading is not None and run.reading.shape == shape)
        if runs:
            yield Finding(
                id=name, severity=Weight.CAUTION, values={"n": len(runs), "of": len(told)}, runs=runs
            )
