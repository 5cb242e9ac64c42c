"""What results.json says of a campaign, whichever study was made of it."""

from __future__ import annotations

from typing import Any

from pinscar.decision.record import Analysis
from pinscar.decision.results_context import setting_entries
from pinscar.press.results import SCHEMA


def study_head(analysis: Analysis) -> dict[str, Any]:
    """Collect what results.json says of the campaign, whichever study was made of it."""
    settings = analysis.campaign.file.campaign
    return {
        "schema": SCHEMA,
        "campaign": {
            "id": settings.id,
            "title": settings.title,
            "question": settings.question,
            "reference": settings.reference,
            "confidence": analysis.confidence,
            "block": settings.block,
        },
        "overall": None,
        "problems": [problem.as_dict() for problem in analysis.campaign.problems],
    } | setting_entries(analysis)
