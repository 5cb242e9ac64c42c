"""Is a noise the rubbing noise again? Its spectrum, in bands, beside that of the noise before it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import signal as filters

FloatArray = NDArray[np.float64]

BANDS = 8
"""Bands that a spectrum is compared in [1]."""

ALIKE = 4.0
"""Two noises are of one kind where the shapes of their spectra differ by no more than that [dB, rms]."""

_WINDOW = 1024
_FLOOR = 1e-14


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
    samples = np.asarray(signal, dtype=np.float64)
    window = min(_WINDOW, samples.size)
    frequency, density = filters.welch(samples, rate, nperseg=window)
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
    shapes = [10.0 * np.log10(np.maximum(one - quiet, 0.02 * one + _FLOOR)) for one in (first, second)]
    off = shapes[0] - shapes[1]
    return bool(np.sqrt(np.mean((off - np.mean(off)) ** 2)) <= ALIKE)
