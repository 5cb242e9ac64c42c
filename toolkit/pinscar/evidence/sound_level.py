"""The level of a recording against time, A-weighted, the kind of a noise, and what makes it useless."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import ArrayLike, NDArray
from scipy import fft

FloatArray = NDArray[np.float64]

# Frequencies of the poles [Hz], from the defining 20.6, 107.7, 737.9 and 12194 Hz carried to more places.
_F1, _F2, _F3, _F4 = 20.598997, 107.65265, 737.86223, 12194.217
_PADDING = 0.2
SAMPLES = 16_000_000
"""Most samples of a recording that are read, its channels together: five and a half minutes at 48 kHz."""

FORMATS = ("WAV", "WAVEX", "RF64", "W64")
"""What counts as a WAV file; other kinds of sound may unpack to any length."""

BLOCK = 262_144
"""Samples read at a time."""

_CANCELLED = 0.25


def read_recording(path: Path | str) -> tuple[FloatArray, float]:
    """Read a recording as one channel.

    Parameters
    ----------
    path : Path or str
        A WAV file.

    Returns
    -------
    tuple of ndarray of float and float
        Samples, full scale at -1 and 1 [1], and samples a second [Hz]: the mean of the channels, or the
        loudest of them where they cancel, as two of opposite phase do.

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
        with soundfile.SoundFile(path) as file:
            if file.format not in FORMATS:
                raise ValueError(f"this is a {file.format} file, and no WAV file")
            rate = float(file.samplerate)
            if file.frames * file.channels > SAMPLES:
                raise ValueError(
                    f"the recording has more than {SAMPLES:,} samples, the most that is read; "
                    "cut it to the run, or save it with fewer samples a second"
                )
            one = _channel(file)
            parts = [one(part) for part in file.blocks(BLOCK, dtype="float64", always_2d=True)]
    except (OSError, RuntimeError) as failure:
        raise ValueError("not readable as a sound recording") from failure
    return np.concatenate([np.zeros(0), *parts]), rate


def _channel(file: soundfile.SoundFile) -> Callable[[FloatArray], FloatArray]:
    """Choose what is taken of the channels: their mean, or the loudest where that has lost three quarters."""
    if file.channels == 1:
        return lambda part: np.asarray(part[:, 0])
    powers, mean = np.zeros(file.channels), 0.0
    for part in file.blocks(BLOCK, dtype="float64", always_2d=True):
        powers += np.sum(part**2, axis=0)
        mean += float(np.sum(part.mean(axis=1) ** 2))
    file.seek(0)
    if mean < _CANCELLED * float(np.mean(powers)):
        loudest = int(np.argmax(powers))
        return lambda part: np.asarray(part[:, loudest])
    return lambda part: np.asarray(part.mean(axis=1))


def a_weighting(frequency: ArrayLike) -> FloatArray:
    """Compute the A-weighting at a frequency.

    With the pole frequencies f1 to f4,

        R = f4^2 f^4 / ((f^2 + f1^2) sqrt((f^2 + f2^2) (f^2 + f3^2)) (f^2 + f4^2)),
        A = 20 log10(R(f) / R(1000 Hz)).

    Parameters
    ----------
    frequency : array_like
        Frequency [Hz], zero or above; any shape.

    Returns
    -------
    ndarray of float
        Weighting [dB], same shape; minus infinity at 0 Hz.

    Raises
    ------
    ValueError
        A frequency is negative.

    References
    ----------
    IEC 61672-1:2013, annex E (analytical form of the A-weighting; pole frequencies from memory, checked
    against the standard's table of thirds of an octave).

    Examples
    --------
    >>> a_weighting(10.0 ** np.array([1.5, 2.0, 3.0, 4.0])).round(1).tolist()
    [-39.4, -19.1, 0.0, -2.5]
    """
    f = np.asarray(frequency, dtype=np.float64)
    if np.any(f < 0):
        raise ValueError("frequency must be zero or above, in hertz")
    with np.errstate(divide="ignore"):
        return np.asarray(20.0 * np.log10(_gain(f) / _gain(np.float64(1000.0))))


def _gain(frequency: ArrayLike) -> FloatArray:
    square = np.asarray(frequency, dtype=np.float64) ** 2
    middle = np.sqrt((square + _F2**2) * (square + _F3**2))
    return np.asarray(_F4**2 * square**2 / ((square + _F1**2) * middle * (square + _F4**2)))


