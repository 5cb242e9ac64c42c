"""The score of a scar reading: how likely both axes are within 5 % of the truth."""

from __future__ import annotations

import numpy as np

from pinscar.evidence.scar_outline import ScarFit
from pinscar.evidence.scar_size import Size, whole_spread

MIDDLE = (0.9564, 1.4928, -5.1397, -3.8964, 0.8, 0.2)
SPREAD = (0.0583, 0.3043, 0.3903, 0.3182, 0.2, 0.2)
SLOPES = (5.548, -0.295, 0.061, -0.934, -1.432, 0.0, 0.0)
"""Middle and spread of the measures, and the logistic curve's height and slopes on scaled measures.

Made by ``python tests/benchmarks/scar_score.py --count 12`` from 181 rendered pictures with seeds that no
limit of the reader was set with, 3 of them off by more than 5 %. So few errors fix the slopes only roughly;
the prior of the fit holds them back.
"""


def measures_of(
    fit: ScarFit, size: Size, columns: int, beside: tuple[float, float]
) -> tuple[float, ...]:
    """Tell what a fit says of how far it may be off.

    Parameters
    ----------
    fit : ScarFit
        The fit.
    size : Size
        As `size_of` gives it [points].
    columns : int
        Width of the picture [points].
    beside : tuple of float
        Marks just inside and just outside of the rim, as `marks_beside` gives them [1].

    Returns
    -------
    tuple of float
        Share of the outline that is clear; logarithms of its median strength, of its roughness over its size,
        and of the larger relative standard uncertainty of both axes; the marks beside [1].

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
    >>> [round(one, 2) for one in measures_of(fit, Size(120.0, 80.0, ellipse.area, 0.2, 0.2), 200, (0.8, 0.2))]
    [1.0, 1.1, -4.58, -4.36, 0.8, 0.2]
    """
    rough = float(np.sqrt(np.average(fit.away**2, weights=fit.weights))) / fit.size
    unsure = float((whole_spread(fit, size, columns) / (size.length, size.width)).max())
    strength = float(np.median(fit.outline.strength))
    return (
        fit.clear,
        float(np.log(max(strength, 0.1))),
        float(np.log(max(rough, 1e-4))),
        float(np.log(max(unsure, 1e-4))),
        *beside,
    )


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
