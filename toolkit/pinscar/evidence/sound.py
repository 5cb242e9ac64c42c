"""When the rubbing noise of a run stopped, from its recording cut into stretches of one level each.

A recording that is too short, silent, clipped, or shorter than its run is refused; in a longer one, the run
begins where the noise sets in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import median_filter

from pinscar.evidence.fall import Fall, fit_fall
from pinscar.evidence.sound_level import (
    BAND,
    HEARD_WITHIN,
    Level,
    alike,
    band_level,
    band_powers,
    clipped_share,
    is_longer,
    recording_fault,
    start_of_run,
)

FloatArray = NDArray[np.float64]

_BLOCK = 3
_SHORTEST = 4
_LEAST_SCATTER = 0.2
_PENALTY = 4.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of one level.

    Parameters
    ----------
    start, stop : int
        First frame, and the frame after the last.
    level : float
        Median of its levels [dB].
    """

    start: int
    stop: int
    level: float


def stretches(level: ArrayLike) -> list[Stretch]:
    """Cut a level against time where its mean changes.

    Medians of three frames each (which knocks and voices hardly move) are cut so that the squared deviations
    from the mean of each stretch, plus ``4 s^2 ln n`` for every cut, are least. s is the scatter of one
    median, from the median absolute difference of neighbours.

    Parameters
    ----------
    level : array_like
        Level of each frame [dB].

    Returns
    -------
    list of Stretch
        In order; one where nothing changes, none where there are fewer than three frames.

    References
    ----------
    Killick, Fearnhead and Eckley, "Optimal detection of changepoints with a linear computational cost",
    J. Am. Stat. Assoc. 107, 2012 (pruned exact search); the library ruptures carries it out. Penalty: own
    choice, above the ``2 s^2 ln n`` of Yao, Stat. Probab. Lett. 6, 1988.

    Examples
    --------
    >>> [(one.start, one.stop, round(one.level)) for one in stretches([6.0] * 90 + [0.0] * 60)]
    [(0, 90, 6), (90, 150, 0)]
    """
    values = np.asarray(level, dtype=np.float64)
    count = values.size // _BLOCK
    if count == 0:
        return []
    blocks = np.median(values[: count * _BLOCK].reshape(count, _BLOCK), axis=1)
    cuts = [0, *(_BLOCK * int(cut) for cut in _cuts(blocks)[:-1]), values.size]
    return [Stretch(start, stop, float(np.median(values[start:stop]))) for start, stop in pairwise(cuts)]


def _cuts(blocks: FloatArray) -> list[int]:
    if blocks.size < 2 * _SHORTEST:
        return [blocks.size]
    # Of normal values, the median absolute difference of neighbours is 0.6745 sqrt(2) standard deviations.
    scatter = max(float(np.median(np.abs(np.diff(blocks)))) / (0.6745 * np.sqrt(2.0)), _LEAST_SCATTER)
    import ruptures  # here: a report of recordings that are known already goes without

    search = ruptures.KernelCPD(kernel="linear", min_size=_SHORTEST).fit(blocks.reshape(-1, 1))
    return [int(cut) for cut in search.predict(pen=_PENALTY * scatter**2 * np.log(blocks.size))]


LEAST_CONTRAST = 3.0
"""Least difference of rubbing noise and what remains [dB]."""

LEAST_QUIET = 2.0
"""The noise must have been gone for that long at the end [s]."""

LONGEST_PASSING = 5.0
"""A noise that comes and goes within that time is no rubbing noise [s]."""

LONGEST_FADE = 6.0
"""Longest fading of the noise that is tried [s]."""

