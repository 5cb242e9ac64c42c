"""The whole check of a campaign folder: what its files say, and whether it can be evaluated."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.model import Campaign
from pinscar.decision.evaluate import material_problems
from pinscar.errors import Problem


def check_all(folder: Path, hashes: Mapping[str, str] | None = None) -> tuple[Campaign | None, list[Problem]]:
    """Read a campaign folder and list every problem, also those that only the evaluation knows of."""
    campaign, problems = check_campaign(folder, hashes)
    if campaign is None:
        return None, problems
    unknown = material_problems(campaign.file.rig)
    return (None if unknown else campaign), [*unknown, *problems]
