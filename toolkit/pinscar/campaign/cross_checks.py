"""Does campaign.toml fit the runs? Names, responses, loads, limits and blocks that must be in both."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterator

import numpy as np
import pandas as pd

from pinscar.campaign.codes import error, warning
from pinscar.campaign.columns import COMPUTED
from pinscar.campaign.loads import SAME_LOAD
from pinscar.campaign.model import CampaignFile, Claim, Criterion
from pinscar.problems import Problem
from pinscar.units import is_offset_unit, parse_unit

FILE = "campaign.toml"

SETTINGS = frozenset(
    {"load", "weights", "duration", "ring_speed", "dose", "ambient_temperature", "micrograph_scale"}
)
"""Numeric columns that describe how a run was made; they can't be responses."""

_NO_BLOCK = frozenset({"run_id", "lubricant", "excluded", "note", "row", "scar_from", "width_from", "run_at"})
_BETTER_IS_KNOWN = frozenset({*COMPUTED, "quiet_time", "fling_mass"})


def check_against_runs(
    file: CampaignFile, runs: pd.DataFrame, units: dict[str, str], runs_file: str
) -> list[Problem]:
    """Check campaign.toml against the runs.

    Parameters
    ----------
    file : CampaignFile
        The campaign's settings.
    runs : DataFrame
        Runs in SI, excluded ones too.
    units : dict of str to str
        Unit of each numeric column, as its header has it.
    runs_file : str
        Name of the runs table.

    Returns
    -------
    list of Problem
        What is wrong.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> rig = {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    >>> file = CampaignFile.model_validate({"campaign": {"id": "c", "reference": "R-10"}, "rig": rig})
    >>> runs = pd.DataFrame({"lubricant": ["R-1O"], "load": [450.0], "ring_speed": [73.3], "excluded": [""],
    ...                      "row": [2]})
    >>> check_against_runs(file, runs, {}, "runs.csv")[0].mend
    'write R-1O, or add runs of the reference'
    """
    counted = runs[runs["excluded"] == ""]
    if counted.empty:
        return []
    return [
        *_reference(file, counted),
        *_twice(file),
        *_roles(file),
        *_lubricants(file, runs, counted, runs_file),
        *_ring_speed(counted, runs_file),
        *_block(file, counted, runs_file),
        *(
            one
            for number, criterion in enumerate(file.criteria)
            for one in _criterion(f"criteria[{number + 1}]", criterion, file, counted, units)
        ),
        *(
            one
            for number, claim in enumerate(file.claims)
            for one in _claim(f"claims[{number + 1}]", claim, file, counted, units)
        ),
    ]


def nearest(name: str, names: Collection[str]) -> str | None:
    """Find the name that another one was probably meant for.

    Parameters
    ----------
    name : str
        The name as written.
    names : collection of str
        The names there are.

    Returns
    -------
    str or None
        The nearest, or None where none is near.

    References
    ----------
    Own definition, on Ratcliff and Obershelp's similarity (as `difflib` computes it).

    Examples
    --------
    >>> nearest("r10", ["R-10", "C-21"])
    'R-10'
    """
    plain = {_plain(one): one for one in names}
    near = difflib.get_close_matches(_plain(name), plain, n=1, cutoff=0.6)
    return plain[near[0]] if near else None


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-.]+", "", name.casefold())


def _known(names: Collection[str]) -> str:
    return ", ".join(sorted(names))


def _reference(file: CampaignFile, counted: pd.DataFrame) -> Iterator[Problem]:
    names, reference = set(counted["lubricant"]) - {""}, file.campaign.reference
    if names and reference not in names:
        near = nearest(reference, names)
        mend = (
            f"write {near}, or add runs of the reference"
            if near
            else f"name one of {_known(names)}, or add runs of the reference"
        )
        yield error(
            "reference-without-runs",
            FILE,
            "no run that counts is of this lubricant",
            mend,
            column="campaign.reference",
            value=reference,
        )


def _twice(file: CampaignFile) -> Iterator[Problem]:
    for key, ids in (
        ("lubricants", [one.id for one in file.lubricants]),
        ("criteria", [one.id for one in file.criteria]),
    ):
        for number, one in enumerate(ids):
            if one in ids[:number]:
                yield error(
                    "id-twice",
                    FILE,
                    "this id is there twice",
                    "give each its own id",
                    column=f"{key}[{number + 1}].id",
                    value=one,
                )


