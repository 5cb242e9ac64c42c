"""Time the vectorised elliptic contact against a loop of scipy root finding over the same contacts.

Run it by hand: ``PYTHONPATH=toolkit python tests/benchmarks/bench_hertz.py``. Both ways are timed in one
run, in one process; the loop takes a random subsample of the same contacts, and its time is scaled up.
The exit status is 1 when the ratio is under 100 or when the two ways disagree by 1e-10. (Accuracy against
mpmath is an ordinary test, in tests/reference/test_hertz.py.)

Measured once, on two busy cores shared with other work (Python 3.11.7, NumPy 2.4.6, SciPy 1.17.1): 1e6
contacts in 0.564 s, 192 times faster than the loop by the median of five rounds (109 times in the slowest
round, the first), the two ways apart by 4.8e-14 at most.
"""

from __future__ import annotations

import argparse
import math
import sys
import time

import numpy as np
from scipy.optimize import brentq
from scipy.special import ellipe, ellipkm1

from pinscar.contact.hertz import elliptic_contact

MODULUS = 115.384615e9
WANTED_RATIO = 100.0
WANTED_AGREEMENT = 1e-10


def contacts(number: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Draw loads from 1 to 900 N and curvatures with B/A from 1.01 to 1000."""
    rng = np.random.default_rng(seed)
    load = rng.uniform(1.0, 900.0, number)
    curvature_a = 10 ** rng.uniform(0.0, 2.0, number)
    return load, curvature_a, curvature_a * (1 + 10 ** rng.uniform(-2.0, 3.0, number))


def excess(m1: float, ratio: float) -> float:
    """The textbook condition (E/m1 - K) - B/A (K - E), with m1 = (b/a)^2."""
    k, e = ellipkm1(m1), ellipe(1 - m1)
    return (e / m1 - k) - ratio * (k - e)


def one_by_one(load: float, curvature_a: float, curvature_b: float) -> tuple[float, float, float, float]:
    """Solve one contact as a script would: brentq on the textbook condition."""
    m1 = brentq(excess, 1e-9, 1 - 1e-6, args=(curvature_b / curvature_a,), xtol=1e-16, rtol=1e-14)
    k, e = ellipkm1(m1), ellipe(1 - m1)
    squeeze = 1.5 * load / (math.pi * MODULUS)
    a = (squeeze * (k - e) / ((1 - m1) * curvature_a)) ** (1 / 3)
    b = a * math.sqrt(m1)
    return a, b, 1.5 * load / (math.pi * a * b), squeeze * k / a


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--contacts", type=int, default=1_000_000)
    parser.add_argument("--subsample", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    load, curvature_a, curvature_b = contacts(chosen.contacts, chosen.seed)
    sample = np.random.default_rng(chosen.seed + 1).choice(chosen.contacts, chosen.subsample, replace=False)
    fast, slow = [], []
    # The two ways take turns, so that a busy machine slows both; the median of each counts.
    for part in np.array_split(sample, chosen.rounds):
        start = time.perf_counter()
        solved = elliptic_contact(load, curvature_a, curvature_b, MODULUS)
        fast.append((time.perf_counter() - start) / chosen.contacts)
        start = time.perf_counter()
        looped = np.array([one_by_one(load[i], curvature_a[i], curvature_b[i]) for i in part])
        slow.append((time.perf_counter() - start) / part.size)
        ours = np.stack(
            [solved.semi_major, solved.semi_minor, solved.peak_pressure, solved.approach], axis=1
        )[part]
        apart = float(np.max(np.abs(ours / looped - 1)))
        print(f"array {fast[-1] * 1e6:7.3f} us, loop {slow[-1] * 1e6:7.1f} us a contact; apart {apart:.1e}")
        if apart > WANTED_AGREEMENT:
            print("FAILED: the two ways disagree", file=sys.stderr)
            return 1
    ratio = float(np.median(slow) / np.median(fast))
    print(
        f"{chosen.contacts} contacts in {np.median(fast) * chosen.contacts:.3f} s; {ratio:.0f} times faster"
    )
    if ratio < WANTED_RATIO:
        print(f"FAILED: wanted {WANTED_RATIO:.0f} times", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
