"""The language of the report whose charts this process, a kernel, draws: handed over in a private folder."""

from __future__ import annotations

import json
import os
import pickle
from functools import cache
from pathlib import Path

from pinscar.language.speaker import Speaker

PLACE = "PINSCAR_LANGUAGE"
"""Environment variable by which a kernel knows the file; unset everywhere else, and for English."""
NAME = "language.pickle"
NOTED = "untranslated.jsonl"
"""Names of the file, and of the one where the kernel notes what it could not say."""


def announce(folder: Path) -> None:
    """Let this process know the language that was handed over to it."""
    os.environ.pop(PLACE, None)
    if (folder / NAME).is_file():
        os.environ[PLACE] = str(folder / NAME)


def hand_over(speaker: Speaker | None, folder: Path) -> None:
    """Write down the language for the kernel to take; nothing for English."""
    (folder / NOTED).unlink(missing_ok=True)
    if speaker is None:
        (folder / NAME).unlink(missing_ok=True)
    else:
        (folder / NAME).write_bytes(pickle.dumps(speaker))


def current_speaker() -> Speaker | None:
    """Give who says the texts of charts; None for English."""
    place = os.environ.get(PLACE)
    return None if place is None else _speaker(place)


@cache
def _speaker(place: str) -> Speaker:
    found = pickle.loads(Path(place).read_bytes())
    assert isinstance(found, Speaker)  # written by hand_over, into a folder of this person's own
    return found


def said(text: str) -> str:
    """Say a text that is drawn into a picture."""
    speaker = current_speaker()
    if speaker is None:
        return text
    found = speaker.say(text)
    note_missing(speaker)
    return found


def note_missing(speaker: Speaker) -> None:
    """Note what the charts so far could not say, for the worker to read."""
    place = Path(os.environ[PLACE]).with_name(NOTED)
    place.write_text("".join(f"{json.dumps(one)}\n" for one in speaker.missing), encoding="utf-8")


def noted(folder: Path) -> list[str]:
    """Read what the kernel could not say."""
    place = folder / NOTED
    lines = place.read_text(encoding="utf-8").splitlines() if place.is_file() else []
    return [str(json.loads(line)) for line in lines]
