"""campaign.toml alone, for a campaign that has no runs yet."""

from __future__ import annotations

from pathlib import Path

from pinscar.campaign.codes import error
from pinscar.campaign.model import CampaignFile
from pinscar.campaign.tables import read_text
from pinscar.campaign.toml_file import read_toml
from pinscar.errors import InputError


def read_settings(folder: Path | str) -> CampaignFile:
    """Read campaign.toml of a folder, whatever else is in it.

    Parameters
    ----------
    folder : Path or str
        The folder.

    Returns
    -------
    CampaignFile
        The checked content; nothing in it was compared with runs.

    Raises
    ------
    InputError
        With every problem, where it is missing or has errors.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> read_settings("nowhere")
    Traceback (most recent call last):
        ...
    pinscar.errors.InputError: nowhere: there is no such folder; check the path
    """
    folder = Path(folder)
    if not folder.is_dir():
        message = "this is a file and not a folder" if folder.exists() else "there is no such folder"
        raise InputError([error("folder-missing", str(folder), message, "check the path")])
    if not (folder / "campaign.toml").exists():
        message = "the file that says what is tested is not there"
        mend = "write one (pinscar new makes one to fill in)"
        raise InputError([error("file-missing", "campaign.toml", message, mend)])
    text, problems = read_text(folder / "campaign.toml", "campaign.toml")
    file, found = (None, []) if text is None else read_toml(text)
    if file is None:
        raise InputError([*problems, *found])
    return file
