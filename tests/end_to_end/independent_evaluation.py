"""The expected side of the end-to-end tests: the whole evaluation once more, without a line of pinscar.

Plain scipy on the formulas of the field: Hertz (Johnson, Contact Mechanics, 1985, ch. 4), the overlap of two
cylinders by quadrature, Student's t, Dunnett (JASA 50, 1955) by a double quadrature, Welch, Brown-Forsythe,
and the profile likelihood of a left-censored log-normal sample. Everything in SI units.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import integrate, optimize, special, stats

INCH = 0.0254
POUND = 0.45359237
GRAVITY = 9.80665
POUND_FORCE = POUND * GRAVITY
PSI = POUND_FORCE / INCH**2
MINUTE = 60.0
HORSEPOWER = 550 * 12 * INCH * POUND_FORCE


def rpm(value: float) -> float:
    return value * 2 * np.pi / 60


def fahrenheit(value: float) -> float:
    return (value + 459.67) * 5 / 9


@dataclass(frozen=True)
class Rig:
    """Two cylinders at right angles: radii [m] and the reduced modulus [Pa]."""

    pin_radius: float
    ring_radius: float
    modulus: float


def reduced_modulus(e_1: float, nu_1: float, e_2: float, nu_2: float) -> float:
    return 1 / ((1 - nu_1**2) / e_1 + (1 - nu_2**2) / e_2)


def hertz_peak(rig: Rig, load: float) -> float:
    """Peak pressure of the elastic contact [Pa]; the eccentricity is found by bisection."""
    low, high = sorted((1 / (2 * rig.ring_radius), 1 / (2 * rig.pin_radius)))

    def mismatch(m: float) -> float:
        k, e = special.ellipk(m), special.ellipe(m)
        return (e / (1 - m) - k) / (k - e) - high / low

    m = optimize.brentq(mismatch, 1e-9, 1 - 1e-12, xtol=1e-15, rtol=1e-14)
    k, e = special.ellipk(m), special.ellipe(m)
    a = (3 * load * (k - e) / (2 * np.pi * rig.modulus * m * low)) ** (1 / 3)
    return 3 * load / (2 * np.pi * a**2 * np.sqrt(1 - m))


def depth(rig: Rig, length: float) -> float:
    return rig.ring_radius - np.sqrt(rig.ring_radius**2 - length**2 / 4)


def implied_width(rig: Rig, length: float) -> float:
    h = depth(rig, length)
    return 2 * np.sqrt(2 * rig.pin_radius * h - h**2)


def area(length: float, width: float) -> float:
    return np.pi / 4 * length * width


def volume(rig: Rig, length: float) -> float:
    """Overlap of the two cylinders [m^3]: circular segments of the pin, summed along it."""
    h, r = depth(rig, length), rig.pin_radius

    def segment(x: float) -> float:
        d = max(h - rig.ring_radius + np.sqrt(rig.ring_radius**2 - x**2), 0.0)
        half = 2 * np.arcsin(np.sqrt(d / (2 * r)))
        return r**2 * (half - np.sin(half) * np.cos(half))

    # x = L/2 sin(u) takes the square-root end away, so that the quadrature reaches full precision.
    def along(u: float) -> float:
        return segment(length / 2 * np.sin(u)) * length / 2 * np.cos(u)

    return 2 * integrate.quad(along, 0, np.pi / 2, epsabs=0, epsrel=1e-12, limit=400)[0]


def t_interval(values: Sequence[float], confidence: float, log: bool = True) -> tuple[float, float, float]:
    """Mean and t interval, on logarithms unless told otherwise: estimate, low, high."""
    y = np.log(values) if log else np.asarray(values, dtype=float)
    half = stats.t.ppf((1 + confidence) / 2, len(y) - 1) * np.std(y, ddof=1) / np.sqrt(len(y))
    ends = np.array([np.mean(y), np.mean(y) - half, np.mean(y) + half])
    return tuple(np.exp(ends) if log else ends)


def censored_median(
    values: Sequence[float], left_censored: Sequence[bool], confidence: float
) -> tuple[float, float, float]:
    """Median and profile-likelihood interval of a left-censored log-normal sample: estimate, low, high."""
    y, bound = np.log(values), np.asarray(left_censored)

    def loss(mu: float, log_sigma: float) -> float:
        z = (y - mu) / np.exp(log_sigma)
        return -np.sum(
            np.where(bound, special.log_ndtr(z), -0.5 * z**2 - log_sigma - 0.5 * np.log(2 * np.pi))
        )

    def profile(mu: float) -> float:
        return optimize.minimize_scalar(
            lambda s: loss(mu, s), bounds=(-9, 3), method="bounded", options={"xatol": 1e-12}
        ).fun

    spread = np.std(y)
    best = optimize.minimize_scalar(
        profile, bounds=(y.min() - 3 * spread, y.max()), method="bounded", options={"xatol": 1e-12}
    )
    # A minimum is found to the square root of the precision only: polish it by the derivative.
    step = 1e-4 * spread
    best_mu = optimize.brentq(
        lambda mu: profile(mu + step) - profile(mu - step),
        best.x - 0.02 * spread,
        best.x + 0.02 * spread,
        xtol=1e-13,
    )
    allowed = profile(best_mu) + stats.chi2.ppf(confidence, 1) / 2
    far = 60 * spread
    ends = [
        optimize.brentq(
            lambda mu: profile(mu) - allowed, *sorted((best_mu, best_mu + side * far)), xtol=1e-13
        )
        for side in (-1, 1)
    ]
    return float(np.exp(best_mu)), float(np.exp(ends[0])), float(np.exp(ends[1]))


_legendre_nodes = functools.cache(np.polynomial.legendre.leggauss)


def _legendre(low: float, high: float, n: int = 240) -> tuple[np.ndarray, np.ndarray]:
    x, w = _legendre_nodes(n)
    return (high - low) / 2 * x + (high + low) / 2, (high - low) / 2 * w


def dunnett_probability(c: float, sizes: Sequence[int], size_0: int, df: int) -> float:
    """P(|T_i| <= c for every i): the control's error by one quadrature, the common spread by another."""
    y, weight_y = _legendre(-9, 9)
    s, weight_s = _legendre(np.sqrt(stats.chi2.ppf(1e-16, df) / df), np.sqrt(stats.chi2.isf(1e-16, df) / df))
    inside = np.ones((s.size, y.size))
    for n in sizes:
        lam = np.sqrt(n / (n + size_0))
        root = np.sqrt(1 - lam**2)
        inside *= special.ndtr((c * s[:, None] + lam * y) / root) - special.ndtr(
            (-c * s[:, None] + lam * y) / root
        )
    density_s = stats.chi2.pdf(df * s**2, df) * 2 * df * s
    return float(density_s * weight_s @ inside @ (stats.norm.pdf(y) * weight_y))


