"""What stands out in a precision study: groups flagged by h, k, Cochran or Grubbs. Nothing is dropped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pinscar.decision.precision_study import Material
from pinscar.stats.precision import MaterialPrecision, material_precision

OUTLIER_P = 0.01
"""Under this probability the standard speaks of an outlier, up to 5 % of a straggler."""


@dataclass(frozen=True, slots=True)
class Flag:
    """One group that stands out on one material.

    Parameters
    ----------
    material : Material
        The material.
    group : str
        The group.
    test : {"h", "k", "Cochran", "Grubbs"}
        Which statistic.
    value, critical : float
        Statistic and critical value.
    weight : str
        "over the 0.5 % limit" for h and k, "straggler" or "outlier" for the tests.
    """

    material: Material
    group: str
    test: str
    value: float
    critical: float
    weight: str

    @property
    def about_spread(self) -> bool:
        """Whether the group scatters more, rather than reads higher or lower."""
        return self.test in ("k", "Cochran")


def flags(material: Material) -> Iterator[Flag]:
    """List what stands out on a material.

    Parameters
    ----------
    material : Material
        The material.

    Yields
    ------
    Flag
        Those of h and k by group, then Cochran's, then Grubbs's.
    """
    for cell in material.precision.cells:
        for test, value, critical in (("h", cell.h, cell.h_critical), ("k", cell.k, cell.k_critical)):
            if test in cell.flagged and value is not None and critical is not None:
                yield Flag(material, cell.laboratory, test, value, critical, "over the 0.5 % limit")
    yield from _test_flags(material)


def _test_flags(material: Material) -> Iterator[Flag]:
    spread, far = material.cochran, material.grubbs
    if spread.flagged and spread.group and spread.statistic is not None and spread.critical is not None:
        yield Flag(material, spread.group, "Cochran", spread.statistic, spread.critical, _weight(spread.p))
    if far.flagged and far.index is not None and far.statistic is not None and far.critical is not None:
        group = material.precision.cells[far.index].laboratory
        yield Flag(material, group, "Grubbs", far.statistic, far.critical, _weight(far.p))


def _weight(p: float | None) -> str:
    return "outlier" if p is not None and p <= OUTLIER_P else "straggler"


def without_flagged(material: Material) -> MaterialPrecision | None:
    """Evaluate a material again without the groups that stand out, to show what they do to the result.

    Parameters
    ----------
    material : Material
        The material.

    Returns
    -------
    MaterialPrecision or None
        The evaluation; None where nothing is flagged, or too little would be left.
    """
    flagged = {flag.group for flag in flags(material)}
    rest = {name: values for name, values in material.values.items() if name not in flagged}
    if not flagged or len(rest) < 2 or max(map(len, rest.values())) < 2:
        return None
    return material_precision(material.name, rest)
