"""The chance that a blend keeps several limits at once: responses of one batch move together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr

from pinscar.study.formulation.limits import Limit
from pinscar.study.formulation.model import BlendModel

FloatArray = NDArray[np.float64]
DRAWS, SEED = 4000, 16
AT_ONCE = 2000
"""Blends whose draws are held in memory at once."""
FEWEST = 4
"""Batches with both responses below which no correlation is taken from them."""


def chances(shares: FloatArray, models: Sequence[BlendModel], limits: Sequence[Limit]) -> FloatArray:
    """Give each blend's chance of keeping the limits on these responses all together.

    The chance of each limit is Student's, by the model's error and the scatter of batches. They are tied by a
    normal copula with the correlation of what batches and their runs are off their models by.
    """
    limited = [
        (model, limit) for model in models for limit in limits if limit.name == model.runs.response.name
    ]
    if not limited:
        return np.ones(shares.shape[0])
    single = np.column_stack([_keeps(model, shares, limit) for model, limit in limited])
    if single.shape[1] == 1:
        return np.asarray(single[:, 0], dtype=np.float64)
    signs = np.array([1.0 if limit.side == "at least" else -1.0 for _, limit in limited])
    matrix = correlation_of([model for model, _ in limited]) * np.outer(signs, signs)
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


def _keeps(model: BlendModel, shares: FloatArray, limit: Limit) -> FloatArray:
    """Chance of each blend to keep one limit, by Student's t."""
    fit = model.fit
    rows = fit.row(shares)
    variance = np.maximum(np.einsum("ij,jk,ik->i", rows, fit.covariance, rows), 0.0)
    spread = np.sqrt(variance + fit.batch_sigma**2)
    gap = (rows @ fit.coefficients - np.log(limit.value)) * (1.0 if limit.side == "at least" else -1.0)
    if fit.df < 1:
        return np.asarray(gap >= 0.0, dtype=np.float64)
    sure = spread == 0.0
    chance = np.where(sure, gap >= 0.0, stdtr(fit.df, gap / np.where(sure, 1.0, spread)))
    return np.asarray(chance, dtype=np.float64)


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
