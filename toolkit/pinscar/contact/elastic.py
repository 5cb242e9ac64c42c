"""Elastic constants of a pair of bodies."""

from __future__ import annotations

from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray, positive, within


def reduced_modulus(
    elastic_modulus_1: ArrayLike,
    poisson_ratio_1: ArrayLike,
    elastic_modulus_2: ArrayLike,
    poisson_ratio_2: ArrayLike,
) -> FloatArray:
    """Compute the reduced modulus of two elastic bodies in contact.

    ``1/E* = (1 - nu1^2)/E1 + (1 - nu2^2)/E2``. (The film literature often uses ``E' = 2 E*``.)

    Parameters
    ----------
    elastic_modulus_1, elastic_modulus_2 : array_like
        Young's modulus of each body [Pa]; infinity for a rigid one.
    poisson_ratio_1, poisson_ratio_2 : array_like
        Poisson's ratio of each body [-], -1 to 0.5.

    Returns
    -------
    ndarray of float
        Reduced modulus E* [Pa], broadcast shape.

    Raises
    ------
    ValueError
        A modulus is not above zero, or a Poisson's ratio lies outside -1 to 0.5.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2.

    Examples
    --------
    Steel on steel:

    >>> round(float(reduced_modulus(210e9, 0.30, 210e9, 0.30)) / 1e9, 6)
    115.384615
    """
    e1, e2 = (
        positive("elastic_modulus_1", elastic_modulus_1),
        positive("elastic_modulus_2", elastic_modulus_2),
    )
    nu1, nu2 = (
        within("poisson_ratio_1", poisson_ratio_1, -1, 0.5),
        within("poisson_ratio_2", poisson_ratio_2, -1, 0.5),
    )
    return 1.0 / ((1.0 - nu1**2) / e1 + (1.0 - nu2**2) / e2)
