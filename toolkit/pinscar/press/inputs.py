"""Which files a report is made from, by its template's parameters, and which of them travel in its PDF."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Literal

Reads = Literal["campaign", "campaigns", "plan"]


SOURCES = {
    "runs.csv": "The runs as entered",
    "runs.xlsx": "The runs as entered",
    "campaign.toml": "What was tested, on which rig, to which limits",
    "lubricants.csv": "What the oils are made of",
    "lubricants.xlsx": "What the oils are made of",
}
"""The input files that travel inside the PDF, and what each is."""


PLANNED = ("campaign.toml", "lubricants.csv", "lubricants.xlsx")
"""What a plan is made from: the runs to come are filled in later."""


def reads_of(parameters: Mapping[str, object]) -> Reads:
    """Tell from the parameters of a template what it reads.

    Examples
    --------
    >>> reads_of({"folders": []}), reads_of({"folder": "."}), reads_of({"folder": ".", "pilot": None})
    ('campaigns', 'campaign', 'plan')
    """
    if "folders" in parameters:
        return "campaigns"
    return "plan" if "pilot" in parameters else "campaign"


def input_hashes(folder: Path, parameters: Mapping[str, object]) -> dict[str, str]:
    """Hash every file that a report is made from."""
    from pinscar.campaign.folder import hash_inputs

    reads = reads_of(parameters)
    if reads == "campaign":
        return hash_inputs(folder)
    if reads == "campaigns":
        return _several(folder, _names(parameters["folders"]))
    own = hash_inputs(folder)
    pilot = parameters["pilot"]
    return {name: own[name] for name in PLANNED if name in own} | _several(
        folder, [pilot] if isinstance(pilot, str) else []
    )


def input_stamps(folder: Path, names: Iterable[str]) -> dict[str, tuple[int, ...]]:
    """Note of each input which file it is, how large, and when the system last saw it changed."""
    found: dict[str, tuple[int, ...]] = {}
    for name in names:
        with suppress(OSError):  # gone: the digests say so
            one = (folder / name).stat()
            found[name] = (one.st_dev, one.st_ino, one.st_size, one.st_ctime_ns)
    return found


def sources_of(inputs: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """Tell which inputs travel inside the PDF: by name there, path relative to the folder and description."""
    return {
        name.replace("../", "").replace("/", "_"): (name, SOURCES[Path(name).name])
        for name in inputs
        if Path(name).name in SOURCES and not (name.startswith("../") and "campaign.toml" in inputs)
    }


def _several(folder: Path, names: Sequence[str]) -> dict[str, str]:
    from pinscar.campaign.folder import hash_inputs

    return {
        posixpath.normpath(f"{name}/{file}"): digest
        for name in names
        for file, digest in hash_inputs(folder / name).items()
    }


def _names(value: object) -> list[str]:
    return [str(name) for name in value] if isinstance(value, (list, tuple)) else []
