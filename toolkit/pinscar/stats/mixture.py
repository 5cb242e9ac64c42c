"""Mixture models of log responses: blends of several batches, campaigns joined, films left-censored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc, stdtrit

from pinscar.stats.batch_model import aicc_of_batches, campaign_shifts, fit_batch_model
from pinscar.stats.censored import fit_left_censored
from pinscar.stats.mixture_terms import (
    Term,
    estimable,
    lowest_of,
    pseudo_components,
    scheffe_design,
    scheffe_terms,
)

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int_]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendRuns:
    """Runs of blends.

    Parameters
    ----------
    logs : ndarray, shape (n,)
        Natural logarithm of each run's value; of the limit where censored [-].
    left_censored : ndarray of bool, shape (n,)
        True where the true value is at most the one recorded.
    batches, campaigns : ndarray of int, shape (n,)
        Number of each run's batch and campaign, from 0.
    shares : ndarray, shape (g, q)
        Composition of each batch [1].
    names : tuple of str
        Name of each component.

    References
    ----------
    Own derivation: definition.

    Examples
    --------
    >>> shares = np.array([[1.0, 0.0], [0.5, 0.5], [1.0, 0.0]])
    >>> runs = BlendRuns(
    ...     logs=np.zeros(3),
    ...     left_censored=np.zeros(3, bool),
    ...     batches=np.arange(3),
    ...     campaigns=np.zeros(3, int),
    ...     shares=shares,
    ...     names=("A", "B"),
    ... )
    >>> runs.blends.tolist()
    [1, 0, 1]
    """

    logs: FloatArray
    left_censored: BoolArray
    batches: IntArray
    campaigns: IntArray
    shares: FloatArray
    names: tuple[str, ...]

    @property
    def blends(self) -> IntArray:
        """Number of each batch's blend: batches of one composition are one blend."""
        found = np.unique(np.round(self.shares, 6), axis=0, return_inverse=True)[1]
        return np.asarray(found, dtype=np.int64).reshape(-1)

    def without(self, blend: int) -> BlendRuns:
        """Leave a blend out.

        Parameters
        ----------
        blend : int
            Its number in `blends`.

        Returns
        -------
        BlendRuns
            The others.

        References
        ----------
        Own derivation: definition.

        Examples
        --------
        >>> runs = BlendRuns(
        ...     logs=np.zeros(2),
        ...     left_censored=np.zeros(2, bool),
        ...     batches=np.arange(2),
        ...     campaigns=np.zeros(2, int),
        ...     shares=np.array([[1.0, 0.0], [0.5, 0.5]]),
        ...     names=("A", "B"),
        ... )
        >>> runs.without(1).shares.tolist()
        [[0.5, 0.5]]
        """
        keep = self.blends != blend
        rows = keep[self.batches]
        numbers = np.cumsum(keep) - 1
        return BlendRuns(
            logs=self.logs[rows],
            left_censored=self.left_censored[rows],
            batches=numbers[self.batches[rows]],
            campaigns=np.unique(self.campaigns[rows], return_inverse=True)[1].astype(np.int64),
            shares=self.shares[keep],
            names=self.names,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureFit:
    """A mixture model of the logarithm of a response.

    Parameters
    ----------
    order : int
        1 linear, 2 quadratic.
    names : tuple of str
        Name of each component.
    terms : tuple of tuple of int
        Terms that were estimated.
    lowest : ndarray, shape (q,)
        Least shares that the pseudo-components start from; zeros where plain shares are used [1].
    coefficients : ndarray, shape (p,)
        One a term [-].
    covariance : ndarray, shape (p, p)
        Of the coefficients [-].
    df : int
        Degrees of freedom: batches, less terms, less campaigns beyond the first; 0 or less gives no interval.
    sigma, batch_sigma : float
        Standard deviations between runs and between batches about the model [-].
    campaign_sigma : float or None
        Between campaigns; None for a single one.
    log_likelihood, aicc : float
        Of the fit by maximum likelihood [-]; the latter counts repeats on one batch for what they tell.
    inestimable : tuple of str
        A clause for each term that the blends don't tell.
    n, n_censored, batches : int
        Runs, censored runs, batches.
    method : str
        How it was fitted.
    lost_as_balance : bool
        Whether components without a term of their own count as the balance.

    References
    ----------
    As :func:`fit_mixture`.

    Examples
    --------
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 2.0, 1.5]),
    ...     left_censored=np.zeros(3, bool),
    ...     batches=np.arange(3),
    ...     campaigns=np.zeros(3, int),
    ...     shares=np.array([[1, 0], [0, 1], [0.5, 0.5]]),
    ...     names=("A", "B"),
    ... )
    >>> fit_mixture(runs, 1).is_pseudo
    False
    """

    order: int
    names: tuple[str, ...]
    terms: tuple[Term, ...]
    lowest: FloatArray
    coefficients: FloatArray
    covariance: FloatArray
    df: int
    sigma: float
    batch_sigma: float
    campaign_sigma: float | None
    log_likelihood: float
    aicc: float
    inestimable: tuple[str, ...]
    n: int
    n_censored: int
    batches: int
    method: str
    lost_as_balance: bool = True

    @property
    def is_pseudo(self) -> bool:
        """Whether the coefficients belong to pseudo-components."""
        return bool(np.any(self.lowest > 0.0))

    def row(self, shares: ArrayLike) -> FloatArray:
        """Write blends as rows of the model.

        Parameters
        ----------
        shares : array_like, shape (m, q)
            Shares [1].

        Returns
        -------
        ndarray, shape (m, p)
            The rows [1].

        References
        ----------
        As :func:`pinscar.stats.mixture_terms.scheffe_design`.

        Examples
        --------
        >>> yarn = [[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.3, 0.3, 0.4]]
        >>> runs = BlendRuns(
        ...     logs=np.array([1.0, 2, 3, 2.2]),
        ...     left_censored=np.zeros(4, bool),
        ...     batches=np.arange(4),
        ...     campaigns=np.zeros(4, int),
        ...     shares=np.array(yarn),
        ...     names=("A", "B", "C"),
        ... )
        >>> fit_mixture(runs, 1).row([[0.2, 0.3, 0.5]]).tolist()
        [[0.2, 0.3, 0.5]]
        """
        x = np.atleast_2d(np.asarray(shares, dtype=np.float64))
        shares_left = pseudo_components(x, self.lowest)
        return (
            _rows(shares_left, self.terms)
            if self.lost_as_balance
            else scheffe_design(shares_left, self.terms)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Predicted:
    """A blend's predicted response.

    Parameters
    ----------
    log : float
        Natural logarithm of its median [-].
    standard_error : float
        Of that [-].
    low, high : float or None
        Interval of the median; None where no scatter is left to judge by.
    batch_low, batch_high : float or None
        Interval of the mean of one new batch.
    """

    log: float
    standard_error: float
    low: float | None
    high: float | None
    batch_low: float | None
    batch_high: float | None


def fit_mixture(runs: BlendRuns, order: int) -> MixtureFit:
    r"""Fit Scheffé's linear or quadratic model to the logarithms.

    .. math:: \ln y = \eta(x_b) + u_b + c_k + e, \quad u \sim N(0, \tau^2), \quad e \sim N(0, \sigma^2)

    with random effects of batches and campaigns, as :func:`pinscar.stats.batch_model.fit_batch_model`.
    Degrees of freedom are counted by batches, whatever the scatter between them turns out to be, so that runs
    of one batch never pass for blends.

    Parameters
    ----------
    runs : BlendRuns
        The data.
    order : int
        1 linear, 2 quadratic.

    Returns
    -------
    MixtureFit
        The model.

    Raises
    ------
    ValueError
        If all runs are censored, or fewer than two uncensored ones differ.

    References
    ----------
    Scheffé, J. R. Stat. Soc. B 20 (1958) 344-360; Cornell, Experiments with Mixtures, 3rd ed. 2002, chapter
    2; Searle, Casella and McCulloch, Variance Components, 1992, section 6.6; for the completed runs Dempster,
    Laird and Rubin, J. R. Stat. Soc. B 39 (1977) 1-38, example 4.3.

    Examples
    --------
    >>> corners = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 1.2, 2.0, 2.2, 3.0, 3.2]),
    ...     left_censored=np.zeros(6, bool),
    ...     batches=np.repeat(np.arange(3), 2),
    ...     campaigns=np.zeros(6, int),
    ...     shares=corners,
    ...     names=("A", "B", "C"),
    ... )
    >>> fit_mixture(runs, 1).coefficients.round(6).tolist()
    [1.1, 2.1, 3.1]
    """
    if runs.left_censored.all():
        raise ValueError("all runs are censored, so only upper bounds are known")
    if np.unique(runs.logs[~runs.left_censored]).size < 2:
        raise ValueError("fewer than two uncensored runs differ")
    lowest = lowest_of(runs.shares)
    terms = scheffe_terms(runs.shares.shape[1], order)
    design = scheffe_design(pseudo_components(runs.shares, lowest), terms)
    labels = [" × ".join(runs.names[i] for i in term) for term in terms]
    kept, told = estimable(design, labels)
    used = _rows(pseudo_components(runs.shares, lowest), tuple(terms[i] for i in kept))
    as_balance = int(np.linalg.matrix_rank(used)) == len(kept)
    used = used if as_balance else design[:, kept]
    fitted = fit_batch_model(runs.logs, runs.left_censored, runs.batches, runs.campaigns, used)
    g, shifts = runs.shares.shape[0], int(runs.campaigns.max())
    sizes, ratio = np.bincount(runs.batches), (fitted.batch_sigma / fitted.sigma) ** 2
    aicc = aicc_of_batches(fitted.log_likelihood, len(kept), sizes, ratio, campaigns=shifts > 0)
    return MixtureFit(
        order=order,
        names=runs.names,
        terms=tuple(terms[i] for i in kept),
        lowest=lowest,
        coefficients=fitted.coefficients,
        covariance=fitted.covariance,
        df=g - len(kept) - shifts,
        sigma=fitted.sigma,
        batch_sigma=fitted.batch_sigma,
        campaign_sigma=fitted.campaign_sigma,
        log_likelihood=fitted.log_likelihood,
        aicc=aicc,
        inestimable=tuple(told),
        n=runs.logs.size,
        n_censored=int(runs.left_censored.sum()),
        batches=g,
        method=fitted.method,
        lost_as_balance=as_balance,
    )


def _rows(shares: FloatArray, terms: Sequence[tuple[int, ...]]) -> FloatArray:
    """Write blends as rows of the terms kept; a component without a term of its own counts as the balance.

    Without that its share would count as a logarithm of zero, far below any blend.
    """
    rows = scheffe_design(shares, tuple(terms))
    lost = [i for i in range(shares.shape[1]) if (i,) not in terms]
    if lost and (0,) in terms:
        rows[:, list(terms).index((0,))] += shares[:, lost].sum(axis=1)
    return rows


def fit_mixtures(runs: BlendRuns, orders: Sequence[int]) -> tuple[MixtureFit, ...]:
    """Fit the models of several orders, scored alike: by the scatter of batches about the richest.

    Parameters
    ----------
    runs : BlendRuns
        The data.
    orders : sequence of int
        Rising.

    Returns
    -------
    tuple of MixtureFit
        The models.

    Raises
    ------
    ValueError
        As :func:`fit_mixture`.

    References
    ----------
    As :func:`pinscar.stats.batch_model.aicc_of_batches`.

    Examples
    --------
    >>> x = np.array([[1, 0], [0, 1], [0.5, 0.5], [0.25, 0.75], [0.75, 0.25]])
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 2.0, 1.5, 1.76, 1.24]),
    ...     left_censored=np.zeros(5, bool),
    ...     batches=np.arange(5),
    ...     campaigns=np.zeros(5, int),
    ...     shares=x,
    ...     names=("A", "B"),
    ... )
    >>> [fit.order for fit in fit_mixtures(runs, [1, 2])]
    [1, 2]
    """
    fits = [fit_mixture(runs, order) for order in orders]
    several, sizes = bool(runs.campaigns.max() > 0), np.bincount(runs.batches)
    ratio = (fits[-1].batch_sigma / fits[-1].sigma) ** 2
    return tuple(
        replace(
            one,
            aicc=aicc_of_batches(one.log_likelihood, len(one.terms), sizes, ratio, campaigns=several),
        )
        for one in fits
    )


def predict_blend(
    fit: MixtureFit, shares: ArrayLike, confidence: float = 0.95, runs_a_batch: int = 4
) -> Predicted:
    r"""Predict a blend's median, and the mean of one new batch of it.

    .. math:: x^T\hat\beta \pm t_\nu \sqrt{x^T C x}, \quad
              x^T\hat\beta \pm t_\nu \sqrt{x^T C x + \tau^2 + \sigma^2 / m}

    Parameters
    ----------
    fit : MixtureFit
        The model.
    shares : array_like, shape (q,)
        The blend [1].
    confidence : float
        Confidence of each interval [1].
    runs_a_batch : int
        m, runs that the new batch would be given.

    Returns
    -------
    Predicted
        On the scale of the logarithms.

    References
    ----------
    Cornell, Experiments with Mixtures, 3rd ed. 2002, section 2.8.

    Examples
    --------
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 2.0, 1.4, 1.6]),
    ...     left_censored=np.zeros(4, bool),
    ...     batches=np.arange(4),
    ...     campaigns=np.zeros(4, int),
    ...     shares=np.array([[1, 0], [0, 1], [0.5, 0.5], [0.5, 0.5]]),
    ...     names=("A", "B"),
    ... )
    >>> found = predict_blend(fit_mixture(runs, 1), [0.5, 0.5])
    >>> round(found.log, 6), found.low < 1.5 < found.high < found.batch_high
    (1.5, True)
    """
    row = fit.row(np.atleast_2d(np.asarray(shares, dtype=np.float64)))[0]
    log = float(row @ fit.coefficients)
    variance = max(float(row @ fit.covariance @ row), 0.0)
    error = float(np.sqrt(variance))
    if fit.df < 1:
        return Predicted(log=log, standard_error=error, low=None, high=None, batch_low=None, batch_high=None)
    t = float(stdtrit(fit.df, 0.5 + confidence / 2))
    batch = t * float(np.sqrt(variance + fit.batch_sigma**2 + fit.sigma**2 / runs_a_batch))
    return Predicted(
        log=log,
        standard_error=error,
        low=log - t * error,
        high=log + t * error,
        batch_low=log - batch,
        batch_high=log + batch,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What a component does when its share goes from the least to the most tested, the others in proportion.

    Parameters
    ----------
    component : str
        The component.
    lowest, highest : float
        Shares it goes from and to [1].
    ratio : float
        Predicted ratio of the response, highest to lowest [1].
    low, high : float or None
        Its simultaneous interval; None where no scatter is left.
    """

    component: str
    lowest: float
    highest: float
    ratio: float
    low: float | None
    high: float | None


def component_effects(fit: MixtureFit, tested: ArrayLike, confidence: float = 0.95) -> tuple[Effect, ...]:
    r"""Estimate each component's effect along its line through the middle of the tested blends.

    On Cox's line the share of one component moves and the others keep their proportions. With q components
    each interval has confidence :math:`1 - \alpha/q` (Bonferroni), so that all hold together.

    Parameters
    ----------
    fit : MixtureFit
        The model.
    tested : array_like, shape (n, q)
        Blends tested, each once [1].
    confidence : float
        Joint confidence of the intervals [1].

    Returns
    -------
    tuple of Effect
        One a component whose share was moved.

    References
    ----------
    Cox, "A note on polynomial response functions for mixtures", Biometrika 58 (1971) 155-159; Bonferroni's
    inequality as in NIST/SEMATECH e-Handbook, 7.4.7.3.

    Examples
    --------
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 2.0, 1.4, 1.6]),
    ...     left_censored=np.zeros(4, bool),
    ...     batches=np.arange(4),
    ...     campaigns=np.zeros(4, int),
    ...     shares=np.array([[1, 0], [0, 1], [0.5, 0.5], [0.5, 0.5]]),
    ...     names=("A", "B"),
    ... )
    >>> effects = component_effects(fit_mixture(runs, 1), runs.shares)
    >>> [(one.component, round(float(np.log(one.ratio)), 6)) for one in effects]
    [('A', -1.0), ('B', 1.0)]
    """
    x = np.atleast_2d(np.asarray(tested, dtype=np.float64))
    centre = x.mean(axis=0)
    moved = [i for i in range(x.shape[1]) if np.ptp(x[:, i]) > 1e-9]
    found = []
    for i in moved:
        ends = [_on_cox_line(centre, i, value) for value in (float(x[:, i].min()), float(x[:, i].max()))]
        contrast = fit.row([ends[1]])[0] - fit.row([ends[0]])[0]
        log = float(contrast @ fit.coefficients)
        error = float(np.sqrt(max(float(contrast @ fit.covariance @ contrast), 0.0)))
        low = high = None
        if fit.df >= 1:
            half = float(stdtrit(fit.df, 1.0 - (1.0 - confidence) / (2 * len(moved)))) * error
            low, high = float(np.exp(log - half)), float(np.exp(log + half))
        found.append(
            Effect(
                component=fit.names[i],
                lowest=ends[0][i],
                highest=ends[1][i],
                ratio=float(np.exp(log)),
                low=low,
                high=high,
            )
        )
    return tuple(found)


def _on_cox_line(centre: FloatArray, place: int, share: float) -> FloatArray:
    point = np.asarray(centre * (1.0 - share) / (1.0 - centre[place]), dtype=np.float64)
    point[place] = share
    return point


@dataclass(frozen=True, slots=True, kw_only=True)
class LackOfFit:
    """A test of whether blends lie further from the model than their scatter explains.

    Parameters
    ----------
    f : float or None
        Ratio of mean squares [1]; None where it was not computed.
    df_model, df_scatter : int
        Degrees of freedom above and below.
    p : float or None
        Chance of an F as large [1].
    against : str
        The scatter it was held against: "batches" of one blend, or "runs" of one batch.
    reason : str
        Why it was not computed; blank where it was.
    """

    f: float | None
    df_model: int
    df_scatter: int
    p: float | None
    against: str
    reason: str


def lack_of_fit(runs: BlendRuns, fit: MixtureFit) -> LackOfFit:
    r"""Test a model against the blends as they are.

    .. math:: F = \frac{(e^{D/n} - 1)(n - q)}{q - p}

    with D twice the drop of the log-likelihood from a mean for each of q blends to the p terms of the model,
    without random effects. Uncensored this is the usual F of lack of fit against pure error. Where blends
    were made in several batches the pure error is that between batches of a blend, and D is that of batch
    means. With censored runs or several campaigns beside that, the blends' own medians are fitted with random
    effects of batches, and F is the square of their contrasts off the model over their covariance, on the
    degrees of freedom of batches of a blend less campaigns beyond the first. Else it is that between runs,
    and a batch that came out apart looks like lack of fit too. Blends with bounds only stay out.

    Parameters
    ----------
    runs : BlendRuns
        The data.
    fit : MixtureFit
        The model.

    Returns
    -------
    LackOfFit
        The test.

    References
    ----------
    NIST/SEMATECH e-Handbook, 4.4.4.6 (lack of fit); with censored runs the likelihood ratio put in place of
    the sums of squares, own derivation.

    Examples
    --------
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 1.1, 2.0, 2.1, 2.6, 2.5]),
    ...     left_censored=np.zeros(6, bool),
    ...     batches=np.repeat(np.arange(3), 2),
    ...     campaigns=np.zeros(6, int),
    ...     shares=np.array([[1, 0], [0, 1], [0.5, 0.5]]),
    ...     names=("A", "B"),
    ... )
    >>> test = lack_of_fit(runs, fit_mixture(runs, 1))
    >>> test.df_model, test.df_scatter, round(test.f, 6)
    (1, 3, 266.666667)
    """
    data = _with_values(runs)
    blends, several = data.blends, int(data.campaigns.max())
    rows = fit.row(data.shares)
    cells = (blends[:, None] == np.unique(blends)).astype(np.float64)
    rank, q, g = int(np.linalg.matrix_rank(rows)), cells.shape[1], cells.shape[0]
    df_model = q - rank
    repeated = g - q - several >= 1
    against = "batches" if repeated else "runs"
    if df_model < 1:
        return LackOfFit(
            f=None,
            df_model=df_model,
            df_scatter=0,
            p=None,
            against=against,
            reason="the model has as many terms as blends",
        )
    if repeated:
        means = data.logs
        if not data.left_censored.any() and not several:
            means = np.bincount(data.batches, data.logs) / np.bincount(data.batches)
            return _ratio_test(means, np.zeros(g, dtype=bool), rows, cells, df_model, "batches")
        return _contrast_test(data, rows, cells, df_model)
    shifts = campaign_shifts(data.campaigns)
    small, large = (np.column_stack([one[data.batches], shifts]) for one in (rows, cells))
    return _ratio_test(data.logs, data.left_censored, small, large, df_model, "runs")


def _with_values(runs: BlendRuns) -> BlendRuns:
    """Leave out the blends of which bounds are all that is known: any low value fits them."""
    data = runs
    for blend in np.unique(runs.blends)[::-1]:
        if data.left_censored[(data.blends == blend)[data.batches]].all():
            data = data.without(int(blend))
    return data


def _ratio_test(
    logs: FloatArray, censored: BoolArray, small: FloatArray, large: FloatArray, df_model: int, against: str
) -> LackOfFit:
    """Compare two models by the ratio of their likelihoods, without random effects."""
    small, large = _full_rank(small), _full_rank(large)
    df_scatter = int((~censored).sum()) - large.shape[1]
    if df_scatter < 1:
        return LackOfFit(
            f=None,
            df_model=df_model,
            df_scatter=df_scatter,
            p=None,
            against=against,
            reason=f"{against} were not repeated",
        )
    try:
        fits = [fit_left_censored(logs, censored, one) for one in (small, large)]
    except np.linalg.LinAlgError:
        fits = []
    if not fits or not all(one.converged for one in fits):
        reason = "the runs of the blends do not differ, or too many of them are censored"
        return LackOfFit(
            f=None, df_model=df_model, df_scatter=df_scatter, p=None, against=against, reason=reason
        )
    deviance = max(0.0, 2.0 * (fits[1].log_likelihood - fits[0].log_likelihood))
    f = float(np.expm1(deviance / logs.size) * df_scatter / df_model)
    return LackOfFit(
        f=f,
        df_model=df_model,
        df_scatter=df_scatter,
        p=float(fdtrc(df_model, df_scatter, f)),
        against=against,
        reason="",
    )


def _contrast_test(data: BlendRuns, rows: FloatArray, cells: FloatArray, df_model: int) -> LackOfFit:
    """Test the blends' own medians off the model, with batches and campaigns in the scatter."""
    df_scatter = cells.shape[0] - cells.shape[1] - int(data.campaigns.max())
    first = np.argmax(cells > 0.0, axis=0)
    basis = np.linalg.svd(rows[first])[0]
    off = basis[:, cells.shape[1] - df_model :]
    try:
        fitted = fit_batch_model(data.logs, data.left_censored, data.batches, data.campaigns, cells)
        gap = off.T @ fitted.coefficients
        f = float(gap @ np.linalg.solve(off.T @ fitted.covariance @ off, gap)) / df_model
    except (ValueError, np.linalg.LinAlgError):
        reason = "the blends' own medians cannot be fitted beside the campaigns and the scatter of batches"
        return LackOfFit(
            f=None, df_model=df_model, df_scatter=df_scatter, p=None, against="batches", reason=reason
        )
    return LackOfFit(
        f=f,
        df_model=df_model,
        df_scatter=df_scatter,
        p=float(fdtrc(df_model, df_scatter, f)),
        against="batches",
        reason="",
    )


