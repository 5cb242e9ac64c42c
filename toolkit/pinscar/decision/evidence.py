"""What the traces, recordings, pictures and cards of a campaign tell: each file is read once, and kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import pandas as pd

from pinscar.campaign.folder import evidence_by_run
from pinscar.campaign.record import Campaign
from pinscar.decision.traces import RunTrace, stop_told
from pinscar.evidence.friction_stop import FrictionStop

if TYPE_CHECKING:
    from pinscar.decision.pictures import CardSeen, RunSeen
    from pinscar.decision.recordings import RunHeard

KEPT = 24
"""Most micrographs whose pixels are kept to be drawn on; their readings are kept of all."""

Told = TypeVar("Told")


class Evidence:
    """What the evidence files of a campaign tell, a run at a time or of all runs.

    A file is read when it is first asked for, and not again: opening a campaign in a notebook decodes no
    picture that nobody looks at, and a report decodes each once.

    Attributes
    ----------
    campaign : Campaign
        The campaign; its folder holds the files.
    runs : DataFrame
        Its evaluated runs, excluded ones too.
    traces : sequence of RunTrace
        What the traces tell.
    confidence : float
        Confidence of the intervals [1].
    """

    def __init__(
        self, campaign: Campaign, runs: pd.DataFrame, traces: Sequence[RunTrace], confidence: float
    ) -> None:
        self._campaign = campaign
        self._confidence = confidence
        self._runs = {str(run["run_id"]): run for run in runs.to_dict("records")}
        self._kept: dict[tuple[str, str], Any] = {}
        self.traces = tuple(traces)
        """What each trace tells, the zero of its force taken off, in the order of the runs."""

    @property
    def recordings(self) -> tuple[RunHeard, ...]:
        """What each recording of an included run tells, in the order of the runs."""
        return tuple(one for name in self._having("sound") if (one := self.recording(name)) is not None)

    @property
    def micrographs(self) -> tuple[RunSeen, ...]:
        """What each micrograph tells, in the order of the runs."""
        return tuple(
            self._micrograph(name, keep=place < KEPT)
            for place, name in enumerate(self._having("micrographs"))
        )

    @property
    def cards(self) -> tuple[CardSeen, ...]:
        """What each fling card tells, in the order of the runs."""
        return tuple(one for name in self._having("fling") if (one := self.card(name)) is not None)

    def trace(self, run_id: str) -> RunTrace | None:
        """Look up what the trace of a run tells."""
        return next((one for one in self.traces if one.run_id == run_id), None)

    def stop(self, run_id: str) -> FrictionStop | None:
        """Find when friction came down to its plateau, in the last load step of a run."""
        told = self.trace(run_id)
        if told is None:
            return None
        steps, run = self._campaign.load_steps, self._runs[run_id]
        return self._once(("stop", run_id), lambda: stop_told(told.trace, steps, run, self._confidence))

    def recording(self, run_id: str) -> RunHeard | None:
        """Listen to the recording of a run."""
        from pinscar.decision.recordings import hear_run

        run, file = self._runs[run_id], self._files("sound").get(run_id)
        if file is None or run["excluded"]:
            return None
        return self._once(
            ("sound", run_id),
            lambda: hear_run(self._campaign, run, file, self.stop(run_id), self._confidence),
        )

    def micrograph(self, run_id: str) -> RunSeen | None:
        """Read the scar on the micrograph of a run; the picture is kept to be drawn on."""
        return self._micrograph(run_id, keep=True) if run_id in self._files("micrographs") else None

    def card(self, run_id: str) -> CardSeen | None:
        """Read the fling card of a run."""
        from pinscar.decision.pictures import see_card

        file = self._files("fling").get(run_id)
        if file is None:
            return None
        path, sides = self._campaign.folder / file, self._campaign.file.rig.fling_card
        return self._once(
            ("fling", run_id), lambda: see_card(path, self._runs[run_id], sides, folder=self._campaign.folder)
        )

    def _micrograph(self, run_id: str, *, keep: bool) -> RunSeen:
        from pinscar.decision.pictures import largest_scar, see_scar

        path: Path = self._campaign.folder / self._files("micrographs")[run_id]
        known: RunSeen | None = self._kept.get(("micrographs", run_id))
        if known is not None and keep and known.pixels is None and known.reading is not None:
            # beyond the pictures that are kept, one that somebody wants to see is read again
            del self._kept["micrographs", run_id]
        largest, folder = largest_scar(self._campaign.file.rig), self._campaign.folder
        return self._once(
            ("micrographs", run_id),
            lambda: see_scar(path, self._runs[run_id], largest, keep=keep, folder=folder),
        )

    def _having(self, kind: str) -> list[str]:
        files = self._files(kind)
        return [name for name in self._runs if name in files]

    def _files(self, kind: str) -> dict[str, str]:
        return self._once(("files", kind), lambda: evidence_by_run(self._campaign.folder, kind))

    def _once(self, key: tuple[str, str], read: Callable[[], Told]) -> Told:
        if key not in self._kept:
            self._kept[key] = read()
        kept: Told = self._kept[key]
        return kept
