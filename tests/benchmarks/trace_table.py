"""Measure what traces with known faults tell, against the truth that they were drawn from, as a table.

Run from the repository's top folder, with the traces a fault and a seed (a minute on one core for 60):

    export PYTHONPATH=toolkit OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
    python tests/benchmarks/trace_table.py 60 1

Each row: 95th percentile of the error of energy and friction [%], of peak and rise, and of the rises of the
second and later load steps [K], with the share of the truths within twice the stated uncertainty; median
error of the friction stop [s], how many were found, and the share of the truths in its interval. The
courses are invented here: friction falls as a step, along a line, or as wear comes to rest; the pin warms up
as a body of two time constants.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pinscar.decision.force_readings import with_zero_taken_off
from pinscar.decision.traces import energy_of, friction_phases, stop_told, warming_of

SPEED = 1.466
FINE = 0.01


@dataclass
class Drawn:
    """A run that was drawn: its truth, and what a recorder made of it."""

    duration: float
    steps: list[tuple[float, float]]
    time: np.ndarray
    force: np.ndarray
    warmth: np.ndarray
    truth: dict[str, float] = field(default_factory=dict)
    step_rises: list[float] = field(default_factory=list)


def course(rng, duration: float, steps: list[tuple[float, float]]):
    """Draw friction and temperature on a fine grid, and when friction settled."""
    t = np.arange(0.0, duration + FINE / 2, FINE)
    begun = steps[-1][0]
    settled = begun + (duration - begun) * rng.uniform(0.3, 0.7)
    metal, film = rng.uniform(0.12, 0.2), rng.uniform(0.07, 0.1)
    share = np.zeros(t.size)
    kind = rng.integers(3)
    for number, (start, _) in enumerate(steps):
        last = number == len(steps) - 1
        stop = steps[number + 1][0] if not last else duration
        end = settled if last else start + 0.6 * (stop - start)
        past = t - start
        if kind == 0:
            one = (past < end - start).astype(float)
        elif kind == 1:
            one = np.clip(1.0 - past / (1.05 * (end - start)), 0.0, 1.0)
        else:
            one = 0.05 ** np.clip(past / (end - start), 0.0, None)
        share = np.where((t >= start) & (t <= stop), one, share)
    load = np.zeros(t.size)
    for start, value in steps:
        load[t >= start] = value
    mu = film + (metal - film) * share
    mu = mu * (1.0 + 0.01 * np.sin(2 * np.pi * t / rng.uniform(7.0, 25.0)))
    force = mu * load
    power = force * SPEED
    heat, slow = np.zeros(t.size), np.zeros(t.size)
    gain, tau = rng.uniform(0.1, 0.25), rng.uniform(4.0, 12.0)
    decay, creep = np.exp(-FINE / tau), np.exp(-FINE / 60.0)
    for i in range(1, t.size):
        heat[i] = decay * heat[i - 1] + (1 - decay) * gain * power[i]
        slow[i] = creep * slow[i - 1] + (1 - creep) * 0.3 * power[i]
    start = rng.uniform(293.0, 300.0)
    return t, force, mu, start + heat + slow, settled


def sampled(rng, time, fine, course_, noise):
    return np.interp(time, fine, course_) + rng.normal(0.0, noise, time.size)


FAULTS = (
    "none", "steps", "spikes", "long spikes", "gap", "slow", "slow peak", "overflow", "rounded", "drift",
    "late", "end peak", "few", "all",
)  # fmt: skip


def draw(rng, fault: str) -> Drawn:
    """Draw a run with a fault."""
    many = fault == "all"
    duration = float(rng.choice([60.0, 120.0, 300.0]))
    steps = [(0.0, 450.0)]
    if fault == "steps" or (many and rng.random() < 0.5):
        steps = [(0.0, 300.0), (duration * 0.35, 450.0), (duration * 0.7, 600.0)]
    t, force, mu, warmth, settled = course(rng, duration, steps)
    if fault == "slow peak":
        at = rng.uniform(0.3, 0.9) * duration
        wide = rng.uniform(2.0, 4.0)
        warmth = warmth + rng.uniform(10.0, 30.0) * np.exp(-0.5 * ((t - at) / wide) ** 2)
    if fault == "end peak":
        warmth = warmth + rng.uniform(0.1, 0.5) * np.clip(t - 0.5 * duration, 0.0, None)
    step = {"slow": 5.0, "slow peak": 5.0, "end peak": 2.0, "few": duration / 12}.get(fault, 1.0)
    if many:
        step = float(rng.choice([0.5, 1.0, 2.0]))
    before = np.arange(-20.0, 0.0, step) if fault not in ("slow", "slow peak", "few") else np.empty(0)
    time = np.concatenate([before, np.arange(rng.uniform(0.0, step), duration, step)])
    after = np.arange(duration + 0.5 * step, duration + 15.0, step) if fault in ("drift", "all") else []
    time = np.concatenate([time, after])
    time = np.sort(time + rng.uniform(-0.02, 0.02, time.size))
    inside = (time >= 0.0) & (time <= duration)
    f = np.where(inside, np.interp(time, t, force), 0.0) + rng.normal(0.0, 1.0, time.size)
    w = np.interp(time, t, warmth) + rng.normal(0.0, rng.choice([0.1, 0.3]), time.size)
    if fault == "drift" or many:
        f += rng.uniform(-3.0, 3.0) + 0.02 * rng.uniform(-1.0, 1.0) * time
    within = np.flatnonzero(inside)
    if fault == "spikes" or many:
        for one in rng.choice(within[4:-4], 3, replace=False):
            f[one] += rng.choice([-1.0, 1.0]) * rng.uniform(30.0, 300.0)
        hot = rng.choice(within[4:-4])
        w[hot] += rng.choice([-1.0, 1.0]) * rng.uniform(10.0, 80.0)
    if fault == "long spikes":
        for one in rng.choice(np.arange(6, within.size - 8, 9), 2, replace=False):
            f[within[one : one + 3]] += rng.uniform(40.0, 200.0)
            w[within[one : one + 2]] += rng.uniform(20.0, 80.0)
    if fault == "rounded" or many:
        f, w = np.round(f / 2.0) * 2.0, np.round(w / 0.5) * 0.5
    if fault == "overflow" or (many and rng.random() < 0.5):
        one = rng.choice(within)
        f[one] = 1e37
        w[rng.choice(within)] = 1e37
    keep = np.ones(time.size, dtype=bool)
    if fault == "gap" or many:
        long = rng.uniform(0.08, 0.15) * duration
        at = rng.uniform(0.05, 0.8) * duration
        keep = ~((time > at) & (time < at + long))
    if fault == "late":
        keep = (time > 0.04 * duration) & (time < 0.97 * duration)
    truth = {
        "energy": SPEED * float(np.trapezoid(force, t)),
        "friction": float(np.mean(mu[t >= steps[-1][0]])),
        "peak": float(warmth.max()),
        "rise": float(warmth.max() - warmth[0]),
        "settled": settled,
    }
    ends = [*[start for start, _ in steps[1:]], duration]
    rises = []
    for (start, _), end in zip(steps, ends, strict=True):
        own = warmth[(t >= start) & (t <= end)]
        rises.append(float(own.max() - own[0]))
    return Drawn(duration, steps, time[keep], f[keep], w[keep], truth, rises)


def told(run: Drawn) -> dict[str, tuple[float, float]]:
    """Read a drawn run as a campaign's traces are read: value and standard uncertainty of each number."""
    trace = pd.DataFrame({"time": run.time, "friction_force": run.force, "temperature": run.warmth})
    row = {
        "run_id": "1", "lubricant": "R-10", "load": run.steps[-1][1], "duration": run.duration,
        "sliding_speed": SPEED, "quiet_time": np.nan,
    }  # fmt: skip
    steps = pd.DataFrame(
        {"run_id": "1", "start": [s for s, _ in run.steps], "load": [x for _, x in run.steps]}
    )
    starts = [s for s, _ in run.steps] if len(run.steps) > 1 else []
    corrected, zero = with_zero_taken_off(trace, run.duration, max(x for _, x in run.steps), starts)
    energy, warm = energy_of(corrected, zero, row, steps), warming_of(corrected, run.duration, starts)
    phases = list(friction_phases(row, steps, corrected, zero))
    stop = stop_told(corrected, steps, row, 0.95)
    found = {}
    if energy is not None and not energy.missing:
        found["energy"] = (energy.energy, energy.uncertainty)
    if phases:
        last = phases[-1].friction
        if np.isfinite(last.uncertainty):  # else gaps were too long to be bridged: it is no mean of the step
            found["friction"] = (last.mean, last.uncertainty)
    if warm is not None:
        found["peak"] = (warm.peak, warm.peak_uncertainty)
        found["rise"] = (warm.rise, warm.rise_uncertainty)
        for number, (begun, _) in enumerate(run.steps):
            for one in warm.steps:
                if one.begun == begun:
                    found[f"step {number}"] = (one.rise, one.rise_uncertainty)
    if stop is not None and stop.accepted:
        found["settled"] = (stop.time, np.nan)
        found["interval"] = (stop.low, stop.high)
    return found


