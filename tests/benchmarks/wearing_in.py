"""Draw traces of a pin that wears in, from the physics, with faults of a recorder: truth and readings.

A scar of area A grows by Archard's law under the load that the film does not carry; friction falls with the
load on metal, and a load step begins it anew. The heat goes through two masses, pin and holder; a sensor
follows the pin with a lag. Nothing is shared with `trace_table.py`. Two sets of settings: ``tuning``, which
was looked at while limits were set, and ``judging``, with other laws of wear, of heat and of scatter.

A table of how well pinscar reads them, from the repository's top folder (runs a fault, seed, set, faults):

    PYTHONPATH=toolkit python tests/benchmarks/wearing_in.py 30 904 judging none lag

Each row: 95th percentile of the error of energy and friction [%], of peak and rise [% of the rise], each with
the share of truths within twice the stated uncertainty; stops told, median error, share in the interval.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from pinscar.campaign.traces import check_trace
from pinscar.decision.traces import run_traces, stop_told
from pinscar.errors import Severity

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


def told(run: Run) -> dict[str, tuple[float, ...]] | None:
    """Read a run as a campaign's traces are read; None where the trace is refused."""
    trace = pd.DataFrame(
        {"time": run.time, "friction_force": run.force, "temperature": run.warmth, "motor_power": np.nan}
    )
    row = {
        "run_id": "1", "lubricant": "R-10", "load": run.steps[-1][1], "duration": run.duration,
        "sliding_speed": run.speed, "quiet_time": np.nan, "peak_temperature": np.nan,
        "ambient_temperature": np.nan, "wear_volume": np.nan,
    }  # fmt: skip
    rows = [("1", *one) for one in run.steps] if len(run.steps) > 1 else []
    steps = pd.DataFrame(rows, columns=["run_id", "start", "load"])
    if any(one.severity is Severity.ERROR for one in check_trace(trace, row, "traces/1.csv")):
        return None
    [read] = run_traces(pd.DataFrame([row]), steps, {"1": trace})
    found: dict[str, tuple[float, ...]] = {}
    if read.energy is not None and not read.energy.missing:
        found["energy"] = (read.energy.energy, read.energy.uncertainty)
    for phase in read.phases:
        if phase.is_last and np.isfinite(phase.friction.uncertainty):
            found["friction"] = (phase.friction.mean, phase.friction.uncertainty)
    if read.warming is not None:
        found["peak"] = (read.warming.peak, read.warming.peak_uncertainty)
        found["rise"] = (read.warming.rise, read.warming.rise_uncertainty)
    stop = stop_told(read.trace, steps, row, 0.95)
    if stop is not None and stop.accepted:
        found["settled"] = (stop.time, stop.low, stop.high)
    return found


def row_of(kind: str, count: int, seed: int, *, judging: bool) -> str:
    """Read so many runs with a fault: a line of the table."""
    runs = [draw(kind, seed, number, judging=judging) for number in range(count)]
    pairs = [(run, found) for run in runs if (found := told(run)) is not None]
    cells = [kind, f"refused {count - len(pairs)}"]
    for name in ("energy", "friction", "peak", "rise"):
        of = name if name in ("energy", "friction") else "rise"
        seen = [(*found[name], run.truth[name], run.truth[of]) for run, found in pairs if name in found]
        if not seen:
            cells.append("-")
            continue
        value, u, truth, whole = np.array(seen).T
        off = 100.0 * np.abs(value - truth) / whole
        inside = 100.0 * np.mean(np.abs(value - truth) <= 2.0 * u)
        cells.append(f"{name} {len(seen)}: {np.quantile(off, 0.95):.2g} % ({inside:.0f} %)")
    stops = [(*found["settled"], run.truth["settled"]) for run, found in pairs if "settled" in found]
    if stops:
        value, low, high, truth = np.array(stops).T
        never = int(np.count_nonzero(np.isnan(truth)))
        inside = 100.0 * np.mean((low <= truth) & (truth <= high))
        cells.append(f"stop {len(stops)}: {np.nanmedian(np.abs(value - truth)):.2g} s ({inside:.0f} %)")
        cells.append(f"without an end {never}")
    return "; ".join(cells)


if __name__ == "__main__":
    many, start, chosen = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    for one in sys.argv[4:] or FAULTS:
        print(row_of(one, many, start, judging=chosen == "judging"), flush=True)
