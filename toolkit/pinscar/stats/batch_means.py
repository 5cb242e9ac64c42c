"""Uncensored runs of batches summed up, and a linear model with a random effect of each batch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize_scalar

FloatArray = NDArray[np.float64]
LOG_2PI = float(np.log(2.0 * np.pi))
GRID = np.concatenate([[0.0], np.geomspace(1e-3, 0.999, 24)])


@dataclass(frozen=True, slots=True)
class BatchMeans:
    """What runs tell of their batches.

    Parameters
    ----------
    means : ndarray, shape (g,)
        Mean logarithm of each batch [-].
    sizes : ndarray, shape (g,)
        Runs of each batch [-].
    within : float
        Sum of squares of the runs about the mean of their batch [-].

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> data = BatchMeans(np.array([2.0, 5.0]), np.array([2.0, 1.0]), 2.0)
    >>> data.n, data.within_df
    (3, 1)
    """

    means: FloatArray
    sizes: FloatArray
    within: float

    @property
    def n(self) -> int:
        """Runs of all batches."""
        return int(self.sizes.sum())

    @property
    def within_df(self) -> int:
        """Degrees of freedom within batches."""
        return self.n - self.means.size


@dataclass(frozen=True, slots=True, kw_only=True)
class MeansFit:
    """A linear model of batch means with a random effect of each batch.

    Parameters
    ----------
    coefficients : ndarray, shape (p,)
        One a column of the design [-].
    ratio : float
        Variance between batches over variance within [-].
    sigma : float
        Standard deviation within batches [-].
    log_likelihood : float
        Log-likelihood of all runs, restricted where asked for [-].
    weights : ndarray, shape (g,)
        Weight of each batch mean, 1 / (1/m + ratio) [-].
    residual : float
        Weighted sum of squares of the means about the model [-].
    """

    coefficients: FloatArray
    ratio: float
    sigma: float
    log_likelihood: float
    weights: FloatArray
    residual: float


def batch_means(logs: ArrayLike, batches: NDArray[np.int_]) -> BatchMeans:
    """Sum up runs by batch.

    Parameters
    ----------
    logs : array_like, shape (n,)
        Natural logarithms of the runs [-].
    batches : ndarray of int, shape (n,)
        Number of each run's batch, from 0; every number is used.

    Returns
    -------
    BatchMeans
        Means, sizes and the scatter within.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> batch_means([1.0, 3.0, 5.0], np.array([0, 0, 1]))
    BatchMeans(means=array([2., 5.]), sizes=array([2., 1.]), within=2.0)
    """
    y = np.asarray(logs, dtype=np.float64)
    sizes = np.bincount(batches).astype(np.float64)
    means = np.bincount(batches, y) / sizes
    return BatchMeans(means, sizes, float(np.sum((y - means[batches]) ** 2)))


def fit_means(
    data: BatchMeans, design: FloatArray, *, restricted: bool = False, ratio: float | None = None
) -> MeansFit:
    r"""Fit a linear model whose batches scatter about it and whose runs scatter about their batch.

    .. math:: \bar y_b = x_b \beta + u_b + \bar e_b, \quad u_b \sim N(0, \tau^2), \quad
              \bar e_b \sim N(0, \sigma^2 / m_b)

    The design holds one row a batch, so the runs enter by their means and by the sum of squares within. For a
    ratio :math:`\lambda = \tau^2/\sigma^2` everything else has a closed form; the ratio is found on a grid
    and then by Brent's method.

    Parameters
    ----------
    data : BatchMeans
        The runs.
    design : ndarray, shape (g, p)
        A row a batch [-]; p may be 0.
    restricted : bool
        Whether the restricted likelihood is maximised, which allows for the p coefficients in both spreads.
    ratio : float, optional
        Ratio of the variances, where it is not to be found [-].

    Returns
    -------
    MeansFit
        The fit.

    References
    ----------
    Searle, Casella and McCulloch, Variance Components, 1992, sections 3.7 and 6.6 (likelihood and restricted
    likelihood of the one-way random model).

    Examples
    --------
    Dyestuff yields (six batches of five; Davies): restricted likelihood gives the analysis of variance.

    >>> y = [1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    ...      1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445]
    >>> fit = fit_means(batch_means(y, np.repeat(np.arange(6), 5)), np.ones((6, 1)), restricted=True)
    >>> round(fit.sigma**2, 1), round(fit.ratio * fit.sigma**2), round((11271.5 - 2451.25) / 5)
    (2451.2, 1764, 1764)
    """

    def cost(share: float) -> float:
        return -_at(data, design, share / (1.0 - share), restricted).log_likelihood

    if ratio is not None:
        return _at(data, design, ratio, restricted)
    if data.within_df < 1 or np.all(data.sizes == 1.0):
        return _at(data, design, 0.0, restricted)
    values = [cost(share) for share in GRID]
    best = int(np.argmin(values))
    if best == 0 and values[1] >= values[0]:
        return _at(data, design, 0.0, restricted)
    low, high = GRID[max(best - 1, 0)], GRID[min(best + 1, GRID.size - 1)]
    found = minimize_scalar(cost, bounds=(low, high), method="bounded", options={"xatol": 1e-9})
    share = float(found.x) if found.fun < values[best] else float(GRID[best])
    return _at(data, design, share / (1.0 - share), restricted)


def _at(data: BatchMeans, design: FloatArray, ratio: float, restricted: bool) -> MeansFit:
    weights = 1.0 / (1.0 / data.sizes + ratio)
    root = np.sqrt(weights)
    scaled = design * root[:, None]
    coefficients: FloatArray = np.zeros(design.shape[1])
    if coefficients.size:
        coefficients = np.asarray(np.linalg.lstsq(scaled, root * data.means, rcond=None)[0], np.float64)
    residual = float(np.sum(weights * (data.means - design @ coefficients) ** 2))
    p = design.shape[1]
    count = data.n - p if restricted else data.n
    variance = max((data.within + residual) / count, 1e-300)
    # |V| = prod sigma^2m (1 + m ratio); the runs of one batch share their effect
    value = -0.5 * (count * (LOG_2PI + np.log(variance) + 1.0) + np.sum(np.log1p(data.sizes * ratio)))
    if restricted and p:
        value -= 0.5 * np.linalg.slogdet(scaled.T @ scaled)[1]
    return MeansFit(
        coefficients=coefficients,
        ratio=ratio,
        sigma=float(np.sqrt(variance)),
        log_likelihood=float(value),
        weights=weights,
        residual=residual,
    )
