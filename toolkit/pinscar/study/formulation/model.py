"""The mixture models of one response, measured or stated, and how far they can be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr

from pinscar.decision.responses import Response
from pinscar.stats.mixture import (
    BlendRuns,
    Effect,
    LackOfFit,
    LeftOutBlend,
    MixtureFit,
    Predicted,
    chosen_order,
    component_effects,
    fit_mixtures,
    lack_of_fit,
    leave_one_blend_out,
    predict_blend,
)
from pinscar.stats.mixture_terms import is_inside
from pinscar.study.formulation.blends import Blends, StudyRuns

FloatArray = NDArray[np.float64]
DRAWS, SEED = 4000, 16
AT_ONCE = 2000
"""Blends whose draws are held in memory at once."""
FEWEST = 4
"""Batches with both responses below which no correlation is taken from them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendModel:
    """The models of one response.

    Attributes
    ----------
    runs : StudyRuns
        Its runs.
    data : BlendRuns
        The same, ready for the models.
    joined : str
        How campaigns were joined; blank for a single one.
    fits : tuple of MixtureFit
        Linear, and quadratic where there are blends enough; empty where none could be fitted.
    chosen : int
        Place of the one that is used.
    reason : str
        Why there is none; blank where there is.
    effects : tuple of Effect
        What each component does.
    test : LackOfFit or None
        Of the model used.
    left_out : tuple of LeftOutBlend
        Each blend predicted by the others.
    confidence : float
        Confidence of each interval [1].
    """

    runs: StudyRuns
    data: BlendRuns
    joined: str
    fits: tuple[MixtureFit, ...]
    chosen: int
    reason: str
    effects: tuple[Effect, ...]
    test: LackOfFit | None
    left_out: tuple[LeftOutBlend, ...]
    confidence: float

    @property
    def fit(self) -> MixtureFit:
        """The model that is used."""
        return self.fits[self.chosen]

    @property
    def tested(self) -> FloatArray:
        """The blends tested, each once [1]."""
        return np.unique(np.round(self.data.shares, 6), axis=0)

    @property
    def rms_error(self) -> float | None:
        """Root mean square of the logarithms' error when each blend is predicted by the others [-]."""
        errors = [
            one.predicted - one.observed
            for one in self.left_out
            if one.predicted is not None and one.observed is not None
        ]
        return float(np.sqrt(np.mean(np.square(errors)))) if errors else None

    def predict(self, shares: FloatArray, runs_a_batch: int = 4) -> Predicted:
        """Predict a blend."""
        return predict_blend(self.fit, shares, self.confidence, runs_a_batch)

    def is_inside(self, shares: FloatArray) -> bool:
        """Tell whether a blend lies among those tested."""
        return is_inside(shares, self.tested)


def model_of(runs: StudyRuns, blends: Blends, confidence: float, *, whole: bool = True) -> BlendModel:
    """Fit the mixture models of a response."""
    data, joined = blend_runs(runs, blends)
    orders = [1, 2] if _has_room(data) else [1]
    try:
        fits = fit_mixtures(data, orders)
    except ValueError as failure:
        return BlendModel(
            runs=runs,
            data=data,
            joined=joined,
            fits=(),
            chosen=0,
            reason=str(failure),
            effects=(),
            test=None,
            left_out=(),
            confidence=confidence,
        )
    chosen = chosen_order(fits)
    fit = fits[chosen]
    tested = np.unique(np.round(data.shares, 6), axis=0)
    return BlendModel(
        runs=runs,
        data=data,
        joined=joined,
        fits=fits,
        chosen=chosen,
        reason="",
        effects=component_effects(fit, tested, confidence),
        test=lack_of_fit(data, fit),
        left_out=leave_one_blend_out(data, fit.order, confidence) if whole else (),
        confidence=confidence,
    )


