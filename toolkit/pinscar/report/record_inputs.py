"""The digests of a campaign's inputs in few lines: a file each, and one for each folder of recordings."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

from pinscar.decision.wording import counted


def inputs_by_folder(inputs: Mapping[str, str]) -> dict[str, str]:
    """Give the digest of each file of the campaign folder, and one for the files of each folder in it.

    The digest of a folder is the SHA-256 of what the command ``sha256sum`` writes of its files in the order
    of their names, run in the campaign folder: ``sha256sum traces/* | sha256sum``.

    Parameters
    ----------
    inputs : mapping of str to str
        SHA-256 by file, names with forward slashes.

    Returns
    -------
    dict
        SHA-256 by file, or by folder with the number of its files; files first, both sorted.

    Examples
    --------
    >>> list(inputs_by_folder({"traces/b.csv": "2" * 64, "runs.csv": "1" * 64, "traces/a.csv": "3" * 64}))
    ['runs.csv', 'traces/ (2 files)']
    """
    files = {name: digest for name, digest in sorted(inputs.items()) if "/" not in name}
    lists: dict[str, list[str]] = {}
    for name, digest in sorted(inputs.items()):
        if "/" in name:
            lists.setdefault(name.rsplit("/", 1)[0], []).append(f"{digest}  {name}\n")
    return files | {
        f"{folder}/ ({counted(len(lines), 'file')})": hashlib.sha256("".join(lines).encode()).hexdigest()
        for folder, lines in lists.items()
    }
