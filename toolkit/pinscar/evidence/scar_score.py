"""The score of a scar reading: how likely both axes are within 5 % of the truth."""

from __future__ import annotations

import numpy as np

from pinscar.evidence.scar_outline import ScarFit
from pinscar.evidence.scar_size import Size, whole_spread

MIDDLE = (1.5165, -3.896, 0.5248)
SPREAD = (0.3192, 0.3465, 0.4804)
SLOPES = (5.462, 0.314, -1.048, 0.846)
"""Middle and spread of the measures, and the logistic curve's height and slopes on scaled measures.

Made by ``python tests/benchmarks/scar_score.py --count 30`` from 462 rendered pictures, 10 of them off by
more than 5 %. So few errors fix the slopes only roughly; the prior of the fit holds them back. Share and
roughness of the outline, and the marks outside of the rim, were tried beside these and told nothing more
(tenfold cross-validation). The limits on how much of a rim must be seen were set on the same pictures.
"""


def measures_of(fit: ScarFit, size: Size, columns: int, inside: float) -> tuple[float, ...]:
    """Tell what a fit says of how far it may be off.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    size : Size
        As `size_of` gives it [points].
    columns : int
        Width of the picture [points].
    inside : float
        Least marks just inside of the rim, as `marks_inside` gives them [1].

    Returns
    -------
    tuple of float
        Logarithms of the outline's median strength and of the larger relative standard uncertainty of both
        axes; the marks inside [1].

    References
    ----------
    Own choice.

    Examples
    --------
    >>> from pinscar.evidence.ellipse import Ellipse
    >>> from pinscar.evidence.scar_outline import Outline
    >>> from pinscar.evidence.scar_rim import Rim
    >>> t = np.linspace(0.0, 2 * np.pi, 240, endpoint=False)
    >>> ellipse = Ellipse(100.0, 80.0, 60.0, 40.0, 0.0)
    >>> outline = Outline(ellipse.points(t), np.full(t.size, 3.0))
    >>> fit = ScarFit(Rim(ellipse), outline, np.full(t.size, 0.5), np.ones(t.size))
    >>> [round(one, 2) for one in measures_of(fit, Size(120.0, 80.0, ellipse.area, 0.2, 0.2), 200, 0.8)]
    [1.1, -4.36, 0.8]
    """
    unsure = float((whole_spread(fit, size, columns) / (size.length, size.width)).max())
    strength = float(np.median(fit.outline.strength))
    return float(np.log(max(strength, 0.1))), float(np.log(max(unsure, 1e-4))), inside


def probability(measures: tuple[float, ...]) -> float:
    """Give the probability that length and width are both within 5 % of the truth.

    Parameters
    ----------
    measures : tuple of float
        As `measures_of` gives them [1].

    Returns
    -------
    float
        From 0 to 1.

    References
    ----------
    Logistic regression: D. R. Cox, J. R. Stat. Soc. B 20, 1958.

    Examples
    --------
    >>> probability(MIDDLE) > 0.9
    True
    """
    scaled = (np.array(measures) - MIDDLE) / SPREAD
    return float(1 / (1 + np.exp(-SLOPES[0] - scaled @ SLOPES[1:])))