def a_weighted(signal: ArrayLike, rate: float) -> FloatArray:
    """Weight a recording as the ear does.

    The spectrum of the whole recording is multiplied by the curve, so the weighting is exact at every
    frequency up to half the sampling rate, and nothing is shifted in time.

    Parameters
    ----------
    signal : array_like
        Sound pressure in any unit, at equal steps in time; one dimension.
    rate : float
        Samples a second [Hz].

    Returns
    -------
    ndarray of float
        The weighted signal, same unit and length.

    Raises
    ------
    ValueError
        The signal has more than one dimension, or the rate is not above zero.

    References
    ----------
    IEC 61672-1:2013, annex E; filtering by Fourier transform: Oppenheim and Schafer, Discrete-Time Signal
    Processing, 1989, section 8.7.

    Examples
    --------
    A tone of 100 Hz is heard 19.1 dB weaker than it is:

    >>> t = np.arange(8000) / 8000
    >>> weighted = a_weighted(np.sin(2 * np.pi * 100 * t), 8000.0)
    >>> round(20 * float(np.log10(np.std(weighted[2000:6000]) / np.sqrt(0.5))), 1)
    -19.1
    """
    samples = np.asarray(signal, dtype=np.float64)
    if samples.ndim != 1:
        raise ValueError("signal must have one dimension: choose one channel, or their mean")
    if not rate > 0:
        raise ValueError(f"rate must be above zero, not {rate}")
    if samples.size == 0:
        return samples
    # Zeros at the end prevent wrap-around from the end into the beginning.
    length = fft.next_fast_len(samples.size + round(_PADDING * rate), real=True)
    spectrum = fft.rfft(samples, length)
    curve = _gain(fft.rfftfreq(length, 1.0 / rate)) / _gain(np.float64(1000.0))
    return np.asarray(fft.irfft(spectrum * curve, length)[: samples.size], dtype=np.float64)


BAND = (500.0, 8000.0)
"""Rubbing noise is broad; motor and gears hum below this band (common practice) [Hz]."""

FRAME = 0.1
"""Length of a frame [s]."""

_NYQUIST_SHARE = 0.9
_LEAST_WIDTH = 1.5
_FLOOR = 1e-12
_GAIN_STEP = 1.0


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

    The recording is A-weighted and passed through a band pass with the square of the gain of a Butterworth
    filter of fourth order, as forwards and backwards through one, so that nothing moves in time. Both are
    one product with the spectrum. Then ``L = 10 log10(mean of x^2)`` is taken over each frame.

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
    passed = _passed(samples, rate, used, weighted=weighted)
    power = np.mean(np.reshape(passed[: count * size], (count, size)) ** 2, axis=1)
    # A floor far below one step of 16 bit, so that digital silence is not minus infinity.
    level = np.asarray(10.0 * np.log10(np.maximum(power, _FLOOR)), dtype=np.float64)
    step = size / rate
    middle = np.asarray((np.arange(count) + 0.5) * step, dtype=np.float64)
    return Level(middle, level, used, step, weighted)


def _passed(samples: FloatArray, rate: float, band: tuple[float, float], *, weighted: bool) -> FloatArray:
    """Weight and pass a recording in one go through its spectrum.

    Single precision takes half the time, and its error lies 130 dB below the loudest sound. The gain is
    computed on a coarser grid of frequencies, on which it is all but straight.
    """
    length = fft.next_fast_len(samples.size + round(_PADDING * rate), real=True)
    spectrum = fft.rfft(samples.astype(np.float32), length)
    coarse = np.linspace(0.0, 0.5 * rate, max(round(0.5 * rate / _GAIN_STEP), 2) + 1)
    curve = _band_gain(coarse, rate, band)
    if weighted:
        curve *= _gain(coarse) / _gain(np.float64(1000.0))
    frequency = fft.rfftfreq(length, 1.0 / rate)
    spectrum *= np.interp(frequency, coarse, curve).astype(np.float32)
    return np.asarray(fft.irfft(spectrum, length)[: samples.size], dtype=np.float64)


def _band_gain(frequency: FloatArray, rate: float, band: tuple[float, float]) -> FloatArray:
    """Give the squared gain of a Butterworth band pass that the bilinear transform made."""
    low, high = (np.tan(np.pi * edge / rate) for edge in band)
    w = np.tan(np.pi * np.minimum(frequency, 0.499999 * rate) / rate)
    with np.errstate(divide="ignore"):
        off = (w**2 - low * high) / (w * (high - low))
    off *= off
    off *= off
    return np.asarray(1.0 / (1.0 + off * off))


BANDS = 8
"""Bands that a spectrum is compared in [1]."""

ALIKE = 4.0
"""Two noises are of one kind where the shapes of their spectra differ by no more than that [dB, rms]."""

_WINDOW = 1024
_BAND_FLOOR = 1e-14


