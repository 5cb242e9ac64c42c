"""When the rubbing noise of a run stopped, from its recording."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import median_filter

from pinscar.evidence.fall import Fall, fit_fall
from pinscar.evidence.level_changes import Stretch, stretches
from pinscar.evidence.recording_faults import recording_fault
from pinscar.evidence.sound_level import BAND, Level, band_level

FloatArray = NDArray[np.float64]

LEAST_CONTRAST = 3.0
"""Least difference of rubbing noise and what remains [dB]."""

LEAST_QUIET = 2.0
"""The noise must have been gone for that long at the end [s]."""

LONGEST_PASSING = 5.0
"""A noise that comes and goes within that time is no rubbing noise [s]."""

LONGEST_FADE = 6.0
"""Longest fading of the noise that is tried [s]."""

_TOO_SLOW = "the noise faded so slowly that no end can be told"
_LOOK_BACK = 20.0
_BREAKS_OFF = 4.0
_WIDEST_SHARE = 0.25
_NEAR = (2.0, 4.0)
_NEAR_SHARE = 0.35


@dataclass(frozen=True, slots=True)
class QuietHeard:
    """What a recording tells of its run; numbers are None where it was not accepted.

    Parameters
    ----------
    accepted : bool
        Whether a quiet time was found.
    reason : str
        Why not; empty where it was.
    quiet_time : float or None
        When the rubbing noise had stopped [s].
    low, high : float or None
        Its interval [s].
    confidence : float
        Confidence of the interval.
    contrast : float or None
        Level of the rubbing noise above what remained [dB].
    noise_level, quiet_level : float or None
        Mean-square level before and after [dB, 0 at full scale].
    scrape_share : float or None
        Share of the run in which the level was above half way between the two (in dB) [1].
    level : Level or None
        The level against time; None where the recording itself was refused.
    """

    accepted: bool
    reason: str
    quiet_time: float | None
    low: float | None
    high: float | None
    confidence: float
    contrast: float | None
    noise_level: float | None
    quiet_level: float | None
    scrape_share: float | None
    level: Level | None


def read_recording(path: Path | str) -> tuple[FloatArray, float]:
    """Read a recording as one channel.

    Parameters
    ----------
    path : Path or str
        A WAV file.

    Returns
    -------
    tuple of ndarray of float and float
        Samples, full scale at -1 and 1 (the mean of the channels) [1], and samples a second [Hz].

    Raises
    ------
    ValueError
        The file cannot be read as sound.

    References
    ----------
    The library soundfile.

    Examples
    --------
    >>> read_recording("nowhere.wav")
    Traceback (most recent call last):
        ...
    ValueError: not readable as a sound recording
    """
    try:
        samples, rate = soundfile.read(path, dtype="float64", always_2d=True)
    except (OSError, RuntimeError) as failure:
        raise ValueError("not readable as a sound recording") from failure
    return np.asarray(samples.mean(axis=1), dtype=np.float64), float(rate)


def hear_quiet(
    signal: ArrayLike,
    rate: float,
    duration: float | None = None,
    band: tuple[float, float] = BAND,
    confidence: float = 0.95,
) -> QuietHeard:
    """Find when the rubbing noise stopped.

    The A-weighted level in the band is cut into stretches of one level. The stretches at the end that lie
    near the last one (within 0.35 of the contrast, at least 2 and at most 4 dB) are the quiet part, noises
    of up to 5 s that pass within it included; the stretch before must be 3 dB louder. About that change a
    step down is fitted; its end is the quiet time, if it stands out by 3 dB from a sloping
    line (else the noise only fades). A noise that fades quickly has no sharp end either, and sinks under
    what remains before it is gone: the interval is widened by half the length of the fade, either way. The
    recording is taken to begin with the run.

    Parameters
    ----------
    signal : array_like
        One channel, full scale at -1 and 1 [1].
    rate : float
        Samples a second [Hz].
    duration : float, optional
        Duration of the run [s].
    band : tuple of float
        Band listened to [Hz].
    confidence : float
        Confidence of the interval.

    Returns
    -------
    QuietHeard
        Accepted, or refused with a reason.

    References
    ----------
    That the noise ends with metal contact is common practice. Method: `stretches`, `fit_fall`.

    Examples
    --------
    Noise that is 10 dB weaker from 30 s on:

    >>> noise = np.random.default_rng(2).normal(0.0, 0.1, 60 * 8000)
    >>> noise[30 * 8000 :] *= 10 ** (-10 / 20)
    >>> heard = hear_quiet(noise, 8000.0, duration=60.0)
    >>> heard.accepted, round(heard.quiet_time, 1), round(heard.contrast)
    (True, 30.0, 10)
    >>> hear_quiet(np.zeros(480000), 8000.0).reason
    'silent: nothing was recorded'
    """
    fault = recording_fault(signal, rate, duration)
    if fault:
        return _refused(fault, confidence)
    samples = np.asarray(signal, dtype=np.float64)
    length = samples.size if duration is None else min(samples.size, round(duration * rate))
    level = band_level(samples[:length], rate, band)
    parts = stretches(level.level)
    first = _first_quiet(parts, level)
    reason = _why_not(parts, first, level)
    if reason:
        return _refused(reason, confidence, level)
    fall = _fall(parts, first, level, confidence)
    if fall is None or fall.high - fall.low > _WIDEST_SHARE * level.frame * level.level.size:
        return _refused(_TOO_SLOW, confidence, level)
    if not _stands_out(fall, _sloping_from(parts, first, level), level):
        return _refused(_TOO_SLOW, confidence, level)
    return _accepted(fall, level, confidence)


def _first_quiet(parts: list[Stretch], level: Level) -> int:
    """Find the first of the stretches at the end that count as quiet."""
    quiet = parts[-1].level
    contrast = max(one.level for one in parts) - quiet
    near = min(max(_NEAR_SHARE * contrast, _NEAR[0]), _NEAR[1])
    first = len(parts) - 1
    while first > 0:
        before = first - 1 if not _passing(parts, first - 1, level) else first - 2
        if abs(parts[before].level - quiet) >= near:
            return first
        first = before
    return first


def _passing(parts: list[Stretch], number: int, level: Level) -> bool:
    """Tell whether a stretch is a passing noise, such as a telephone: brief, and louder than both sides."""
    one = parts[number]
    brief = (one.stop - one.start) * level.frame <= LONGEST_PASSING
    return number > 0 and brief and one.level - parts[number - 1].level > LEAST_CONTRAST / 2


def _why_not(parts: list[Stretch], first: int, level: Level) -> str:
    if first == 0:
        return f"no change by {LEAST_CONTRAST:.0f} dB or more: noise to the end, or none was heard"
    quiet = _median(parts[first:], level)
    if parts[first - 1].level < quiet:
        return "the noise came back before the end"
    if parts[first - 1].level - quiet < LEAST_CONTRAST:
        return f"the last change is under {LEAST_CONTRAST:.0f} dB: too little to tell"
    if (parts[-1].stop - parts[first].start) * level.frame < LEAST_QUIET:
        return f"quiet for less than {LEAST_QUIET:.0f} s at the end"
    return ""


def _median(parts: list[Stretch], level: Level) -> float:
    return float(np.median(level.level[parts[0].start : parts[-1].stop]))


def _fall(parts: list[Stretch], first: int, level: Level, confidence: float) -> Fall | None:
    """Fit the fall between the last loud stretch, with some seconds before it, and the quiet part."""
    earliest = parts[first].start - round(LONGEST_FADE / level.frame)
    start = max(min(parts[first - 1].start, earliest), 0)
    smooth = median_filter(level.level, size=3, mode="nearest")[start:]
    return fit_fall(
        level.time[start:],
        smooth,
        longest_fall=LONGEST_FADE,
        edge=2.0 * level.frame,
        confidence=confidence,
    )


def _sloping_from(parts: list[Stretch], first: int, level: Level) -> int:
    """Find the frame from which on the noise had only faded; a squeal that broke off comes before it."""
    earliest = parts[first].start - round(_LOOK_BACK / level.frame)
    number = first - 1
    while (
        number > 0
        and parts[number].start > earliest
        and parts[number - 1].level - parts[number].level < _BREAKS_OFF
    ):
        number -= 1
    return max(parts[number].start, earliest, 0)


def _stands_out(fall: Fall, start: int, level: Level) -> bool:
    """Tell whether the fall is more than part of a steady fading: it must stand out from a sloping line."""
    near = np.arange(level.time.size) >= start
    beside = fit_fall(
        level.time[near],
        median_filter(level.level, size=3, mode="nearest")[near],
        longest_fall=LONGEST_FADE,
        drift=True,
        edge=2.0 * level.frame,
    )
    return beside is not None and beside.drop >= LEAST_CONTRAST and abs(beside.end - fall.end) < LEAST_QUIET


def _accepted(fall: Fall, level: Level, confidence: float) -> QuietHeard:
    before, after = level.level[level.time < fall.end], level.level[level.time >= fall.end]
    noise, quiet = _mean_level(before), _mean_level(after)
    share = float(np.mean(level.level > 0.5 * (noise + quiet)))
    blur = 0.5 * max(fall.end - fall.start, 0.0)
    low, high = max(fall.low - blur, 0.0), min(fall.high + blur, level.frame * level.level.size)
    return QuietHeard(True, "", fall.end, low, high, confidence, noise - quiet, noise, quiet, share, level)


def _mean_level(level: FloatArray) -> float:
    return float(10.0 * np.log10(np.mean(10.0 ** (level / 10.0))))


def _refused(reason: str, confidence: float, level: Level | None = None) -> QuietHeard:
    return QuietHeard(False, reason, None, None, None, confidence, None, None, None, None, level)


def relative_loudness(
    noise_levels: Mapping[str, float], reference: str, *, equal_gain: bool
) -> dict[str, float]:
    """Compare how loud runs were, as far as one recorder at one gain can tell.

    Parameters
    ----------
    noise_levels : mapping of str to float
        Level of the rubbing noise of each run [dB].
    reference : str
        The run that the others are compared with.
    equal_gain : bool
        Whether recorder, gain and place were the same for all of them; only the person at the rig knows.

    Returns
    -------
    dict of str to float
        Level above that of the reference [dB].

    Raises
    ------
    ValueError
        The gain was not the same, or the reference is not among the runs.

    References
    ----------
    IEC 61672-1:2013 (a level difference is a ratio of mean squares, whatever the calibration).

    Examples
    --------
    >>> relative_loudness({"1": -30.0, "2": -24.0}, "1", equal_gain=True)
    {'1': 0.0, '2': 6.0}
    """
    if not equal_gain:
        raise ValueError("equal_gain must be true: levels at different gains cannot be compared")
    if reference not in noise_levels:
        raise ValueError(f"reference {reference!r} is not among the runs")
    return {name: level - noise_levels[reference] for name, level in noise_levels.items()}
