"""Comparisons without blocks and without censoring: pooled t, Welch, Dunnett or Games-Howell."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.all_pairs import range_contrast
from pinscar.stats.dunnett import dunnett
from pinscar.stats.family import Found, spread_word
from pinscar.stats.pairwise import Contrast, brown_forsythe, pooled_t, welch_error, welch_t
from pinscar.stats.rules import EQUAL_SPREADS_LEVEL, SMALL_GAMES_HOWELL

FloatArray = NDArray[np.float64]
CAUTION = (
    "spreads differ and a group has fewer than {n} runs: Games-Howell intervals may then be "
    "somewhat too narrow"
)


def plain(
    family: Mapping[str, FloatArray], reference: str, confidence: float, scale: str
) -> dict[str, Found]:
    """Compare groups with the reference, without blocks and without censoring.

    Parameters
    ----------
    family : mapping of str to ndarray
        Values on the scale of the analysis; each group has two or more that differ.
    reference : str
        The group that the others are compared with.
    confidence : float
        Joint confidence [-].
    scale : {"log", "linear"}
        What the scale is, for the words of the method.

    Returns
    -------
    dict of str to Found
        One a group other than the reference.

    References
    ----------
    Dunnett, JASA 50 (1955) 1096-1121; Games and Howell, J. Educ. Stat. 1 (1976) 113-125; Welch, Biometrika 34
    (1947) 28-35; Brown and Forsythe, JASA 69 (1974) 364-367, for the choice.

    Examples
    --------
    >>> logs = {"R": np.array([1.0, 1.1, 1.3]), "C": np.array([1.4, 1.5, 1.9])}
    >>> plain(logs, "R", 0.95, "log")["C"].method[:42]
    'ratio of geometric means, pooled t on logs'
    """
    subjects = [name for name in family if name != reference]
    unequal, words = _spreads(family)
    what = "ratio of geometric means" if scale == "log" else "difference of means"
    note = None
    if len(subjects) == 1:
        test = welch_t if unequal else pooled_t
        contrasts = [test(family[subjects[0]], family[reference], confidence)]
        name = "Welch t" if unequal else "pooled t"
    elif unequal:
        contrasts = [_games_howell(family, subject, reference, confidence) for subject in subjects]
        name = "Games-Howell simultaneous intervals"
        small = min(y.size for y in family.values()) < SMALL_GAMES_HOWELL
        note = CAUTION.format(n=SMALL_GAMES_HOWELL) if small else None
    else:
        contrasts = dunnett([family[subject] for subject in subjects], family[reference], confidence)
        name = "Dunnett simultaneous intervals"
    return {
        subject: _found(c, f"{what}, {name}{spread_word(scale)}", words, note)
        for subject, c in zip(subjects, contrasts, strict=True)
    }


def _spreads(family: Mapping[str, FloatArray]) -> tuple[bool, str]:
    try:
        p = brown_forsythe(list(family.values()))[1]
    except ValueError:
        return False, "spreads taken as equal: too few runs to test"
    unequal = p < EQUAL_SPREADS_LEVEL
    return unequal, f"spreads {'differ' if unequal else 'taken as equal'}: Brown-Forsythe p = {p:.2g}"


def _games_howell(
    family: Mapping[str, FloatArray], subject: str, reference: str, confidence: float
) -> Contrast:
    error, df = welch_error(family[subject], family[reference])
    difference = float(family[subject].mean() - family[reference].mean())
    return range_contrast(difference, error, df, len(family), confidence)


def _found(contrast: Contrast, name: str, spreads: str, note: str | None) -> Found:
    df = f"{contrast.df:.0f}" if float(contrast.df).is_integer() else f"{contrast.df:.1f}"
    method = f"{name} ({df} degrees of freedom); {spreads}"
    return Found(contrast.estimate, contrast.low, contrast.high, contrast.p, method, note)
