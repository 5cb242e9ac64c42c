"""Rulers, recordings and traces from generators that no limit was set with: run once, at the end.

Run from the repository's root: ``python tests/benchmarks/unseen_table.py --count 12``. Nothing here is shared
with the generators of the other tables. Rulers: rectangles whose covered share of each point is integrated
exactly, seen aslant, with dust. Recordings: a random walk through a resonance, with a drive that is switched
on and off around the run. Traces: friction as a chain of random levels, temperature by summed exponentials.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable

import numpy as np
import pandas as pd

from pinscar.decision.force_readings import with_zero_taken_off
from pinscar.decision.traces import energy_of, stop_told, warming_of
from pinscar.evidence.graticule import read_graticule
from pinscar.evidence.sound import hear_quiet

PITCH, RATE, SPEED = 1e-4, 11025, 1.2


def ruler(rng: np.random.Generator) -> tuple[np.ndarray, float]:
    """Dark rectangles on a light field, a little turned; pitch in the middle [points]."""
    pitch, wide, turn = rng.uniform(12, 36), rng.uniform(0.12, 0.3), rng.uniform(-0.2, 0.2)
    rows, columns = np.indices((500, 700), dtype=float)
    along = (columns - 349.5) * np.cos(turn) + (rows - 249.5) * np.sin(turn)
    along = along / (1.0 + rng.uniform(-1, 1) * 2e-6 * along)
    soft = rng.uniform(0.6, 2.0)

    def covered(upto: np.ndarray) -> np.ndarray:
        turns = np.floor(upto / pitch)
        return turns * wide * pitch + np.minimum(upto - turns * pitch, wide * pitch)

    share = (covered(along + soft) - covered(along - soft)) / (2 * soft)
    picture = 0.75 - 0.5 * share
    for _ in range(12):  # dust
        row, column, size = rng.uniform(0, 500), rng.uniform(0, 700), rng.uniform(2, 7)
        picture[(np.abs(rows - row) + np.abs(columns - column)) < size] *= 0.6
    picture *= np.linspace(1.0, rng.uniform(0.6, 1.0), 700)
    return np.clip(picture + rng.uniform(-0.03, 0.03, picture.shape), 0, 1), pitch


def recording(rng: np.random.Generator, longer: bool) -> tuple[np.ndarray, float]:
    """A run of 45 s: rubbing as white noise through two resonances by recursion; its end [s]."""
    before, after = (rng.uniform(4, 15), rng.uniform(4, 15)) if longer else (0.0, 0.0)
    size, end = round((before + 45.0 + after) * RATE), rng.uniform(12, 38)
    t = np.arange(size) / RATE - before

    def resonance(frequency: float, width: float) -> np.ndarray:
        # the impulse response of a pole pair, cut off where it has died away
        reach = np.arange(round(6 * RATE / width))
        ring = np.exp(-reach * width / RATE) * np.cos(2 * np.pi * frequency * reach / RATE)
        power = 1 << (size + reach.size - 1).bit_length()
        made = np.fft.irfft(np.fft.rfft(rng.laplace(size=size), power) * np.fft.rfft(ring, power), power)[
            :size
        ]
        return made / made.std()

    running = (t >= 0) & (t < 45.0)
    drive = running * (resonance(rng.uniform(150, 400), 300.0) + 0.3 * rng.standard_normal(size))
    scrape = resonance(rng.uniform(900, 1800), 900.0) + resonance(rng.uniform(2200, 3500), 1500.0)
    loud = 10 ** (rng.uniform(0.3, 0.8))
    room = 0.02 * rng.standard_normal(size)
    return 0.02 * (room + drive + loud * scrape * (running & (t < end))), end


def trace(rng: np.random.Generator) -> tuple[pd.DataFrame, float, dict[str, float]]:
    """A run at one load: friction wanders about two levels, and the pin follows by two exponentials."""
    duration, step = float(rng.choice([50.0, 90.0, 200.0])), float(rng.choice([0.2, 0.5, 1.0]))
    fine = np.arange(0.0, duration, 0.02)
    stop = rng.uniform(0.3, 0.7) * duration
    wander = np.cumsum(rng.normal(0, 1, fine.size // 100 + 2))
    wander = 0.01 * np.interp(fine, 2.0 * np.arange(wander.size), wander / max(np.abs(wander).max(), 1.0))
    friction = 450.0 * (np.where(fine < stop, rng.uniform(0.13, 0.2), rng.uniform(0.06, 0.09)) + wander)
    heat = 295.0 + np.zeros(fine.size)
    for gain, tau in ((0.15, 6.0), (0.1, 40.0)):
        kernel = np.exp(-fine / tau) * 0.02 / tau
        power = 1 << (2 * fine.size - 1).bit_length()
        work = np.fft.rfft(friction * SPEED, power) * np.fft.rfft(kernel, power)
        heat += gain * np.fft.irfft(work, power)[: fine.size]
    time = np.arange(-10.0, duration, step)
    force = np.where(time < 0, 0.0, np.interp(time, fine, friction)) + rng.laplace(0, 0.7, time.size)
    warmth = np.where(time < 0, 295.0, np.interp(time, fine, heat)) + rng.laplace(0, 0.1, time.size)
    for one in rng.choice(np.flatnonzero((time > 2) & (time < duration - 3)), 2, replace=False):
        force[one] += rng.choice([-1, 1]) * rng.uniform(50, 500)
    frame = pd.DataFrame({"time": time, "friction_force": force, "temperature": warmth})
    truth = {"energy": SPEED * float(friction.sum()) * 0.02, "peak": float(heat.max()), "stop": stop}
    return frame, duration, truth


def read_trace(frame: pd.DataFrame, duration: float) -> dict[str, tuple[float, float, float]]:
    """Value and interval (twice the standard uncertainty, or that of the stop) of each number."""
    row = {
        "run_id": "1", "lubricant": "R-10", "load": 450.0, "duration": duration, "sliding_speed": SPEED,
        "quiet_time": np.nan,
    }  # fmt: skip
    steps = pd.DataFrame({"run_id": ["1"], "start": [0.0], "load": [450.0]})
    corrected, zero = with_zero_taken_off(frame, duration, 450.0, [])
    energy, warm = energy_of(corrected, zero, row, steps), warming_of(frame, duration)
    stop = stop_told(corrected, steps, row, 0.95)
    found = {}
    if energy is not None and not energy.missing:
        found["energy"] = (energy.energy, 2 * energy.uncertainty, 2 * energy.uncertainty)
    if warm is not None:
        found["peak"] = (warm.peak, 2 * warm.peak_uncertainty, 2 * warm.peak_uncertainty)
    if stop is not None and stop.accepted:
        found["stop"] = (stop.time, stop.time - stop.low, stop.high - stop.time)
    return found


def line(name: str, unit: str, told: Iterable[tuple[float, float, float]], count: int) -> str:
    """A line of the table: error and how far it may lie below and above."""
    table = np.array([*told], dtype=float).reshape(-1, 3)
    if not len(table):
        return f"| {name} | 0 of {count} | | | |"
    off, below, above = table.T
    held = np.mean((-below <= -off) & (-off <= above))
    return (
        f"| {name} | {len(table)} of {count} | {np.median(np.abs(off)):.2g} {unit} "
        f"| {np.quantile(np.abs(off), 0.95):.2g} {unit} | {held:.0%} |"
    )


def rulers(count: int, seed: int) -> str:
    """Read so many rulers."""
    told = []
    for number in range(count):
        picture, pitch = ruler(np.random.default_rng([seed, 1, number]))
        try:
            found = read_graticule(picture, PITCH)
        except ValueError:
            continue
        u = 200 * found.relative_uncertainty
        told.append((100 * (found.scale * pitch / PITCH - 1), u, u))
    return line("ruler", "%", told, count)


def recordings(count: int, seed: int, longer: bool) -> str:
    """Hear so many recordings."""
    told = []
    for number in range(count):
        sound, end = recording(np.random.default_rng([seed, 2, number]), longer)
        heard = hear_quiet(sound, float(RATE), 45.0)
        if heard.quiet_time is not None and heard.low is not None and heard.high is not None:
            told.append((heard.quiet_time - end, heard.quiet_time - heard.low, heard.high - heard.quiet_time))
    return line("recording, longer than its run" if longer else "recording", "s", told, count)


def traces(count: int, seed: int) -> list[str]:
    """Read so many traces."""
    rows: dict[str, list[tuple[float, float, float]]] = {"energy": [], "peak": [], "stop": []}
    for number in range(count):
        frame, duration, truth = trace(np.random.default_rng([seed, 3, number]))
        for name, (value, below, above) in read_trace(frame, duration).items():
            per = 100 / truth[name] if name == "energy" else 1.0
            rows[name].append((per * (value - truth[name]), per * below, per * above))
    units = {"energy": "%", "peak": "K", "stop": "s"}
    return [line(f"trace, {name}", units[name], told, count) for name, told in rows.items()]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    print("| Unseen | Read | Median error | 95th percentile | Within 2 u, or in the interval |")
    print("|:--|:--|:--|:--|:--|")
    print(rulers(chosen.count, chosen.seed), flush=True)
    for longer in (False, True):
        print(recordings(chosen.count, chosen.seed, longer), flush=True)
    print(*traces(chosen.count, chosen.seed), sep="\n")


if __name__ == "__main__":
    main()
