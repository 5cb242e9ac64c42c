"""Friction power, heat partition and flash temperature, from a disc of heat that moves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import exprel, ive

from pinscar.contact.arrays import FloatArray, as_floats, not_negative, positive, rising_readings

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(160)
# Nodes and weights on 0 to 1.
_NODES, _WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
_GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


def _centreline(peclet: FloatArray, x: FloatArray) -> FloatArray:
    """Integrate over the directions psi that the heat comes from, 0 being straight from the leading edge."""
    pe, place = peclet[..., None], x[..., None]
    total = np.zeros(np.broadcast_shapes(peclet.shape, x.shape))
    # The integrand is 1/sqrt(Pe) wide around psi = 0, so more nodes lie there. It may have a corner at pi/2.
    for start, width, power in ((0.0, 0.5 * np.pi, 3), (0.5 * np.pi, 0.5 * np.pi, 1)):
        psi = start + width * _NODES**power
        weight = _WEIGHTS * width * power * _NODES ** (power - 1)
        cos, sin = np.cos(psi), np.sin(psi)
        reach = place * cos + np.sqrt(1.0 - (place * sin) ** 2)
        loss = pe * reach * 2.0 * np.sin(0.5 * psi) ** 2
        total = total + np.sum(weight * reach * exprel(-loss), axis=-1)
    return total / np.pi


def disc_hottest_position(peclet: ArrayLike) -> FloatArray:
    """Find where on its centreline the disc is hottest, by golden section.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        Distance from the centre in radii, 0 at rest, towards 1 at speed [-], within 1e-6.

    References
    ----------
    Golden section for one maximum: W. H. Press et al., Numerical Recipes, 3rd ed., 2007, section 10.2. J.
    C. Jaeger, 1942: the hottest place lies on the trailing half.

    Examples
    --------
    >>> f"{disc_hottest_position(0.0):.3f}"
    '0.000'
    """
    pe = not_negative("peclet", peclet)
    low, high = np.zeros_like(pe), np.ones_like(pe)
    for _ in range(30):
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        rising = _centreline(pe, left) < _centreline(pe, right)
        low, high = np.where(rising, left, low), np.where(rising, high, right)
    return np.where(np.isnan(pe), np.nan, 0.5 * (low + high))


def disc_maximum(peclet: ArrayLike) -> FloatArray:
    """Compute the dimensionless maximum temperature under a moving disc, by quadrature.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_max / (q a) [-]; 1 at rest.

    References
    ----------
    J. C. Jaeger, 1942, point source; the quadrature: see `disc_centreline`.

    Examples
    --------
    >>> f"{disc_maximum(5.0):.5f}"
    '0.45270'
    """
    pe = not_negative("peclet", peclet)
    return _centreline(pe, disc_hottest_position(pe))


def disc_mean(peclet: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless mean temperature over a moving disc, by quadrature.

    Averaged over pairs of points at distance R, of which the disc holds the overlap area A of two unit
    discs R apart,

    .. math:: \frac{k \bar\theta}{q a} = \frac{1}{\pi} \int_0^2 e^{-Pe R} I_0(Pe R) A(R) \, dR, \quad
        A = 2 \arccos(R/2) - (R/2) \sqrt{4 - R^2}

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_mean / (q a) [-]; 8 / (3 pi) at rest.

    References
    ----------
    J. C. Jaeger, 1942, point source; the reduction to one integral: own derivation.

    Examples
    --------
    >>> [f"{mean:.5f}" for mean in disc_mean([0.0, 5.0])]
    ['0.84883', '0.29426']
    """
    pe = not_negative("peclet", peclet)[..., None]
    # R = 2 s^2 puts more nodes near R = 0, where the integrand is large at high speed.
    distance = 2.0 * _NODES**2
    overlap = 2.0 * np.arccos(0.5 * distance) - 0.5 * distance * np.sqrt(4.0 - distance**2)
    kernel = ive(0, pe * distance) * overlap * 4.0 * _NODES * _WEIGHTS
    return as_floats(np.sum(kernel, axis=-1)) / np.pi


