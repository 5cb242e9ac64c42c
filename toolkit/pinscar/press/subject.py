"""What a report is about: one campaign, several together, or a plan; the template's parameters tell."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pinscar.errors import InputError
from pinscar.problems import Problem

if TYPE_CHECKING:
    from pinscar.campaign.campaign import Campaign

Reads = Literal["campaign", "campaigns", "plan"]

SOURCES = {
    "runs.csv": "The runs as entered",
    "runs.xlsx": "The runs as entered",
    "campaign.toml": "What was tested, on which rig, to which limits",
}
"""The input files that travel inside the PDF, and what each is."""


@dataclass(frozen=True, slots=True)
class Subject:
    """What a report is about.

    Parameters
    ----------
    id : str
        Printed over the title.
    title : str
        Title of the page, unless the template has a heading of its own.
    inputs : mapping
        SHA-256 of each file read, by path relative to the folder that the template runs in.
    problems : tuple of Problem
        Warnings.
    mark : str
        What every page bears where the data are no real ones (`pinscar.page.cautions`); else blank.
    sources : mapping
        Files that travel inside the PDF: by name there, path relative to the folder and description.
    """

    id: str
    title: str
    inputs: Mapping[str, str]
    problems: tuple[Problem, ...]
    mark: str
    sources: Mapping[str, tuple[str, str]]


def reads_of(parameters: Mapping[str, object]) -> Reads:
    """Tell from the parameters of a template what it reads.

    Parameters
    ----------
    parameters : mapping
        Its parameters by name.

    Returns
    -------
    {"campaign", "campaigns", "plan"}
        ``campaigns`` where it takes ``folders``; ``plan`` where it takes a ``pilot`` and so needs no runs.

    Examples
    --------
    >>> reads_of({"folders": []}), reads_of({"folder": "."}), reads_of({"folder": ".", "pilot": None})
    ('campaigns', 'campaign', 'plan')
    """
    if "folders" in parameters:
        return "campaigns"
    return "plan" if "pilot" in parameters else "campaign"


def input_hashes(folder: Path, parameters: Mapping[str, object]) -> dict[str, str]:
    """Hash every file that a report is made from.

    Parameters
    ----------
    folder : pathlib.Path
        The folder that the template runs in.
    parameters : mapping
        The values it runs with.

    Returns
    -------
    dict
        SHA-256 by path relative to the folder.
    """
    from pinscar.campaign.folder import hash_inputs

    reads = reads_of(parameters)
    if reads == "campaign":
        return hash_inputs(folder)
    if reads == "campaigns":
        return _several(folder, _names(parameters["folders"]))
    own = hash_inputs(folder)
    pilot = parameters["pilot"]
    # The runs to come are no input of their plan: they are filled in later.
    return {name: own[name] for name in ("campaign.toml",) if name in own} | _several(
        folder, [pilot] if isinstance(pilot, str) else []
    )


def input_stamps(folder: Path, names: Iterable[str]) -> dict[str, tuple[int, ...]]:
    """Note of each input which file it is, how large, and when the system last saw it changed.

    Parameters
    ----------
    folder : pathlib.Path
        The folder that the template runs in.
    names : iterable of str
        Paths relative to it.

    Returns
    -------
    dict
        By path: device, number, size [bytes] and time of the last change of the file [ns]; a file that was
        written and put back as it was meanwhile has another time, which nobody sets at will.

    References
    ----------
    POSIX, ``stat``, ``st_ctim``.
    """
    found: dict[str, tuple[int, ...]] = {}
    for name in names:
        with suppress(OSError):  # gone: the digests say so
            one = (folder / name).stat()
            found[name] = (one.st_dev, one.st_ino, one.st_size, one.st_ctime_ns)
    return found


def read_subject(folder: Path, parameters: Mapping[str, object], title: str) -> Subject:
    """Read and check what a report is about.

    Parameters
    ----------
    folder : pathlib.Path
        The folder that the template runs in.
    parameters : mapping
        The values it runs with.
    title : str
        The template's title, for a report on several campaigns or on a plan.

    Returns
    -------
    Subject
        Names, inputs, warnings and files to carry.

    Raises
    ------
    InputError
        With every problem, where any is an error.
    """
    from pinscar.page.cautions import data_mark

    reads = reads_of(parameters)
    inputs = input_hashes(folder, parameters)
    if reads == "campaigns":
        names = _names(parameters["folders"])
        found = read_several(folder, names)
        ids = [one.file.campaign.id for one in found]
        problems = tuple(
            p for name, one in zip(names, found, strict=True) for p in _placed(name, one.problems)
        )
        return Subject(_joined(ids), title, inputs, problems, data_mark(found), _sources(inputs))
    if reads == "plan":
        from pinscar.campaign.campaign import read_settings

        section = read_settings(folder).campaign
        pilot = parameters["pilot"]
        earlier = read_several(folder, [pilot] if isinstance(pilot, str) else [])
        name, mark = f"{section.title or section.id}: {title}", data_mark(earlier, [section.title])
        return Subject(section.id, name, inputs, (), mark, _sources(inputs))
    from pinscar.decision.bodies import check_all

    campaign, found_problems = check_all(folder)
    if campaign is None:
        raise InputError(found_problems)
    section = campaign.file.campaign
    name, mark = section.title or section.id, data_mark([campaign])
    return Subject(section.id, name, inputs, campaign.problems, mark, _sources(inputs))


def read_several(folder: Path, names: Sequence[str]) -> list[Campaign]:
    """Read several campaigns and collect the problems of all.

    Parameters
    ----------
    folder : pathlib.Path
        The folder that the names start from.
    names : sequence of str
        The campaign folders, relative to it.

    Returns
    -------
    list of Campaign
        In the order of the names.

    Raises
    ------
    InputError
        With the problems of every campaign that has errors; a file is named with its campaign's folder.
    """
    from pinscar.decision.bodies import check_all

    found, wrong = [], []
    for name in names:
        campaign, problems = check_all(folder / name)
        if campaign is None:
            wrong += _placed(name, problems)
        else:
            found.append(campaign)
    if wrong:
        raise InputError(wrong)
    return found


def _placed(name: str, problems: Sequence[Problem]) -> list[Problem]:
    return [
        replace(one, file=name if one.code == "folder-missing" else f"{name}/{one.file}") for one in problems
    ]


def _several(folder: Path, names: Sequence[str]) -> dict[str, str]:
    from pinscar.campaign.folder import hash_inputs

    return {
        posixpath.normpath(f"{name}/{file}"): digest
        for name in names
        for file, digest in hash_inputs(folder / name).items()
    }


def _sources(inputs: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    return {
        name.replace("../", "").replace("/", "_"): (name, SOURCES[Path(name).name])
        for name in inputs
        if Path(name).name in SOURCES and not (name.startswith("../") and "campaign.toml" in inputs)
    }


def _names(value: object) -> list[str]:
    return [str(name) for name in value] if isinstance(value, (list, tuple)) else []


def _joined(ids: Sequence[str]) -> str:
    return ids[0] if len(ids) == 1 else f"{ids[0]} and {len(ids) - 1} more"
