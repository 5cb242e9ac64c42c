"""Repeated readings of scars as a crossed reading study: readers x scars x repeats."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.campaign import Campaign
from pinscar.decision.analysis import Analysis, analyse
from pinscar.decision.between_runs import BetweenRuns, between_runs
from pinscar.decision.evaluate import rig_geometry
from pinscar.decision.graticule import NAME, Bias, Graticule, biases, read_graticule
from pinscar.decision.wording import counted, listing
from pinscar.errors import InputError, UsageError
from pinscar.problems import Problem, Severity
from pinscar.stats.reading_layout import ReadingLayout, reading_layout
from pinscar.stats.reading_study import ReadingStudy, reading_study
from pinscar.units import to_unit

READINGS = "readings.csv"


@dataclass(frozen=True, slots=True)
class Axis:
    """What was read of a scar.

    Parameters
    ----------
    name : str
        Value of the template's parameter.
    label : str
        What a reader calls it.
    unit, shown_unit : str
        Unit as pint reads it, and as printed.
    run_column : str
        The same of each run, among the evaluated runs.
    """

    name: str
    label: str
    unit: str
    shown_unit: str
    run_column: str


AXES = (
    Axis("scar_length", "Scar length", "mm", "mm", "scar_length"),
    Axis("scar_width", "Scar width", "mm", "mm", "scar_width_used"),
    Axis("scar_area", "Scar area", "mm^2", "mm²", "scar_area"),
)


@dataclass(frozen=True, slots=True)
class ScarReadings:
    """A campaign's repeated readings, evaluated.

    Parameters
    ----------
    analysis : Analysis
        The evaluated campaign.
    axis : Axis
        What was read; all numbers are in its unit.
    layout : ReadingLayout
        The readings, readers x scars x repeats.
    study : ReadingStudy
        Variance components.
    pool_above : float
        Probability above which the interaction is pooled.
    biases : tuple of Bias
        Bias on certified lengths [m]; empty without graticule.csv.
    between_runs : BetweenRuns or None
        Spread between repeats of one oil.
    left_out : tuple of str
        A plain sentence for all that had to stay out.
    """

    analysis: Analysis
    axis: Axis
    layout: ReadingLayout
    study: ReadingStudy
    pool_above: float
    biases: tuple[Bias, ...]
    between_runs: BetweenRuns | None
    left_out: tuple[str, ...]

    @property
    def mean(self) -> float:
        """Mean of all readings."""
        return float(np.mean(self.layout.values))

    @property
    def deviations(self) -> NDArray[np.float64]:
        """Readings less their scar's mean over all readers, readers x scars x repeats."""
        values = self.layout.values
        return np.asarray(values - values.mean(axis=(0, 2), keepdims=True))

    def variance(self, source: str) -> float:
        """Give the variance of a source of spread.

        Parameters
        ----------
        source : str
            Repeats, reader, interaction, reading, scar or total.

        Returns
        -------
        float
            Variance; zero for an interaction that was pooled.
        """
        return next((c.variance for c in self.study.components if c.source == source), 0.0)

    def reading_sd(self, readers: int = 1, repeats: int = 1, *, same_reader: bool = False) -> float:
        r"""Give the standard deviation of a scar's mean that comes from reading it.

        .. math:: s = \sqrt{(\sigma_o^2 + \sigma_{op}^2)/o + \sigma_e^2/(o r)}

        Parameters
        ----------
        readers, repeats : int
            Readers o of the scar and readings r by each [1].
        same_reader : bool
            Whether the same readers read all scars that are compared: their own offset then cancels.

        Returns
        -------
        float
            In the unit of the axis.

        References
        ----------
        R. K. Burdick, C. M. Borror and D. C. Montgomery, Design and Analysis of Gauge R and R Studies, 2005,
        ch. 3, for the model; the variance of a mean in it.
        """
        offset = 0.0 if same_reader else self.variance("reader")
        shared = (offset + self.variance("interaction")) / readers
        return math.sqrt(shared + self.variance("repeats") / (readers * repeats))


