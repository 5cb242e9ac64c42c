"""The oils of several campaigns as batches of blends, their runs, and what to put on the balance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.campaign.codes import nearest
from pinscar.campaign.model import Campaign, Component, Lubricant
from pinscar.campaign.quantities import Price
from pinscar.decision.responses import Response
from pinscar.errors import InputError, Problem, Severity

IntArray = NDArray[np.int_]


BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRuns:
    """Runs of one response at one load.

    Attributes
    ----------
    response : Response
        What was measured.
    load_level : float
        The load [N].
    values : ndarray, shape (n,)
        Value of each run [the response's unit].
    left_censored : ndarray of bool, shape (n,)
        Whether the true value is at most that.
    batches : ndarray of int, shape (n,)
        Place of each run's batch in ``Blends.batches``; -1 for a reference oil without a composition.
    campaigns : ndarray of int, shape (n,)
        Place of each run's campaign in `names`.
    run_ids : tuple of (int, str)
        Campaign and name of each run.
    names : tuple of str
        The campaigns that have runs here.
    left_out : tuple of str
        A plain sentence for all that stayed out.
    """

    response: Response
    load_level: float
    values: FloatArray
    left_censored: BoolArray
    batches: IntArray
    campaigns: IntArray
    run_ids: tuple[tuple[int, str], ...]
    names: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def present(self) -> IntArray:
        """Places of the batches that have runs."""
        return np.unique(self.batches[self.batches >= 0])


FloatArray = NDArray[np.float64]
SAME = 1e-6
ADDS_UP = 0.01
"""How far the prices of oils may lie from what their components add up to [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One batch of one blend.

    Attributes
    ----------
    name : str
        How it is called: the oil, with its batch where the oil had several.
    lubricant, batch : str
        The oil's id and the batch stated for it; the latter blank where none was.
    campaigns : tuple of str
        Campaigns that it was in.
    shares : ndarray, shape (q,)
        Share of each component [1].
    price : float or None
        Price [currency/kg]; from the components' where the oil has none.
    viscosities : tuple of float or None
        Kinematic viscosity at 40 and 100 degC [m^2/s].
    drive_loss : float or None
        What the drive takes with it [W].
    """

    name: str
    lubricant: str
    batch: str
    campaigns: tuple[str, ...]
    shares: FloatArray
    price: float | None
    viscosities: tuple[float, float] | None
    drive_loss: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Blends:
    """The batches of a study.

    Attributes
    ----------
    components : tuple of str
        Their names: the one with the largest mean share first, which is taken as the balance, then the others
        in the order met.
    batches : tuple of Batch
        The batches.
    settings : tuple of Component
        What is stated of each component, by its place.
    currency : str
        Of the prices; blank where none is known.
    remarks : tuple of str
        A plain sentence for each thing that does not fit.
    unit_prices : tuple of float or None
        Price of each component [currency/kg]: as stated, else as the prices of the oils tell it.
    """

    components: tuple[str, ...]
    batches: tuple[Batch, ...]
    settings: tuple[Component, ...]
    currency: str
    remarks: tuple[str, ...]
    unit_prices: tuple[float | None, ...] = ()

    @property
    def shares(self) -> FloatArray:
        """Share of each component in each batch [1]."""
        return np.array([one.shares for one in self.batches])

    @property
    def distinct(self) -> FloatArray:
        """The blends, each once [1]."""
        places = np.unique(np.round(self.shares, 6), axis=0, return_index=True)[1]
        return self.shares[np.sort(places)]


def blends_of(campaigns: Sequence[Campaign]) -> Blends:
    """Collect the blends of several campaigns."""
    found: dict[tuple[str, str], tuple[Lubricant, list[str]]] = {}
    wrong: list[Problem] = []
    for one in campaigns:
        for oil in one.file.lubricants:
            if oil.composition is None:
                continue
            key = (oil.id, oil.batch or "")
            known = found.setdefault(key, (oil, []))
            known[1].append(one.file.campaign.id)
            if not _is_same(known[0].composition or {}, oil.composition):
                wrong.append(_differs(oil.id, known[1][0], one.file.campaign.id))
    if not found and not wrong:
        wrong.append(_without())
    currencies = {price.currency for one in campaigns for price in _prices(one)}
    if len(currencies) > 1:
        message = f"the prices of these campaigns are in {' and '.join(sorted(currencies))}"
        mend = "write all prices in one currency"
        wrong.append(
            Problem(
                code="price-currencies",
                severity=Severity.ERROR,
                file="campaign.toml",
                message=message,
                mend=mend,
            )
        )
    if wrong:
        raise InputError(wrong)
    names, remarks = _components([oil for oil, _ in found.values()])
    settings = _settings(campaigns, names)
    several = {key[0] for key in found if sum(other[0] == key[0] for other in found) > 1}
    batches = tuple(
        _batch(oil, where, names, settings, numbered=oil.id in several) for oil, where in found.values()
    )
    prices = _unit_prices(batches, settings)
    return Blends(
        components=names,
        batches=batches,
        settings=settings,
        currency=next(iter(currencies), ""),
        remarks=tuple(remarks),
        unit_prices=prices,
    )


def _unit_prices(batches: Sequence[Batch], settings: Sequence[Component]) -> tuple[float | None, ...]:
    """Give the components' prices; where one is not stated, those that the oils' prices add up to."""
    stated = tuple(None if one.price is None else one.price.per_kg for one in settings)
    priced = [one for one in batches if one.price is not None]
    if all(one is not None for one in stated) or not priced:
        return stated
    shares = np.array([one.shares for one in priced])
    prices = np.array([one.price for one in priced], dtype=np.float64)
    if np.linalg.matrix_rank(shares) < len(settings):
        return stated
    found = np.linalg.lstsq(shares, prices, rcond=None)[0]
    # oils that were priced by other means than their components do not add up
    if float(np.max(np.abs(shares @ found - prices) / prices)) > ADDS_UP:
        return stated
    return tuple(float(one) if own is None else own for one, own in zip(found, stated, strict=True))


def _prices(campaign: Campaign) -> list[Price]:
    priced = [one.price for one in campaign.file.lubricants] + [one.price for one in campaign.file.components]
    return [one for one in priced if one is not None]


def _is_same(one: dict[str, float], other: dict[str, float]) -> bool:
    return all(abs(one.get(name, 0.0) - other.get(name, 0.0)) < SAME for name in {*one, *other})


def _differs(oil: str, first: str, second: str) -> Problem:
    message = f"{oil} has another composition in {second} than in {first}"
    mend = "correct it, or give the new formula an id of its own"
    return Problem(
        code="composition-differs",
        severity=Severity.ERROR,
        file="campaign.toml",
        message=message,
        mend=mend,
        value=oil,
    )


def _without() -> Problem:
    message = "no oil of these campaigns has a composition"
    mend = "write [lubricants.composition] below each oil, or a table lubricants.csv"
    return Problem(
        code="composition-missing", severity=Severity.ERROR, file="campaign.toml", message=message, mend=mend
    )


def _components(oils: Sequence[Lubricant]) -> tuple[tuple[str, ...], list[str]]:
    met = list(
        dict.fromkeys(name for oil in oils for name, share in (oil.composition or {}).items() if share > SAME)
    )
    total = {name: sum((oil.composition or {}).get(name, 0.0) for oil in oils) for name in met}
    balance = max(met, key=lambda name: total[name])
    names = (balance, *(name for name in met if name != balance))
    remarks = []
    for place, name in enumerate(names):
        inside = [oil.id for oil in oils if (oil.composition or {}).get(name, 0.0) > SAME]
        if len(inside) == 1 and len(oils) > 1:
            remarks.append(
                f"{name} is in {inside[0]} only: what it does cannot be told from what else is new in it."
            )
        near = nearest(name, names[:place], 0.85)
        if near and _digits(near) == _digits(name):
            remarks.append(f"{near} and {name} count as two components; write them alike if they are one.")
    return names, remarks


def _digits(name: str) -> list[str]:
    return [letter for letter in name if letter.isdigit()]


def _settings(campaigns: Sequence[Campaign], names: Sequence[str]) -> tuple[Component, ...]:
    """Take what the last campaign that says anything says of each component."""
    stated = {one.id: one for campaign in campaigns for one in campaign.file.components}
    return tuple(stated.get(name) or Component.model_validate({"id": name}) for name in names)


def _batch(
    oil: Lubricant,
    where: Sequence[str],
    names: Sequence[str],
    settings: Sequence[Component],
    *,
    numbered: bool,
) -> Batch:
    shares = np.array([(oil.composition or {}).get(name, 0.0) for name in names])
    prices = [one.price for one in settings]
    price = None if oil.price is None else oil.price.per_kg
    if price is None:
        known = [one.per_kg if one is not None else None for one in prices]
        parts = [(share, one) for share, one in zip(shares, known, strict=True) if share > 0.0]
        if all(one is not None for _, one in parts):
            price = float(sum(share * (one or 0.0) for share, one in parts))
    thick = (oil.kinematic_viscosity_40, oil.kinematic_viscosity_100)
    return Batch(
        name=f"{oil.id} ({oil.batch})" if numbered and oil.batch else oil.id,
        lubricant=oil.id,
        batch=oil.batch or "",
        campaigns=tuple(dict.fromkeys(where)),
        shares=shares,
        price=price,
        viscosities=None if thick[0] is None or thick[1] is None else (thick[0], thick[1]),
        drive_loss=oil.drive_loss,
    )


COARSE = 0.01
"""Resolution over mass from which a weigh-out is coarse [1]."""


@dataclass(frozen=True, slots=True)
class WeighOut:
    """The masses of one batch.

    Attributes
    ----------
    names : tuple of str
        Components.
    masses : tuple of float
        What to weigh [kg], in whole steps of the balance.
    shares : tuple of float
        What they give [1].
    coarse : tuple of str
        Components whose mass is so small that one step of the balance is over a hundredth of it.
    """

    names: tuple[str, ...]
    masses: tuple[float, ...]
    shares: tuple[float, ...]
    coarse: tuple[str, ...]


def weigh_out(names: Sequence[str], shares: FloatArray, batch: float, resolution: float) -> WeighOut:
    """Turn shares into masses that the balance can show.

    Every component is rounded to the balance's step; the largest one takes what is left of the batch.
    """
    if not 0.0 < resolution <= batch / 100.0:
        raise ValueError("the batch must be at least a hundred steps of the balance")
    steps = np.rint(np.asarray(shares) * batch / resolution)
    largest = int(np.argmax(shares))
    steps[largest] = np.rint(batch / resolution) - (steps.sum() - steps[largest])
    total = float(steps.sum())
    coarse = [
        name
        for name, share, step in zip(names, shares, steps, strict=True)
        if share > 0.0 and step * COARSE < 1.0
    ]
    return WeighOut(
        tuple(names),
        tuple(float(step) * resolution for step in steps),
        tuple(float(step) / total for step in steps),
        tuple(coarse),
    )


def percent(share: float) -> str:
    """Write a share in percent, without the sign.

    Examples
    --------
    >>> percent(0.015), percent(0.0)
    ('1.5', '0')
    """
    text = f"{100.0 * share:.4f}".rstrip("0").rstrip(".")
    return text or "0"
