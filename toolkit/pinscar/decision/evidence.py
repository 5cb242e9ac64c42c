"""What pictures, cards, traces and recordings of a campaign tell: each file is read once, and kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.folder import evidence_by_run
from pinscar.campaign.model import Campaign, Rig
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.media import CARD_POINTS, read_picture, wrong_picture
from pinscar.decision.reading_cache import kept
from pinscar.decision.traces import RunTrace, stop_told
from pinscar.errors import InputError
from pinscar.evidence.fling_card import FlingReading, read_fling_card
from pinscar.evidence.friction_stop import FrictionStop
from pinscar.evidence.scale_bar import read_scale_bar
from pinscar.evidence.scar_image import ScarReading, measure_scar

if TYPE_CHECKING:
    from pinscar.decision.recordings import RunHeard


NONE_GIVEN = "no micrograph_scale given, nor the length of a scale_bar on the picture"


@dataclass(frozen=True, slots=True)
class RunScale:
    """The scale of a run's micrograph.

    Attributes
    ----------
    size : float
        Size of one point, NaN where there is none [m].
    relative_uncertainty : float
        Its standard uncertainty; 0 of a typed one, whose uncertainty is unknown [1].
    typed : float
        The typed size, NaN where blank [m].
    by_bar : float
        The size by the bar, NaN where there is no bar or it was not read [m].
    why_not : str
        Why the bar was not read, or why there is no scale; empty otherwise.
    """

    size: float
    relative_uncertainty: float
    typed: float
    by_bar: float
    why_not: str

    @property
    def from_bar(self) -> bool:
        """Whether the bar's scale is used."""
        return bool(np.isnan(self.typed) and self.by_bar > 0)

    @property
    def apart(self) -> float:
        """How far the typed size is from the bar's, as a share of it; NaN where one of them is missing."""
        return self.typed / self.by_bar - 1


