"""The scale of each run's micrograph: as typed, or from the bar on the picture; both are compared."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.folder import evidence_by_run
from pinscar.errors import InputError
from pinscar.evidence.scale_bar import read_scale_bar
from pinscar.report.gather_table import Filling, Found, LeftBlank
from pinscar.report.picture_file import read_picture

APART = 0.02
"""Relative difference of a typed scale and that of the bar that is pointed out."""
NONE_GIVEN = "no micrograph_scale given, nor the length of a scale_bar on the picture"


@dataclass(frozen=True, slots=True)
class RunScale:
    """The scale of a run's micrograph.

    Parameters
    ----------
    size : float
        Size of one point, NaN where there is none [m].
    relative_uncertainty : float
        Its standard uncertainty; 0 of a typed one, whose uncertainty is unknown [1].
    typed : float
        The typed size, NaN where blank [m].
    by_bar : float
        The size by the bar, NaN where there is no bar or it was not read [m].
    why_not : str
        Why the bar was not read, or why there is no scale; empty otherwise.
    """

    size: float
    relative_uncertainty: float
    typed: float
    by_bar: float
    why_not: str

    @property
    def from_bar(self) -> bool:
        """Whether the bar's scale is used."""
        return bool(np.isnan(self.typed) and self.by_bar > 0)

    @property
    def apart(self) -> float:
        """How far the typed size is from the bar's, as a share of it; NaN where one of them is missing."""
        return self.typed / self.by_bar - 1


def scale_of_run(pixels: NDArray[np.generic], typed: float, bar: float) -> RunScale:
    """Choose the scale of a micrograph; a typed one goes before the bar's.

    Parameters
    ----------
    pixels : array
        The picture.
    typed : float
        Size of one point as typed, NaN where blank [m].
    bar : float
        Length of the bar on the picture, NaN where blank [m].

    Returns
    -------
    RunScale
        The scale, or why there is none.
    """
    if not bar > 0:
        return RunScale(typed, 0.0, typed, np.nan, "" if typed > 0 else NONE_GIVEN)
    try:
        found = read_scale_bar(pixels, bar)
    except ValueError as error:
        return RunScale(typed, 0.0, typed, np.nan, f"its scale bar was not read: {error}")
    if typed > 0:
        return RunScale(typed, 0.0, typed, found.scale, "")
    return RunScale(found.scale, found.relative_uncertainty, typed, found.scale, "")


def scale_sentences(scales: dict[str, RunScale]) -> list[str]:
    """Tell which scales come from bars, which bars were not read, and where typed scale and bar disagree.

    Parameters
    ----------
    scales : dict of str to RunScale
        By run.

    Returns
    -------
    list of str
        Sentences; none where no run has a bar.
    """
    told = []
    used = [run for run, scale in scales.items() if scale.from_bar]
    if used:
        told.append(
            "The scale comes from the bar on the picture, micrograph_scale being blank, for "
            f"{', '.join(used)}."
        )
    for run, scale in scales.items():
        if abs(scale.apart) > APART:
            told.append(
                f"{run}: the typed scale, {scale.typed * 1e6:.4g} um/px, is {100 * abs(scale.apart):.1f} % "
                f"{'above' if scale.apart > 0 else 'below'} that of the bar on the picture, "
                f"{scale.by_bar * 1e6:.4g} um/px. The typed one is used; one of them is wrong."
            )
        elif scale.why_not and scale.typed > 0:
            told.append(f"{run}: {scale.why_not}. The typed scale is used.")
    return told


def scale_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the scale from the bar on the micrograph of each run that names its length and no scale.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign folder.
    runs : pandas.DataFrame
        The runs that count, SI units.

    Returns
    -------
    iterator of Filling or LeftBlank
        The size of a point, or why there is none.
    """
    files = evidence_by_run(folder, "micrographs")
    for run in runs.to_dict("records"):
        file, bar = files.get(run["run_id"]), float(run["scale_bar"])
        if file is None or np.isnan(bar):
            continue
        if not pd.isna(run["micrograph_scale"]):
            yield LeftBlank(run["run_id"], "micrograph_scale", file, "typed")
            continue
        try:
            found = scale_of_run(read_picture(folder / file), np.nan, bar)
        except InputError as error:
            yield LeftBlank(run["run_id"], "micrograph_scale", file, error.problems[0].message)
            continue
        if found.from_bar:
            source = f"scale bar on {file}"
            yield Filling(run["row"], run["run_id"], "micrograph_scale", found.size, source)
        else:
            yield LeftBlank(run["run_id"], "micrograph_scale", file, found.why_not)


def with_scales(runs: pd.DataFrame, fillings: list[Filling]) -> pd.DataFrame:
    """Put scales read from bars into the runs, so that their scars can be read in the same pass.

    Parameters
    ----------
    runs : pandas.DataFrame
        The runs.
    fillings : list of Filling
        Scales of runs in which it is blank.

    Returns
    -------
    pandas.DataFrame
        A copy with the scales.
    """
    found = runs["run_id"].map({one.run_id: one.value for one in fillings})
    return runs.assign(micrograph_scale=runs["micrograph_scale"].fillna(found.astype(float)))
