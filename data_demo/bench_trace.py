"""The recorder of the invented bench: friction force, motor power and temperature, once a second.

Friction falls from that of metal on metal to that of the film, as the share of the load that metal carries
falls (`bench.rubbing_share`). The temperature follows the friction work done so far, up to the peak that the
technician wrote down. Now and then the recorder loses a reading.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from bench_log import Truth

from bench import SPEED, Oil, rubbing_share

#: What metal on metal adds to the friction coefficient of the film.
RUBBING_FRICTION = 0.06
IDLE_POWER = 95.0
EFFICIENCY = 0.82
LOST_READINGS = 0.02


def trace_rows(
    rng: np.random.Generator, row: Mapping[str, str], truth: Truth, oil: Oil
) -> list[dict[str, str]]:
    """Rows of the trace of a run whose row in runs.csv is written already."""
    times = np.arange(float(row["duration [s]"]) + 1.0)
    rubbing = rubbing_share(truth.film_pressure, truth.wear_coefficient, truth.steps, times)
    starts, loads = np.array(truth.steps).T
    load = loads[np.searchsorted(starts, times, side="right") - 1]
    friction = oil.friction + RUBBING_FRICTION * rubbing
    force = load * friction * (1.0 + (0.015 + 0.05 * rubbing) * rng.standard_normal(times.size))
    work = np.concatenate([[0.0], np.cumsum(0.5 * (force[1:] + force[:-1]))])
    start, peak = (float(row[f"{name}_temperature [degC]"]) for name in ("ambient", "peak"))
    warmth = start + (peak - start) * work / work[-1] + 0.1 * rng.standard_normal(times.size)
    power = IDLE_POWER + force * SPEED / EFFICIENCY + 1.5 * rng.standard_normal(times.size)
    kept = rng.random(times.size) > LOST_READINGS
    return [
        {
            "time [s]": f"{times[i]:.0f}",
            "friction_force [N]": f"{force[i]:.1f}",
            "motor_power [W]": f"{power[i]:.0f}",
            "temperature [degC]": f"{warmth[i]:.1f}",
        }
        for i in np.flatnonzero(kept)
    ]
