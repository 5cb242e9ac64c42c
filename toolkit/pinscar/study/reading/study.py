"""Repeated readings of scars as a crossed reading study: readers x scars x repeats.

The optional file graticule.csv gives the bias of the reading: ``reader``; ``certified`` with a unit, the
certified length; ``read`` with a unit, what the reader read; and optionally ``reading`` (a number) and
``uncertainty`` with a unit, the standard uncertainty of the certified length. Reading error is judged beside
the spread between runs.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.columns import Column
from pinscar.campaign.frames import read_frame
from pinscar.campaign.model import Campaign
from pinscar.campaign.tables import read_csv
from pinscar.decision.analysis import analyse
from pinscar.decision.evaluate import rig_geometry
from pinscar.decision.record import Analysis
from pinscar.decision.runs import by_cell
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.stats.reading_study import (
    ReadingBias,
    ReadingLayout,
    ReadingStudy,
    reading_bias,
    reading_layout,
    reading_study,
    variance_component,
)
from pinscar.units import to_unit
from pinscar.wording import counted, decimals_for, fixed, listing


@dataclass(frozen=True, slots=True)
class BetweenRuns:
    """Relative spread between runs of one oil at one load, pooled.

    Attributes
    ----------
    spread : float
        Relative standard deviation [1].
    low, high : float
        Its confidence limits [1].
    df : int
        Degrees of freedom.
    n_cells : int
        Pairs of oil and load with repeats.
    """

    spread: float
    low: float
    high: float
    df: int
    n_cells: int


def between_runs(included: pd.DataFrame, column: str, confidence: float) -> BetweenRuns | None:
    """Pool the spread between runs of one oil at one load, on logarithms."""
    logs = [np.log(cell[column].dropna().to_numpy(dtype=float)) for _, _, cell in by_cell(included)]
    repeated = [values for values in logs if values.size > 1]
    df = sum(values.size - 1 for values in repeated)
    squares = math.fsum(float(np.sum((values - np.mean(values)) ** 2)) for values in repeated)
    if df == 0 or squares <= 0.0:
        return None
    found = variance_component([1.0], [squares / df], [df], confidence)
    spread, low, high = (math.sqrt(math.expm1(v)) for v in (found.estimate, found.low, found.high))
    return BetweenRuns(spread, low, high, df, len(repeated))


NAME = "graticule.csv"
COLUMNS = (
    Column("reader", "who read the graticule", required=True, filled=True),
    Column("reading", "number of the reading"),
    Column("certified", "certified length", "number", "length", "mm",
           required=True, filled=True, usual=(1e-5, 0.1)),
    Column("read", "what was read", "number", "length", "mm",
           required=True, filled=True, usual=(1e-5, 0.1)),
    Column("uncertainty", "standard uncertainty of the certified length", "number", "length", "um",
           low_allowed=True),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bias:
    """Bias of one reader, or of all readers together, on one certified length.

    Attributes
    ----------
    reader : str or None
        The reader; None for all: then each reader's mean counts as one value.
    result : ReadingBias
        Bias and interval [m].
    """

    reader: str | None
    result: ReadingBias


@dataclass(frozen=True, slots=True)
class Graticule:
    """Readings of certified lengths.

    Attributes
    ----------
    readings : DataFrame
        ``reader``, ``certified`` [m], ``read`` [m], ``uncertainty`` [m] or NaN.
    digest : str
        SHA-256 of the file.
    """

    readings: pd.DataFrame
    digest: str


def read_graticule(folder: Path) -> Graticule | None:
    """Read the readings of certified lengths."""
    path = folder / NAME
    if not path.exists():
        return None
    table, problems = read_csv(path, NAME)
    read = None if table is None else read_frame(table, COLUMNS)
    problems += [] if read is None else read.problems
    grave = [problem for problem in problems if problem.severity is Severity.ERROR]
    if read is None or grave:
        raise InputError(grave or [_unread()])
    return Graticule(read.frame, hashlib.sha256(path.read_bytes()).hexdigest())


def biases(graticule: Graticule, confidence: float) -> Iterator[Bias]:
    """Estimate the bias of every reader, and of all together, on every certified length."""
    for certified, at in graticule.readings.groupby("certified"):
        length = float(str(certified))
        uncertainty = float(np.nan_to_num(at["uncertainty"].max()))
        means = []
        for reader, own in at.groupby("reader", sort=False):
            values = own["read"].to_numpy(dtype=float)
            means.append(float(np.mean(values)))
            yield Bias(str(reader), reading_bias(values, length, confidence, uncertainty))
        if len(means) > 1:
            yield Bias(None, reading_bias(means, length, confidence, uncertainty))


def _unread() -> Problem:
    return Problem(
        code="file-unreadable",
        severity=Severity.ERROR,
        file=NAME,
        message="the file cannot be read",
        mend="save it as CSV text",
    )


READINGS = "readings.csv"


@dataclass(frozen=True, slots=True)
class Axis:
    """What was read of a scar.

    Attributes
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


@dataclass(frozen=True, slots=True, kw_only=True)
class ScarReadings:
    """A campaign's repeated readings, evaluated.

    Attributes
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
        """Give the variance of a source of spread."""
        return next((c.variance for c in self.study.components if c.source == source), 0.0)

    def reading_sd(self, readers: int = 1, repeats: int = 1, *, same_reader: bool = False) -> float:
        r"""Give the standard deviation of a scar's mean that comes from reading it.

        .. math:: s = \sqrt{(\sigma_o^2 + \sigma_{op}^2)/o + \sigma_e^2/(o r)}
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
    """Evaluate a campaign's repeated readings as a reading study."""
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
        analysis=analysis,
        axis=chosen,
        layout=layout,
        study=reading_study(layout.values, analysis.confidence, pool_above),
        pool_above=pool_above,
        biases=tuple(biases(graticule, analysis.confidence)) if graticule else (),
        between_runs=between_runs(analysis.included, chosen.run_column, analysis.confidence),
        left_out=(*left_out, *layout.left_out),
    )


def _with_graticule(campaign: Campaign, graticule: Graticule | None) -> Campaign:
    # The report's trace lists every file that it rests on.
    if graticule is None:
        return campaign
    return replace(campaign, inputs={**campaign.inputs, NAME: graticule.digest})


def _readings(analysis: Analysis, axis: Axis) -> tuple[pd.DataFrame, list[str]]:
    """Give the readings of included runs, with ``value`` in the unit of the axis."""
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
    return Problem(
        code="study-without-readings", severity=Severity.ERROR, file=READINGS, message=message, mend=mend
    )


def repeat_sd(study: ScarReadings, index: int) -> float | None:
    """Give the pooled standard deviation of one reader's repeats; None where each scar was read once."""
    values = study.layout.values[index]
    if values.shape[1] < 2:
        return None
    return float(np.sqrt(np.mean(np.var(values, axis=1, ddof=1))))


def farthest_scar(study: ScarReadings, index: int) -> tuple[str, float]:
    """Name the scar that a reader reads farthest from the mean of all readers, and by how much."""
    means = study.deviations[index].mean(axis=1)
    place = int(np.argmax(np.abs(means)))
    return study.layout.scars[place], float(means[place])


def deviation_text(study: ScarReadings, value: float) -> str:
    """Write a deviation with the decimals at which the reading error has two significant figures."""
    error = study.reading_sd()
    decimals = decimals_for(None, None, error) - 1 if error > 0.0 else 3
    text = fixed(value, decimals)
    return f"+{text}" if value > 0.0 else text
