"""`pinscar report --watch`: make the reports again whenever a file that they are made from changes."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from pinscar.errors import PinscarError
from pinscar.press.inputs import input_hashes
from pinscar.press.request import Outcome, Request
from pinscar.wording import counted

PAUSE = 1.0
"""Time between two looks [s]."""

Hashes = dict[str, str]
Stamps = frozenset[tuple[str, int, int]]


class Watched:
    """The files that some reports are made from, as they were at the last look.

    Attributes
    ----------
    requests : sequence of Request
        The reports.
    folders : sequence of pathlib.Path
        The campaign folders.
    """

    def __init__(self, requests: Sequence[Request], folders: Sequence[Path]) -> None:
        self._requests = requests
        self._folders = folders
        self._stamps = self._look()
        self._hashes = self._hash()

    def changed(self, pause: float) -> list[str]:
        """Look once; where something changed, wait until it is written to its end."""
        stamps = self._look()
        if stamps == self._stamps:
            return []
        while True:
            time.sleep(pause)
            later = self._look()
            if later == stamps:
                break
            stamps = later
        hashes = self._hash()
        names = sorted(
            name for name in hashes.keys() | self._hashes.keys() if hashes.get(name) != self._hashes.get(name)
        )
        self._stamps, self._hashes = stamps, hashes
        return names

    def _look(self) -> Stamps:
        # Dates and sizes tell cheaply that something may have changed; whether it did, the content tells.
        outputs = {request.out.resolve() for request in self._requests}
        return frozenset(_stamps(self._folders, outputs))

    def _hash(self) -> Hashes:
        found: Hashes = {}
        for request in self._requests:
            parameters = request.as_question()["parameters"]
            try:
                hashes = input_hashes(request.folder, parameters)
            except (OSError, PinscarError):  # a folder being saved or gone: the report that is made tells
                hashes = {}
            found |= {(request.folder / name).as_posix(): digest for name, digest in hashes.items()}
        return found


def _stamps(folders: Sequence[Path], outputs: set[Path]) -> Iterator[tuple[str, int, int]]:
    for folder in folders:
        for place, inner, files in os.walk(folder):
            inner[:] = [
                name
                for name in inner
                if not name.startswith(".") and (Path(place) / name).resolve() not in outputs
            ]
            for name in files:
                path = Path(place) / name
                try:
                    state = path.stat()
                except OSError:
                    continue
                yield str(path), state.st_mtime_ns, state.st_size


def watch(
    watched: Watched, make: Callable[[Sequence[str]], None], pause: float = PAUSE, looks: int | None = None
) -> None:
    """Call `make` now, and again after every change, until it is interrupted."""
    make([])
    done = 0
    while looks is None or done < looks:
        time.sleep(pause)
        done += 1
        names = watched.changed(pause)
        if names:
            make(names)


def line_of(outcome: Outcome, changed: Sequence[str]) -> str:
    """Tell in one line what became of a report."""
    parts = [f"{outcome.report}: made{_because(changed)}"]
    if outcome.limits:
        parts.append(f"release limits {outcome.limits}")
    if outcome.problems:
        parts.append(counted(len(outcome.problems), "warning"))
    return ", ".join(parts)


def _because(changed: Sequence[str]) -> str:
    names: Mapping[str, None] = dict.fromkeys(Path(name).name for name in changed)
    listed = list(names)[:3]
    more = len(names) - len(listed)
    return f" again ({', '.join(listed)}{f' and {more} more' if more else ''} changed)" if listed else ""
