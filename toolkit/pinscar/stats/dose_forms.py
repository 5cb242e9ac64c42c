"""The forms that a dose-response curve may have on the log scale: straight, saturating, with a threshold."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
Form = Literal["straight", "saturating", "threshold"]
FORMS: tuple[Form, ...] = ("straight", "saturating", "threshold")
TERMS = {"straight": 2, "saturating": 3, "threshold": 3}
"""Parameters of the mean of each form: start, rise and, but for the straight one, where it bends."""


def form_shape(form: Form, dose: ArrayLike, bend: float) -> FloatArray:
    r"""Give the shape of a form, which its rise multiplies.

    .. math:: \ln y = a + b\, g(d), \quad g = d, \quad g = \frac{d}{K + d}, \quad g = \max(d - d_0, 0)

    Parameters
    ----------
    form : {"straight", "saturating", "threshold"}
        The form. Saturating is Langmuir's isotherm: additive that adsorbs on a limited surface.
    dose : array_like
        Dose [any unit].
    bend : float
        K or d0 [the dose's unit]; a straight line takes no notice of it.

    Returns
    -------
    ndarray
        The shape, as many as doses.

    References
    ----------
    Langmuir, "The adsorption of gases on plane surfaces of glass, mica and platinum", J. Am. Chem. Soc. 40
    (1918) 1361-1403, equation (12) of the isotherm; the threshold form is a line with one break.

    Examples
    --------
    >>> form_shape("saturating", [0.0, 1.0, 3.0], 1.0).tolist()
    [0.0, 0.5, 0.75]
    >>> form_shape("threshold", [0.0, 1.0, 3.0], 1.0).tolist()
    [0.0, 0.0, 2.0]
    """
    d = np.asarray(dose, dtype=np.float64)
    if form == "straight":
        return d
    if form == "saturating":
        return np.asarray(d / (bend + d), dtype=np.float64)
    return np.maximum(d - bend, 0.0)


def bend_grid(form: Form, doses: ArrayLike, points: int = 15) -> FloatArray:
    """Give the places where a bend is looked for.

    Parameters
    ----------
    form : {"straight", "saturating", "threshold"}
        The form.
    doses : array_like
        Doses tested [any unit].
    points : int
        How many places.

    Returns
    -------
    ndarray
        K from a fiftieth to ten times the highest dose; d0 from the lowest dose to the last but one, since
        one beyond cannot be told from it; a single 0 for a straight line [the dose's unit].

    References
    ----------
    Own derivation: outside, a saturating curve is a step or a straight line.

    Examples
    --------
    >>> bend_grid("threshold", [0.0, 1.0, 2.0, 4.0], 3).tolist()
    [0.0, 1.0, 2.0]
    """
    levels = np.unique(np.asarray(doses, dtype=np.float64))
    if form == "straight":
        return np.zeros(1)
    if form == "saturating":
        return np.asarray(np.geomspace(0.02, 10.0, points) * levels[-1], dtype=np.float64)
    return np.linspace(levels[0], levels[-2], points)
