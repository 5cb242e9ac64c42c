"""Repeatability and reproducibility of a test over laboratories, operators, rings or days (ISO 5725-2).

With intervals of both, differences of means within the scatter, critical values of h and k, and Cochran's
test. Flags only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincc, betaincinv, stdtrit

from pinscar.stats.estimates import stable_mean, standard_deviation, sum_of_squares
from pinscar.stats.reading_study import variance_component


def critical_h(n_laboratories: int, alpha: float = 0.005) -> float | None:
    r"""Compute the critical value of h, the standardised deviation of one laboratory's cell mean.

    .. math:: h_c = \frac{(p - 1)\, t}{\sqrt{p\,(t^2 + p - 2)}}, \quad t = t_{1-\alpha/2}(p - 2)

    Parameters
    ----------
    n_laboratories : int
        Number p of laboratories (or operators, rings, days) [-].
    alpha : float
        Two-sided level for one laboratory [-].

    Returns
    -------
    float or None
        Critical value [-]; None for two laboratories, whose h is always 0.707.

    Raises
    ------
    ValueError
        Where there are fewer than two laboratories or alpha is not between 0 and 1.

    References
    ----------
    ASTM E691, h statistic; ISO 5725-2:1994, 8.2 and 8.3.1 (Mandel's h).

    Examples
    --------
    >>> round(critical_h(8), 2)
    2.15
    """
    _check(n_laboratories, alpha)
    p = n_laboratories
    if p == 2:
        return None
    t = float(stdtrit(p - 2, 1.0 - alpha / 2.0))
    return (p - 1) * t / math.sqrt(p * (t * t + p - 2))


def critical_k(degrees_of_freedom: int, total_degrees_of_freedom: int, alpha: float = 0.005) -> float | None:
    r"""Compute the critical value of k, one laboratory's spread over the pooled one.

    .. math:: k_c = \sqrt{\frac{V}{v}\, B_{1-\alpha}\!\left(\frac{v}{2}, \frac{V - v}{2}\right)}

    with v the laboratory's own degrees of freedom, V those of all, and B the beta quantile. With n results in
    each of p cells, v = n - 1 and V = p (n - 1), this is the standard's
    :math:`\sqrt{p / (1 + (p - 1)/F)}`; this form also serves cells of unequal size.

    Parameters
    ----------
    degrees_of_freedom : int
        Results of the laboratory less one [-].
    total_degrees_of_freedom : int
        Sum of the same over all laboratories [-].
    alpha : float
        One-sided level for one laboratory [-].

    Returns
    -------
    float or None
        Critical value [-]; None where only this laboratory has repeats, so that k is always 1.

    Raises
    ------
    ValueError
        Where the degrees of freedom are not positive, or alpha is not between 0 and 1.

    References
    ----------
    ASTM E691, k statistic; ISO 5725-2:1994, 8.2 and 8.3.1 (Mandel's k). Unequal cells: own derivation, a
    cell's share of the pooled sum of squares is beta distributed.

    Examples
    --------
    Eight laboratories with three results each.

    >>> round(critical_k(2, 16), 2)
    2.06
    """
    _check(2, alpha)
    v, total = degrees_of_freedom, total_degrees_of_freedom
    if not 1 <= v <= total:
        raise ValueError(f"degrees_of_freedom is {v}, it must lie from 1 to the total of {total}")
    if v == total:
        return None
    return math.sqrt(total / v * float(betaincinv(v / 2.0, (total - v) / 2.0, 1.0 - alpha)))


def _check(n_laboratories: int, alpha: float) -> None:
    if n_laboratories < 2:
        raise ValueError(f"n_laboratories is {n_laboratories}, it must be at least 2")
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"alpha is {alpha}, it must lie between 0 and 1")


# Two results differ by less than 1.96 sqrt(2) standard deviations in 95 of 100 pairs.
LIMIT_FACTOR = 2.8


@dataclass(frozen=True, slots=True, kw_only=True)
class LaboratoryCell:
    """The results of one laboratory on one material.

    Parameters
    ----------
    laboratory : str
        Who measured: a laboratory, an operator, a ring, a day.
    n : int
        Number of results.
    mean : float
        Their mean.
    sd : float or None
        Their standard deviation; None for a single result.
    h : float or None
        Deviation of the mean from the mean of all cell means, over the standard deviation of these.
    k : float or None
        Standard deviation over the repeatability standard deviation.
    h_critical, k_critical : float or None
        Critical values.
    flagged : tuple of str
        ``"h"`` and ``"k"`` where they exceed their critical value. Flagged data are
        kept until a cause is found.
    """

    laboratory: str
    n: int
    mean: float
    sd: float | None
    h: float | None
    k: float | None
    h_critical: float | None
    k_critical: float | None
    flagged: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialPrecision:
    """Precision of the test on one material.

    Parameters
    ----------
    material : str
        The material (lubricant and load level).
    cells : tuple of LaboratoryCell
        One cell a laboratory.
    general_mean : float
        Mean of all results.
    sd_of_cell_means : float
        Standard deviation of the cell means.
    repeatability_sd : float
        s_r, the pooled standard deviation within cells.
    between_sd : float
        s_L, the standard deviation between laboratories, zero where the cells scatter less than repeats
        explain.
    reproducibility_sd : float
        s_R, never under s_r.
    repeatability_df : int
        Degrees of freedom of s_r.
    repeatability_limit, reproducibility_limit : float
        r = 2.8 s_r and R = 2.8 s_R.
    note : str or None
        A plain sentence where the estimate rests on little or was floored.
    """

    material: str
    cells: tuple[LaboratoryCell, ...]
    general_mean: float
    sd_of_cell_means: float
    repeatability_sd: float
    between_sd: float
    reproducibility_sd: float
    repeatability_df: int
    repeatability_limit: float
    reproducibility_limit: float
    note: str | None


def precision_study(
    laboratories: ArrayLike, materials: ArrayLike, values: ArrayLike, alpha: float = 0.005
) -> list[MaterialPrecision]:
    """Evaluate a precision study: each material on its own, from results in long form.

    Parameters
    ----------
    laboratories : array_like of str
        Laboratory (or operator, ring, day) of each result, shape (n,).
    materials : array_like of str
        Material of each result, shape (n,).
    values : array_like
        The results [any one unit a material], shape (n,), finite.
    alpha : float
        Level of the critical values of h and k for one cell [-].

    Returns
    -------
    list of MaterialPrecision
        One a material, in the order in which they first come.

    Raises
    ------
    ValueError
        Where the lengths differ, or as `material_precision`.

    References
    ----------
    ISO 5725-2:1994, clause 7; ASTM E691.

    Examples
    --------
    >>> study = precision_study(["A", "A", "B", "B"], ["oil"] * 4, [1.0, 3.0, 5.0, 7.0])
    >>> [(m.material, round(m.repeatability_sd, 3), round(m.reproducibility_sd, 3)) for m in study]
    [('oil', 1.414, 3.0)]
    """
    labs, kinds = np.asarray(laboratories, dtype=str), np.asarray(materials, dtype=str)
    results = np.asarray(values, dtype=np.float64)
    if not labs.shape == kinds.shape == results.shape or results.ndim != 1:
        raise ValueError("laboratories, materials and values must be rows of equal length")
    study = []
    for material in dict.fromkeys(kinds.tolist()):
        here = kinds == material
        cells = {lab: results[here & (labs == lab)] for lab in dict.fromkeys(labs[here].tolist())}
        study.append(material_precision(material, cells, alpha))
    return study


def material_precision(
    material: str, cells: Mapping[str, ArrayLike], alpha: float = 0.005
) -> MaterialPrecision:
    r"""Estimate repeatability and reproducibility on one material, cells of equal or unequal size.

    .. math::
        s_r^2 = \frac{\sum (n_i - 1) s_i^2}{\sum (n_i - 1)}, \quad
        s_L^2 = \frac{s_d^2 - s_r^2}{\bar{\bar n}}, \quad s_R^2 = s_r^2 + s_L^2

    .. math::
        s_d^2 = \frac{\sum n_i (\bar y_i - \bar y)^2}{p - 1}, \quad
        \bar{\bar n} = \frac{1}{p - 1} \left(\sum n_i - \frac{\sum n_i^2}{\sum n_i}\right)

    A negative s_L^2 is set to zero, so that s_R is at least s_r. The limits are r = 2.8 s_r and R = 2.8 s_R.
    With equal cells this is the evaluation of ASTM E691. Normal results and one repeatability for all
    laboratories are assumed; the h and k statistics look at that.

    Parameters
    ----------
    material : str
        Name of the material.
    cells : mapping of str to array_like
        Results of each laboratory [any one unit], finite.
    alpha : float
        Level of the critical values of h and k for one cell [-].

    Returns
    -------
    MaterialPrecision
        Estimates, limits, and the h and k of every cell.

    Raises
    ------
    ValueError
        Where there are fewer than two laboratories, or none has repeats.

    References
    ----------
    ISO 5725-2:1994, 7.4 (equations for s_r, s_L, s_R) and 7.3.1 (h and k); ASTM E691. The cell mean of h is
    taken from the plain mean of the cell means, as in ASTM E691, also where cells are unequal.

    Examples
    --------
    >>> result = material_precision("oil", {"A": [1.0, 3.0], "B": [5.0, 7.0]})
    >>> round(result.repeatability_limit, 2), round(result.reproducibility_limit, 2)
    (3.96, 8.4)
    """
    data = {lab: np.asarray(values, dtype=np.float64) for lab, values in cells.items()}
    sizes = np.array([values.size for values in data.values()])
    df = int(np.sum(sizes - 1))
    if len(data) < 2 or df < 1:
        raise ValueError(f"{material}: a precision study needs two laboratories and repeats in one of them")
    means = np.array([stable_mean(values) for values in data.values()])
    repeatability = math.fsum(sum_of_squares(values) for values in data.values()) / df
    between, general_mean = _between_variance(sizes, means, repeatability)
    reproducibility_sd = math.sqrt(repeatability + max(between, 0.0))
    return MaterialPrecision(
        material=material,
        cells=_cells(data, means, repeatability, df, alpha),
        general_mean=general_mean,
        sd_of_cell_means=standard_deviation(means),
        repeatability_sd=math.sqrt(repeatability),
        between_sd=math.sqrt(max(between, 0.0)),
        reproducibility_sd=reproducibility_sd,
        repeatability_df=df,
        repeatability_limit=LIMIT_FACTOR * math.sqrt(repeatability),
        reproducibility_limit=LIMIT_FACTOR * reproducibility_sd,
        note=_note(len(data), between),
    )


def _between_variance(
    sizes: NDArray[np.int_], means: NDArray[np.float64], repeatability: float
) -> tuple[float, float]:
    """Variance between laboratories, before it is floored at zero, and the general mean."""
    p, total = sizes.size, float(np.sum(sizes))
    general_mean = float(means[0] + np.sum(sizes * (means - means[0])) / total)
    mean_square = float(np.sum(sizes * (means - general_mean) ** 2)) / (p - 1)
    mean_size = (total - float(np.sum(sizes**2)) / total) / (p - 1)
    return (mean_square - repeatability) / mean_size, general_mean


def _cells(
    data: Mapping[str, NDArray[np.float64]],
    means: NDArray[np.float64],
    repeatability: float,
    df: int,
    alpha: float,
) -> tuple[LaboratoryCell, ...]:
    spread, centre = standard_deviation(means), stable_mean(means)
    h_limit = critical_h(means.size, alpha)
    cells = []
    for (lab, values), mean in zip(data.items(), means.tolist(), strict=True):
        sd = standard_deviation(values) if values.size > 1 else None
        h = (mean - centre) / spread if spread > 0.0 else None
        k = sd / math.sqrt(repeatability) if sd is not None and repeatability > 0.0 else None
        k_limit = None if k is None else critical_k(values.size - 1, df, alpha)
        flagged = (*(["h"] if _exceeds(h, h_limit) else []), *(["k"] if _exceeds(k, k_limit) else []))
        cells.append(
            LaboratoryCell(
                laboratory=lab,
                n=values.size,
                mean=mean,
                sd=sd,
                h=h,
                k=k,
                h_critical=h_limit,
                k_critical=k_limit,
                flagged=flagged,
            )
        )
    return tuple(cells)


def _exceeds(statistic: float | None, limit: float | None) -> bool:
    return statistic is not None and limit is not None and abs(statistic) > limit


def _note(n_laboratories: int, between: float) -> str | None:
    sentences = []
    if between < 0.0:
        sentences.append(
            "The cell means scatter less than the repeats explain, so the reproducibility is set to the "
            "repeatability."
        )
    if n_laboratories < 6:
        sentences.append(
            f"Only {n_laboratories} laboratories: reproducibility is a rough estimate (6 are the usual "
            "minimum)."
        )
    return " ".join(sentences) or None


Interval = tuple[float, float]


def repeatability_interval(found: MaterialPrecision, confidence: float = 0.95) -> Interval:
    r"""Give the confidence limits of the repeatability standard deviation.

    .. math:: s_r \sqrt{\nu / \chi^2_{1 - \alpha/2}(\nu)}, \quad s_r \sqrt{\nu / \chi^2_{\alpha/2}(\nu)}

    Normal results and one repeatability for all laboratories are assumed.

    Parameters
    ----------
    found : MaterialPrecision
        The evaluation.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    tuple of float
        Low and high [unit of the response].

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3.1.

    Examples
    --------
    Two degrees of freedom: chi-square quantiles 7.378 and 0.0506.

    >>> from pinscar.stats.precision import material_precision
    >>> low, high = repeatability_interval(material_precision("oil", {"A": [1.0, 3.0], "B": [5.0, 7.0]}))
    >>> round(low, 3), round(high, 2)
    (0.736, 8.89)
    """
    limits = variance_component([1.0], [found.repeatability_sd**2], [found.repeatability_df], confidence)
    return math.sqrt(limits.low), math.sqrt(limits.high)


def reproducibility_interval(found: MaterialPrecision, confidence: float = 0.95) -> Interval:
    r"""Give the confidence limits of the reproducibility standard deviation.

    .. math:: s_R^2 = s_d^2 / \bar{\bar n} + (1 - 1/\bar{\bar n})\, s_r^2

    is a sum of two independent mean squares with p - 1 and :math:`\sum (n_i - 1)` degrees of freedom, so it
    has a modified large sample interval. For cells of unequal size the first mean square is only nearly a
    chi-square variable. Where s_R was raised to s_r, the interval is widened to hold it.

    Parameters
    ----------
    found : MaterialPrecision
        The evaluation.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    tuple of float
        Low and high [unit of the response].

    References
    ----------
    F. A. Graybill and C.-M. Wang, Confidence intervals on nonnegative linear combinations of variances, 1980;
    the mean squares as in ISO 5725-2:1994, 7.4.

    Examples
    --------
    >>> from pinscar.stats.precision import material_precision
    >>> low, high = reproducibility_interval(material_precision("oil", {"A": [1.0, 3.0], "B": [5.0, 7.0]}))
    >>> low < 3.0 < high
    True
    """
    sizes = np.array([cell.n for cell in found.cells], dtype=np.float64)
    means = np.array([cell.mean for cell in found.cells])
    groups, total = sizes.size, float(np.sum(sizes))
    mean_size = (total - float(np.sum(sizes**2)) / total) / (groups - 1)
    between = float(np.sum(sizes * (means - found.general_mean) ** 2)) / (groups - 1)
    limits = variance_component(
        [1.0 / mean_size, 1.0 - 1.0 / mean_size],
        [between, found.repeatability_sd**2],
        [groups - 1, found.repeatability_df],
        confidence,
    )
    variance = found.reproducibility_sd**2
    return math.sqrt(min(limits.low, variance)), math.sqrt(max(limits.high, variance))


def critical_difference(found: MaterialPrecision, repeats: int, *, one_laboratory: bool) -> float:
    r"""Compute what two means of so many results each may differ by in 19 cases of 20.

    .. math:: D = 2.8\, \sqrt{s_L^2 + s_r^2 / n}, \quad \text{in one laboratory } D = 2.8\, s_r / \sqrt n

    Parameters
    ----------
    found : MaterialPrecision
        The evaluation.
    repeats : int
        Results in each of the two means [-], at least 1.
    one_laboratory : bool
        Whether one laboratory made both means.

    Returns
    -------
    float
        The difference [unit of the response].

    Raises
    ------
    ValueError
        Where there are no repeats.

    References
    ----------
    ISO 5725-6:1994, 4.2.1 and 4.2.2, for two means of equal size.

    Examples
    --------
    With one result each the differences are the limits r and R.

    >>> from pinscar.stats.precision import material_precision
    >>> found = material_precision("oil", {"A": [1.0, 3.0], "B": [5.0, 7.0]})
    >>> [round(critical_difference(found, n, one_laboratory=True), 2) for n in (1, 4)]
    [3.96, 1.98]
    >>> round(critical_difference(found, 1, one_laboratory=False), 2)
    8.4
    """
    if repeats < 1:
        raise ValueError(f"repeats is {repeats}, it must be at least 1")
    between = 0.0 if one_laboratory else found.between_sd
    return LIMIT_FACTOR * math.hypot(between, found.repeatability_sd / math.sqrt(repeats))


@dataclass(frozen=True, slots=True, kw_only=True)
class CochranResult:
    """Result of Cochran's test.

    Parameters
    ----------
    group : str or None
        The group that stands out most; None where no test was possible.
    statistic : float or None
        Its share C of the sum of all sums of squares (of all variances, where groups are of equal size).
    critical : float or None
        Critical value for a group of its size.
    p : float or None
        Probability of a share this large with one variance for all, an upper bound (Bonferroni), at most 1.
    flagged : bool
        Whether the statistic is over its critical value.
    note : str or None
        Why no test was possible, or that sizes differ.
    """

    group: str | None
    statistic: float | None
    critical: float | None
    p: float | None
    flagged: bool
    note: str | None = None


def cochran(groups: Mapping[str, ArrayLike], alpha: float = 0.05) -> CochranResult:
    r"""Test whether one group varies more than the others, by Cochran's C.

    .. math:: C = \frac{(n_j - 1) s_j^2}{\sum_i (n_i - 1) s_i^2}, \quad
              C_c = B_{1 - \alpha/p}\!\left(\frac{n_j - 1}{2}, \frac{\sum_{i \ne j} (n_i - 1)}{2}\right)

    With groups of equal size this is the standard's C and its critical value
    :math:`1/(1 + (p - 1)/F_{1-\alpha/p})`. For unequal sizes the group with the smallest probability is
    shown. Normal values are assumed; groups of a single value take no part.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group on the scale of analysis [any one unit], finite.
    alpha : float
        Level of the test [-].

    Returns
    -------
    CochranResult
        Group, statistic, critical value and flag; a note where no test was possible.

    Raises
    ------
    ValueError
        Where alpha is not between 0 and 1.

    References
    ----------
    ISO 5725-2:1994, 7.3.3; the beta form for unequal groups is own derivation and equals it for equal ones.

    Examples
    --------
    >>> result = cochran({"A": [1.0, 1.1, 0.9], "B": [1.0, 1.2, 1.1], "C": [0.2, 2.0, 1.1]})
    >>> result.group, round(result.statistic, 3), result.flagged
    ('C', 0.976, True)
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"alpha is {alpha}, it must lie between 0 and 1")
    sizes = {name: np.asarray(values).size for name, values in groups.items() if np.asarray(values).size > 1}
    squares = {name: sum_of_squares(groups[name]) for name in sizes}
    total, degrees = math.fsum(squares.values()), sum(sizes.values()) - len(sizes)
    if len(sizes) < 2 or total <= 0.0:
        reason = "fewer than two groups have repeats" if len(sizes) < 2 else "no group varies"
        return CochranResult(
            group=None, statistic=None, critical=None, p=None, flagged=False, note=f"No test: {reason}."
        )

    def tail(name: str) -> float:
        v = sizes[name] - 1
        return float(betaincc(v / 2.0, (degrees - v) / 2.0, squares[name] / total))

    group = min(sizes, key=lambda name: (tail(name), -squares[name]))
    v = sizes[group] - 1
    statistic = squares[group] / total
    critical = float(betaincinv(v / 2.0, (degrees - v) / 2.0, 1.0 - alpha / len(sizes)))
    note = None if len(set(sizes.values())) == 1 else "Groups differ in size; each is judged by its own."
    p = min(1.0, len(sizes) * tail(group))
    return CochranResult(
        group=group, statistic=statistic, critical=critical, p=p, flagged=statistic > critical, note=note
    )
