"""The mixture models of one response, what they say of each component, and how far they can be trusted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
from pinscar.study.formulation.blends import Blends
from pinscar.study.formulation.runs import StudyRuns, blend_runs

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
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
        return BlendModel(runs, data, joined, (), 0, str(failure), (), None, (), confidence)
    chosen = chosen_order(fits)
    fit = fits[chosen]
    tested = np.unique(np.round(data.shares, 6), axis=0)
    return BlendModel(
        runs,
        data,
        joined,
        fits,
        chosen,
        "",
        component_effects(fit, tested, confidence),
        lack_of_fit(data, fit),
        leave_one_blend_out(data, fit.order, confidence) if whole else (),
        confidence,
    )


def _has_room(data: BlendRuns) -> bool:
    """Whether the quadratic model leaves a batch over for its scatter."""
    q = data.shares.shape[1]
    return bool(np.unique(data.blends).size > q * (q + 1) // 2)
