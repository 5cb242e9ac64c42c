"""The campaign's own texts: names, notes, questions. They are the person's, and no report translates them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from pinscar.campaign.columns import RUNS
from pinscar.campaign.model import Campaign
from pinscar.language.messages import read_catalogue
from pinscar.language.speaker import Speaker, sentences
from pinscar.shipped import OWN

NAMING = ("run_id", "lubricant", "ring", "ring_id", "operator", "pin_lot", "batch", "block", "run_day")
"""Columns of the runs that hold names."""
_CHOSEN = frozenset(
    ["geometry", "role", "response", "rule", "direction", "paper", "language", "detail", "decision"]
)
"""Keys whose values are chosen from words of ours."""


def speaker_of(
    language: str, campaigns: Iterable[Campaign], typed: Mapping[str, object] = MappingProxyType({})
) -> Speaker | None:
    """Give who says a report on campaigns in a language, with what was typed for it; None for English."""
    if language == OWN:
        return None
    every = list(_all(campaigns))
    return Speaker(catalogue=read_catalogue(language), names=names_of(every), texts=texts_of(every, typed))


def names_of(campaigns: Iterable[Campaign]) -> frozenset[str]:
    """Collect the names of campaigns, as oils, runs and rings have them."""
    found: set[str] = set()
    for one in campaigns:
        file = one.file
        found |= {file.campaign.id, *(oil.id for oil in file.lubricants), *one.inputs}
        found |= {criterion.id for criterion in file.criteria}
        for column in NAMING:
            if column in one.runs.columns:
                found |= {value for value in one.runs[column] if isinstance(value, str)}
        found |= {value for value in one.readings.get("reader", ()) if isinstance(value, str)}
    return frozenset(text for text in found if text.strip())


def texts_of(
    campaigns: Iterable[Campaign], typed: Mapping[str, object] = MappingProxyType({})
) -> frozenset[str]:
    """Collect the other texts of campaigns, such as titles, notes and the columns of their own."""
    known = {column.name for column in RUNS}
    found = set(_texts(typed))
    found |= {part.strip() for text in found for part in re.split("[:,]", text)}
    for one in campaigns:
        found |= set(_texts(one.file.model_dump()))
        for column in one.runs.columns:
            if one.runs[column].dtype == object:
                found |= {value for value in one.runs[column] if isinstance(value, str)}
        found |= {str(column) for column in one.headers if column not in known}
    found |= {text.replace("_", " ") for text in found} | {" ".join(text.split()) for text in found}
    found |= {part for text in found for part in sentences(text)}
    return frozenset(text.strip().rstrip(".") for text in found if text.strip())


def _all(campaigns: Iterable[Campaign]) -> Iterator[Campaign]:
    for one in campaigns:
        yield from (one, *one.control, *one.history, *one.reference_history)


def _texts(value: Any, key: str = "") -> Iterator[str]:
    if isinstance(value, str):
        if key not in _CHOSEN:
            yield value
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _texts(inner, str(name))
    elif isinstance(value, Sequence):
        for inner in value:
            yield from _texts(inner, key)
