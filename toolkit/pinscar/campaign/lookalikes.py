"""Names that look alike: a reader of the report could not tell which of the two is meant."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from pinscar.campaign.codes import error, plain, warning
from pinscar.campaign.model import CampaignFile
from pinscar.problems import NO_FORMULA, Problem, starts_formula
from pinscar.visible import look, loose_look, spelled

FILE = "campaign.toml"


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