def dunnett(
    groups: dict[str, Sequence[float]], reference: str, confidence: float
) -> dict[str, tuple[float, float, float, float]]:
    """Simultaneous two-sided intervals on logarithms: ratio, low, high, adjusted p for each other group."""
    logs = {name: np.log(values) for name, values in groups.items()}
    df = sum(len(y) - 1 for y in logs.values())
    s = np.sqrt(sum(np.sum((y - y.mean()) ** 2) for y in logs.values()) / df)
    control = logs.pop(reference)
    sizes = [len(y) for y in logs.values()]
    c = optimize.brentq(
        lambda c: dunnett_probability(c, sizes, len(control), df) - confidence,
        0.1,
        60,
        xtol=1e-13,
        rtol=1e-14,
    )
    found = {}
    for name, y in logs.items():
        error = s * np.sqrt(1 / len(y) + 1 / len(control))
        difference = y.mean() - control.mean()
        p = 1 - dunnett_probability(abs(difference) / error, sizes, len(control), df)
        low, high = difference - c * error, difference + c * error
        found[name] = (float(np.exp(difference)), float(np.exp(low)), float(np.exp(high)), p)
    return found


def brown_forsythe_p(groups: dict[str, Sequence[float]]) -> float:
    return float(stats.levene(*[np.log(values) for values in groups.values()], center="median").pvalue)