_LITTLE = f"the last change is under {LEAST_CONTRAST:.0f} dB: too little to tell"
_TOO_SLOW = "the noise faded so slowly that no end can be told"
_AS_LOUD = 4.0
_ALL_BUT = 0.95
_FADE_POINTS = 240
_SUNKEN = 0.3
_LOOK_BACK = 20.0
_BREAKS_OFF = 4.0
_WIDEST_SHARE = 0.25
_NEAR = (2.0, 4.0)
_NEAR_SHARE = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
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
    faded : bool
        Whether the noise only faded: no moment is told, and ``low`` to ``high`` goes from the first fall
        to where nothing was left of it, so that the quiet time is known as an interval.
    note : str
        What was tolerated, in plain words; empty where nothing was.
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
    faded: bool = False
    note: str = ""


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
    of up to 5 s that pass within it included, unless their spectrum is that of the rubbing noise: after a
    pause that is its last end. The stretch before must be 3 dB louder. About that change a
    step down is fitted; its end is the quiet time, if it stands out by 3 dB from a sloping
    line (else the noise only fades). A noise that fades quickly has no sharp end either, and sinks under
    what remains before it is gone: the interval is widened by half the length of the fade, either way. A
    noise that only fades is not accepted, but told as an interval, from where it first falls to where
    nothing is left of it, if 2 s of that follow. The recording is taken to begin with the run; where it is
    longer, the run begins where the noise sets in (`start_of_run`), or the recording is refused.

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
        Confidence of the interval [-].

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
    if duration is not None and is_longer(samples.size / rate, duration):
        return _heard_within(samples, rate, duration, band, confidence)
    length = samples.size if duration is None else min(samples.size, round(duration * rate))
    level = band_level(samples[:length], rate, band)
    note = _clipping_note(samples, rate)
    parts = stretches(level.level)
    first = _first_quiet(parts, level, _comparison(samples, rate, parts, level))
    heard = _without_passing(parts, first, level)
    reason = _why_not(parts, first, heard) or _ends_too_slowly(parts, first, heard, confidence)
    if reason:
        return _with_fade(replace(_refused(reason, confidence, level), note=note), confidence)
    fall = _fall(parts, first, heard, confidence)
    assert fall is not None  # else it had ended too slowly
    return replace(_accepted(fall, heard, confidence), note=note, level=level)


def _heard_within(
    samples: FloatArray, rate: float, duration: float, band: tuple[float, float], confidence: float
) -> QuietHeard:
    """Find the run in a recording that is longer, and listen to that part of it."""
    whole = band_level(samples, rate, band)
    length = samples.size / rate
    start = start_of_run(
        [(one.start, one.stop, one.level) for one in stretches(whole.level)], whole.frame, duration
    )
    if start is None:
        return _refused(
            f"too long: {length:.3g} s of recording, and the run lasted {duration:.3g} s; "
            "where in it the run begins isn't heard for sure",
            confidence,
        )
    # The drive may stop a little early: that is not to be taken for the end of the rubbing.
    until = round((start + duration - 2 * HEARD_WITHIN) * rate)
    heard = hear_quiet(samples[round(start * rate) : until], rate, None, band, confidence)
    begun = f"the recording is longer than the run, which began {start:.1f} s into it, as heard"
    note = "; ".join(one for one in (begun, heard.note) if one)
    if heard.low is None or heard.high is None:
        return replace(heard, note=note)
    return replace(
        heard,
        note=note,
        low=max(heard.low - HEARD_WITHIN, 0.0),
        high=min(heard.high + HEARD_WITHIN, duration),
    )


def _without_passing(parts: list[Stretch], first: int, level: Level) -> Level:
    """Leave out what passed after the noise had ended, as a telephone, with three frames on either side."""
    left = level.level.copy()
    quiet = parts[-1].level
    for one in parts[first + 1 : -1]:
        if one.level - quiet >= LEAST_CONTRAST / 2:
            left[max(one.start - _BLOCK, 0) : one.stop + _BLOCK] = np.nan
    return replace(level, level=left)


