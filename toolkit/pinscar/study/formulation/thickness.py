"""How much of a difference is viscosity, and how much is chemistry."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from pinscar.contact.viscosity import kinematic_viscosity_at
from pinscar.stats.batch_model import fit_batch_model
from pinscar.stats.mixture import BlendRuns
from pinscar.study.formulation.blends import Blends
from pinscar.study.formulation.model import BlendModel

FloatArray = NDArray[np.float64]
LEAST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ThicknessLine:
    """One batch against the line of viscosity.

    Attributes
    ----------
    name : str
        The batch.
    viscosity : float
        Kinematic viscosity at the temperature [m^2/s].
    log : float or None
        Logarithm of its own median [-]; None where all its runs are censored.
    ratio : float or None
        Its median over what the other batches' line gives at its viscosity [1].
    low, high : float or None
        Interval of that ratio.
    """

    name: str
    viscosity: float
    log: float | None
    ratio: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Thickness:
    """A response against viscosity.

    Attributes
    ----------
    temperature : float
        At which the viscosities are taken [K].
    start, slope : float
        Logarithm at 1 mm^2/s, and its rise with the logarithm of viscosity [-].
    slope_low, slope_high : float
        Interval of the slope.
    explained : float
        Share of the variance between batches that the line explains [1].
    lines : tuple of ThicknessLine
        The batches, by viscosity.
    df : int
        Degrees of freedom.
    tied : str
        A sentence where viscosity moves with a component; blank where it does not.
    """

    temperature: float
    start: float
    slope: float
    slope_low: float
    slope_high: float
    explained: float
    lines: tuple[ThicknessLine, ...]
    df: int
    tied: str


def thickness_of(model: BlendModel, blends: Blends, temperature: float) -> tuple[Thickness | None, str]:
    """Set a response against viscosity.

    The line is a regression of the batches; a batch's ratio is to the line of the others, so that it does not
    pull at what it is held against.
    """
    present = model.runs.present
    known = [i for i, place in enumerate(present) if blends.batches[place].viscosities is not None]
    if len(known) < LEAST:
        return None, (
            f"{len(known)} of {present.size} batches have viscosities at 40 and 100 °C, and {LEAST} are "
            "needed: how much is viscosity cannot be told."
        )
    if model.data.left_censored.all():
        return None, "All runs are censored, so viscosity and chemistry cannot be told apart."
    thick = np.array(
        [
            float(kinematic_viscosity_at(temperature, forty, hundred))
            for forty, hundred in (blends.batches[present[i]].viscosities or (0.0, 0.0) for i in known)
        ]
    )
    logs = np.log(thick * 1e6)
    if np.ptp(logs) < 0.02:
        return None, "All oils have one viscosity, so none of the difference is viscosity."
    data = _only(model.data, known)
    design = np.column_stack([np.ones(len(known)), logs])
    fit = fit_batch_model(data.logs, data.left_censored, data.batches, data.campaigns, design)
    df = len(known) - 2 - int(data.campaigns.max())
    if df < 1:
        return None, "Too few batches to judge a line of viscosity."
    t = float(stdtrit(df, 0.5 + model.confidence / 2))
    half = t * float(np.sqrt(fit.covariance[1, 1]))
    flat = fit_batch_model(
        data.logs, data.left_censored, data.batches, data.campaigns, np.ones((len(known), 1))
    )
    whole = flat.batch_sigma**2
    explained = 1.0 - min(1.0, fit.batch_sigma**2 / whole) if whole > 0.0 else 0.0
    slope = float(fit.coefficients[1])
    lines = [
        _line(data, design, i, blends.batches[present[place]].name, float(thick[i]), model.confidence)
        for i, place in enumerate(known)
    ]
    return (
        Thickness(
            temperature=temperature,
            start=float(fit.coefficients[0]),
            slope=slope,
            slope_low=slope - half,
            slope_high=slope + half,
            explained=explained,
            lines=tuple(sorted(lines, key=lambda line: line.viscosity)),
            df=df,
            tied=_tied(model, logs, known),
        ),
        "",
    )


def _only(data: BlendRuns, known: list[int]) -> BlendRuns:
    rows = np.isin(data.batches, known)
    return BlendRuns(
        logs=data.logs[rows],
        left_censored=data.left_censored[rows],
        batches=np.searchsorted(known, data.batches[rows]),
        campaigns=np.unique(data.campaigns[rows], return_inverse=True)[1].astype(np.int64),
        shares=data.shares[known],
        names=data.names,
    )


def _line(
    data: BlendRuns, design: FloatArray, place: int, name: str, viscosity: float, confidence: float
) -> ThicknessLine:
    """Hold a batch against the line of the others, with its own mean beside the line in one model."""
    own = data.batches == place
    if data.left_censored[own].all():
        return ThicknessLine(name=name, viscosity=viscosity, log=None, ratio=None, low=None, high=None)
    beside = (np.arange(design.shape[0]) == place).astype(np.float64)
    fit = fit_batch_model(
        data.logs, data.left_censored, data.batches, data.campaigns, np.column_stack([design, beside])
    )
    df = design.shape[0] - 3 - int(data.campaigns.max())
    gap, error = float(fit.coefficients[2]), float(np.sqrt(fit.covariance[2, 2]))
    log = float(design[place] @ fit.coefficients[:2]) + gap
    if df < 1:
        return ThicknessLine(
            name=name, viscosity=viscosity, log=log, ratio=float(np.exp(gap)), low=None, high=None
        )
    half = float(stdtrit(df, 0.5 + confidence / 2)) * error
    low, high = (float(np.exp(gap - half)), float(np.exp(gap + half)))
    return ThicknessLine(
        name=name, viscosity=viscosity, log=log, ratio=float(np.exp(gap)), low=low, high=high
    )


def _tied(model: BlendModel, logs: FloatArray, known: list[int]) -> str:
    shares = model.data.shares[known]
    for i, name in enumerate(model.data.names):
        if i and np.ptp(shares[:, i]) > 0.0:
            r = float(np.corrcoef(shares[:, i], logs)[0, 1])
            if abs(r) > 0.9:
                return (
                    f"The viscosity moves with the share of {name} (correlation {r:.2f}): what is said of "
                    f"viscosity may as well be the chemistry of {name}."
                )
    return ""