def two_samples(
    values: Sequence[float], reference: Sequence[float], confidence: float, pooled: bool
) -> tuple[float, float, float, float]:
    """Pooled t or Welch on logarithms, his critical value guarded for unlike spreads: ratio, low, high, p."""
    test = stats.ttest_ind(np.log(values), np.log(reference), equal_var=pooled)
    difference = np.mean(np.log(values)) - np.mean(np.log(reference))
    if pooled:
        ends = test.confidence_interval(confidence)
        return float(np.exp(difference)), float(np.exp(ends.low)), float(np.exp(ends.high)), test.pvalue
    v = [np.var(np.log(x), ddof=1) / len(x) for x in (values, reference)]
    df, error, share = (len(values) - 1, len(reference) - 1), np.sqrt(sum(v)), v[0] / sum(v)
    outward = guard(*df, 1 - confidence)

    def reach(outside: float) -> float:
        return float(guarded_t(share, *df, outside, outward)) * error

    p = optimize.brentq(lambda e: reach(np.exp(e)) - abs(difference), -80, -1e-9, xtol=1e-13)
    ends = (difference - reach(1 - confidence), difference + reach(1 - confidence))
    return float(np.exp(difference)), float(np.exp(ends[0])), float(np.exp(ends[1])), float(np.exp(p))


def guarded_t(share, first: int, second: int, outside: float, outward: float):
    """Student's t at Welch's degrees of freedom of a share taken outward from where these are largest."""
    best = first / (first + second)
    taken = np.clip(best + (1 + outward) * (share - best), 0, 1)
    return stats.t.isf(outside / 2, 1 / (taken**2 / first + (1 - taken) ** 2 / second))


def guard(first: int, second: int, outside: float) -> float:
    """Smallest outward factor, in steps of 0.02, at which no ratio of the spreads passes the error asked for.

    The middle of 4000 equal slices of the Beta distribution stands for the share of the first chi-square.
    """
    part = stats.beta.ppf((np.arange(4000) + 0.5) / 4000, first / 2, second / 2)
    both = first + second
    for step in range(151):
        worst = 0.0
        for true in 1 / (1 + np.exp(-np.arange(-7, 7.1, 0.25))):
            one, two = true * part / first, (1 - true) * (1 - part) / second
            c = guarded_t(one / (one + two), first, second, outside, 0.02 * step)
            worst = max(worst, 2 * np.mean(stats.t.sf(c * np.sqrt(both * (one + two)), both)))
        if worst <= outside:
            return 0.02 * step
    raise ValueError("no outward factor holds")


def censored_ratio(
    values: Sequence[float],
    left_censored: Sequence[bool],
    reference: Sequence[float],
    reference_censored: Sequence[bool],
    confidence: float,
) -> tuple[float, float, float, float]:
    """Ratio of the medians of two left-censored log-normal samples of one spread: ratio, low, high, p.

    Profile likelihood of the difference of the log medians; the p value is the likelihood ratio's.
    """
    y = np.log([*values, *reference])
    bound = np.array([*left_censored, *reference_censored])
    subject = np.arange(y.size) < len(values)

    def loss(mu: float, log_sigma: float, difference: float) -> float:
        z = (y - mu - difference * subject) / np.exp(log_sigma)
        return -np.sum(
            np.where(bound, special.log_ndtr(z), -0.5 * z**2 - log_sigma - 0.5 * np.log(2 * np.pi))
        )

    start = np.array([np.mean(y[~subject]), np.log(np.std(y[~subject]))])

    def profile(difference: float) -> float:
        fitted = optimize.minimize(
            lambda x: loss(x[0], x[1], difference),
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-11, "fatol": 1e-14, "maxiter": 4000, "maxfev": 4000},
        )
        return float(fitted.fun)

    rough = np.mean(y[subject]) - np.mean(y[~subject])
    scale = np.exp(start[1])
    step = 1e-3 * scale
    best = optimize.minimize_scalar(profile, bracket=(rough - scale, rough, rough + scale), tol=1e-8).x
    # A minimum is found to the square root of the precision only: polish it by the derivative.
    best = optimize.brentq(
        lambda d: profile(d + step) - profile(d - step), best - step, best + step, xtol=1e-12
    )
    least = profile(best)
    allowed = least + stats.chi2.ppf(confidence, 1) / 2
    low, high = (
        optimize.brentq(lambda d: profile(d) - allowed, *sorted((best, best + side * 8 * scale)), xtol=1e-12)
        for side in (-1, 1)
    )
    p = float(stats.chi2.sf(2 * (profile(0.0) - least), 1))
    return float(np.exp(best)), float(np.exp(low)), float(np.exp(high)), p