def scale_of_run(pixels: NDArray[np.generic], typed: float, bar: float) -> RunScale:
    """Choose the scale of a micrograph; a typed one goes before the bar's."""
    if not bar > 0:
        return RunScale(typed, 0.0, typed, np.nan, "" if typed > 0 else NONE_GIVEN)
    try:
        found = read_scale_bar(pixels, bar)
    except ValueError as error:
        return RunScale(typed, 0.0, typed, np.nan, f"its scale bar was not read: {error}")
    if typed > 0:
        return RunScale(typed, 0.0, typed, found.scale, "")
    return RunScale(found.scale, found.relative_uncertainty, typed, found.scale, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSeen:
    """A run with its micrograph.

    Attributes
    ----------
    run_id : str
        The run.
    typed : tuple of float
        Scar length and width as typed, NaN where blank [m].
    reading : ScarReading or None
        What was read; None where that was impossible.
    why_not : str
        Why there is no accepted reading; empty where there is one.
    pixels : array or None
        The picture, kept to be drawn on; None where it was not kept or nothing was read.
    scale : RunScale or None
        The scale used; None where the picture could not be read.
    """

    run_id: str
    typed: tuple[float, float]
    reading: ScarReading | None
    why_not: str
    pixels: NDArray[np.generic] | None
    scale: RunScale | None = None

    @property
    def apart(self) -> tuple[float, float]:
        """How far length and width are from what was typed, as a share of it; NaN where one is missing."""
        reading = self.reading
        if reading is None or reading.length is None or reading.width is None:
            return (np.nan, np.nan)
        return (reading.length / self.typed[0] - 1, reading.width / self.typed[1] - 1)


NO_BOUND = (float("inf"), float("inf"))


def largest_scar(rig: Rig) -> tuple[float, float]:
    """Give the longest and the widest scar that the rig's bodies can make, inf where they set no bound."""
    pin = np.inf if rig.pin_diameter is None else rig.pin_diameter
    if rig.geometry == "ball-on-disc":
        return pin, pin
    if rig.geometry == "block-on-ring":
        return rig.ring_diameter, np.inf
    # The chord of the ring where it has cut the pin through; a ring no larger than the pin: its diameter.
    deep = min(pin, 0.5 * rig.ring_diameter)
    return 2 * float(np.sqrt(deep * (rig.ring_diameter - deep))), pin


def see_scar(
    path: Path,
    run: Mapping[Any, Any],
    largest: tuple[float, float] = NO_BOUND,
    *,
    keep: bool,
    folder: Path,
) -> RunSeen:
    """Read the scar on the micrograph of a run, or take what was read of it for an earlier report."""
    run_id, typed = str(run["run_id"]), (float(run["scar_length"]), float(run["scar_width"]))
    size, bar = (float(run.get(name, np.nan)) for name in ("micrograph_scale", "scale_bar"))
    opened: list[NDArray[np.generic]] = []

    def measured() -> tuple[RunScale, ScarReading | None, str]:
        opened.append(read_picture(path))
        return _measured(opened[0], size, bar, largest)

    try:
        settings = {"size": size, "bar": bar, "longest": largest[0], "widest": largest[1]}
        scale, reading, why_not = kept(folder, path, "scar", settings, measured)
        if keep and reading is not None and not opened:
            opened.append(read_picture(path))
    except InputError as error:
        return RunSeen(
            run_id=run_id, typed=typed, reading=None, why_not=error.problems[0].message, pixels=None
        )
    pixels = opened[0] if keep and reading is not None else None
    return RunSeen(run_id=run_id, typed=typed, reading=reading, why_not=why_not, pixels=pixels, scale=scale)


def _measured(
    pixels: NDArray[np.generic], size: float, bar: float, largest: tuple[float, float]
) -> tuple[RunScale, ScarReading | None, str]:
    """Give the scale, the reading where there is one, and why it is not accepted."""
    scale = scale_of_run(pixels, size, bar)
    if not scale.size > 0:
        return scale, None, scale.why_not
    try:
        reading = measure_scar(pixels, scale.size, scale.relative_uncertainty, largest=largest)
    except ValueError as error:
        return scale, None, str(error)
    return scale, reading, reading.reason


@dataclass(frozen=True, slots=True)
class CardSeen:
    """A run with its fling card.

    Attributes
    ----------
    run_id : str
        The run.
    typed : float
        Fling area as typed, NaN where blank [m²].
    reading : FlingReading or None
        What was read; None where that was impossible.
    why_not : str
        Why there is no accepted reading; empty where there is one.
    """

    run_id: str
    typed: float
    reading: FlingReading | None
    why_not: str

    @property
    def apart(self) -> float:
        """How far the area is from what was typed, as a share of it; NaN where one of the two is missing."""
        if self.reading is None or self.reading.fling_area is None or not np.isfinite(self.typed):
            return float("nan")
        if self.typed == 0:
            return 0.0 if self.reading.fling_area == 0 else float("inf")
        return self.reading.fling_area / self.typed - 1


def see_card(
    path: Path, run: Mapping[Any, Any], sides: tuple[float, float] | None, *, folder: Path
) -> CardSeen:
    """Read the fling card of a run, or take what was read of it for an earlier report."""
    run_id, typed = str(run["run_id"]), float(run.get("fling_area", np.nan))
    if sides is None:
        return CardSeen(run_id, typed, None, "campaign.toml has no fling_card")
    try:
        settings = {"long": sides[0], "short": sides[1]}
        reading = kept(folder, path, "card", settings, lambda: _lighter(read_card(path, sides)))
    except InputError as error:
        return CardSeen(run_id, typed, None, error.problems[0].message)
    return CardSeen(run_id, typed, reading, reading.reason)


def _lighter(reading: FlingReading) -> FlingReading:
    """Leave of the flat card what a page shows of it, 256 greys: kept whole it would take 9 MB."""
    card: Any = (np.rint(255.0 * reading.card) / 255.0).astype(np.float32)
    drops: Any = reading.drops.astype(np.int32)
    return replace(reading, card=card, drops=drops)


def read_card(path: Path, sides: tuple[float, float]) -> FlingReading:
    """Read the card on a photograph."""
    try:
        return read_fling_card(read_picture(path, CARD_POINTS), *sides)
    except ValueError as error:
        mend = "photograph the whole card from straight above, on a dark sheet, in even light"
        raise wrong_picture(path, "picture-unfit", str(error), mend) from None


SHAPES = {"teardrop": "pin-tilted", "two lobes": "scar-of-two-lobes", "cut off": "scar-cut-off"}
"""Shapes of scars that tell something about the test, with the finding they make."""


def picture_findings(seen: Sequence[RunSeen], included: Sequence[str]) -> Iterator[Finding]:
    """Find scars whose shape says that the pin did not sit evenly; runs that are left out don't count."""
    looked = [run for run in seen if run.run_id in set(included) and run.reading is not None]
    told = [run for run in looked if run.reading is not None and run.reading.shape]
    for shape, name in SHAPES.items():
        runs = tuple(run.run_id for run in told if run.reading is not None and run.reading.shape == shape)
        if runs:
            yield Finding(
                id=name, severity=Weight.CAUTION, values={"n": len(runs), "of": len(told)}, runs=runs
            )


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
        file = self._files("fling").get(run_id)
        if file is None:
            return None
        path, sides = self._campaign.folder / file, self._campaign.file.rig.fling_card
        return self._once(
            ("fling", run_id), lambda: see_card(path, self._runs[run_id], sides, folder=self._campaign.folder)
        )

    def _micrograph(self, run_id: str, *, keep: bool) -> RunSeen:

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