def study_readings(
    campaign: Campaign,
    axis: str = "scar_length",
    confidence: float | None = None,
    pool_above: float = 0.25,
) -> ScarReadings:
    """Evaluate a campaign's repeated readings as a reading study.

    Parameters
    ----------
    campaign : Campaign
        A checked campaign with readings.csv.
    axis : str
        What was read: a name of `AXES`.
    confidence : float, optional
        Confidence of the intervals [1]; the campaign's own where not given.
    pool_above : float
        The interaction is pooled when its F test gives a larger probability [1].

    Returns
    -------
    ScarReadings
        The study.

    Raises
    ------
    UsageError
        There is no such axis, or a number is out of its range.
    InputError
        There are no readings by two readers of two scars, their repeats never differ, or graticule.csv has
        errors.
    """
    chosen = next((one for one in AXES if one.name == axis), None)
    if chosen is None:
        raise UsageError(f"axis must be one of {listing([one.name for one in AXES])}, not {axis!r}")
    if not 0.0 <= pool_above <= 1.0:
        raise UsageError(f"pool_above must lie between 0 and 1, not {pool_above:g}")
    graticule = read_graticule(campaign.folder)
    analysis = analyse(_with_graticule(campaign, graticule), confidence)
    readings, left_out = _readings(analysis, chosen)
    layout = _layout(readings, chosen)
    return ScarReadings(
        analysis,
        chosen,
        layout,
        reading_study(layout.values, analysis.confidence, pool_above),
        pool_above,
        tuple(biases(graticule, analysis.confidence)) if graticule else (),
        between_runs(analysis.included, chosen.run_column, analysis.confidence),
        (*left_out, *layout.left_out),
    )


def _with_graticule(campaign: Campaign, graticule: Graticule | None) -> Campaign:
    # The report's trace lists every file that it rests on.
    if graticule is None:
        return campaign
    return replace(campaign, inputs={**campaign.inputs, NAME: graticule.digest})


def _readings(analysis: Analysis, axis: Axis) -> tuple[pd.DataFrame, list[str]]:
    """Give the readings of runs that count, with ``value`` in the unit of the axis."""
    campaign = analysis.campaign
    counted_runs = set(analysis.included["run_id"])
    readings = campaign.readings[campaign.readings["run_id"].isin(counted_runs)]
    if axis.name == "scar_area":
        area = rig_geometry(campaign.file.rig).scar_area(
            readings["scar_length"].to_numpy(dtype=float), readings["scar_width"].to_numpy(dtype=float)
        )
    else:
        area = readings[axis.name].to_numpy(dtype=float)
    readings = readings.assign(value=to_unit(area, axis.unit))
    return readings, list(_missing(campaign.readings, readings, axis))


def _missing(every: pd.DataFrame, kept: pd.DataFrame, axis: Axis) -> Iterator[str]:
    if len(every) > len(kept):
        runs = sorted(set(every["run_id"]) - set(kept["run_id"]))
        yield f"{counted(len(every) - len(kept), 'reading')} of excluded runs ({listing(runs)})."
    blank = int(kept["value"].isna().sum())
    if blank:
        yield f"{counted(blank, 'reading')} without a {axis.label.lower()}."


def _layout(readings: pd.DataFrame, axis: Axis) -> ReadingLayout:
    known = readings.dropna(subset=["value"])
    readers, scars = sorted(set(known["reader"])), sorted(set(known["run_id"]))
    if known.empty:
        mend = "write each reading of each scar into readings.csv: run_id, reader, reading, scar_length [mm]"
        raise InputError([_problem(f"there is no reading of a {axis.label.lower()}", mend)])
    if len(readers) < 2:
        message = f"only {readers[0]} read the scars, so the spread between readers cannot be determined"
        raise InputError([_problem(message, "have a second reader read the same scars")])
    ordered = known.sort_values(["reader", "run_id"], kind="stable")
    try:
        layout = reading_layout(ordered["reader"], ordered["run_id"], ordered["value"])
    except ValueError:
        message = (
            f"the readers {listing(readers)} have fewer than two of {counted(len(scars), 'scar')} in common"
        )
        raise InputError(
            [_problem(message, "have every reader read at least two scars, the same ones")]
        ) from None
    if _never_differs(layout):
        message = "repeated readings of a scar never differ, so they can't show a reading error"
        mend = "read every scar anew each time, without sight of the last value, and in finer steps"
        raise InputError([_problem(message, mend)])
    return layout


def _never_differs(layout: ReadingLayout) -> bool:
    """Whether repeats (or, of single readings, the readers) agree to the rounding of a unit's conversion."""
    axis = 2 if layout.values.shape[2] > 1 else 0
    largest = float(np.max(np.ptp(layout.values, axis=axis)))
    return largest <= 1e-9 * float(np.max(layout.values))


def _problem(message: str, mend: str) -> Problem:
    return Problem("study-without-readings", Severity.ERROR, READINGS, message, mend)
