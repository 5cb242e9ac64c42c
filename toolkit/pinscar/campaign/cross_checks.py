"""Campaign.toml against the runs: lubricants, speeds and blocks that must be in both."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from pinscar.campaign.codes import error, warning
from pinscar.campaign.columns import ADDED, SETTINGS
from pinscar.campaign.limit_checks import check_limits
from pinscar.campaign.model import CampaignFile
from pinscar.campaign.names import listed, nearest, plain
from pinscar.problems import Problem

FILE = "campaign.toml"

_NO_BLOCK = frozenset({"run_id", "lubricant", "excluded", "note", "run_at", *ADDED})


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
    if not declared:
        yield from _lookalikes(sorted(set(runs["lubricant"]) - {""}), runs_file)


def _also(rows: list[int]) -> str:
    more = f" and {len(rows) - 4} more" if len(rows) > 4 else ""
    return f" (also in rows {', '.join(map(str, rows[1:4]))}{more})" if len(rows) > 1 else ""


def _lookalikes(names: list[str], runs_file: str) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for name in names:
        other = first.setdefault(plain(name), name)
        if other != name:
            message = f"{other} and {name} count as two lubricants"
            mend = "write them alike if they are one, or declare both as [[lubricants]] in campaign.toml"
            yield warning("lubricant-lookalike", runs_file, message, mend, column="lubricant")


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