def _full_rank(design: FloatArray) -> FloatArray:
    return design[:, estimable(design, [""] * design.shape[1])[0]]


@dataclass(frozen=True, slots=True)
class LeftOutBlend:
    """A blend predicted by the others.

    Parameters
    ----------
    blend : int
        Its number in ``BlendRuns.blends``.
    observed : float or None
        Logarithm of its own median [-]; None where all its runs are censored.
    predicted : float or None
        Logarithm predicted without it [-]; None where its terms cannot be estimated without it.
    inside : bool or None
        Whether it lies in the interval of a new batch; None where there is none.
    """

    blend: int
    observed: float | None
    predicted: float | None
    inside: bool | None


def leave_one_blend_out(runs: BlendRuns, order: int, confidence: float = 0.95) -> tuple[LeftOutBlend, ...]:
    """Predict every blend from the others.

    Parameters
    ----------
    runs : BlendRuns
        The data.
    order : int
        1 linear, 2 quadratic.
    confidence : float
        Confidence of the interval of a new batch [1].

    Returns
    -------
    tuple of LeftOutBlend
        One a blend.

    References
    ----------
    Allen, "The relationship between variable selection and data augmentation and a method for prediction",
    Technometrics 16 (1974) 125-127 (prediction without the case itself), with the blend as the case.

    Examples
    --------
    >>> x = np.array([[1, 0], [0, 1], [0.5, 0.5], [0.25, 0.75]])
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 2.0, 1.5, 1.75]),
    ...     left_censored=np.zeros(4, bool),
    ...     batches=np.arange(4),
    ...     campaigns=np.zeros(4, int),
    ...     shares=x,
    ...     names=("A", "B"),
    ... )
    >>> [round(one.predicted - one.observed, 6) + 0.0 for one in leave_one_blend_out(runs, 1)]
    [0.0, 0.0, 0.0, 0.0]
    """
    found = []
    whole = fit_mixture(runs, order)
    for blend in np.unique(runs.blends):
        members = (runs.blends == blend)[runs.batches]
        observed = _median(runs.logs[members], runs.left_censored[members])
        shares = runs.shares[runs.blends == blend][0]
        try:
            fit = fit_mixture(runs.without(int(blend)), order)
        except ValueError:
            found.append(LeftOutBlend(int(blend), observed, None, None))
            continue
        if len(fit.terms) < len(whole.terms):
            found.append(LeftOutBlend(int(blend), observed, None, None))
            continue
        ahead = predict_blend(fit, shares, confidence, max(1, int(members.sum())))
        inside = None
        if observed is not None and ahead.batch_low is not None and ahead.batch_high is not None:
            inside = ahead.batch_low <= observed <= ahead.batch_high
        found.append(LeftOutBlend(int(blend), observed, ahead.log, inside))
    return tuple(found)


def _median(logs: FloatArray, censored: BoolArray) -> float | None:
    if censored.all():
        return None
    if not censored.any():
        return float(logs.mean())
    if np.unique(logs[~censored]).size < 2:
        return None
    return float(fit_left_censored(logs, censored, np.ones((logs.size, 1))).coefficients[0])


def chosen_order(fits: Sequence[MixtureFit]) -> int:
    """Choose the model with the smaller AICc, the linear one where they are equal.

    Parameters
    ----------
    fits : sequence of MixtureFit
        The models, linear first.

    Returns
    -------
    int
        Its place.

    References
    ----------
    Hurvich and Tsai, Biometrika 76 (1989) 297-307.

    Examples
    --------
    >>> runs = BlendRuns(
    ...     logs=np.array([1.0, 2.0, 1.5, 1.75]),
    ...     left_censored=np.zeros(4, bool),
    ...     batches=np.arange(4),
    ...     campaigns=np.zeros(4, int),
    ...     shares=np.array([[1, 0], [0, 1], [0.5, 0.5], [0.25, 0.75]]),
    ...     names=("A", "B"),
    ... )
    >>> chosen_order([fit_mixture(runs, 1)])
    0
    """
    return int(np.argmin([fit.aicc for fit in fits]))
