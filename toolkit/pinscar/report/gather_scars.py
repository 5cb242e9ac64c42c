"""Scar axes of the runs from their micrographs, where nobody typed them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from pinscar.campaign.folder import evidence_by_run
from pinscar.errors import InputError
from pinscar.evidence.scar_image import measure_scar
from pinscar.report.gather_table import Filling, Found, LeftBlank
from pinscar.report.picture_file import read_picture

AXES = ("scar_length", "scar_width")


def scar_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the scar on the micrograph of each run that has a blank axis.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    runs : DataFrame
        The runs that count, SI units.

    Returns
    -------
    iterator of Filling or LeftBlank
        A value for each axis, or why there is none.
    """
    files = evidence_by_run(folder, "micrographs")
    for run in runs.to_dict("records"):
        file = files.get(run["run_id"])
        if file is None:
            continue
        typed = not any(pd.isna(run[axis]) for axis in AXES)
        axes, why_not = ((), "typed") if typed else _measured(folder / file, float(run["micrograph_scale"]))
        if why_not:
            yield from (LeftBlank(run["run_id"], axis, file, why_not) for axis in AXES)
        else:
            for axis, value in zip(AXES, axes, strict=True):
                yield Filling(run["row"], run["run_id"], axis, value, file)


def _measured(path: Path, scale: float) -> tuple[tuple[float, ...], str]:
    """Length and width, or why there are none."""
    if np.isnan(scale):
        return (), "its row has no micrograph_scale, and no scale_bar that was read"
    try:
        reading = measure_scar(read_picture(path), scale)
    except InputError as error:
        return (), error.problems[0].message
    except ValueError as error:
        return (), str(error)
    if not reading.accepted or reading.length is None or reading.width is None:
        return (), reading.reason
    return (reading.length, reading.width), ""