def _roles(file: CampaignFile) -> Iterator[Problem]:
    for number, one in enumerate(file.lubricants):
        is_reference = one.id == file.campaign.reference
        if one.role and (one.role == "reference") != is_reference:
            message = (
                f"{one.id} has the role {one.role}, and the campaign's reference is {file.campaign.reference}"
            )
            mend = (
                "write reference here"
                if is_reference
                else "write candidate or benchmark here, or change campaign.reference"
            )
            yield error(
                "role-conflict", FILE, message, mend, column=f"lubricants[{number + 1}].role", value=one.role
            )


def _lubricants(
    file: CampaignFile, runs: pd.DataFrame, counted: pd.DataFrame, runs_file: str
) -> Iterator[Problem]:
    declared = [one.id for one in file.lubricants]
    for name, row in zip(runs["lubricant"], runs["row"], strict=True):
        if declared and name and name not in declared:
            near = nearest(name, declared)
            mend = f"write {near}, or add it" if near else "add it"
            message = f"the lubricant {name} is not declared in campaign.toml"
            yield error(
                "lubricant-unknown",
                runs_file,
                message,
                f"{mend} as [[lubricants]]",
                row=int(row),
                column="lubricant",
                value=name,
            )
    for number, name in enumerate(declared):
        if name not in set(counted["lubricant"]) and name != file.campaign.reference:
            mend = "take it out, or correct the name"
            yield warning(
                "lubricant-without-runs",
                FILE,
                "no run that counts is of this lubricant",
                mend,
                column=f"lubricants[{number + 1}].id",
                value=name,
            )
    if not declared:
        yield from _lookalikes(sorted(set(runs["lubricant"]) - {""}), runs_file)


def _lookalikes(names: list[str], runs_file: str) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for name in names:
        other = first.setdefault(_plain(name), name)
        if other != name:
            message = f"{other} and {name} count as two lubricants"
            mend = "write them alike if they are one, or declare both as [[lubricants]] in campaign.toml"
            yield warning("lubricant-lookalike", runs_file, message, mend, column="lubricant")


def _ring_speed(counted: pd.DataFrame, runs_file: str) -> Iterator[Problem]:
    for row in counted["row"][counted["ring_speed"].isna()]:
        message = "the run has no ring speed, and the rig has none in campaign.toml either"
        mend = 'add ring_speed = "700 rpm" to [rig], or fill in the column ring_speed [rpm]'
        yield error("ring-speed-missing", runs_file, message, mend, row=int(row))


def _block(file: CampaignFile, counted: pd.DataFrame, runs_file: str) -> Iterator[Problem]:
    block = file.campaign.block
    if block is None:
        return
    possible = [name for name in counted.columns if name not in _NO_BLOCK and name not in SETTINGS]
    if block not in possible:
        near = nearest(block, possible)
        mend = f"write {near}" if near else "name a column of the runs such as run_day or ring_id"
        yield error(
            "block-unknown",
            FILE,
            "no column of the runs can be the block under this name",
            mend,
            column="campaign.block",
            value=block,
        )
        return
    blank = counted[counted[block].isna() | (counted[block].astype(str) == "")]
    for row in blank["row"]:
        mend = "fill in run_at" if block == "run_day" else f"fill in {block}"
        message = f"the run belongs to no block, as {block} is blank"
        yield error(
            "block-missing",
            runs_file,
            message,
            f"{mend}, or take block out of campaign.toml",
            row=int(row),
            column=block,
        )


def _criterion(
    key: str, one: Criterion, file: CampaignFile, counted: pd.DataFrame, units: dict[str, str]
) -> Iterator[Problem]:
    yield from _named(f"{key}.lubricant", one.lubricant, file, counted)
    if one.is_relative and one.lubricant == file.campaign.reference:
        mend = "name a lubricant that is compared with the reference"
        yield error(
            "criterion-limit",
            FILE,
            "the reference would be compared with itself",
            mend,
            column=f"{key}.lubricant",
            value=one.lubricant,
        )
    yield from _response(f"{key}.response", one.response, counted, units)
    yield from _load(f"{key}.load", one.load, one.lubricant, counted)
    if one.response in _response_units(units) and not one.is_relative:
        yield from _limit(key, one, _response_units(units)[one.response])
    if one.rule == "not worse than" and one.response not in _BETTER_IS_KNOWN and one.better is None:
        message = f"pinscar does not know which way {one.response} is better"
        yield error(
            "criterion-direction",
            FILE,
            message,
            'add better = "lower" or better = "higher"',
            column=f"{key}.better",
        )