def tian_kennedy_maximum(peclet: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless maximum temperature under a moving disc by the published fit.

    .. math:: \frac{k \theta_{max}}{q a} = \frac{2}{\sqrt{\pi (1.273 + Pe)}}

    Within 2.3 % of the quadrature at every Peclet number.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_max / (q a) [-].

    References
    ----------
    X. Tian and F. E. Kennedy, Maximum and average flash temperatures in sliding contacts, Journal of
    Tribology 116, 1994, 167-174, uniform circular source; formula from memory, checked against the
    quadrature.

    Examples
    --------
    >>> f"{tian_kennedy_maximum(5.0):.5f}"
    '0.45052'
    """
    return 2.0 / np.sqrt(np.pi * (1.273 + not_negative("peclet", peclet)))


def tian_kennedy_mean(peclet: ArrayLike) -> FloatArray:
    r"""Compute the dimensionless mean temperature over a moving disc by the published fit.

    .. math:: \frac{k \bar\theta}{q a} = \frac{1.22}{\sqrt{\pi (0.6575 + Pe)}}

    Within 4 % of the quadrature at every Peclet number.

    Parameters
    ----------
    peclet : array_like
        Peclet number Pe = v a / (2 kappa) [-], any shape.

    Returns
    -------
    ndarray
        k theta_mean / (q a) [-].

    References
    ----------
    X. Tian and F. E. Kennedy, 1994, uniform circular source; formula from memory, checked against the
    quadrature.

    Examples
    --------
    >>> f"{tian_kennedy_mean(5.0):.4f}"
    '0.2894'
    """
    return 1.22 / np.sqrt(np.pi * (0.6575 + not_negative("peclet", peclet)))


@dataclass(frozen=True)
class TraceFriction:
    """Friction coefficient read off a trace.

    Attributes
    ----------
    mean : float
        Mean over time [-].
    low, high : float
        5 and 95 % points over time: the range that the friction moved in, not an uncertainty of the mean [-].
    uncertainty : float
        Standard uncertainty of the mean from scatter, spacing, gaps and zero [-]; NaN where it was not
        asked for.
    """

    mean: float
    low: float
    high: float
    uncertainty: float = float("nan")


def friction_power(friction_coefficient: ArrayLike, load: ArrayLike, sliding_speed: ArrayLike) -> FloatArray:
    r"""Compute the heat that friction makes, :math:`P = \mu F v`.

    A range of friction coefficients in gives a range of powers out: pass the two ends as an array.

    Parameters
    ----------
    friction_coefficient : array_like
        Friction coefficient [-], any shape; all arguments broadcast.
    load : array_like
        Load [N].
    sliding_speed : array_like
        Sliding speed [m/s].

    Returns
    -------
    ndarray
        Friction power [W].

    References
    ----------
    Definition of the friction coefficient; all friction work becomes heat (common practice).

    Examples
    --------
    >>> [f"{power:.1f}" for power in friction_power([0.08, 0.15], 450.0, 1.466077)]
    ['52.8', '99.0']
    """
    mu = not_negative("friction_coefficient", friction_coefficient)
    return mu * not_negative("load", load) * not_negative("sliding_speed", sliding_speed)


def thermal_diffusivity(conductivity: ArrayLike, density: ArrayLike, specific_heat: ArrayLike) -> FloatArray:
    r"""Compute the thermal diffusivity, :math:`\kappa = k / (\rho c)`.

    Parameters
    ----------
    conductivity : array_like
        Thermal conductivity [W/(m K)], any shape.
    density : array_like
        Density [kg/m^3].
    specific_heat : array_like
        Specific heat capacity [J/(kg K)].

    Returns
    -------
    ndarray
        Thermal diffusivity [m^2/s].

    References
    ----------
    H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, section 1.6.

    Examples
    --------
    >>> f"{thermal_diffusivity(46.0, 7850.0, 460.0) * 1e6:.3f}"
    '12.739'
    """
    capacity = positive("density", density) * positive("specific_heat", specific_heat)
    return positive("conductivity", conductivity) / capacity


def peclet_number(speed: ArrayLike, half_length: ArrayLike, diffusivity: ArrayLike) -> FloatArray:
    r"""Compute the Peclet number of a moving source, :math:`Pe = v a / (2 \kappa)`.

    Under about 0.1 the source is as good as at rest; over about 5 heat has no time to flow sideways.

    Parameters
    ----------
    speed : array_like
        Speed of the source over the body [m/s], any shape; 0 for the body that the source rests on.
    half_length : array_like
        Half-width of the band or radius of the disc [m].
    diffusivity : array_like
        Thermal diffusivity of the body [m^2/s].

    Returns
    -------
    ndarray
        Peclet number [-].

    References
    ----------
    J. C. Jaeger, 1942, L; Stachowiak and Batchelor, Engineering Tribology, flash temperature, for the words.

    Examples
    --------
    >>> f"{peclet_number(1.466077, 1e-3, 12.739e-6):.1f}"
    '57.5'
    """
    distance = not_negative("speed", speed) * positive("half_length", half_length)
    return distance / (2.0 * positive("diffusivity", diffusivity))


def blok_partition(rise_1: ArrayLike, rise_2: ArrayLike) -> FloatArray:
    r"""Compute the share of the friction heat that body 1 takes, by equal maximum temperatures.

    .. math:: \delta_1 = \frac{\theta_2}{\theta_1 + \theta_2}

    The rises are those that each body would have if it took all the heat; with this share both surfaces reach
    the same maximum, :math:`\theta_1 \theta_2 / (\theta_1 + \theta_2)`.

    Parameters
    ----------
    rise_1, rise_2 : array_like
        Maximum surface rise of each body when it takes all the heat [K], any shapes that broadcast.

    Returns
    -------
    ndarray
        Share of the heat that goes into body 1 [-].

    References
    ----------
    H. Blok, Theoretical study of temperature rise at surfaces of actual contact under oiliness lubricating
    conditions, Proceedings of the General Discussion on Lubrication, Institution of Mechanical Engineers,
    2, 1937, 222-235.

    Examples
    --------
    >>> f"{blok_partition(300.0, 100.0):.2f}"
    '0.25'
    """
    one, two = positive("rise_1", rise_1), positive("rise_2", rise_2)
    return two / (one + two)


def friction_from_trace(
    time: ArrayLike, friction_force: ArrayLike, load: float, longest_step: float = np.inf
) -> TraceFriction:
    """Read the friction coefficient off a trace of the friction force.

    Parameters
    ----------
    time : array_like
        Times of the readings [s], one-dimensional, rising; steps may differ.
    friction_force : array_like
        Friction force [N], same length; missing readings are left out.
    load : float
        Load [N].
    longest_step : float
        Longest time between two readings that counts [s]; longer ones are gaps and left out.

    Returns
    -------
    TraceFriction
        Mean over time, and the 5 and 95 % points over time [-].

    Raises
    ------
    ValueError
        If the times do not rise, or no two readings are there that are no gap apart.

    References
    ----------
    Definition: mean of T/F by the trapezoidal rule over the time without gaps, and the values under which
    the trace spends 5 % and 95 % of that time.

    Examples
    --------
    >>> friction_from_trace([0, 1, 2], [45, 45, 45], 450).mean
    0.1
    """
    times, force = rising_readings(time, friction_force)
    if times.size < 2:
        raise ValueError(f"a trace needs at least two readings, found {times.size}")
    mu = force / float(positive("load", load))
    steps, middles = np.diff(times), 0.5 * (mu[1:] + mu[:-1])
    kept = steps <= longest_step
    if not kept.any():
        raise ValueError("a trace needs two readings that are no gap apart")
    steps, middles = steps[kept], middles[kept]
    mean = float(np.sum(steps * middles) / np.sum(steps))
    low, high = _time_quantiles(steps, middles, (0.05, 0.95))
    return TraceFriction(mean, low, high)


def _time_quantiles(
    steps: FloatArray, middles: FloatArray, shares: tuple[float, float]
) -> tuple[float, float]:
    """Find the values under which the trace spends these shares of its time."""
    order = np.argsort(middles, kind="stable")
    spent = np.cumsum(steps[order])
    reached = np.searchsorted(spent, np.asarray(shares) * spent[-1])
    low, high = middles[order][np.minimum(reached, middles.size - 1)]
    return float(low), float(high)


Measure = Literal["maximum", "mean"]
Method = Literal["quadrature", "tian-kennedy"]

_DISC = {
    ("quadrature", "maximum"): disc_maximum,
    ("quadrature", "mean"): disc_mean,
    ("tian-kennedy", "maximum"): tian_kennedy_maximum,
    ("tian-kennedy", "mean"): tian_kennedy_mean,
}


@dataclass(frozen=True, kw_only=True)
class FlashRise:
    """Flash temperature of a contact, with what it came from.

    Attributes
    ----------
    maximum : ndarray
        Largest rise over the bulk temperature, the same on both surfaces [K].
    mean_1, mean_2 : ndarray
        Mean rise over the contact on each body with the same share of heat [K].
    share_1 : ndarray
        Share of the friction heat that body 1 takes [-].
    peclet_1, peclet_2 : ndarray
        Peclet number of the source on each body [-].
    method : str
        How the rises were computed, for the report.
    """

    maximum: FloatArray
    mean_1: FloatArray
    mean_2: FloatArray
    share_1: FloatArray
    peclet_1: FloatArray
    peclet_2: FloatArray
    method: str


def disc_rise(
    heat_flux: ArrayLike,
    radius: ArrayLike,
    speed: ArrayLike,
    conductivity: ArrayLike,
    diffusivity: ArrayLike,
    measure: Measure = "maximum",
    method: Method = "quadrature",
) -> FloatArray:
    r"""Compute the rise under a uniform disc of heat, moving or at rest.

    .. math:: \theta = \frac{q a}{k} f(Pe), \quad Pe = \frac{v a}{2 \kappa}

    Parameters
    ----------
    heat_flux : array_like
        Heat flux into this body, q [W/m^2], any shape; all arguments broadcast.
    radius : array_like
        Radius of the disc, a [m].
    speed : array_like
        Speed of the disc over the body, v [m/s]; 0 on the body that the source rests on.
    conductivity : array_like
        Thermal conductivity of the body, k [W/(m K)].
    diffusivity : array_like
        Thermal diffusivity of the body, kappa [m^2/s].
    measure : str
        ``maximum`` or ``mean`` over the disc.
    method : str
        ``quadrature`` (default) or ``tian-kennedy``, the published fit.

    Returns
    -------
    ndarray
        Temperature rise [K].

    Raises
    ------
    ValueError
        If measure or method is not known.

    References
    ----------
    J. C. Jaeger, 1942, and X. Tian and F. E. Kennedy, 1994; see `pinscar.contact.heat`.

    Examples
    --------
    >>> [f"{rise:.1f}" for rise in disc_rise(1e7, 1e-3, [0.0, 1.466], 46.0, 12.739e-6)]
    ['217.4', '32.0']
    """
    if (method, measure) not in _DISC:
        raise ValueError(
            "method must be 'quadrature' or 'tian-kennedy' and measure 'maximum' or 'mean', "
            f"found {method!r} and {measure!r}"
        )
    number = _DISC[method, measure](peclet_number(speed, radius, diffusivity))
    strength = not_negative("heat_flux", heat_flux) * positive("radius", radius)
    return strength / positive("conductivity", conductivity) * number


def equal_area_radius(area: ArrayLike) -> FloatArray:
    r"""Compute the radius of the circle that stands in for an oval contact, :math:`\sqrt{A / \pi}`.

    Parameters
    ----------
    area : array_like
        Contact or scar area [m^2], any shape.

    Returns
    -------
    ndarray
        Radius [m].

    References
    ----------
    Common practice. The temperature of a source depends on its area much more than on its outline.

    Examples
    --------
    >>> f"{equal_area_radius(6.862679e-6) * 1e3:.4f}"
    '1.4780'
    """
    return np.sqrt(positive("area", area) / np.pi)


def contact_flash(
    power: ArrayLike,
    radius: ArrayLike,
    speed_1: ArrayLike,
    conductivity_1: ArrayLike,
    diffusivity_1: ArrayLike,
    speed_2: ArrayLike,
    conductivity_2: ArrayLike,
    diffusivity_2: ArrayLike,
    method: Method = "quadrature",
) -> FlashRise:
    r"""Compute the flash temperature of a circular contact whose heat two bodies share.

    Each body's maximum rise with all the heat, by `disc_rise`, gives Blok's share; both then reach

    .. math:: \theta = \theta_1 \theta_2 / (\theta_1 + \theta_2)

    over the same bulk temperature. The heat is spread evenly over the contact, as in a worn scar; the state
    is steady; the oil carries none of the heat away, so the figure is high for a flooded contact. A range
    of powers in gives a range of temperatures out.

    Parameters
    ----------
    power : array_like
        Friction power [W], any shape; all arguments broadcast.
    radius : array_like
        Radius of the contact, for an oval one `equal_area_radius` [m].
    speed_1, speed_2 : array_like
        Speed of the source over each body [m/s]: 0 for the pin, the sliding speed for the ring.
    conductivity_1, conductivity_2 : array_like
        Thermal conductivity of each body [W/(m K)].
    diffusivity_1, diffusivity_2 : array_like
        Thermal diffusivity of each body [m^2/s].
    method : str
        ``quadrature`` (default) or ``tian-kennedy``, the published fit.

    Returns
    -------
    FlashRise
        Maximum and mean rises [K], share, Peclet numbers, method.

    References
    ----------
    H. Blok, 1937, equal maximum temperatures; J. C. Jaeger, 1942, sources.

    Examples
    --------
    >>> steel = (46.0, 12.739e-6)
    >>> flash = contact_flash([52.8, 99.0], 1.478e-3, 0.0, *steel, 1.466, *steel)
    >>> [f"{rise:.1f} K" for rise in flash.maximum], f"{flash.share_1:.3f}"
    (['26.8 K', '50.2 K'], '0.108')
    """
    flux = not_negative("power", power) / (np.pi * positive("radius", radius) ** 2)
    one, two = (
        (radius, speed_1, conductivity_1, diffusivity_1),
        (radius, speed_2, conductivity_2, diffusivity_2),
    )
    # The share does not depend on the power; with a unit flux a power of zero is no division by zero.
    share = blok_partition(disc_rise(1.0, *one, "maximum", method), disc_rise(1.0, *two, "maximum", method))
    return FlashRise(
        maximum=disc_rise(flux * share, *one, "maximum", method),
        mean_1=disc_rise(flux * share, *one, "mean", method),
        mean_2=disc_rise(flux * (1.0 - share), *two, "mean", method),
        share_1=share,
        peclet_1=peclet_number(speed_1, radius, diffusivity_1),
        peclet_2=peclet_number(speed_2, radius, diffusivity_2),
        method="moving uniform disc, quadrature" if method == "quadrature" else "Tian and Kennedy 1994",
    )
