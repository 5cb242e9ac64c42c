"""What was read of a report's campaigns, handed from the worker to the kernel: the folder is read once.

The file lies in the worker's private folder, which this person alone may write.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.decision.kept_results import HERE
from pinscar.decision.reading_cache import AHEAD, WANTED
from pinscar.language import current

if TYPE_CHECKING:
    from pinscar.campaign.model import Campaign

PLACE = "PINSCAR_HANDED_OVER"
"""Environment variable by which a kernel knows the file; unset everywhere else."""
NAME = "read.pickle"
"""Name of the file, beside the kernel's connection file."""
KEEP = "keep-readings"
"""Name of a file beside it that is there where readings of evidence and other results are kept."""
ONE = "one campaign"
"""What stands in it where the template runs in the folder of its only campaign: results are kept there."""
AHEAD_NAME = "ahead"
"""Name of a folder beside it with what was read ahead for this report."""


@dataclass(frozen=True, slots=True)
class Read:
    """What was read before a template runs.

    Attributes
    ----------
    inputs : mapping of str to str
        SHA-256 of each file read, by path relative to the folder that the template runs in.
    stamps : mapping of str to tuple of int
        Which file each of them is, and when it was last changed (`pinscar.press.inputs.input_stamps`).
    campaigns : mapping of str to Campaign
        The campaigns by their folder, as the template is given it; "." for a report on one.
    """

    inputs: Mapping[str, str]
    stamps: Mapping[str, tuple[int, ...]]
    campaigns: Mapping[str, Campaign]


def hand_over(read: Read, folder: Path, *, keep: bool = False) -> None:
    """Write down what was read, for the kernel to take, and whether it may use kept readings of evidence."""
    (folder / NAME).write_bytes(pickle.dumps(read))
    if keep:
        (folder / KEEP).write_text(ONE if set(read.campaigns) == {"."} else "")


def announce(folder: Path) -> None:
    """Let this process, a kernel, know what was handed over to it."""
    if (folder / NAME).is_file():
        os.environ[PLACE] = str(folder / NAME)
    else:
        os.environ.pop(PLACE, None)
    current.announce(folder)
    os.environ.pop(WANTED, None)
    os.environ.pop(HERE, None)
    if (folder / KEEP).is_file():
        os.environ[WANTED] = "1"
        os.environ.update({HERE: "1"} if (folder / KEEP).read_text() == ONE else {})
    os.environ.pop(AHEAD, None)
    if (folder / AHEAD_NAME).is_dir():
        os.environ[AHEAD] = str(folder / AHEAD_NAME)


def handed_over() -> Read | None:
    """Take what was handed over."""
    place = os.environ.get(PLACE)
    read: Read | None = None if place is None else pickle.loads(Path(place).read_bytes())
    return read


def campaign_handed_over(folder: Path) -> Campaign | None:
    """Take a campaign that was handed over."""
    read = handed_over()
    found = None if read is None else read.campaigns.get(folder.as_posix())
    return None if found is None else replace(found, folder=folder)
