"""Upper tail of the noncentral t distribution, by quadrature that holds where library series give out."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammainc, gammaln, ndtr

# Beyond nine standard deviations a normal variable has 1e-19 left.
REACH = 9.0
# From here the spread of the estimated standard deviation is small against the width of the normal step.
MANY = 30.0
NODES = 256


def noncentral_t_tail(t: ArrayLike, df: ArrayLike, noncentrality: ArrayLike) -> NDArray[np.float64]:
    r"""Compute the probability that a noncentral t variable exceeds a positive value.

    With Z standard normal and X the root of a chi-square over its degrees of freedom, T = (Z + delta)/X and

    .. math::
        P(T > t) = \int \varphi(z)\, P\!\left(X < \tfrac{z + \delta}{t}\right) dz
                 = \int f_X(x)\, \Phi(\delta - t x)\, dx

    The first form is integrated for less than 30 degrees of freedom, the second from there; both by Gauss and
    Legendre with 256 nodes. A negative noncentrality gives the lower tail of a positive one, by symmetry.

    Parameters
    ----------
    t : array_like
        Value to exceed [-], positive, broadcast.
    df : array_like
        Degrees of freedom [-], at least 1, broadcast.
    noncentrality : array_like
        Noncentrality delta [-], any sign, broadcast.

    Returns
    -------
    ndarray
        Probability [-].

    Raises
    ------
    ValueError
        Where t is not positive or the degrees of freedom are under 1.

    References
    ----------
    N. L. Johnson and B. L. Welch, Applications of the non-central t-distribution, 1940 (the definition; the
    quadrature is own derivation).

    Examples
    --------
    Without noncentrality it is the tail of Student's t: 2.5 % beyond 2.228 at 10 degrees of freedom.

    >>> round(float(noncentral_t_tail(2.228139, 10, 0.0)), 6)
    0.025
    """
    arrays = (np.asarray(value, dtype=np.float64) for value in (t, df, noncentrality))
    value, nu, delta = np.broadcast_arrays(*arrays)
    if not (bool(np.all(value > 0.0)) and bool(np.all(nu >= 1.0))):
        raise ValueError("t must be positive and df at least 1")
    result = np.empty(value.shape, dtype=np.float64)
    for form, here in ((_over_normal, nu < MANY), (_over_spread, nu >= MANY)):
        if bool(np.any(here)):
            result[here] = form(value[here][:, None], nu[here][:, None], delta[here][:, None])
    # The weights add up to one within rounding; a probability must not pass it.
    return np.clip(result, 0.0, 1.0)


@functools.cache
def _gauss_legendre() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    nodes.flags.writeable = weights.flags.writeable = False
    return nodes, weights


def _over_normal(
    t: NDArray[np.float64], nu: NDArray[np.float64], delta: NDArray[np.float64]
) -> NDArray[np.float64]:
    nodes, weights = _gauss_legendre()
    low = np.clip(-delta, -REACH, REACH)
    half = (REACH - low) / 2.0
    z = low + half * (nodes + 1.0)
    below = gammainc(nu / 2.0, nu / 2.0 * (np.maximum(z + delta, 0.0) / t) ** 2)
    density = np.exp(-(z**2) / 2.0) / np.sqrt(2.0 * np.pi)
    return np.asarray(np.sum(weights * half * density * below, axis=-1), dtype=np.float64)


def _over_spread(
    t: NDArray[np.float64], nu: NDArray[np.float64], delta: NDArray[np.float64]
) -> NDArray[np.float64]:
    nodes, weights = _gauss_legendre()
    reach = (REACH + 3.0) / np.sqrt(2.0 * nu)
    low = np.maximum(1.0 - reach, 0.0)
    half = (1.0 + reach - low) / 2.0
    x = low + half * (nodes + 1.0)
    log_density = (nu - 1.0) * np.log(x) - nu * (x**2 - 1.0) / 2.0
    # Stirling's form of the constant: its large terms cancel on paper instead of in the sum.
    constant = np.log(2.0) + nu / 2.0 * (np.log(nu / 2.0) - 1.0) - gammaln(nu / 2.0)
    density = np.exp(log_density + constant)
    return np.asarray(np.sum(weights * half * density * ndtr(delta - t * x), axis=-1), dtype=np.float64)
