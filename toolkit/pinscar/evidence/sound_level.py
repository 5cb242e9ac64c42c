"""The level of a recording in a band of frequencies, against time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import signal as filters

from pinscar.evidence.a_weighting import a_weighted

FloatArray = NDArray[np.float64]

BAND = (500.0, 8000.0)
"""Rubbing noise is broad; motor and gears hum below this band (common practice) [Hz]."""

FRAME = 0.1
"""Length of a frame [s]."""

_NYQUIST_SHARE = 0.9
_LEAST_WIDTH = 1.5
_FLOOR = 1e-12


@dataclass(frozen=True, slots=True)
class Level:
    """A level against time.

    Parameters
    ----------
    time : ndarray of float
        Middle of each frame [s].
    level : ndarray of float
        Level in the band [dB], 0 dB at a square wave of full scale.
    band : tuple of float
        The band used [Hz], cut where the recording ends.
    frame : float
        Length of a frame [s].
    a_weighted : bool
        Whether the recording was A-weighted.
    """

    time: FloatArray
    level: FloatArray
    band: tuple[float, float]
    frame: float
    a_weighted: bool


def usable_band(band: tuple[float, float], rate: float) -> tuple[float, float] | None:
    """Cut a band to what a sampling rate can carry.

    Parameters
    ----------
    band : tuple of float
        Lower and upper end [Hz].
    rate : float
        Samples a second [Hz].

    Returns
    -------
    tuple of float or None
        The band up to 0.9 of half the rate; None where its upper end is then less than 1.5 times the lower.

    References
    ----------
    Sampling theorem; the shares are own conventions.

    Examples
    --------
    >>> usable_band((500.0, 8000.0), 4000.0)
    (500.0, 1800.0)
    """
    upper = min(band[1], _NYQUIST_SHARE * rate / 2.0)
    return (band[0], upper) if upper >= _LEAST_WIDTH * band[0] else None


def band_level(
    signal: ArrayLike,
    rate: float,
    band: tuple[float, float] = BAND,
    frame: float = FRAME,
    *,
    weighted: bool = True,
) -> Level:
    """Compute the level of a recording in a band, frame by frame.

    The recording is A-weighted, passed forwards and backwards through a Butterworth band pass of fourth
    order (so that nothing moves in time), and ``L = 10 log10(mean of x^2)`` is taken over each frame.

    Parameters
    ----------
    signal : array_like
        One channel, full scale at -1 and 1 [1].
    rate : float
        Samples a second [Hz].
    band : tuple of float
        Lower and upper end [Hz]; cut at 0.9 of half the rate.
    frame : float
        Length of a frame [s].
    weighted : bool
        Whether to A-weight.

    Returns
    -------
    Level
        One value for each whole frame.

    Raises
    ------
    ValueError
        The recording cannot carry the band, or is shorter than a frame.

    References
    ----------
    Oppenheim and Schafer, Discrete-Time Signal Processing, 1989, section 7.1 (Butterworth filters);
    IEC 61672-1:2013 (level as the logarithm of the mean square).

    Examples
    --------
    A tone of 1000 Hz at full scale has a mean square of one half, -3.0 dB:

    >>> t = np.arange(16000) / 16000
    >>> found = band_level(np.sin(2 * np.pi * 1000 * t), 16000.0)
    >>> found.level[4:6].round(1).tolist()
    [-3.0, -3.0]
    """
    used = usable_band(band, rate)
    if used is None:
        raise ValueError(f"band {band} Hz does not fit a recording of {rate} samples a second")
    samples = np.asarray(signal, dtype=np.float64)
    size = round(frame * rate)
    count = samples.size // size
    if count < 1:
        raise ValueError(f"signal is shorter than a frame of {frame} s")
    heard = a_weighted(samples, rate) if weighted else samples
    sections = filters.butter(4, used, btype="bandpass", fs=rate, output="sos")
    passed = filters.sosfiltfilt(sections, heard)
    power = np.mean(np.reshape(passed[: count * size], (count, size)) ** 2, axis=1)
    # A floor far under the step of 16 bit keeps digital silence from being minus infinity.
    level = np.asarray(10.0 * np.log10(np.maximum(power, _FLOOR)), dtype=np.float64)
    step = size / rate
    middle = np.asarray((np.arange(count) + 0.5) * step, dtype=np.float64)
    return Level(middle, level, used, step, weighted)
