"""The one order in which oils stand in every table and chart, and the oils that a campaign asks about."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol, TypeVar

from pinscar.campaign.model import CampaignFile

ROLES = ("reference", "candidate", "benchmark")


class OfCell(Protocol):
    """What belongs to one oil at one load."""

    @property
    def lubricant(self) -> str:
        """The oil."""

    @property
    def load_level(self) -> float:
        """Load level [N]."""


One = TypeVar("One", bound=OfCell)


def oil_order(file: CampaignFile, seen: Iterable[str]) -> tuple[str, ...]:
    """Give the oils in their order: the reference, candidates, benchmarks; each as declared, then as seen."""
    known = dict.fromkeys([*(one.id for one in file.lubricants), *seen])
    names = [name for name in known if name]
    return tuple(sorted(names, key=lambda name: ROLES.index(file.role_of(name))))


def places(file: CampaignFile, seen: Iterable[str]) -> Mapping[str, int]:
    """Give each oil its place in the order."""
    return {name: place for place, name in enumerate(oil_order(file, seen))}


def in_order(found: Sequence[One], place: Mapping[str, int]) -> tuple[One, ...]:
    """Sort what belongs to cells by load, then by the order of the oils; the rest of the order stays."""
    return tuple(sorted(found, key=lambda one: (one.load_level, place.get(one.lubricant, len(place)))))


def asked_about(file: CampaignFile, seen: Iterable[str]) -> tuple[str, ...]:
    """List the oils that the campaign asks about, the reference left out.

    These are its candidates, those of its limits and claims, and those that its question names.
    """
    limited = {one.lubricant for one in file.criteria}
    claimed = {one.subject for one in file.claims}
    question = file.campaign.question or ""
    reference = file.campaign.reference
    names = oil_order(file, [*seen, *(one.lubricant for one in file.criteria)])
    return tuple(
        name
        for name in names
        if name != reference
        and (
            file.role_of(name) == "candidate"
            or name in limited
            or name in claimed
            or re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", question)
        )
    ) or tuple(name for name in names if name != reference)
