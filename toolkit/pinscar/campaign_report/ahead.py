"""What a second process works out while the kernel runs: comparisons first, then charts from the end.

The kernel takes what is there already (`pinscar.decision.kept_results`), and does by itself what is not.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pinscar.campaign_report import layout
from pinscar.decision.analysis import analyse, compare_ahead
from pinscar.press.subject import read_one

MOST_RUNS = 2000
"""Runs of the largest campaign that is evaluated twice: of a larger one the tables take longer than the
charts, and memory counts."""


def work_ahead(parameters: Mapping[str, Any]) -> None:
    """Work out what the template with these parameters will ask for, from its end."""
    campaign = read_one(Path(parameters["folder"]))
    if len(campaign.runs) > MOST_RUNS:
        return
    confidence = parameters.get("confidence")
    compare_ahead(campaign, confidence)
    analysis = analyse(campaign, confidence, parameters.get("responses"))
    detail = layout.checked(parameters.get("detail", "standard"))
    for one in reversed(layout.SECTIONS):
        # Whatever is wrong with a section, the kernel meets it again and says so in its place.
        with contextlib.suppress(Exception):
            layout.section(analysis, one.key, detail)
