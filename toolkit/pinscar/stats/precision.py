"""Repeatability and reproducibility of a test over laboratories, operators, rings or days."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.stats.consistency import critical_h, critical_k
from pinscar.stats.moments import stable_mean, standard_deviation, sum_of_squares

# Two results differ by less than 1.96 sqrt(2) standard deviations in 95 of 100 pairs.
LIMIT_FACTOR = 2.8


@dataclass(frozen=True, slots=True)
class Cell:
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


@dataclass(frozen=True, slots=True)
class MaterialPrecision:
    """Precision of the test on one material.

    Parameters
    ----------
    material : str
        The material (lubricant and load level).
    cells : tuple of Cell
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
    cells: tuple[Cell, ...]
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
) -> tuple[Cell, ...]:
    spread, centre = standard_deviation(means), stable_mean(means)
    h_limit = critical_h(means.size, alpha)
    cells = []
    for (lab, values), mean in zip(data.items(), means.tolist(), strict=True):
        sd = standard_deviation(values) if values.size > 1 else None
        h = (mean - centre) / spread if spread > 0.0 else None
        k = sd / math.sqrt(repeatability) if sd is not None and repeatability > 0.0 else None
        k_limit = None if k is None else critical_k(values.size - 1, df, alpha)
        flagged = (*(["h"] if _exceeds(h, h_limit) else []), *(["k"] if _exceeds(k, k_limit) else []))
        cells.append(Cell(lab, values.size, mean, sd, h, k, h_limit, k_limit, flagged))
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
