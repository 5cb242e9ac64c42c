"""The whole check of a campaign folder: what its files say, and whether it can be evaluated."""

from __future__ import annotations

from pathlib import Path

from pinscar.campaign.campaign import Campaign, check_campaign
from pinscar.decision.bodies import material_problems
from pinscar.problems import Problem


def check_all(folder: Path) -> tuple[Campaign | None, list[Problem]]:
    """Read a campaign folder and list every problem, also those that only the evaluation knows of.

    Parameters
    ----------
    folder : Path
        The folder.

    Returns
    -------
    tuple of Campaign or None and list of Problem
        The campaign, or None when any problem is an error; and all problems, errors first.
    """
    campaign, problems = check_campaign(folder)
    if campaign is None:
        return None, problems
    unknown = material_problems(campaign.file.rig)
    return (None if unknown else campaign), [*unknown, *problems]
