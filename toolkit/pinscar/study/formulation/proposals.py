"""The blends to make next: ranked, each with its prediction, its interval and the reason for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from pinscar.errors import UsageError
from pinscar.stats.blend_choice import MOST, augment, candidate_blends, expected_improvement, grid_size
from pinscar.stats.mixture import MixtureFit, Predicted
from pinscar.study.formulation.blends import Blends
from pinscar.study.formulation.limits import Limit
from pinscar.study.formulation.model import BlendModel, chances
from pinscar.wording import listing, percentage, significant, with_interval

FloatArray = NDArray[np.float64]
Aim = Literal["improvement", "D", "I"]
AIMS = ("improvement", "D", "I")
RUNS = 4
"""Runs that a new batch is taken to be given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """What a model says of a blend in one respect.

    Attributes
    ----------
    name, label, unit : str
        Name, what a reader calls it, and its unit as printed.
    value : float
        Predicted median [the unit].
    low, high : float or None
        Interval of the mean of one new batch; None where there is none.
    chance : float or None
        Chance that it keeps its limit [1]; None without a limit, or where nothing tells.
    """

    name: str
    label: str
    unit: str
    value: float
    low: float | None
    high: float | None
    chance: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A blend to make.

    Attributes
    ----------
    rank : int
        Its place, from 1.
    shares : ndarray, shape (q,)
        Its shares [1].
    foreseen : tuple of Foreseen
        The response aimed at first, then the others.
    price : float or None
        Cost of its components [currency/kg]; None where one has no price.
    chance : float
        Chance that it keeps all limits together [1].
    gain : float
        Expected improvement as a share of the best so far, or by how much it lessens the mean variance [1].
    inside : bool
        Whether it lies among the blends tested; else the prediction is an extrapolation.
    reason : str
        Why it is on the list.
    """

    rank: int
    shares: FloatArray
    foreseen: tuple[Foreseen, ...]
    price: float | None
    chance: float
    gain: float
    inside: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposals:
    """The blends to make next.

    Attributes
    ----------
    aim : {"improvement", "D", "I"}
        What they were chosen for.
    blends : tuple of Proposal
        Best first.
    candidates : int
        Blends within bounds and steps, less those tested.
    bounds : tuple of (str, float, float, float or None)
        Component, lowest and highest share, step [1]; no step for the balance.
    limits : tuple of Limit
        Limits that were kept in view.
    remarks : tuple of str
        What needs saying.
    """

    aim: Aim
    blends: tuple[Proposal, ...]
    candidates: int
    bounds: tuple[tuple[str, float, float, float | None], ...]
    limits: tuple[Limit, ...]
    remarks: tuple[str, ...]


def propose(
    main: BlendModel,
    others: Sequence[BlendModel],
    blends: Blends,
    limits: Sequence[Limit],
    aim: Aim,
    count: int,
) -> tuple[Proposals | None, str]:
    """Choose the blends to make next.

    For the aim "improvement" each blend in turn has the largest expected improvement of the main response
    over the best blend tested that keeps the limits, times the chance that it keeps them; the ones before it
    are then taken as if their prediction had come true. For D and I they make the model's coefficients, or
    its predictions, as certain as that many blends can.
    """
    if aim not in AIMS:
        raise UsageError(f"the aim must be improvement, D or I, not {aim!r}")
    if not main.fits:
        return None, f"There is no model of {main.runs.response.label.lower()}: {main.reason}."
    bounds = bounds_of(blends)
    candidates = _new(_candidates(bounds), main.tested, bounds)
    if not candidates.size:
        return (
            None,
            "Every blend within the bounds and steps was tested; widen the bounds or lessen the steps.",
        )
    candidates = candidates[[_affordable(one, blends, limits) for one in candidates]]
    if not candidates.size:
        return None, "Every blend within the bounds and steps breaks the limit on the price."
    count = min(count, candidates.shape[0])
    remarks = _sampled(bounds)
    if aim == "improvement" and main.fit.df < 2:
        aim = "D"
        remarks.append(
            "The blends are too few for an expected improvement, which needs two degrees of freedom: the "
            "list makes the model more certain instead (D)."
        )
    usable = [one for one in others if one.fits]
    remarks += _not_in_view(limits, (main, *usable), candidates[0], blends)
    chosen = (
        _by_improvement(main, usable, blends, candidates, limits, count)
        if aim == "improvement"
        else _by_design(main, candidates, aim, count)
    )
    made = tuple(
        _proposal(rank, candidates[place], gain, aim, main, usable, blends, limits)
        for rank, (place, gain) in enumerate(chosen, 1)
    )
    found = Proposals(
        aim=aim,
        blends=made,
        candidates=candidates.shape[0],
        bounds=bounds,
        limits=tuple(limits),
        remarks=tuple(remarks),
    )
    return found, ""


def _sampled(bounds: Sequence[tuple[str, float, float, float | None]]) -> list[str]:
    """Say that not all blends were looked at."""
    size = grid_size(*_columns(bounds), 0)
    if size <= MOST:
        return []
    return [
        f"Bounds and steps give {significant(size, 2)} blends. At most {MOST} of them, drawn evenly with a "
        "fixed seed, were looked at; narrower bounds or larger steps in [[components]] look closer."
    ]


def _columns(
    bounds: Sequence[tuple[str, float, float, float | None]],
) -> tuple[list[float], list[float], list[float]]:
    return [one[1] for one in bounds], [one[2] for one in bounds], [one[3] or 1.0 for one in bounds]


def _not_in_view(
    limits: Sequence[Limit], models: Sequence[BlendModel], example: FloatArray, blends: Blends
) -> list[str]:
    """Name the limits that nothing foretells."""
    told = {one.runs.response.name for one in models}
    if price_of(example, blends) is not None:
        told.add("price")
    reasons = {
        "price": "not every component has a price",
        "drive_loss": "too few batches state one for a model",
    }
    return [
        f"The limit on {one.name.replace('_', ' ')} ({one.text}) is not kept in view: "
        f"{reasons.get(one.name, 'it has no model')}."
        for one in limits
        if one.name not in told
    ]


def bounds_of(blends: Blends) -> tuple[tuple[str, float, float, float | None], ...]:
    """Give the bounds and steps that blends are looked for in: as stated, else as tested."""
    found: list[tuple[str, float, float, float | None]] = []
    for place, (name, setting) in enumerate(zip(blends.components, blends.settings, strict=True)):
        own = blends.shares[:, place]
        if place == 0:
            low = 0.0 if setting.lowest is None else setting.lowest
            found.append((name, low, 1.0 if setting.highest is None else setting.highest, None))
            continue
        low = float(own.min()) if setting.lowest is None else setting.lowest
        high = float(own.max()) if setting.highest is None else setting.highest
        step = setting.step or (high - low) / 10.0 or 1.0
        found.append((name, low, high, step))
    return tuple(found)


def _candidates(bounds: Sequence[tuple[str, float, float, float | None]]) -> FloatArray:
    try:
        return candidate_blends(*_columns(bounds), 0)
    except ValueError as failure:
        raise UsageError(
            f"next blends: {failure}; correct lowest, highest or step in [[components]]"
        ) from failure


def _new(
    candidates: FloatArray, tested: FloatArray, bounds: Sequence[tuple[str, float, float, float | None]]
) -> FloatArray:
    """Leave out what was tested, to within half a step."""
    half = np.array([0.5 * (one[3] or 1.0) for one in bounds[1:]]) - 1e-9
    near = np.zeros(candidates.shape[0], dtype=bool)
    for one in tested:
        near |= np.all(np.abs(candidates[:, 1:] - one[1:]) < half, axis=1)
    return np.asarray(candidates[~near], dtype=np.float64)


def _by_design(model: BlendModel, candidates: FloatArray, aim: Aim, count: int) -> list[tuple[int, float]]:
    fit = model.fit
    old, rows = fit.row(model.data.shares), fit.row(candidates)
    chosen = augment(old, rows, count, "I" if aim == "I" else "D")
    information = old.T @ old
    moments = rows.T @ rows / rows.shape[0]
    found = []
    for place in chosen:
        before = float(np.trace(np.linalg.solve(information, moments)))
        information = information + np.outer(rows[place], rows[place])
        found.append((place, 1.0 - float(np.trace(np.linalg.solve(information, moments))) / before))
    return found


def _by_improvement(
    model: BlendModel,
    others: Sequence[BlendModel],
    blends: Blends,
    candidates: FloatArray,
    limits: Sequence[Limit],
    count: int,
) -> list[tuple[int, float]]:
    kept = chances(candidates, _limited(others, limits))
    higher = model.runs.response.better != "lower"
    likely = chances(model.tested, _limited(others, limits)) >= 0.5
    keeping = [
        bool(own) and _affordable(one, blends, limits) for own, one in zip(likely, model.tested, strict=True)
    ]
    # where no blend tested keeps the limits, any that is likely to is an improvement on the least of them
    over = model.tested[keeping] if any(keeping) else _least(model)
    return rank_by_improvement(model.fit, over, candidates, kept, count, higher_is_better=higher)


def _least(model: BlendModel) -> FloatArray:
    """Give the blend tested with the worst prediction."""
    sign = -1.0 if model.runs.response.better == "lower" else 1.0
    return model.tested[[int(np.argmin(sign * model.fit.row(model.tested) @ model.fit.coefficients))]]


def rank_by_improvement(
    fit: MixtureFit,
    tested: FloatArray,
    candidates: FloatArray,
    kept: FloatArray,
    count: int,
    *,
    higher_is_better: bool = True,
) -> list[tuple[int, float]]:
    """Rank candidates by expected improvement over the best blend tested, each after those before it."""
    sign = 1.0 if higher_is_better else -1.0
    rows = fit.row(candidates)
    mean = sign * rows @ fit.coefficients
    best = float(np.max(sign * fit.row(tested) @ fit.coefficients))
    covariance = fit.covariance
    noise = fit.batch_sigma**2 + fit.sigma**2 / RUNS
    found: list[tuple[int, float]] = []
    for _ in range(count):
        variance = np.einsum("ij,jk,ik->i", rows, covariance, rows)
        # what is aimed at is the blend's own median, not the luck of its first batch
        gain = expected_improvement(mean, np.sqrt(np.maximum(variance, 0.0)), best, fit.df) * kept
        gain[[place for place, _ in found]] = -1.0
        place = int(np.argmax(gain))
        found.append((place, float(np.expm1(gain[place]))))
        along = covariance @ rows[place]
        covariance = covariance - np.outer(along, along) / (float(rows[place] @ along) + noise)
        best = max(best, float(mean[place]))
    return found


def _limited(models: Sequence[BlendModel], limits: Sequence[Limit]) -> list[tuple[BlendModel, float, float]]:
    """Pair models with the limits on them: the logarithm to reach, and the side."""
    return [
        (model, float(np.log(limit.value)), 1.0 if limit.side == "at least" else -1.0)
        for model in models
        for limit in limits
        if limit.name == model.runs.response.name
    ]


def _affordable(shares: FloatArray, blends: Blends, limits: Sequence[Limit]) -> bool:
    """Whether a blend keeps the limit on the price, which is known and not a matter of chance."""
    limit, cost = _limit_on("price", limits), price_of(shares, blends)
    if limit is None or cost is None:
        return True
    return cost <= limit.value if limit.side == "at most" else cost >= limit.value


def _limit_on(name: str, limits: Sequence[Limit]) -> Limit | None:
    return next((one for one in limits if one.name == name), None)


def _keeps(model: BlendModel, ahead: Predicted, limit: Limit) -> float:
    fit = model.fit
    spread = float(np.hypot(ahead.standard_error, fit.batch_sigma))
    gap = (ahead.log - float(np.log(limit.value))) * (1.0 if limit.side == "at least" else -1.0)
    if fit.df < 1 or spread == 0.0:
        return float(gap >= 0.0)
    return float(stdtr(fit.df, gap / spread))


def price_of(shares: FloatArray, blends: Blends) -> float | None:
    """Cost a blend from the prices of its components."""
    parts = [(share, one) for share, one in zip(shares, blends.unit_prices, strict=True) if share > 0.0]
    if any(one is None for _, one in parts):
        return None
    return float(sum(share * one for share, one in parts if one is not None))


def _proposal(
    rank: int,
    shares: FloatArray,
    gain: float,
    aim: Aim,
    main: BlendModel,
    others: Sequence[BlendModel],
    blends: Blends,
    limits: Sequence[Limit],
) -> Proposal:
    foreseen = tuple(foresee(model, shares, limits) for model in (main, *others))
    inside = main.is_inside(shares)
    cost = price_of(shares, blends)
    chance = float(chances(shares[None, :], _limited((main, *others), limits))[0])
    return Proposal(
        rank=rank,
        shares=shares,
        foreseen=foreseen,
        price=cost,
        chance=chance,
        gain=gain,
        inside=inside,
        reason=_reason(aim, gain, main, inside=inside),
    )


def foresee(model: BlendModel, shares: FloatArray, limits: Mapping[str, Limit] | Sequence[Limit]) -> Foreseen:
    """Predict one response of a blend."""
    ahead = model.predict(shares, RUNS)
    response = model.runs.response
    limit = _limit_on(
        response.name, list(limits) if not isinstance(limits, Mapping) else list(limits.values())
    )
    factor = response.shown_factor
    ends = [
        None if one is None else float(np.exp(one)) * factor for one in (ahead.batch_low, ahead.batch_high)
    ]
    return Foreseen(
        name=response.name,
        label=response.label,
        unit=response.shown_unit,
        value=float(np.exp(ahead.log)) * factor,
        low=ends[0],
        high=ends[1],
        chance=None if limit is None else _keeps(model, ahead, limit),
    )


def _reason(aim: Aim, gain: float, main: BlendModel, *, inside: bool) -> str:
    label = main.runs.response.label.lower()
    change = significant(100.0 * gain, 2)
    said = {
        "improvement": f"expected to better the best {label} tested (within the limits) by {change} %",
        "D": f"makes the model more certain: mean variance of prediction {change} % less",
        "I": f"makes predictions more certain: their mean variance {change} % less",
    }[aim]
    return said if inside else f"{said}; outside the blends tested, so an extrapolation"


def interval_factor(model: BlendModel) -> float | None:
    """Give Student's factor of a model's intervals."""
    if not model.fits or model.fit.df < 1:
        return None
    return float(stdtrit(model.fit.df, 0.5 + model.confidence / 2))


def share_text(share: float) -> str:
    """Write a share as a percentage, to the hundredth.

    Examples
    --------
    >>> share_text(0.015).replace(chr(160), " ")
    '1.5 %'
    """
    return percentage(round(share, 6))


def blend_text(names: tuple[str, ...], shares: list[float]) -> str:
    """Write a blend by what is in it beside the balance."""
    parts = [f"{share_text(s)} {n}" for n, s in zip(names[1:], shares[1:], strict=True) if s > 1e-9]
    return f"{listing(parts)} in {names[0]}" if parts else f"{names[0]} alone"


def foreseen_text(proposal: Proposal) -> str:
    """Say what is foreseen of a blend in the response aimed at."""
    one = proposal.foreseen[0]
    return f"{one.label} foreseen: {with_interval(one.value, one.low, one.high)} {one.unit}"
