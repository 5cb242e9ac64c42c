"""The recordings of a campaign: each listened to, beside what was typed and what friction says."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from pinscar.campaign.campaign import Campaign
from pinscar.campaign.folder import evidence_by_run
from pinscar.decision.traces import stop_told, with_zero_taken_off
from pinscar.evidence.friction_stop import CLOCKS, FrictionStop, gap_between
from pinscar.evidence.sound import QuietHeard, hear_quiet, read_recording

TYPED_BY_EAR = 2.0
"""An ear and a stopwatch tell the end of a noise to that (common practice) [s]."""

GAIN = "sound_gain"
"""Column of the runs in which the person at the rig says at what gain a run was recorded."""


@dataclass(frozen=True, slots=True)
class RunHeard:
    """A run that has a recording.

    Parameters
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


def sound_files(campaign: Campaign) -> dict[str, str]:
    """List the recordings by run.

    Parameters
    ----------
    campaign : Campaign
        The campaign.

    Returns
    -------
    dict of str to str
        Path relative to the folder, by run_id, of the included runs.
    """
    counted = set(campaign.runs.loc[campaign.runs["excluded"] == "", "run_id"])
    files = evidence_by_run(campaign.folder, "sound")
    return {run_id: name for run_id, name in files.items() if run_id in counted}


def listen(
    campaign: Campaign, confidence: float = 0.95, only: Collection[str] | None = None
) -> list[RunHeard]:
    """Listen to every recording of the included runs.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    confidence : float
        Confidence of the intervals.
    only : collection of str, optional
        The runs to listen to; all where not given.

    Returns
    -------
    list of RunHeard
        In the order of the runs table.
    """
    files = sound_files(campaign)
    return [
        _run_heard(campaign, run, files[run["run_id"]], confidence)
        for run in campaign.runs.to_dict("records")
        if run["run_id"] in files and (only is None or run["run_id"] in only)
    ]


def gains(campaign: Campaign, runs: Sequence[RunHeard]) -> list[str]:
    """Look up at what gain each run was recorded, as far as the column ``sound_gain`` says so.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    runs : sequence of RunHeard
        Runs with a recording.

    Returns
    -------
    list of str
        The gain as text, alike where it was alike; blank where it is not known.
    """
    said = dict(zip(campaign.runs["run_id"], campaign.runs[GAIN], strict=True))
    return [" ".join(str(said[run.run_id]).split()) for run in runs]


def _run_heard(campaign: Campaign, run: Mapping[Any, Any], file: str, confidence: float) -> RunHeard:
    heard = hear_file(campaign.folder / file, float(run["duration"]), confidence)
    friction = _friction(campaign, run, confidence)
    return RunHeard(
        run["run_id"],
        run["lubricant"],
        run["load"],
        run["duration"],
        run["quiet_time"],
        file,
        heard,
        friction,
    )


def hear_file(path: Path, duration: float, confidence: float = 0.95) -> QuietHeard:
    """Listen to one recording; a file that is not a sound file is refused, as an unusable recording is.

    Parameters
    ----------
    path : Path
        The file.
    duration : float
        Duration of the run [s].
    confidence : float
        Confidence of the interval.

    Returns
    -------
    QuietHeard
        What it tells.
    """
    try:
        signal, rate = read_recording(path)
    except ValueError as failure:
        return QuietHeard(False, str(failure), None, None, None, confidence, None, None, None, None, None)
    return hear_quiet(signal, rate, duration, confidence=confidence)


def _friction(campaign: Campaign, run: Mapping[Any, Any], confidence: float) -> FrictionStop | None:
    trace = campaign.traces.get(run["run_id"])
    if trace is None:
        return None
    corrected, _ = with_zero_taken_off(trace, float(run["duration"]))
    return stop_told(corrected, campaign.load_steps, run, confidence)