def band_powers(signal: ArrayLike, rate: float, band: tuple[float, float]) -> FloatArray:
    """Give the power of a noise in bands of equal ratio.

    Parameters
    ----------
    signal : array_like
        A stretch of one channel [1].
    rate : float
        Samples a second [Hz].
    band : tuple of float
        Lowest and highest frequency [Hz].

    Returns
    -------
    ndarray of float
        Mean square in each of eight bands [1].

    References
    ----------
    P. D. Welch, The use of fast Fourier transform for the estimation of power spectra, IEEE Trans. Audio
    Electroacoust. 15, 1967.

    Examples
    --------
    >>> tone = np.sin(2 * np.pi * 1000.0 * np.arange(8000) / 8000.0)
    >>> int(np.argmax(band_powers(tone, 8000.0, (500.0, 3600.0))))
    2
    """
    from scipy.signal import welch  # here: it takes as long to import as half of all that a report needs

    samples = np.asarray(signal, dtype=np.float64)
    window = min(_WINDOW, samples.size)
    frequency, density = welch(samples, rate, nperseg=window)
    edges = np.geomspace(*band, BANDS + 1)
    of = np.searchsorted(edges, frequency, side="right") - 1
    sums = [float(np.sum(density[of == one])) for one in range(BANDS)]
    return np.array(sums) * (rate / window)


def alike(first: FloatArray, second: FloatArray, quiet: FloatArray) -> bool:
    """Tell whether two noises have one kind of spectrum, what remained without them taken off.

    Parameters
    ----------
    first, second : ndarray of float
        Powers in bands of the two (`band_powers`) [1].
    quiet : ndarray of float
        Those of what remained [1].

    Returns
    -------
    bool
        Whether their shapes differ by 4 dB or less. A telephone or a voice lies in few bands, metal on
        metal in all.

    References
    ----------
    Own convention.

    Examples
    --------
    >>> even, tone, still = np.full(8, 1.0), np.array([0.01] * 7 + [1.0]), np.full(8, 0.001)
    >>> alike(even, 0.5 * even, still), alike(even, tone, still)
    (True, False)
    """
    shapes = [10.0 * np.log10(np.maximum(one - quiet, 0.02 * one + _BAND_FLOOR)) for one in (first, second)]
    off = shapes[0] - shapes[1]
    return bool(np.sqrt(np.mean((off - np.mean(off)) ** 2)) <= ALIKE)


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


LEAST_ONSET = 6.0
"""Least rise of the level where a run begins [dB]: handling and voices are weaker or pass."""
LONGER = (2.0, 0.05)
"""A recording is as long as its run if it is so close [s], or by that share of it."""
HEARD_WITHIN = 0.3
"""How well the start is placed by the cuts of the level [s]."""


def is_longer(length: float, duration: float) -> bool:
    """Tell whether a recording is so much longer than its run that the start of the run must be sought.

    Parameters
    ----------
    length : float
        Length of the recording [s].
    duration : float
        Duration of the run [s].

    Returns
    -------
    bool
        Whether it is longer by more than 2 s and by more than 5 %.

    References
    ----------
    Own rule: a recorder is stopped by hand a second or so after the run.

    Examples
    --------
    >>> is_longer(61.0, 60.0), is_longer(75.0, 60.0)
    (False, True)
    """
    return length - duration > max(LONGER[0], LONGER[1] * duration)


def start_of_run(parts: Sequence[tuple[int, int, float]], frame: float, duration: float) -> float | None:
    """Find when the run began in a longer recording.

    The recording must begin quieter than the rubbing noise, by 6 dB. What is louder than half way between
    is grouped; the first group must be the longest, since a voice or a trial before the run would shift
    every time, and all that is loud must fit into the run.

    Parameters
    ----------
    parts : sequence of tuple
        Stretches of one level, in order: first frame, the frame after the last, and level [dB].
    frame : float
        Length of a frame [s].
    duration : float
        Duration of the run [s].

    Returns
    -------
    float or None
        The start [s]; None where it can't be told.

    References
    ----------
    Own method.

    Examples
    --------
    >>> parts = [(0, 100, -60.0), (100, 500, -20.0), (500, 800, -50.0)]
    >>> start_of_run(parts, 0.1, 60.0), start_of_run(parts[1:], 0.1, 60.0)
    (10.0, None)
    """
    if len(parts) < 2:
        return None
    # Rubbing is what lasts: the level that the loudest tenth of the run reaches.
    levels = np.repeat([level for _, _, level in parts], [stop - start for start, stop, _ in parts])
    share = min(0.1 * duration / frame / levels.size, 0.5)
    rubbing = float(np.quantile(levels, 1.0 - share))
    before = parts[0][2]
    if rubbing - before < LEAST_ONSET:
        return None
    groups: list[list[int]] = []
    for first, stop, level in parts:
        if level <= 0.5 * (rubbing + before):
            continue
        if groups and groups[-1][1] == first:
            groups[-1][1] = stop
        else:
            groups.append([first, stop])
    lengths = [stop - first for first, stop in groups]
    fits = (groups[-1][1] - groups[0][0]) * frame <= duration + LONGER[0]
    if lengths[0] < max(lengths) or not fits:
        return None
    begun = groups[0][0] * frame
    return begun if begun + duration <= levels.size * frame + LONGER[0] else None
