"""Draw traces of a pin that wears in, from the physics, with faults of a recorder: truth and readings.

A scar of area A grows by Archard's law under the load that the film does not carry; friction falls with the
load on metal, and a load step begins it anew. The heat goes through two masses, pin and holder; a sensor
follows the pin with a lag. Nothing is shared with `trace_table.py`. Two sets of settings: ``tuning``, which
was looked at while limits were set, and ``judging``, with other laws of wear, of heat and of scatter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

FAULTS = (
    "none", "steps", "spike", "spikes", "gap", "slow", "drift", "lag", "rounded", "overflow", "late",
    "minutes", "all",
)  # fmt: skip
DT = 0.02
METAL_LEFT = 0.05


@dataclass
class Run:
    """What happened in a run, and what the recorder wrote."""

    duration: float
    steps: list[tuple[float, float]]
    speed: float
    time: np.ndarray
    force: np.ndarray
    warmth: np.ndarray
    truth: dict[str, float]
    step_rises: list[float]
    said: dict[str, object]


def wear_in(rng, t, steps, judging):
    """Give the share of the load on metal, and the load."""
    duration = t[-1]
    long = duration - steps[-1][0]
    lasts = rng.uniform(0.2, 0.65) * long
    power = rng.uniform(0.6, 1.6) if judging else 1.0  # volume grows as area ^ (1 + power)
    pressure, share = 1.0, np.zeros(t.size)
    heavy = steps[-1][1]
    area = steps[0][1] / heavy * rng.uniform(0.02, 0.2)
    # the pace at which the last step settles in about the time wanted; time is counted from its start
    pace = 1.0 * heavy**0 * 2.5 / lasts
    starts = np.array([s for s, _ in steps])
    loads = np.array([x for _, x in steps]) / heavy
    load = loads[np.searchsorted(starts, t, side="right") - 1]
    for i in range(t.size):
        free = max(1.0 - pressure * area / load[i], 0.0)
        share[i] = free
        area += DT * pace * load[i] * free / max(area, 0.02) ** power
    return share, load * heavy


def settles(t, left, begun):
    """When 5 % is left of what friction falls by in the last load step."""
    last = t >= begun
    below = np.flatnonzero(left[last] <= METAL_LEFT * left[last][0])
    return float(t[last][below[0]]) if below.size else np.nan


def warm_up(rng, t, power, judging):
    """Rise of the pin by two masses (tuning), or by two and the quick layer under the scar (judging)."""
    gain = rng.uniform(15.0, 45.0) / np.mean(power)
    fast, slow = rng.uniform(4.0, 15.0), rng.uniform(40.0, 150.0)
    share = rng.uniform(0.3, 0.7)
    parts = [(share, fast), (1.0 - share, slow)]
    if judging:
        parts = [(0.15, 0.3 * fast), (0.8 * share, fast), (0.95 - 0.8 * share, slow)]
    rise = np.zeros(t.size)
    for weight, tau in parts:
        decay = np.exp(-DT / tau)
        rise += lfilter([weight * gain * (1.0 - decay)], [1.0, -decay], power)
    return rise


def lagged(values, tau):
    """Follow a course by a sensor of one time constant."""
    decay = np.exp(-DT / tau)
    return lfilter([1.0 - decay], [1.0, -decay], values - values[0]) + values[0]


def draw(kind: str, seed: int, number: int, *, judging: bool = False) -> Run:
    """Draw one run with a fault."""
    rng = np.random.default_rng([seed, FAULTS.index(kind), number, int(judging)])
    many = kind == "all"
    duration = float(rng.choice([45.0, 75.0, 180.0] if judging else [60.0, 60.0, 90.0, 120.0]))
    load = float(rng.choice([300.0, 450.0, 600.0, 900.0]))
    steps = [(0.0, load)]
    if kind == "steps" or many:
        first = rng.uniform(0.25, 0.4) * duration
        steps = [(0.0, load / 2), (first, load)]
        if rng.random() < 0.5:
            steps = [(0.0, load / 3), (0.7 * first, 0.66 * load), (1.5 * first, load)]
        steps = [(float(round(at)), x) for at, x in steps]
    t = np.arange(0.0, duration + DT / 2, DT)
    share, weight = wear_in(rng, t, steps, judging)
    film, metal = rng.uniform(0.05, 0.1), rng.uniform(0.12, 0.22)
    bend = rng.uniform(0.8, 1.3) if judging else 1.0
    mu = film + (metal - film) * share**bend
    settled = settles(t, share**bend, steps[-1][0])
    mu = mu * (1.0 - rng.uniform(0.0, 0.06) * t / duration)  # the oil warms and thins
    slow_wander = lfilter([1.0], [1.0, -np.exp(-DT / rng.uniform(1.0, 4.0))], rng.normal(0.0, 1.0, t.size))
    mu = mu * (1.0 + rng.uniform(0.002, 0.012) * slow_wander / np.std(slow_wander) * (0.5 + share))
    force = mu * weight
    speed = float(rng.uniform(0.5, 2.5))
    ambient = rng.uniform(291.0, 303.0)
    body = ambient + warm_up(rng, t, force * speed, judging)
    tau = 0.0
    read = body
    if kind == "lag" or many:
        tau = rng.uniform(1.0, 6.0)
        read = lagged(body, tau)
    step = float(rng.choice([0.25, 0.5, 1.0]) if judging else rng.choice([0.5, 1.0]))
    if kind == "slow":
        step = float(rng.uniform(3.0, 6.0))
    if many:
        step = float(rng.choice([0.5, 1.0, 2.0]))
    before = 0.0 if (kind == "slow" and rng.random() < 0.5) else rng.uniform(10.0, 25.0)
    after = rng.uniform(8.0, 20.0) if (kind == "drift" or many or rng.random() < 0.4) else 0.0
    time = np.arange(-before, duration + after, step) + rng.uniform(0.0, step)
    time = time[time <= duration + after] + rng.uniform(-0.05, 0.05, 1) * step
    if judging:
        time = np.sort(time + rng.uniform(-0.2, 0.2, time.size) * step)
    inside = (time >= 0.0) & (time <= duration)
    noise_f = rng.uniform(0.003, 0.03) * np.median(force)
    noise_t = float(rng.choice([0.05, 0.15, 0.3]))

    def scatter(n):
        return rng.standard_t(5, n) / np.sqrt(5 / 3) if judging else rng.normal(0.0, 1.0, n)

    f = np.where(inside, np.interp(time, t, force), 0.0) + noise_f * scatter(time.size)
    w = np.interp(time, t, read)  # after the run it cools
    past = time > duration
    w[past] = ambient + (read[-1] - ambient) * np.exp(-(time[past] - duration) / 40.0)
    w = w + noise_t * scatter(time.size)
    if kind == "drift" or many:
        f += rng.uniform(-0.08, 0.08) * np.median(force) * (1.0 + rng.uniform(-1.0, 1.0) * time / duration)
    within = np.flatnonzero(inside)
    sign = rng.choice([-1.0, 1.0])
    if kind == "spike" or many:
        for one in rng.choice(within[1:-1], 3, replace=False):
            f[one] += rng.choice([-1.0, 1.0]) * rng.uniform(0.5, 6.0) * np.median(force)
        w[rng.choice(within[1:-1])] += rng.choice([-1.0, 1.0]) * rng.uniform(8.0, 120.0)
    if kind == "spikes" or many:
        for _ in range(1 if many else 2):
            long = int(rng.integers(2, 4))
            at = int(rng.integers(1, within.size - long - 1))
            f[within[at : at + long]] += (
                sign * rng.uniform(0.5, 4.0) * np.median(force) * rng.uniform(0.9, 1.1, long)
            )
            at = int(rng.integers(1, within.size - long - 1))
            w[within[at : at + long]] += rng.uniform(15.0, 90.0) * rng.uniform(0.9, 1.1, long)
    if kind == "rounded" or many:
        f, w = np.round(f / 1.0) * 1.0, np.round(w / 0.5) * 0.5
    if kind == "overflow" or (many and rng.random() < 0.5):
        f[rng.choice(within)] = rng.choice([1e37, 99999.0, -9999.0])
        w[rng.choice(within)] = rng.choice([1e37, 1645.0, 73.0])
    keep = np.ones(time.size, dtype=bool)
    if kind == "gap" or many:
        long = rng.uniform(0.06, 0.14) * duration
        at = rng.uniform(0.02, 0.95 - long / duration) * duration
        keep = ~((time > at) & (time < at + long))
    if kind == "late":
        keep = (time > rng.uniform(0.02, 0.06) * duration) & (time < duration * rng.uniform(0.95, 1.0))
    if kind == "minutes":
        time = time / 60.0
    last = t >= steps[-1][0]
    truth = {
        "energy": speed * float(np.trapezoid(force, t)),
        "friction": float(np.mean(mu[last])),
        "peak": float(body.max()),
        "rise": float(body.max() - body[0]),
        "settled": settled,
    }
    ends = [*[at for at, _ in steps[1:]], duration]
    rises = []
    for (at, _), end in zip(steps, ends, strict=True):
        own = body[(t >= at) & (t <= end)]
        rises.append(float(own.max() - own[0]))
    said = {"tau": tau, "step": step, "noise_f": noise_f, "noise_t": noise_t, "before": before,
            "film": film, "metal": metal, "t": t, "fine_force": force, "body": body}  # fmt: skip
    return Run(duration, steps, speed, time[keep], f[keep], w[keep], truth, rises, said)
