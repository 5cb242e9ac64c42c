"""Options that several commands share."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from pinscar.campaign.folder import ROOT

AsJson = Annotated[bool, typer.Option("--json", help="Print machine-readable output.")]
Folder = Annotated[Path, typer.Argument(metavar="DIR", help="Campaign folder.")]


def name_root(root: Path | None) -> None:
    """Let links and paths of campaigns lead into a folder around them, for this command."""
    if root is not None:
        os.environ[ROOT] = str(root.resolve())


Root = Annotated[
    Path | None,
    typer.Option(
        "--root",
        metavar="DIR",
        help="A folder around the campaign that its links and paths may lead into; else they stay in it.",
    ),
]
