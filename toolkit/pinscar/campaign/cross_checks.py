"""campaign.toml against the runs: both must fit each other, and no two names may look alike."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pinscar.campaign.codes import error, listed, nearest, plain, warning
from pinscar.campaign.columns import ADDED, COMPUTED, SETTINGS, TRACE, TRACED, find_column
from pinscar.campaign.model import SAME_LOAD, CampaignFile, Claim, Criterion
from pinscar.errors import NO_FORMULA, Problem, look, loose_look, spelled, starts_formula
from pinscar.units import is_offset_unit, same_dimension

FILE = "campaign.toml"

_BETTER_IS_KNOWN = frozenset({*COMPUTED, "quiet_time", "fling_mass", "fling_area"})


def check_limits(file: CampaignFile, counted: pd.DataFrame, units: dict[str, str]) -> Iterator[Problem]:
    """Check criteria and claims: their lubricants, responses, loads, limits and directions.

    Examples
    --------
    >>> rig = {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    >>> limit = {"id": "a", "response": "scar_area", "lubricant": "C-21", "rule": "at most", "limit": "9 mm"}
    >>> file = CampaignFile.model_validate({"campaign": {"id": "c", "reference": "R-10"}, "rig": rig,
    ...                                     "criteria": [limit]})
    >>> counted = pd.DataFrame({"lubricant": ["C-21"], "load": [450.0]})
    >>> [one.message for one in check_limits(file, counted, {})]
    ['the limit is in mm, which does not measure scar_area']
    """
    for number, criterion in enumerate(file.criteria):
        yield from _criterion(f"criteria[{number + 1}]", criterion, file, counted, units)
    for number, claim in enumerate(file.claims):
        yield from _claim(f"claims[{number + 1}]", claim, file, counted, units)


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
    if one.against != one.subject:
        yield from _load(f"{key}.load", one.load, one.against, counted)


def _named(key: str, name: str, file: CampaignFile, counted: pd.DataFrame) -> Iterator[Problem]:
    tested = set(counted["lubricant"]) - {""}
    names = {one.id for one in file.lubricants} or tested
    if name not in names:
        near = nearest(name, names)
        mend = f"write {near or 'one of ' + listed(names)}"
        yield error("lubricant-unknown", FILE, "there is no such lubricant", mend, column=key, value=name)
    elif name not in tested:
        yield warning(
            "lubricant-without-runs",
            FILE,
            "no included run is of this lubricant",
            "add its runs, or expect no answer",
            column=key,
            value=name,
        )


def _response_units(units: dict[str, str]) -> dict[str, str]:
    return {
        **COMPUTED,
        "quiet_time": "s",
        "fling_mass": "mg",
        "fling_area": "mm^2",
        **{name: unit for name, unit in units.items() if name not in SETTINGS},
    }


def _response(key: str, name: str, counted: pd.DataFrame, units: dict[str, str]) -> Iterator[Problem]:
    known = _response_units(units)
    if name not in known:
        near = nearest(name, known)
        mend = f"write {near}" if near else f"write one of {listed(known)}"
        yield error("response-unknown", FILE, "there is no such response", mend, column=key, value=name)
        return
    if name in TRACED:  # removed again if a trace has it
        column = find_column(TRACE, TRACED[name])
        assert column is not None
        mend = f"put traces with {column.header} into traces/, or expect no answer"
        message = "no included run has data for this response"
        yield warning("response-without-data", FILE, message, mend, column=key, value=name)
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
            "no included run has data for this response",
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
    shown = " and ".join(f"{level:.6g} N" for level in levels)
    if load is None and len(levels) > 1:
        message = f"{lubricant} was run at more than one load ({shown})"
        yield error(
            "criterion-load", FILE, message, f'add a line such as load = "{levels[0]:.6g} N"', column=key
        )
    if load is not None and not np.any(np.abs(loads - load) <= SAME_LOAD * load):
        message = f"{lubricant} was run at {shown} only"
        yield warning(
            "criterion-load",
            FILE,
            message,
            "correct the load, or expect no answer",
            column=key,
            value=f"{load:.6g} N",
        )


def _limit(key: str, one: Criterion, unit: str) -> Iterator[Problem]:
    message, mend = "", f"write it in a unit such as {unit}"
    if not same_dimension(one.limit_unit, unit):
        named = "has no unit" if one.limit_unit == "1" else f"is in {one.limit_unit}"
        message = f"the limit {named}, which does not measure {one.response}"
    elif one.response == "temperature_rise" and is_offset_unit(one.limit_unit):
        message, mend = (
            "a rise is a difference of temperatures and not a point on a scale",
            'write it in K, such as "20 K"',
        )
    if message:
        yield error("criterion-limit", FILE, message, mend, column=f"{key}.limit", value=one.limit_text)


_NO_BLOCK = frozenset({"run_id", "lubricant", "excluded", "note", "run_at", *ADDED})


def check_against_runs(
    file: CampaignFile, runs: pd.DataFrame, units: dict[str, str], runs_file: str
) -> list[Problem]:
    """Check campaign.toml against the runs.

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
    if (counted["lubricant"] == "").all():
        return []
    return [
        *_reference(file, counted),
        *_twice(file),
        *_roles(file),
        *_lubricants(file, runs, counted, runs_file),
        *_ring_speed(counted, runs_file),
        *_block(file, counted, runs_file),
        *check_limits(file, counted, units),
    ]


def _reference(file: CampaignFile, counted: pd.DataFrame) -> Iterator[Problem]:
    names, reference = set(counted["lubricant"]) - {""}, file.campaign.reference
    if names and reference not in names:
        near = nearest(reference, names)
        mend = (
            f"write {near}, or add runs of the reference"
            if near
            else f"name one of {listed(names)}, or add runs of the reference"
        )
        yield error(
            "reference-without-runs",
            FILE,
            "no included run is of this lubricant",
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
    unknown = runs[~runs["lubricant"].isin(["", *declared])] if declared else runs.iloc[:0]
    for name, rows in unknown.groupby("lubricant")["row"]:
        near = nearest(str(name), declared)
        mend = f"write {near}, or add it" if near else "add it"
        message = f"the lubricant is not declared in campaign.toml{_also(rows.tolist())}"
        place = {"column": "lubricant", "value": str(name)}
        yield error(
            "lubricant-unknown",
            runs_file,
            message,
            f"{mend} as [[lubricants]]",
            row=int(rows.iloc[0]),
            **place,
        )
    for number, name in enumerate(declared):
        if name not in set(counted["lubricant"]) and name != file.campaign.reference:
            mend = "take it out, or correct the name"
            yield warning(
                "lubricant-without-runs",
                FILE,
                "no included run is of this lubricant",
                mend,
                column=f"lubricants[{number + 1}].id",
                value=name,
            )


def _also(rows: list[int]) -> str:
    more = f" and {len(rows) - 4} more" if len(rows) > 4 else ""
    return f" (also in rows {', '.join(map(str, rows[1:4]))}{more})" if len(rows) > 1 else ""


def _ring_speed(counted: pd.DataFrame, runs_file: str) -> Iterator[Problem]:
    blank = counted["row"][counted["ring_speed"].isna()].tolist()
    mend = 'add ring_speed = "700 rpm" to [rig]'
    if len(blank) == len(counted):
        message = "neither the rig nor any run has a ring speed"
        yield error(
            "ring-speed-missing",
            FILE,
            message,
            f"{mend}, or a column ring_speed [rpm] to the runs",
            column="rig",
        )
        return
    for row in blank:
        message = "the run has no ring speed, and the rig has none in campaign.toml either"
        yield error(
            "ring-speed-missing", runs_file, message, f"fill it in, or {mend}", row=row, column="ring_speed"
        )


def _block(file: CampaignFile, counted: pd.DataFrame, runs_file: str) -> Iterator[Problem]:
    block = file.campaign.block
    if block is None:
        return
    possible = [name for name in counted.columns if name not in _NO_BLOCK and name not in SETTINGS]
    if block not in possible:
        near = nearest(block, possible)
        mend = f"write {near}" if near else "name a column of the runs such as run_day or ring_id"
        message = "no column of the runs can be the block under this name"
        yield error("block-unknown", FILE, message, mend, column="campaign.block", value=block)
        return
    source = "run_at" if block == "run_day" else block
    blank = counted["row"][counted[block].isna() | (counted[block].astype(str) == "")].tolist()
    if len(blank) == len(counted):
        mend = f"fill in {source}, or take block out"
        yield error(
            "block-missing", FILE, f"no run has a {block}", mend, column="campaign.block", value=block
        )
        return
    for row in blank:
        message, mend = f"the run belongs to no block, as {block} is blank", f"fill in {source}"
        mend = f"{mend}, or take block out of campaign.toml"
        yield error("block-missing", runs_file, message, mend, row=row, column=block)


def check_names(file: CampaignFile, runs: pd.DataFrame, runs_file: str) -> list[Problem]:
    """Check the names of lubricants, runs and criteria against each other.

    Examples
    --------
    >>> rig = {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    >>> file = CampaignFile.model_validate({"campaign": {"id": "c", "reference": "R-10"}, "rig": rig})
    >>> runs = pd.DataFrame({"run_id": ["1", "2"], "lubricant": ["R-10", "R‑10"], "row": [2, 3]})
    >>> [one.code for one in check_names(file, runs, "runs.csv")]
    ['name-lookalike']
    """
    used = [one for one in runs["lubricant"] if one]
    declared = [one.id for one in file.lubricants]
    oils = list(dict.fromkeys([file.campaign.reference, *declared, *used]))
    ids = list(dict.fromkeys(one for one in runs["run_id"] if one))
    return [
        *_same_look(oils, "lubricants", runs_file, "lubricant"),
        *_same_look(ids, "runs", runs_file, "run_id"),
        *_same_look([one.id for one in file.criteria], "criteria", FILE, "criteria"),
        *_formulas(runs, runs_file),
        *([] if declared else _nearly(sorted(set(used)), runs_file)),
        *_nearly_ids(ids, runs_file),
    ]


def _same_look(names: list[str], what: str, file: str, column: str) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for name in names:
        other = first.setdefault(look(name), name)
        if other != name:
            message = (
                f"two {what} look the same and are written differently: {spelled(other)}, {spelled(name)}"
            )
            mend = "write them alike if they are one, or give one another name"
            yield error("name-lookalike", file, message, mend, column=column)


def _formulas(runs: pd.DataFrame, file: str) -> Iterator[Problem]:
    for column in ("run_id", "lubricant"):
        for name, row in zip(runs[column], runs["row"], strict=True):
            if starts_formula(name):
                message = "a spreadsheet takes this for a formula"
                yield error(
                    "name-formula", file, message, NO_FORMULA, row=int(row), column=column, value=name
                )


def _nearly(names: list[str], file: str) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for name in names:
        other = first.setdefault(plain(loose_look(name)), name)
        if other != name and look(other) != look(name):
            message = f"{other} and {name} count as two lubricants"
            mend = "write them alike if they are one, or declare both as [[lubricants]] in campaign.toml"
            yield warning("lubricant-lookalike", file, message, mend, column="lubricant")


def _nearly_ids(ids: list[str], file: str) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for name in ids:
        other = first.setdefault(loose_look(name), name)
        if other != name and look(other) != look(name):
            message = f"{other} and {name} count as two runs"
            mend = "give them run_ids that no one takes for each other, since files are named after them"
            yield warning("run-id-lookalike", file, message, mend, column="run_id")
