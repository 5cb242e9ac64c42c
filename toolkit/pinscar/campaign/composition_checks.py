"""Compositions and prices of the oils against each other: one formula twice, names almost alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pinscar.campaign.codes import error, nearest, plain, warning
from pinscar.campaign.model import CampaignFile
from pinscar.problems import Problem

FILE = "campaign.toml"
SAME = 1e-6
"""Shares that differ by less are one [1]."""
ALIKE = 0.85
"""How alike two names of components are that may be one."""


def check_compositions(file: CampaignFile) -> list[Problem]:
    """Check the compositions and prices of all oils.

    Examples
    --------
    >>> oils = [{"id": name, "composition": {"base": "balance", "AW-1": "1 %"}} for name in ("C-1", "C-2")]
    >>> rig = {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    >>> file = CampaignFile.model_validate(
    ...     {"campaign": {"id": "c", "reference": "C-1"}, "rig": rig, "lubricants": oils})
    >>> check_compositions(file)[0].message
    'C-1 and C-2 have one composition'
    """
    return [*_components(file), *_same(file), *_currencies(file)]


def _components(file: CampaignFile) -> Iterator[Problem]:
    declared = [one.id for one in file.components]
    for number, name in enumerate(declared):
        if name in declared[:number]:
            column, value = f"components[{number + 1}].id", name
            yield error(
                "id-twice", FILE, "this id is there twice", "give each its own id", column=column, value=value
            )
    first: dict[str, str] = dict.fromkeys(declared, "[[components]]")
    for number, oil in enumerate(file.lubricants):
        for name in oil.composition or {}:
            if name in first:
                continue
            column, value = f"lubricants[{number + 1}].composition.{name}", name
            near = nearest(name, list(first), ALIKE) or _swapped(name, first)
            if declared:
                mend = f"write {near}" if near else "add it as [[components]]"
                message = f"the component is not declared as [[components]], in {oil.id}"
                yield error("component-unknown", FILE, message, mend, column=column, value=value)
            elif near and not _numbered_apart(near, name):
                message = f"{near} (in {first[near]}) and {name} (in {oil.id}) count as two components"
                mend = f"write {near} if they are one, or declare both as [[components]]"
                yield warning("component-near-miss", FILE, message, mend, column=column, value=value)
            first.setdefault(name, oil.id)


def _swapped(name: str, known: Iterable[str]) -> str | None:
    """Find a name of the same letters in another order: in short names a swap leaves little that is alike."""
    return next((one for one in known if sorted(plain(one)) == sorted(plain(name))), None)


def _numbered_apart(one: str, other: str) -> bool:
    """Whether two names differ in their digits: AW-1 and AW-2 are meant to be two."""
    digits = [[letter for letter in name if letter.isdigit()] for name in (one, other)]
    return digits[0] != digits[1] and plain(one) != plain(other)


def _same(file: CampaignFile) -> Iterator[Problem]:
    oils = [(number, one) for number, one in enumerate(file.lubricants) if one.composition]
    for place, (number, oil) in enumerate(oils):
        for _, other in oils[:place]:
            if oil.batch and other.batch and oil.batch != other.batch:
                continue  # two batches of one formula, said so
            if _is_same(oil.composition or {}, other.composition or {}):
                mend = (
                    "correct one of the two, or state batch for both if they are two batches of one formula"
                )
                column = f"lubricants[{number + 1}].composition"
                message = f"{other.id} and {oil.id} have one composition"
                yield warning("composition-same", FILE, message, mend, column=column)
                break


def _is_same(one: dict[str, float], other: dict[str, float]) -> bool:
    return all(abs(one.get(name, 0.0) - other.get(name, 0.0)) < SAME for name in {*one, *other})


def _currencies(file: CampaignFile) -> Iterator[Problem]:
    known: str | None = None
    prices = [(f"lubricants[{number}]", one.price) for number, one in enumerate(file.lubricants, 1)]
    prices += [(f"components[{number}]", one.price) for number, one in enumerate(file.components, 1)]
    for owner, price in prices:
        if price is not None:
            known = known or price.currency
            if price.currency != known:
                column, value = f"{owner}.price", price.currency
                message = f"the prices before it are in {known}"
                yield error(
                    "price-currencies",
                    FILE,
                    message,
                    "write all prices in one currency",
                    column=column,
                    value=value,
                )
