"""Several responses and the price together: which blends no other beats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from pinscar.stats.batch_model import fit_batch_model
from pinscar.stats.blend_choice import chance_unbeaten, unbeaten
from pinscar.study.formulation.blends import Blends
from pinscar.study.formulation.model import BlendModel

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Respect:
    """One thing that blends are compared in.

    Attributes
    ----------
    name, label, unit : str
        Name, what a reader calls it, and its unit as printed.
    higher_is_better : bool
        Which way is better.
    estimates : tuple of float
        One a blend [the unit].
    lows, highs : tuple of float or None
        Their intervals; None for a price, which is known.
    n : tuple of int
        Runs of each blend; 0 where no run tells it.
    """

    name: str
    label: str
    unit: str
    higher_is_better: bool
    estimates: tuple[float, ...]
    lows: tuple[float | None, ...]
    highs: tuple[float | None, ...]
    n: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tradeoff:
    """Blends compared in several respects at once.

    Attributes
    ----------
    names : tuple of str
        The blends: those with a value in every respect.
    shares : ndarray, shape (b, q)
        Their shares [1].
    respects : tuple of Respect
        What they are compared in.
    unbeaten : tuple of bool
        Whether no other beats the blend in all, by the estimates.
    chances : tuple of float
        How often that came out in the bootstrap [1].
    draws : int
        Draws of the bootstrap.
    left_out : tuple of str
        A sentence for each blend or respect that stays out.
    """

    names: tuple[str, ...]
    shares: FloatArray
    respects: tuple[Respect, ...]
    unbeaten: tuple[bool, ...]
    chances: tuple[float, ...]
    draws: int
    left_out: tuple[str, ...]


def tradeoff_of(
    models: Sequence[BlendModel], blends: Blends, confidence: float, seed: int, draws: int = 4000
) -> tuple[Tradeoff | None, str]:
    """Compare the blends in all responses modelled, drive loss and price."""
    usable = [one for one in models if one.runs.response.better is not None]
    found = [_blend_estimates(one, blends, confidence) for one in usable]
    keys = _keys(blends)
    known: list[tuple[str, str, str, bool, dict[int, float]]] = []
    for name, label, unit, values in _known(blends, keys):
        if len(set(values.values())) > 1:
            known.append((name, label, unit, False, values))
    if len(found) + len(known) < 2:
        return None, "One response alone has no trade-off; give more with -p others or state prices."
    inside = set.intersection(*(set(one) for one in found), *(set(one[4]) for one in known))
    order = sorted(inside, key=lambda key: min(i for i, other in enumerate(keys) if other == key))
    if len(order) < 2:
        return None, "Fewer than two blends have a value in every respect, so there is nothing to weigh up."
    names = _names(blends, keys)
    left_out = [
        f"{names[key]}: it lacks a value in one respect." for key in dict.fromkeys(keys) if key not in inside
    ]
    respects = [
        _measured(model, estimates, order) for model, estimates in zip(usable, found, strict=True)
    ] + [
        Respect(
            name=name,
            label=label,
            unit=unit,
            higher_is_better=higher,
            estimates=tuple(values[k] for k in order),
            lows=(None,) * len(order),
            highs=(None,) * len(order),
            n=(0,) * len(order),
        )
        for name, label, unit, higher, values in known
    ]
    means = np.array([[np.log(one.estimates[i]) for one in respects] for i in range(len(order))])
    errors = np.array(
        [[one[key].error for one in found] + [0.0] * len(known) for key in order], dtype=np.float64
    )
    df = [next(iter(one.values())).df for one in found] + [float("inf")] * len(known)
    better = [one.higher_is_better for one in respects]
    correlation = _correlation(usable, len(respects))
    chances = chance_unbeaten(means, errors, correlation, df, better, seed, draws)
    shares = np.array([blends.batches[keys.index(key)].shares for key in order])
    return (
        Tradeoff(
            names=tuple(names[key] for key in order),
            shares=shares,
            respects=tuple(respects),
            unbeaten=tuple(unbeaten(means, better).tolist()),
            chances=tuple(chances.tolist()),
            draws=draws,
            left_out=tuple(left_out),
        ),
        "",
    )


@dataclass(frozen=True, slots=True)
class _Estimate:
    log: float
    error: float
    half: float
    df: float
    n: int


def _keys(blends: Blends) -> list[int]:
    """Give the number of each batch's blend."""
    found = np.unique(np.round(blends.shares, 6), axis=0, return_inverse=True)[1]
    return [int(one) for one in np.asarray(found).reshape(-1)]


