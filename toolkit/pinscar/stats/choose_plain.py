"""Comparisons without blocks and without censoring: Welch's t, or a pooled spread by design."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pinscar.stats.dunnett import dunnett
from pinscar.stats.family import Found, spread_word
from pinscar.stats.pairwise import Contrast, cochran_t, pooled_t, welch_t

FloatArray = NDArray[np.float64]
UNEVEN = "; unequal numbers: Cochran's critical value"
POOLED = "spread pooled over the groups, as the campaign says"


def plain(
    family: Mapping[str, FloatArray], reference: str, confidence: float, scale: str, pooled: bool = False
) -> dict[str, Found]:
    r"""Compare groups with the reference, without blocks and without censoring.

    Each group keeps its own spread: Welch's t, for unequal numbers of runs with Cochran's critical value.
    With k comparisons each interval is made at the
    confidence :math:`\gamma^{1/k}`, p becomes :math:`1 - (1 - p)^k` (Sidak). No test of the spreads chooses
    the method: with two or three runs such a test decides by chance. With ``pooled`` the spread is taken as
    common: pooled t, or Dunnett's intervals.

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
    pooled : bool
        True where the design of the campaign says that all groups share one spread.

    Returns
    -------
    dict of str to Found
        One a group other than the reference.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; Sidak, JASA 62 (1967) 626-633, theorem 1, for two-sided limits of
    correlated t; Dunnett, JASA 75 (1980) 796-800, for comparisons with unequal spreads (his T3 rests on the
    same Welch degrees of freedom); Dunnett, JASA 50 (1955) 1096-1121, for the pooled spread.

    Examples
    --------
    >>> logs = {"R": np.array([1.0, 1.1, 1.3]), "C": np.array([1.4, 1.5, 1.9])}
    >>> plain(logs, "R", 0.95, "log")["C"].method[:41]
    'ratio of geometric means, Welch t on logs'
    """
    subjects = [name for name in family if name != reference]
    what = "ratio of geometric means" if scale == "log" else "difference of means"
    note = None
    if pooled and len(subjects) == 1:
        contrasts = [pooled_t(family[subjects[0]], family[reference], confidence)]
        name, note = "pooled t", POOLED
    elif pooled:
        contrasts = dunnett([family[subject] for subject in subjects], family[reference], confidence)
        name, note = "Dunnett simultaneous intervals", POOLED
    else:
        contrasts = sidak_welch([family[subject] for subject in subjects], family[reference], confidence)
        name = "Welch t"
    joint = f"; Šidák over {len(subjects)} comparisons" if len(subjects) > 1 and not pooled else ""
    uneven = {s: not pooled and family[s].size != family[reference].size for s in subjects}
    return {
        subject: _found(
            c, f"{what}, {name}{spread_word(scale)}", f"{UNEVEN if uneven[subject] else ''}{joint}", note
        )
        for subject, c in zip(subjects, contrasts, strict=True)
    }


def own_spreads_t(subject: FloatArray, reference: FloatArray, confidence: float) -> Contrast:
    """Two groups, each with its own spread: Welch's t for equal numbers of runs, Cochran's for unequal.

    Parameters
    ----------
    subject, reference : ndarray
        Two or more values each, on the scale of the analysis.
    confidence : float
        Confidence of the interval [-].

    Returns
    -------
    Contrast
        Mean of the subject minus mean of the reference.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; Cochran, Biometrics 20 (1964) 191-195.

    Examples
    --------
    >>> logs = np.array([1.4, 1.5, 1.9]), np.array([1.0, 1.1, 1.3])
    >>> own_spreads_t(*logs, 0.95) == welch_t(*logs)
    True
    """
    test = welch_t if subject.size == reference.size else cochran_t
    return test(subject, reference, confidence)


def sidak_welch(
    subjects: list[FloatArray], reference: FloatArray, confidence: float, comparisons: int | None = None
) -> list[Contrast]:
    r"""Each subject against one reference, each group with its own spread, joint by Sidak's inequality.

    Parameters
    ----------
    subjects : list of ndarray
        The groups, each of two or more values that differ.
    reference : ndarray
        The group they are compared with.
    confidence : float
        Joint confidence [-].
    comparisons : int, optional
        How many comparisons hold together; as many as there are subjects where not given.

    Returns
    -------
    list of Contrast
        One a subject: difference, joint limits, adjusted p, degrees of freedom.

    References
    ----------
    Welch, Biometrika 34 (1947) 28-35; Cochran, Biometrics 20 (1964) 191-195; Sidak, JASA 62 (1967) 626-633.

    Examples
    --------
    >>> (one,) = sidak_welch([np.array([1.4, 1.5, 1.9])], np.array([1.0, 1.1, 1.3]), 0.95)
    >>> one == welch_t([1.4, 1.5, 1.9], [1.0, 1.1, 1.3])
    True
    """
    k = len(subjects) if comparisons is None else comparisons
    each = confidence ** (1.0 / k)
    found = [own_spreads_t(subject, reference, each) for subject in subjects]
    if k == 1:
        return found
    return [replace(c, p=float(-np.expm1(k * np.log1p(-min(c.p, 1.0))) if c.p < 1 else 1.0)) for c in found]


def _found(contrast: Contrast, name: str, joint: str, note: str | None) -> Found:
    df = f"{contrast.df:.0f}" if float(contrast.df).is_integer() else f"{contrast.df:.1f}"
    method = f"{name} ({df} degrees of freedom){joint}"
    return Found(contrast.estimate, contrast.low, contrast.high, contrast.p, method, note)
