"""The recordings of a campaign: each listened to, beside what was typed and what friction says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Campaign
from pinscar.decision.media import KINDS, read_track
from pinscar.decision.reading_cache import kept
from pinscar.evidence.friction_stop import CLOCKS, FrictionStop, gap_between
from pinscar.evidence.sound import QuietHeard, hear_quiet, relative_loudness
from pinscar.evidence.sound_level import read_recording

FloatArray = NDArray[np.float64]

ZONES = 14.5 * 3600.0
"""A clock may be set to another zone: so far off it is no fault [s]."""

SAME_HOUR = 20.0 * 60.0
"""But for whole hours, a file and a run agree to that: a recording may be stamped at its end [s]."""

TYPED_BY_EAR = 2.0
"""An ear and a stopwatch tell the end of a noise to that (common practice) [s]."""

GAIN = "sound_gain"
"""Column of the runs in which the person at the rig says at what gain a run was recorded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunHeard:
    """A run that has a recording.

    Attributes
    ----------
    run_id, lubricant : str
        The run.
    load, duration : float
        Load [N] and duration [s].
    typed : float
        Quiet time in the runs table [s]; NaN where blank.
    file : str
        The recording, relative to the campaign folder.
    heard : QuietHeard
        What it tells.
    friction : FrictionStop or None
        What the friction trace tells of the last load step; None where there is none.
    """

    run_id: str
    lubricant: str
    load: float
    duration: float
    typed: float
    file: str
    heard: QuietHeard
    friction: FrictionStop | None

    @property
    def typed_off(self) -> float:
        """How much later the typed quiet time is than the interval heard [s]; 0 where they agree or lack."""
        heard = self.heard
        if heard.low is None or heard.high is None or pd.isna(self.typed):
            return 0.0
        if self.typed > heard.high + TYPED_BY_EAR:
            return self.typed - heard.high
        return self.typed - heard.low if self.typed < heard.low - TYPED_BY_EAR else 0.0

    @property
    def friction_gap(self) -> float:
        """Time between the intervals of sound and friction [s]; 0 where they agree or lack."""
        heard, friction = self.heard, self.friction
        if heard.low is None or heard.high is None or friction is None:
            return 0.0
        if friction.low is None or friction.high is None:
            return 0.0
        return gap_between((heard.low, heard.high), (friction.low, friction.high), CLOCKS)


def gains(campaign: Campaign, runs: Sequence[RunHeard]) -> list[str]:
    """Look up at what gain each run was recorded, as far as the column ``sound_gain`` says so."""
    said = dict(zip(campaign.runs["run_id"], campaign.runs[GAIN], strict=True))
    return [" ".join(str(said[run.run_id]).split()) for run in runs]


@dataclass(frozen=True, slots=True)
class Loudness:
    """How loud runs were, as far as runs of one gain can be compared.

    Attributes
    ----------
    groups : mapping of str to mapping
        By the run that the others of its gain are set against: level above it of each of them [dB].
    unknown : tuple of str
        Runs whose gain nobody noted.
    alone : tuple of str
        Runs that no other was recorded like.
    """

    groups: Mapping[str, Mapping[str, float]]
    unknown: tuple[str, ...]
    alone: tuple[str, ...]


def loudness_of(runs: Sequence[RunHeard], gains: Sequence[str]) -> Loudness:
    """Compare loudness among the runs of one gain."""
    levels = {run.run_id: run.heard.noise_level for run in runs if run.heard.noise_level is not None}
    by_gain: dict[str, dict[str, float]] = {}
    for run, gain in zip(runs, gains, strict=True):
        if run.run_id in levels:
            by_gain.setdefault(gain.casefold(), {})[run.run_id] = levels[run.run_id]
    unknown = tuple(by_gain.pop("", {}))
    told = [group for group in by_gain.values() if len(group) > 1]
    alone = tuple(run_id for group in by_gain.values() if len(group) == 1 for run_id in group)
    groups = {
        next(iter(group)): relative_loudness(group, next(iter(group)), equal_gain=True) for group in told
    }
    return Loudness(groups, unknown, alone)


def hear_run(
    campaign: Campaign, run: Mapping[Any, Any], file: str, friction: FrictionStop | None, confidence: float
) -> RunHeard:
    """Listen to the recording of a run."""
    path, duration, run_at = campaign.folder / file, float(run["duration"]), run.get("run_at")
    settings: dict[str, float | str] = {
        "duration": duration,
        "confidence": confidence,
        "run_at": "" if pd.isna(run_at) else str(run_at),
    }
    heard = kept(
        campaign.folder, path, "sound", settings, lambda: hear_file(path, duration, confidence, run_at)
    )
    typed = float(run["quiet_time"])
    return RunHeard(
        run_id=run["run_id"],
        lubricant=run["lubricant"],
        load=run["load"],
        duration=run["duration"],
        typed=typed,
        file=file,
        heard=heard,
        friction=friction,
    )


def read_sound(path: Path) -> tuple[FloatArray, float, datetime | None]:
    """Read a recording of any kind: samples, their rate, and when it was made as far as the file says."""
    if path.suffix.lower() in KINDS:
        track = read_track(path)
        return track.samples, track.rate, track.recorded
    return *read_recording(path), None


def clock_note(recorded: datetime | None, run_at: Any) -> str:
    """Say where a file's time of recording and the run's disagree; whole hours may be the zone of a clock."""
    if recorded is None or pd.isna(run_at):
        return ""
    typed = pd.Timestamp(run_at)
    plain = recorded.astimezone(UTC).replace(tzinfo=None)
    apart = abs((plain - typed.tz_localize(None).to_pydatetime()).total_seconds())
    by_day = typed == typed.normalize()  # a day was noted and no time
    rest = min(apart % 3600.0, 3600.0 - apart % 3600.0)
    if apart <= ZONES and (by_day or rest <= SAME_HOUR):
        return ""
    said = f"the file says it was recorded at {plain:%Y-%m-%d %H:%M} UTC"
    return f"{said}, and the run was at {typed:%Y-%m-%d %H:%M}"


def hear_file(path: Path, duration: float, confidence: float = 0.95, run_at: Any = None) -> QuietHeard:
    """Listen to one recording; a file that is not a sound file is refused, as an unusable recording is."""
    try:
        signal, rate, recorded = read_sound(path)
    except ValueError as failure:
        return QuietHeard(
            accepted=False,
            reason=str(failure),
            quiet_time=None,
            low=None,
            high=None,
            confidence=confidence,
            contrast=None,
            noise_level=None,
            quiet_level=None,
            scrape_share=None,
            level=None,
        )
    heard = hear_quiet(signal, rate, duration, confidence=confidence)
    said = [one for one in (heard.note, clock_note(recorded, run_at)) if one]
    return replace(heard, note="; ".join(said))
