"""Where to cut a likelihood ratio so that an interval rests on batches, whatever runs scatter about them."""

from __future__ import annotations

import numpy as np
from scipy.special import stdtrit

from pinscar.stats.checks import check_confidence


def batch_cut(confidence: float, runs: int, batches: int, terms: int, within: float, between: float) -> float:
    r"""Give the value at which twice the drop of a log-likelihood of runs of batches is cut.

    The runs split into the sum of squares W within batches and that of the batch means about the model, S,
    each mean counted as often as it has runs. The interval wanted is Student's, by the means alone, whose
    ends have :math:`S_t = S\,(1 + t_{g-p}^2 / (g - p))`. The likelihood, maximised over both spreads, is

    .. math:: -2\ell(W, S) = \begin{cases}
        (n - g) \ln\frac{W}{n - g} + g \ln\frac{S}{g} & \text{where}\ \frac{S}{g} > \frac{W}{n - g}\\
        n \ln\frac{W + S}{n} & \text{elsewhere}\end{cases}

    so the cut is the difference of that between :math:`S_t` and S.

    Parameters
    ----------
    confidence : float
        Confidence of the interval [1].
    runs, batches, terms : int
        n, g and p [-]; more batches than terms.
    within, between : float
        W and S at the maximum of the likelihood [-].

    Returns
    -------
    float
        The cut [-].

    Raises
    ------
    ValueError
        If there are no more batches than terms.

    References
    ----------
    Own derivation, exact for complete runs of batches of one size; the likelihood is that of Searle, Casella
    and McCulloch, Variance Components, 1992, section 3.7. With censored runs its coverage was simulated:
    tests/study/test_formulation_simulated.py.

    Examples
    --------
    One run a batch gives g ln(1 + t^2 / (g - p)):

    >>> round(batch_cut(0.95, 5, 5, 2, 0.0, 0.1), 4), round(5 * float(np.log1p(3.18244630528**2 / 3)), 4)
    (7.3807, 7.3807)
    """
    df = batches - terms
    if df < 1:
        raise ValueError(f"there must be more batches than terms ({terms}), found {batches}")
    grown = 1.0 + float(stdtrit(df, 0.5 + check_confidence(confidence) / 2)) ** 2 / df
    if runs == batches:
        return batches * float(np.log(grown))
    w, s = max(within, 1e-24), max(between, 1e-24)
    return _twice(w, s * grown, runs, batches) - _twice(w, s, runs, batches)


def _twice(within: float, between: float, n: int, g: int) -> float:
    """Minus twice the log-likelihood, maximised over both spreads, but for what is constant."""
    if between / g > within / (n - g):
        return (n - g) * float(np.log(within / (n - g))) + g * float(np.log(between / g))
    return n * float(np.log((within + between) / n))
