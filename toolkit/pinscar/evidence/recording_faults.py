"""What makes a recording useless: too short, silent, overdriven."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.evidence.sound_level import BAND, FRAME, usable_band

SHORTEST = 5.0
"""Shortest recording that is looked at [s]."""

CLIPPED_SHARE = 1e-3
"""Share of samples at the extreme from which on a recording may be clipped."""

MOST_CLIPPED = 0.25
"""Share of frames that may be overdriven: a squeal at first, or knocks, do no harm to the end [1]."""

_CUT_OFF = 0.05
_SILENT = 10 ** (-80.0 / 20.0)
_PILED_UP = 0.6
_LOUD_ENOUGH_TO_TELL = 0.2


def recording_fault(signal: ArrayLike, rate: float, duration: float | None = None) -> str:
    """Say why a recording cannot be used.

    Parameters
    ----------
    signal : array_like
        One channel, full scale at -1 and 1 [1].
    rate : float
        Samples a second [Hz].
    duration : float, optional
        Duration of the run [s]; a recording that is not as long, within 5 % or 2 s, is refused. In a longer
        one the start of the run is sought (`run_in_recording.start_of_run`).

    Returns
    -------
    str
        The reason in plain words; empty where there is none.

    References
    ----------
    Own conventions.

    Examples
    --------
    >>> recording_fault(np.zeros(40000), 8000.0), recording_fault(np.zeros(800), 8000.0)
    ('silent: nothing was recorded', 'too short: 0.1 s, at least 5 s are needed')
    """
    samples = np.asarray(signal, dtype=np.float64)
    length = samples.size / rate
    if usable_band(BAND, rate) is None:
        return f"sampled too slowly: {rate:.0f} samples a second carry no rubbing noise"
    if length < SHORTEST:
        return f"too short: {length:.2g} s, at least {SHORTEST:.0f} s are needed"
    if not np.all(np.isfinite(samples)):
        return "damaged: some samples are no numbers"
    if float(np.std(samples)) < _SILENT:
        return "silent: nothing was recorded"
    if duration is not None and duration - length > max(2.0, 0.05 * duration):
        return f"too short: {length:.3g} s of recording, and the run lasted {duration:.3g} s"
    if clipped_share(samples, rate) > MOST_CLIPPED:
        return "clipped: the recorder was overdriven, so loud parts are all equally loud"
    return ""


def clipped_share(signal: ArrayLike, rate: float) -> float:
    """Give the share of a recording's frames that are overdriven so far that their level says little.

    Parameters
    ----------
    signal : array_like
        One channel [1].
    rate : float
        Samples a second [Hz].

    Returns
    -------
    float
        Share of frames of 0.1 s in which more than 5 % of the samples lie at the extreme [1]; 0 where the
        recording is not clipped (`is_clipped`). Of normal noise with 5 % cut off, the level is 0.3 dB low:
        it still rises and falls with the noise.

    References
    ----------
    Own definition; variance of a normal variable that is cut at 1.96 standard deviations, 0.929.

    Examples
    --------
    >>> noise = np.random.default_rng(1).normal(0, 0.3, 80000)
    >>> clipped_share(np.clip(noise, -0.2, 0.2), 8000.0), clipped_share(noise, 8000.0)
    (1.0, 0.0)
    """
    samples = np.asarray(signal, dtype=np.float64)
    if not is_clipped(samples):
        return 0.0
    size = round(FRAME * rate)
    count = samples.size // size
    if count == 0:
        return 1.0
    at_top = np.abs(samples[: count * size]) >= 0.999 * float(np.max(np.abs(samples)))
    return float(np.mean(np.mean(at_top.reshape(count, size), axis=1) > _CUT_OFF))


def is_clipped(signal: ArrayLike) -> bool:
    """Tell whether a recording was overdriven, at full scale or before it.

    Samples pile up at the extreme: at least one in a thousand lies within 0.1 % of the peak, and these are
    more than 0.6 times as many as lie between 90 % and 99.9 % of it. (A pure tone reaches 0.11.)

    Parameters
    ----------
    signal : array_like
        One channel [1].

    Returns
    -------
    bool
        Whether it is clipped. A signal with a peak under 0.2 of full scale is never called so, as coarse
        steps of the recorder pile up in the same way.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> noise = np.random.default_rng(1).normal(0, 0.3, 20000)
    >>> is_clipped(np.clip(noise, -2, 2)), is_clipped(np.clip(noise, -0.6, 0.6))
    (False, True)
    """
    size = np.abs(np.asarray(signal, dtype=np.float64))
    peak = float(np.max(size, initial=0.0))
    if peak < _LOUD_ENOUGH_TO_TELL:
        return False
    top = int(np.count_nonzero(size >= 0.999 * peak))
    below = int(np.count_nonzero((size >= 0.9 * peak) & (size < 0.999 * peak)))
    return top >= CLIPPED_SHARE * size.size and top > _PILED_UP * below
