"""Why a recording cannot be used: too short, silent, clipped, or not as long as its run."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pinscar.evidence.sound_level import BAND, usable_band

SHORTEST = 5.0
"""Shortest recording that is looked at [s]."""

CLIPPED_SHARE = 1e-3
"""Share of samples at the extreme from which on a recording may be clipped."""

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
        Duration of the run [s]; a recording that is not as long, within 5 % or 2 s, is refused, since
        nobody can tell where in it the run begins.

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
    if duration is not None and abs(length - duration) > max(2.0, 0.05 * duration):
        side = "too short" if length < duration else "too long"
        return f"{side}: {length:.3g} s of recording, and the run lasted {duration:.3g} s"
    if is_clipped(samples):
        return "clipped: the recorder was overdriven, so loud parts are all equally loud"
    return ""


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
