"""How well the end of the rubbing noise is heard, on recordings made in two ways that share no code.

Run from the repository's root: ``python tests/benchmarks/sound_table.py --count 20``. A row: how many tell a
moment, its median error and 95th percentile, the share of truths in the 95 % interval, and how many tell an
interval of a fade only, with the share of truths in that.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np
from scipy.signal import butter, sosfilt

from pinscar.evidence.sound import hear_quiet

RATE, LENGTH = 8000, 60.0
KINDS = ("sharp", "short fade", "slow fade", "telephone after", "knocks", "never quiet")


def _course(kind: str, rng: np.random.Generator, t: np.ndarray) -> tuple[np.ndarray, float]:
    """Strength of the rubbing noise against time, and its end."""
    end = rng.uniform(20.0, 45.0)
    long = {"short fade": rng.uniform(1.0, 3.0), "slow fade": rng.uniform(14.0, 20.0)}.get(kind, 0.0)
    if kind == "never quiet":
        return np.ones(t.size), np.inf
    if not long:
        return (t < end).astype(float), end
    return np.clip((end - t) / long, 0.0, 1.0), end


def filtered(kind: str, rng: np.random.Generator) -> tuple[np.ndarray, float]:
    """Noise through filters, over a fan and a hum."""
    t = np.arange(round(LENGTH * RATE)) / RATE
    strength, end = _course(kind, rng, t)

    def noise(low: float, high: float) -> np.ndarray:
        made = sosfilt(butter(2, (low, high), "bandpass", fs=RATE, output="sos"), rng.standard_normal(t.size))
        return made / np.std(made)

    loud = 10 ** (rng.uniform(8.0, 16.0) / 20)
    sound = noise(300, 3500) + 2.0 * np.sin(2 * np.pi * 50 * t)
    sound += loud * strength * noise(600, 3500) * (1 + 0.3 * np.sin(2 * np.pi * 11.7 * t))
    if kind == "telephone after":
        at = end + rng.uniform(4.0, 8.0)
        sound += np.where((t > at) & (t < at + 3.5), loud * np.sin(2 * np.pi * 1100 * t), 0.0)
    if kind == "knocks":
        for at in rng.uniform(1.0, 58.0, 6):
            sound += (
                8 * loud * np.exp(-np.clip(t - at, 0, None) / 0.03) * (t >= at) * rng.standard_normal(t.size)
            )
    return 0.03 * sound, end


def grains(kind: str, rng: np.random.Generator) -> tuple[np.ndarray, float]:
    """Many small blows that ring down, shaped in the spectrum."""
    size = round(LENGTH * RATE)
    t = np.arange(size) / RATE
    strength, end = _course(kind, rng, t)

    def rung(rate: float, pitch: float, along: np.ndarray) -> np.ndarray:
        blows = (rng.random(size) < rate / RATE * along) * rng.normal(0, 1, size)
        ring = np.exp(-np.arange(400) / 40.0) * np.sin(2 * np.pi * pitch * np.arange(400) / RATE)
        length = 2 ** int(np.ceil(np.log2(size + 400)))
        return np.fft.irfft(np.fft.rfft(blows, length) * np.fft.rfft(ring, length), length)[:size]

    scrape = sum(rung(1500.0, pitch, np.ones(size)) for pitch in (900.0, 1700.0, 2600.0))
    still = sum(rung(1500.0, pitch, np.ones(size)) for pitch in (400.0, 1200.0))
    loud = 10 ** (rng.uniform(8.0, 16.0) / 20)
    sound = still / np.std(still) + loud * strength * scrape / np.std(scrape)
    if kind == "telephone after":
        at = end + rng.uniform(4.0, 8.0)
        warble = np.sign(np.sin(2 * np.pi * 900 * t)) * (np.mod(t, 0.5) < 0.3)
        sound += np.where((t > at) & (t < at + 3.0), loud * warble, 0.0)
    if kind == "knocks":
        for at in rng.integers(RATE, size - RATE, 5):
            sound[at : at + 300] += 10 * loud * rng.normal(0, 1, 300)
    return 0.03 * sound, end


def row(
    kind: str, draw: Callable[[str, np.random.Generator], tuple[np.ndarray, float]], count: int, seed: int
):
    """Hear so many recordings: a line of the table."""
    off, held, faded = [], [], []
    for number in range(count):
        sound, end = draw(kind, np.random.default_rng([seed, number, KINDS.index(kind)]))
        heard = hear_quiet(sound, float(RATE), LENGTH)
        if heard.quiet_time is not None:
            off.append(abs(heard.quiet_time - end))
            held.append(heard.low <= end <= heard.high)
        elif heard.faded:
            faded.append(heard.low <= end <= heard.high)
    told = f"{np.median(off):.2g} s | {np.quantile(off, 0.95):.2g} s | {np.mean(held):.0%}" if off else "| |"
    other = f"{len(faded)} ({np.mean(faded):.0%})" if faded else "0"
    return f"| {kind}, {draw.__name__} | {len(off)} of {count} | {told} | {other} |"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    print("| Recordings | A moment told | Median error | 95th percentile | In the interval | Fades told |")
    print("|:--|:--|:--|:--|:--|:--|")
    for kind in KINDS:
        for draw in (filtered, grains):
            print(row(kind, draw, chosen.count, chosen.seed), flush=True)


if __name__ == "__main__":
    main()