def _claim(
    key: str, one: Claim, file: CampaignFile, counted: pd.DataFrame, units: dict[str, str]
) -> Iterator[Problem]:
    yield from _named(f"{key}.subject", one.subject, file, counted)
    yield from _named(f"{key}.against", one.against, file, counted)
    if one.subject == one.against:
        yield error(
            "lubricant-unknown",
            FILE,
            "the claim compares a lubricant with itself",
            "name another one",
            column=f"{key}.against",
            value=one.against,
        )
    yield from _response(f"{key}.response", one.response, counted, units)
    yield from _load(f"{key}.load", one.load, one.subject, counted)


def _named(key: str, name: str, file: CampaignFile, counted: pd.DataFrame) -> Iterator[Problem]:
    tested = set(counted["lubricant"]) - {""}
    names = tested | {one.id for one in file.lubricants}
    if name not in names:
        near = nearest(name, names)
        yield error(
            "lubricant-unknown",
            FILE,
            "there is no such lubricant",
            f"write {near or 'one of ' + _known(names)}",
            column=key,
            value=name,
        )
    elif name not in tested:
        yield warning(
            "lubricant-without-runs",
            FILE,
            "no run that counts is of this lubricant",
            "add its runs, or expect no answer",
            column=key,
            value=name,
        )


def _response_units(units: dict[str, str]) -> dict[str, str]:
    return {
        **COMPUTED,
        "quiet_time": "s",
        "fling_mass": "kg",
        **{name: unit for name, unit in units.items() if name not in SETTINGS},
    }


def _response(key: str, name: str, counted: pd.DataFrame, units: dict[str, str]) -> Iterator[Problem]:
    known = _response_units(units)
    if name not in known:
        near = nearest(name, known)
        mend = f"write {near}" if near else f"write one of {_known(known)}"
        yield error("response-unknown", FILE, "there is no such response", mend, column=key, value=name)
        return
    sources = {"temperature_rise": ["peak_temperature", "ambient_temperature"]}.get(
        name, [name] if name not in COMPUTED else []
    )
    blank = [one for one in sources if one not in counted or counted[one].isna().all()]
    if blank:
        mend = f"fill in {' and '.join(blank)}, or expect no answer"
        yield warning(
            "response-without-data",
            FILE,
            "no run that counts has data for this response",
            mend,
            column=key,
            value=name,
        )


def _load(key: str, load: float | None, lubricant: str, counted: pd.DataFrame) -> Iterator[Problem]:
    loads = np.sort(counted["load"][counted["lubricant"] == lubricant].dropna().to_numpy(dtype=float))
    levels = [
        one for number, one in enumerate(loads) if number == 0 or one > loads[number - 1] * (1 + SAME_LOAD)
    ]
    if not levels:
        return
    shown = " and ".join(f"{level:.4g} N" for level in levels)
    if load is None and len(levels) > 1:
        message = f"{lubricant} was run at more than one load ({shown})"
        yield error(
            "criterion-load", FILE, message, f'add a line such as load = "{levels[0]:.4g} N"', column=key
        )
    if load is not None and not np.any(np.abs(loads - load) <= SAME_LOAD * load):
        message = f"{lubricant} was run at {shown} only"
        yield warning(
            "criterion-load",
            FILE,
            message,
            "correct the load, or expect no answer",
            column=key,
            value=f"{load:.4g} N",
        )


def _limit(key: str, one: Criterion, unit: str) -> Iterator[Problem]:
    message, mend = "", f"write it in a unit such as {unit}"
    if parse_unit(one.limit_unit).dimensionality != parse_unit(unit).dimensionality:
        named = "has no unit" if one.limit_unit == "1" else f"is in {one.limit_unit}"
        message = f"the limit {named}, which does not measure {one.response}"
    elif one.response == "temperature_rise" and is_offset_unit(one.limit_unit):
        message, mend = (
            "a rise is a difference of temperatures and not a point on a scale",
            'write it in K, such as "20 K"',
        )
    if message:
        yield error("criterion-limit", FILE, message, mend, column=f"{key}.limit", value=one.limit_text)