def measure(fault: str, count: int, seed: int) -> list[str]:
    """Measure one fault: cells of its row."""
    rng = np.random.default_rng([seed, FAULTS.index(fault)])
    runs = [draw(rng, fault) for _ in range(count)]
    found = [told(run) for run in runs]
    cells = [fault]
    for name in ("energy", "friction", "peak", "rise"):  # those of the later steps follow
        pairs = [(one[name], run.truth[name]) for one, run in zip(found, runs, strict=True) if name in one]
        if not pairs:
            cells.append("none told")
            continue
        error = np.array([value - truth for (value, _), truth in pairs])
        u = np.array([u for (_, u), _ in pairs])
        if name in ("energy", "friction"):
            error, u = (100.0 * x / np.array([truth for _, truth in pairs]) for x in (error, u))
        inside = np.mean(np.abs(error) <= 2.0 * u)
        cells.append(f"{np.quantile(np.abs(error), 0.95):.3g} ({np.median(error):+.2g}; {100 * inside:.0f})")
    steps = [
        (o[f"step {number}"], truth)
        for o, r in zip(found, runs, strict=True)
        for number, truth in enumerate(r.step_rises)
        if number and f"step {number}" in o
    ]
    off = np.array([value - truth for (value, _), truth in steps])
    within = np.mean([abs(v - truth) <= 2.0 * u for (v, u), truth in steps]) if steps else 0.0
    cells.append(
        f"{np.quantile(np.abs(off), 0.95):.3g} ({np.median(off):+.2g}; {100 * within:.0f})" if steps else "-"
    )
    stops = [
        (o["settled"][0], o["interval"], r.truth["settled"])
        for o, r in zip(found, runs, strict=True)
        if "settled" in o
    ]
    off = [abs(time - truth) for time, _, truth in stops]
    held = [low <= truth <= high for _, (low, high), truth in stops]
    cells.append(
        f"{len(stops)}/{count}, {np.median(off):.2g} s, {100 * np.mean(held):.0f}" if stops else "none"
    )
    return cells


if __name__ == "__main__":
    number, start = (int(one) for one in sys.argv[1:3])
    print("fault; energy %, friction %, peak K, rise K, rise of later steps K; stop")
    print("95th percentile (median; within 2 u)")
    for one in sys.argv[3:] or FAULTS:
        print("; ".join(measure(one, number, start)), flush=True)
