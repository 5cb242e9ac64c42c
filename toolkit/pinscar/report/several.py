"""One report on several campaign folders: from where it is run, where it lies, what it calls them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from pinscar.errors import UsageError


def place_of_several(base: Path, template: str) -> Path:
    """Return where a report on several campaigns lies.

    Parameters
    ----------
    base : pathlib.Path
        The folder around the first campaign.
    template : str
        Name of the template.

    Returns
    -------
    pathlib.Path
        The folder, as a person would write it.

    Examples
    --------
    >>> place_of_several(Path("range"), "product_range").as_posix()
    'range/report-product_range'
    """
    return base / f"report-{template}"


def relative_names(folders: Sequence[Path]) -> tuple[Path, list[str]]:
    """Find the folder around the first campaign, and the way from there to each.

    What an earlier report left among the campaigns is passed over, so that ``range/*`` can be given again.

    Parameters
    ----------
    folders : sequence of pathlib.Path
        Campaign folders as the person wrote them.

    Returns
    -------
    tuple of pathlib.Path and list of str
        The folder around the first one, and the relative paths, with forward slashes, in the order given.

    Raises
    ------
    UsageError
        If a folder is given twice, or nothing but reports.

    Examples
    --------
    >>> base, names = relative_names([Path("range/one"), Path("other/two")])
    >>> base.as_posix(), names
    ('range', ['one', '../other/two'])
    """
    kept = [folder for folder in folders if not _left_by_a_report(folder)]
    if not kept:
        raise UsageError("these are reports; give the folders of campaigns")
    places = [folder.resolve() for folder in kept]
    for place, folder in zip(places, kept, strict=True):
        if places.count(place) > 1:
            raise UsageError(f"{folder} is given twice; give each campaign once")
    names = [Path(os.path.relpath(place, places[0].parent)).as_posix() for place in places]
    plain = kept[0].name not in ("", "..") and places[0].name == kept[0].name
    return (kept[0].parent if plain else places[0].parent), names


def _left_by_a_report(folder: Path) -> bool:
    report = (folder / "manifest.json").is_file() and not (folder / "campaign.toml").is_file()
    return report or folder.name.endswith("-failed.ipynb")