def _clipping_note(samples: FloatArray, rate: float) -> str:
    share = clipped_share(samples, rate)
    if share == 0.0:
        return ""
    return f"{share * samples.size / rate:.1f} s are overdriven, where the level is a lower bound"


def _ends_too_slowly(parts: list[Stretch], first: int, level: Level, confidence: float) -> str:
    fall = _fall(parts, first, level, confidence)
    wide = _WIDEST_SHARE * level.frame * level.level.size
    told = fall is not None and fall.high - fall.low <= wide
    long = fall is not None and fall.end - fall.start > _ALL_BUT * LONGEST_FADE
    if fall is None or not told or long or not _stands_out(fall, _sloping_from(parts, first, level), level):
        return _TOO_SLOW
    return ""


def _with_fade(refused: QuietHeard, confidence: float) -> QuietHeard:
    """Add the interval in which a noise that only fades came to its end."""
    level = refused.level
    if level is None or refused.reason not in (_TOO_SLOW, _LITTLE):
        return refused
    size = max(level.level.size // _FADE_POINTS, 1)
    count = level.level.size // size
    time = level.time[: count * size].reshape(count, size).mean(axis=1)
    smooth = np.median(level.level[: count * size].reshape(count, size), axis=1)
    span = float(level.time[-1])
    fall = fit_fall(time, smooth, longest_fall=0.9 * span, edge=LEAST_QUIET, confidence=confidence)
    if fall is None or fall.drop < LEAST_CONTRAST:
        return refused
    # what is left sinks under the rest before it is gone
    low, high = max(fall.start, 0.0), fall.high + _SUNKEN * (fall.end - fall.start)
    if span - high < 0.5 * LEAST_QUIET:  # it may have gone on beyond the recording
        return refused
    reason = f"{refused.reason}, but that it ended between {low:.0f} and {high:.0f} s"
    return replace(refused, reason=reason, low=low, high=high, faded=True)


def _comparison(
    samples: FloatArray, rate: float, parts: list[Stretch], level: Level
) -> Callable[[int], bool]:
    """Make the test whether a stretch is the rubbing noise again: within 4 dB as loud, of its spectrum."""

    def of(one: Stretch) -> FloatArray:
        size = round(level.frame * rate)
        return band_powers(samples[one.start * size : one.stop * size], rate, level.band)

    def is_rubbing(number: int) -> bool:
        one, before = parts[number], parts[:number]
        loud = [part for part in before if part.level > 0.5 * (one.level + parts[-1].level)]
        if not loud:
            return False
        longest = max(loud, key=lambda part: part.stop - part.start)
        near = abs(longest.level - one.level) <= _AS_LOUD
        return near and alike(of(longest), of(one), of(parts[-1]))

    return is_rubbing


def _first_quiet(parts: list[Stretch], level: Level, is_rubbing: Callable[[int], bool]) -> int:
    """Find the first of the stretches at the end that count as quiet."""
    quiet = parts[-1].level
    contrast = max(one.level for one in parts) - quiet
    near = min(max(_NEAR_SHARE * contrast, _NEAR[0]), _NEAR[1])
    first = len(parts) - 1
    while first > 0:
        last = first - 1
        if parts[last].level <= quiet - near:
            return first
        before = last
        while before >= 0 and parts[before].level - quiet >= near:
            before -= 1
        if before < last and not _passing(parts, before + 1, last, level, is_rubbing):
            return first
        first = min(before, last)
    return first


def _passing(
    parts: list[Stretch], start: int, last: int, level: Level, is_rubbing: Callable[[int], bool]
) -> bool:
    """Tell whether louder stretches in a row are a passing noise, as a telephone: brief, and no scrape."""
    if start == 0 or (parts[last].stop - parts[start].start) * level.frame > LONGEST_PASSING:
        return False
    longest = max(range(start, last + 1), key=lambda number: parts[number].stop - parts[number].start)
    return parts[longest].level - parts[start - 1].level > LEAST_CONTRAST / 2 and not is_rubbing(longest)


def _why_not(parts: list[Stretch], first: int, level: Level) -> str:
    if first == 0:
        return f"no change by {LEAST_CONTRAST:.0f} dB or more: noise to the end, or none was heard"
    quiet = _median(parts[first:], level)
    if parts[first - 1].level < quiet:
        return "the noise came back before the end"
    if parts[first - 1].level - quiet < LEAST_CONTRAST:
        return _LITTLE
    if (parts[-1].stop - parts[first].start) * level.frame < LEAST_QUIET:
        return f"quiet for less than {LEAST_QUIET:.0f} s at the end"
    return ""


def _median(parts: list[Stretch], level: Level) -> float:
    return float(np.nanmedian(level.level[parts[0].start : parts[-1].stop]))


def _fall(parts: list[Stretch], first: int, level: Level, confidence: float) -> Fall | None:
    """Fit the fall between the last loud stretch, with some seconds before it, and the quiet part."""
    earliest = parts[first].start - round(LONGEST_FADE / level.frame)
    start = max(min(parts[first - 1].start, earliest), _since_pause(parts, first - 1))
    return fit_fall(
        level.time[start:],
        _smooth(level)[start:],
        longest_fall=LONGEST_FADE,
        edge=2.0 * level.frame,
        confidence=confidence,
    )


def _smooth(level: Level) -> FloatArray:
    """Medians of three frames; what was left out stays so."""
    there = np.isfinite(level.level)
    found = np.full(level.level.shape, np.nan)
    found[there] = median_filter(level.level[there], size=3, mode="nearest")
    return found


def _since_pause(parts: list[Stretch], number: int) -> int:
    """Find the frame from which on noise went on without a pause; 0 where there was none."""
    while number > 0 and parts[number].level - parts[number - 1].level <= LEAST_CONTRAST:
        number -= 1
    return parts[number].start if number > 0 else 0


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
    return max(parts[number].start, earliest, _since_pause(parts, first - 1))


def _stands_out(fall: Fall, start: int, level: Level) -> bool:
    """Tell whether the fall is more than part of a steady fading: it must stand out from a sloping line."""
    near = np.arange(level.time.size) >= start
    beside = fit_fall(
        level.time[near],
        _smooth(level)[near],
        longest_fall=LONGEST_FADE,
        drift=True,
        edge=2.0 * level.frame,
    )
    return beside is not None and beside.drop >= LEAST_CONTRAST and abs(beside.end - fall.end) < LEAST_QUIET


def _accepted(fall: Fall, level: Level, confidence: float) -> QuietHeard:
    before, after = level.level[level.time < fall.end], level.level[level.time >= fall.end]
    noise, quiet = _mean_level(before), _mean_level(after)
    share = float(np.mean(level.level > 0.5 * (noise + quiet)))  # what passed counts as quiet
    # A level is told by the frame only, and what rings down after the end may lie in the next one.
    blur = 0.5 * max(fall.end - fall.start, 0.0) + level.frame
    low, high = max(fall.low - blur, 0.0), min(fall.high + blur, level.frame * level.level.size)
    return QuietHeard(
        accepted=True,
        reason="",
        quiet_time=fall.end,
        low=low,
        high=high,
        confidence=confidence,
        contrast=noise - quiet,
        noise_level=noise,
        quiet_level=quiet,
        scrape_share=share,
        level=level,
    )


def _mean_level(level: FloatArray) -> float:
    return float(10.0 * np.log10(np.nanmean(10.0 ** (level / 10.0))))


def _refused(reason: str, confidence: float, level: Level | None = None) -> QuietHeard:
    return QuietHeard(
        accepted=False,
        reason=reason,
        quiet_time=None,
        low=None,
        high=None,
        confidence=confidence,
        contrast=None,
        noise_level=None,
        quiet_level=None,
        scrape_share=None,
        level=level,
    )


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