def _has_room(data: BlendRuns) -> bool:
    """Whether the quadratic model leaves a batch over for its scatter."""
    q = data.shares.shape[1]
    return bool(np.unique(data.blends).size > q * (q + 1) // 2)


def chances(shares: FloatArray, limited: Sequence[tuple[BlendModel, float, float]]) -> FloatArray:
    """Give each blend's chance of keeping limits on several responses all together.

    A limit is a model, the logarithm that its response must reach, and 1 for at least or -1 for at most.

    The chance of each limit is Student's, by the model's error and the scatter of batches. They are tied by a
    normal copula with the correlation of what batches and their runs are off their models by.
    """
    if not limited:
        return np.ones(shares.shape[0])
    single = np.column_stack([_kept(model, shares, log, sign) for model, log, sign in limited])
    if single.shape[1] == 1:
        return np.asarray(single[:, 0], dtype=np.float64)
    signs = np.array([sign for _, _, sign in limited])
    matrix = correlation_of([model for model, _, _ in limited]) * np.outer(signs, signs)
    values, vectors = np.linalg.eigh(matrix)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    drawn = np.random.default_rng(SEED).standard_normal((DRAWS, signs.size)) @ root.T
    drawn /= np.sqrt(np.sum(root**2, axis=1))
    ends = ndtri(single)
    found = np.empty(shares.shape[0])
    for first in range(0, found.size, AT_ONCE):
        some = ends[first : first + AT_ONCE]
        kept = np.ones((some.shape[0], DRAWS), dtype=bool)
        for place in range(signs.size):
            kept &= drawn[None, :, place] <= some[:, [place]]
        found[first : first + AT_ONCE] = kept.mean(axis=1)
    return found


def _kept(model: BlendModel, shares: FloatArray, log: float, sign: float) -> FloatArray:
    """Chance of each blend to keep one limit, by Student's t."""
    fit = model.fit
    rows = fit.row(shares)
    variance = np.maximum(np.einsum("ij,jk,ik->i", rows, fit.covariance, rows), 0.0)
    spread = np.sqrt(variance + fit.batch_sigma**2)
    gap = sign * (rows @ fit.coefficients - log)
    if fit.df < 1:
        return np.asarray(gap >= 0.0, dtype=np.float64)
    sure = spread == 0.0
    told = np.where(sure, gap >= 0.0, stdtr(fit.df, gap / np.where(sure, 1.0, spread)))
    return np.asarray(told, dtype=np.float64)


def correlation_of(models: Sequence[BlendModel]) -> FloatArray:
    """Correlate what the batches are off the models by; 0 where too few have both responses."""
    rests = [_rests(model) for model in models]
    matrix = np.eye(len(models))
    for i in range(len(models)):
        for j in range(i):
            both = sorted(set(rests[i]) & set(rests[j]))
            a, b = (np.array([rest[place] for place in both]) for rest in (rests[i], rests[j]))
            if len(both) < FEWEST or min(np.std(a), np.std(b)) < 1e-12:
                continue
            matrix[i, j] = matrix[j, i] = float(np.clip(np.corrcoef(a, b)[0, 1], -0.99, 0.99))
    return matrix


def _rests(model: BlendModel) -> dict[int, float]:
    """Mean of the uncensored runs off the model by batch, campaigns brought to one height."""
    data, seen = model.data, ~model.data.left_censored
    off = data.logs - (model.fit.row(data.shares) @ model.fit.coefficients)[data.batches]
    for campaign in np.unique(data.campaigns):
        own = data.campaigns == campaign
        if (own & seen).any():
            off[own] -= off[own & seen].mean()
    present = model.runs.present
    return {
        int(present[batch]): float(off[seen & (data.batches == batch)].mean())
        for batch in np.unique(data.batches[seen])
    }


def blend_runs(runs: StudyRuns, blends: Blends) -> tuple[BlendRuns, str]:
    """Make the runs ready for a mixture model.

    Where the reference has no composition it cannot enter the model; then its mean joins the campaigns first.
    """
    logs = np.log(runs.values)
    campaigns, said = runs.campaigns, ""
    outside = runs.batches < 0
    if len(runs.names) > 1 and outside.any():
        own = [logs[outside & (campaigns == i)] for i in range(len(runs.names))]
        joined = np.array([one.size > 0 for one in own])
        shifts = np.array([one.mean() if one.size else 0.0 for one in own])
        logs = logs - (shifts - shifts[joined].mean())[campaigns]
        outside = outside | ~joined[campaigns]
        errors = [one.var(ddof=1) / one.size for one in own if one.size > 1]
        error = 100.0 * float(np.sqrt(np.mean(errors))) if errors else float("nan")
        campaigns = np.zeros_like(campaigns)
        said = (
            "The reference has no composition, so it is in no model: its mean joins the campaigns, and the "
            f"error of that (about {error:.1f} %) is in no interval."
        )
    elif len(runs.names) > 1:
        said = "The campaigns are joined through the blends that they share, the reference among them."
    keep = ~outside
    present = runs.present
    return (
        BlendRuns(
            logs=logs[keep],
            left_censored=runs.left_censored[keep],
            batches=np.searchsorted(present, runs.batches[keep]),
            campaigns=np.unique(campaigns[keep], return_inverse=True)[1].astype(np.int64),
            shares=blends.shares[present],
            names=blends.components,
        ),
        said,
    )


DRIVE_LOSS = Response(name="drive_loss", label="Drive loss", unit="W", shown_unit="W", better="lower")


def drive_loss_model(blends: Blends, load_level: float, confidence: float) -> BlendModel | None:
    """Model the drive loss stated of the batches, one value a batch; None where too few state one."""
    places = [i for i, one in enumerate(blends.batches) if one.drive_loss is not None]
    values = np.array([blends.batches[i].drive_loss for i in places], dtype=np.float64)
    if values.size <= len(blends.components) or np.unique(values).size < 2:
        return None
    none = np.zeros(values.size, dtype=np.int64)
    runs = StudyRuns(
        response=DRIVE_LOSS,
        load_level=load_level,
        values=values,
        left_censored=np.zeros(values.size, dtype=bool),
        batches=np.array(places, dtype=np.int64),
        campaigns=none,
        run_ids=tuple((0, blends.batches[i].name) for i in places),
        names=("stated",),
        left_out=(),
    )
    made = model_of(runs, blends, confidence, whole=False)
    return made if made.fits else None
