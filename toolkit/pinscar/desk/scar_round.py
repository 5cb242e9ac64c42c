"""A round of reading: one reader, every picture once, in an order and under codes of its own."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.codes import error
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import evidence_by_run, runs_file
from pinscar.campaign.frames import read_frame
from pinscar.campaign.scar_readings import FILE
from pinscar.campaign.table_text import read_runs_table
from pinscar.campaign.tables import read_text
from pinscar.campaign.toml_file import read_toml
from pinscar.desk.scar_canvas import confined, in_the_middle
from pinscar.errors import InputError, Problem, Severity
from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.scar_image import measure_scar
from pinscar.wording import counted

LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
"""Letters of codes: none that looks like a figure, or like another letter in a hurry."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A micrograph to read.

    Attributes
    ----------
    run_id, lubricant : str
        Its run and oil.
    path : pathlib.Path
        The file.
    scale : float or None
        Size of a point [m]; None where the run has no micrograph_scale.
    code : str
        Its code; empty in a round that isn't blind.
    """

    run_id: str
    lubricant: str
    path: Path
    scale: float | None
    code: str

    @property
    def name(self) -> str:
        """What the reader may know it by."""
        return f"Scar {self.code}" if self.code else f"Run {self.run_id}, {self.lubricant}"


@dataclass(frozen=True, slots=True)
class Round:
    """The pictures of a round, in the order in which they are shown.

    Attributes
    ----------
    folder : pathlib.Path
        The campaign folder.
    reader : str
        Who reads.
    pictures : tuple of Picture
        The pictures; none of an excluded run.
    run_ids : tuple of str
        All runs of the campaign.
    """

    folder: Path
    reader: str
    pictures: tuple[Picture, ...]
    run_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Start:
    """Where the ellipse of a picture starts.

    Attributes
    ----------
    ellipse : Ellipse
        The ellipse.
    words : str
        Where that is, and why, in a sentence.
    """

    ellipse: Ellipse
    words: str


def begin_round(folder: Path, reader: str, *, blind: bool, seed: int) -> Round:
    """Look up what there is to read in a campaign folder.

    Blank scars in the runs table are no hindrance, as they are what is being read.
    """
    campaign, runs = _campaign_and_runs(folder)
    files = {run: folder / name for run, name in evidence_by_run(folder, "micrographs").items()}
    counts = runs[(runs["excluded"] == "") & runs["run_id"].isin(files)]
    if counts.empty:
        mend = "put a picture named after its run, such as c07-01.jpg, into the folder micrographs"
        raise InputError([error("file-missing", "micrographs", "no included run has a picture", mend)])
    ids = counts["run_id"].tolist()
    codes = blind_codes(f"{campaign}/{reader}/{seed}", ids) if blind else dict.fromkeys(ids, "")
    pictures = {
        run_id: Picture(run_id, oil, files[run_id], float(scale) if scale > 0 else None, codes[run_id])
        for run_id, oil, scale in zip(ids, counts["lubricant"], counts["micrograph_scale"], strict=True)
    }
    order = shuffled(f"{campaign}/{reader}/{seed}", ids) if blind else ids
    return Round(folder, reader, tuple(pictures[one] for one in order), tuple(runs["run_id"]))


def blind_codes(key: str, run_ids: list[str]) -> dict[str, str]:
    """Give each run a code that tells nothing of it: a letter and two figures.

    Examples
    --------
    >>> codes = blind_codes("conveyor-07/op1/1", ["c07-01", "c07-02"])
    >>> codes.items() <= blind_codes("conveyor-07/op1/1", ["c07-01", "c07-02", "c07-03"]).items()
    True
    >>> len(set(blind_codes("conveyor-07/op1/1", [str(run) for run in range(500)]).values()))
    500
    """
    if len(run_ids) > 100 * len(LETTERS):
        raise ValueError(f"{len(run_ids)} runs are more than there are codes")
    codes: dict[str, str] = {}
    for run_id in run_ids:
        attempt, code = 0, ""
        while not code or code in codes.values():
            drawn = _drawn(f"{key}/code/{attempt}", run_id) % (100 * len(LETTERS))
            code = f"{LETTERS[drawn // 100]}{drawn % 100:02d}"
            attempt += 1
        codes[run_id] = code
    return codes


def shuffled(key: str, run_ids: list[str]) -> list[str]:
    """Put the runs into an order that depends on the key alone.

    Examples
    --------
    >>> shuffled("conveyor-07/op1/1", ["1", "2", "3"]) == shuffled("conveyor-07/op1/1", ["3", "2", "1"])
    True
    """
    return sorted(run_ids, key=lambda run_id: (_drawn(f"{key}/order", run_id), run_id))


def runs_read(readings: pd.DataFrame, round_: Round) -> set[str]:
    """Tell which pictures of the round its reader has read."""
    mine = readings[readings["reader"] == round_.reader]
    saved = set(zip(mine["run_id"], mine["blind_code"], strict=True))
    return {one.run_id for one in round_.pictures if (one.run_id, one.code) in saved}


def start_of(pixels: NDArray[np.generic], scale: float | None, at: str) -> Start:
    """Find where an ellipse starts."""
    size = (pixels.shape[1], pixels.shape[0])
    if at == "middle":
        return Start(in_the_middle(size), "The ellipse starts in the middle of the picture.")
    try:
        found = measure_scar(pixels, scale or 1.0)
    except ValueError as wrong:
        words = f"There is no automatic fit: {wrong}. The ellipse starts in the middle of the picture."
        return Start(in_the_middle(size), words)
    if found.ellipse is None:
        words = "The automatic fit found no oval. The ellipse starts in the middle of the picture."
        return Start(in_the_middle(size), words)
    ellipse = confined(found.ellipse.along(0.0), size)
    if found.accepted:
        return Start(ellipse, "The ellipse starts at the automatic fit.")
    reason = found.reason.removeprefix("read by hand: ")
    return Start(ellipse, f"The automatic fit was refused ({reason}). The ellipse starts at its guess.")


def progress_line(done: int, of: int, reader: str) -> str:
    """Tell how far the round is.

    Examples
    --------
    >>> progress_line(3, 10, "op1")
    '3 of 10 read by op1'
    >>> progress_line(10, 10, "op1")
    'All 10 read by op1'
    """
    return f"All {of} read by {reader}" if done == of else f"{done} of {of} read by {reader}"


def left_words(number: int) -> str:
    """Tell how many pictures of a round are still to be read.

    Examples
    --------
    >>> left_words(1), left_words(0)
    ('1 picture is left', 'the round is done')
    """
    if not number:
        return "the round is done"
    return f"{counted(number, 'picture')} {'is' if number == 1 else 'are'} left"


def _drawn(key: str, run_id: str) -> int:
    return int.from_bytes(hashlib.sha256(f"{key}/{run_id}".encode()).digest()[:8], "big")


def _campaign_and_runs(folder: Path) -> tuple[str, pd.DataFrame]:
    """Read the campaign's id and its runs; errors elsewhere, such as in limits, don't keep from reading."""
    _, problems = check_campaign(folder)
    name, missing = runs_file(folder) if folder.is_dir() else (None, problems)
    text, unreadable = read_text(folder / "campaign.toml", "campaign.toml") if name else (None, [])
    file, wrong = read_toml(text) if text is not None else (None, unreadable)
    if name is None or file is None:
        raise InputError(missing + wrong)
    hindering = [one for one in problems if one.severity is Severity.ERROR and _hinders(one, name)]
    if hindering:
        raise InputError(hindering)
    return file.campaign.id, read_frame(read_runs_table(folder, name), RUNS).frame


def _hinders(problem: Problem, runs: str) -> bool:
    blank_scar = problem.code == "value-missing" and (problem.column or "").startswith("scar_length")
    return problem.file == FILE or (problem.file == runs and not blank_scar)
