"""What the results of every study begin with: schema, campaign, warnings."""

from __future__ import annotations

import math
from typing import Any

from pinscar.decision.analysis import Analysis
from pinscar.decision.results import SCHEMA


def study_head(analysis: Analysis) -> dict[str, Any]:
    """Collect what results.json says of the campaign, whichever study was made of it.

    Parameters
    ----------
    analysis : Analysis
        The evaluated campaign.

    Returns
    -------
    dict
        ``schema``, ``campaign``, ``overall`` (None: a study has no verdict) and ``problems``.
    """
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
    }


def finite(value: float | None) -> float | None:
    """Give a number as JSON holds it.

    Parameters
    ----------
    value : float or None
        The number.

    Returns
    -------
    float or None
        The same; None where it isn't finite.

    Examples
    --------
    >>> finite(1.5), finite(float("nan")), finite(None)
    (1.5, None, None)
    """
    return float(value) if value is not None and math.isfinite(value) else None
