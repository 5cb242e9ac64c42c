"""A request with all the files that it reads, to be sent to a machine that does not see the folder."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pinscar.campaign.folder import EVIDENCE, ROOT
from pinscar.press.inputs import input_hashes
from pinscar.press.manifest import sha256


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """What a worker of a cluster is sent.

    Attributes
    ----------
    place : tuple of str
        Last parts of the folder's path, as many as the names of files climb.
    files : mapping of str to bytes
        Content by path relative to the folder; empty for a file that is not read, whose name is told of.
    inputs : mapping of str to str
        SHA-256 of the files that are read.
    template : bytes
        The notebook.
    message : mapping
        The request, as a worker process takes it.
    modules : tuple of str
        Modules that the template imports.
    rooted : bool
        Whether links and paths may lead out of the campaign folder.
    """

    place: tuple[str, ...]
    files: Mapping[str, bytes]
    inputs: Mapping[str, str]
    template: bytes
    message: Mapping[str, Any]
    modules: tuple[str, ...]
    rooted: bool


def pack(message: Mapping[str, Any], modules: Sequence[str]) -> Parcel:
    """Put together what a request reads."""
    folder = Path(message["folder"])
    inputs = input_hashes(folder, message["parameters"])
    files = {name: (folder / name).read_bytes() for name in inputs}
    read = {name: sha256(data) for name, data in files.items()}
    files |= dict.fromkeys(_beside(folder, inputs), b"")
    climbed = max((name.split("/").count("..") for name in files), default=0)
    return Parcel(
        place=folder.resolve().parts[1:][-(climbed + 1) :],
        files=files,
        inputs=read,
        template=Path(message["template"]).read_bytes(),
        message=dict(message),
        modules=tuple(modules),
        rooted=bool(os.environ.get(ROOT)),
    )


def _beside(folder: Path, inputs: Collection[str]) -> list[str]:
    """List files that are not read but are told of, such as a picture of a kind that is not known."""
    around = {posixpath.dirname(name) for name in inputs}
    places = around | {posixpath.join(one, kind) for one in around for kind in EVIDENCE}
    return [
        name
        for place in sorted(places)
        if (folder / place).is_dir()
        for path in sorted((folder / place).iterdir())
        if path.is_file() and (name := posixpath.join(place, path.name)) not in inputs
    ]


def unpack(parcel: Parcel, base: Path) -> tuple[Path, Path]:
    """Write the files below a folder; return the folder that the template runs in, and the template."""
    folder = base.joinpath("campaigns", *parcel.place)
    folder.mkdir(parents=True)
    for name, data in parcel.files.items():
        path = Path(os.path.normpath(folder / name))
        if not path.is_relative_to(base):
            raise ValueError(f"{name} leads out of the parcel")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    template = base / "template" / Path(parcel.message["template"]).name
    template.parent.mkdir()
    template.write_bytes(parcel.template)
    return folder, template
