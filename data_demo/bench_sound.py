"""The sound of the invented bench: rubbing noise that dies away as the film takes over, over motor and fan.

The noise follows the share of the load that metal carries (`bench.rubbing_share`), pulses with the ring and
stops where that share falls under what the ear still hears (`bench.QUIET_SHARE`). Then come, where they are
asked for, a squeal at the start and a telephone. Small files on purpose: 4000 samples a second of 8 bit.
"""

from __future__ import annotations

import io
import wave

import numpy as np
from bench_log import Truth
from scipy.signal import butter, sosfilt

from bench import QUIET_SHARE, rubbing_share

RATE = 4000
RING_TURNS = 700 / 60
FAN = 0.010
#: Amplitude of the rubbing noise when all the load is on metal, and how it goes with the share of the load.
RUBBING = 0.13
FALL = 0.4


def _noise(rng: np.random.Generator, low: float, high: float, size: int) -> np.ndarray:
    noise = sosfilt(
        butter(2, (low, high), btype="bandpass", fs=RATE, output="sos"), rng.standard_normal(size)
    )
    return noise / np.std(noise)


def _rubbing(times: np.ndarray, truth: Truth) -> np.ndarray:
    coarse = np.linspace(times[0], times[-1], 600)
    share = np.interp(
        times, coarse, rubbing_share(truth.film_pressure, truth.wear_coefficient, truth.steps, coarse)
    )
    return np.where(share > 1 - QUIET_SHARE, share, 0.0) ** FALL


def recording(
    rng: np.random.Generator,
    truth: Truth,
    duration: float,
    *,
    late: float = 0.0,
    squeal: float = 0.0,
    telephone: float | None = None,
    gain: float = 0.0,
) -> bytes:
    """A WAV file of a run.

    Parameters
    ----------
    rng : Generator
        Source of every random draw.
    truth : Truth
        What the run is in truth.
    duration : float
        Length of the recording [s].
    late : float
        How long after the run the recorder was started [s]; it runs on as long after the end.
    squeal : float
        How long the contact squeals at first [s].
    telephone : float, optional
        When a telephone rings for three seconds [s].
    gain : float
        Gain of the recorder above its usual setting [dB].
    """
    size = round(duration * RATE)
    heard = np.arange(size) / RATE
    times = heard + late
    turning = 1 + 0.3 * np.sin(2 * np.pi * RING_TURNS * times)
    sound = RUBBING * _rubbing(np.minimum(times, duration), truth) * turning * _noise(rng, 500, 1900, size)
    sound += FAN * _noise(rng, 150, 1900, size)
    sound += 0.05 * np.sin(2 * np.pi * 50 * times) + 0.02 * np.sin(2 * np.pi * 150 * times)
    sound += np.where(times < squeal, 0.15 * np.sin(2 * np.pi * 1450 * times), 0.0)
    if telephone is not None:
        rings = (heard > telephone) & (heard < telephone + 3) & (np.mod(heard, 1) < 0.7)
        sound += np.where(rings, 0.08 * np.sin(2 * np.pi * 1100 * times), 0.0)
    return _wav(sound * 10 ** (gain / 20))


def _wav(sound: np.ndarray) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(1)
        file.setframerate(RATE)
        file.writeframes(np.clip(np.round(128 + 127 * sound), 0, 255).astype(np.uint8).tobytes())
    return out.getvalue()