def _names(blends: Blends, keys: Sequence[int]) -> dict[int, str]:
    return {
        key: ", ".join(one.name for one, own in zip(blends.batches, keys, strict=True) if own == key)
        for key in dict.fromkeys(keys)
    }


def _blend_estimates(model: BlendModel, blends: Blends, confidence: float) -> dict[int, _Estimate]:
    """Estimate every blend by its own runs, with the scatter between runs shared by all."""
    keys = _keys(blends)
    own = np.array([keys[place] for place in model.runs.present])
    data = model.data
    wanted = [
        key
        for key in dict.fromkeys(own.tolist())
        if not data.left_censored[np.isin(data.batches, np.flatnonzero(own == key))].all()
    ]
    rows = np.isin(own[data.batches], wanted)
    if not wanted or np.unique(data.logs[rows]).size < 2:
        return {}
    numbers = np.array([wanted.index(key) for key in own[data.batches[rows]]])
    cells = np.eye(len(wanted))
    # one cell a blend leaves no scatter of blends: what is told holds for the batches as made
    fit = fit_batch_model(
        data.logs[rows],
        data.left_censored[rows],
        numbers,
        np.unique(data.campaigns[rows], return_inverse=True)[1].astype(np.int64),
        cells,
    )
    df = float(max(int((~data.left_censored[rows]).sum()) - len(wanted) - int(data.campaigns.max()), 1))
    t = float(stdtrit(df, 0.5 + confidence / 2))
    return {
        key: _Estimate(
            float(fit.coefficients[i]),
            float(np.sqrt(fit.covariance[i, i])),
            t * float(np.sqrt(fit.covariance[i, i])),
            df,
            int(np.sum(numbers == i)),
        )
        for i, key in enumerate(wanted)
    }


def _known(blends: Blends, keys: Sequence[int]) -> list[tuple[str, str, str, dict[int, float]]]:
    """Give what is stated of blends: drive loss and price, as the mean of a blend's batches."""
    found = []
    for name, label, unit in (("drive_loss", "Drive loss", "W"), ("price", "Price", f"{blends.currency}/kg")):
        stated: Mapping[int, list[float]] = {key: [] for key in keys}
        for one, key in zip(blends.batches, keys, strict=True):
            value = getattr(one, name)
            if value is not None:
                stated[key].append(value)
        values = {key: float(np.mean(own)) for key, own in stated.items() if own}
        if len(values) > 1:
            found.append((name, label, unit, values))
    return found


def _measured(model: BlendModel, estimates: Mapping[int, _Estimate], order: Sequence[int]) -> Respect:
    response = model.runs.response
    chosen = [estimates[key] for key in order]
    factor = response.shown_factor
    return Respect(
        name=response.name,
        label=response.label,
        unit=response.shown_unit,
        higher_is_better=response.better == "higher",
        estimates=tuple(float(np.exp(one.log)) * factor for one in chosen),
        lows=tuple(float(np.exp(one.log - one.half)) * factor for one in chosen),
        highs=tuple(float(np.exp(one.log + one.half)) * factor for one in chosen),
        n=tuple(one.n for one in chosen),
    )


def _correlation(models: Sequence[BlendModel], count: int) -> FloatArray:
    """Correlation of the runs about their batch, between responses that the same runs tell."""
    matrix = np.eye(count)
    rests = []
    for model in models:
        data = model.data
        means = np.bincount(data.batches, data.logs) / np.maximum(np.bincount(data.batches), 1)
        rests.append(data.logs - means[data.batches])
    for i in range(len(models)):
        for j in range(i):
            same = models[i].runs.run_ids == models[j].runs.run_ids and rests[i].size == rests[j].size
            if same and rests[i].std() > 0.0 and rests[j].std() > 0.0:
                r = float(np.corrcoef(rests[i], rests[j])[0, 1])
                matrix[i, j] = matrix[j, i] = np.clip(r, -0.99, 0.99)
    return matrix
