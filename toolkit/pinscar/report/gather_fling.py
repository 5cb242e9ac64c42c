"""Fling areas of the runs from their cards, where nobody typed them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from pinscar.campaign.folder import evidence_by_run
from pinscar.campaign.settings import read_settings
from pinscar.errors import InputError
from pinscar.report.gather_table import Filling, Found, LeftBlank
from pinscar.report.reading_card import card_on_picture

COLUMN = "fling_area"


def fling_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the card of each run that has one and a blank fling area.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    runs : DataFrame
        The runs that count, SI units.

    Returns
    -------
    iterator of Filling or LeftBlank
        A value, or why there is none.
    """
    files = evidence_by_run(folder, "fling")
    sides = read_settings(folder).rig.fling_card if files else None
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        typed = not pd.isna(run[COLUMN])
        area, why_not = (None, "typed") if typed else _read(folder / file, sides)
        if area is None:
            yield LeftBlank(run["run_id"], COLUMN, file, why_not)
        else:
            yield Filling(run["row"], run["run_id"], COLUMN, area, file)


def _read(path: Path, sides: tuple[float, float] | None) -> tuple[float | None, str]:
    """Covered area [m²], or why there is none."""
    if sides is None:
        return None, "the size of the card is not given: campaign.toml has no fling_card"
    try:
        reading = card_on_picture(path, sides)
    except InputError as error:
        return None, error.problems[0].message
    return reading.fling_area, reading.reason
