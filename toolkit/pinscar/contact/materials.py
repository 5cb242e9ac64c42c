"""Elastic and thermal constants of common pin and ring materials; the user's own values win."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from pinscar.contact.arrays import read_table

_GIGA = 1e9
PROPERTIES = ("elastic_modulus", "poisson_ratio", "density", "conductivity", "specific_heat")
"""Properties that a material may have."""


@dataclass(frozen=True)
class Material:
    """Constants of one material near room temperature.

    Attributes
    ----------
    name : str
        Name in the table, or what the user calls it.
    elastic_modulus : float or None
        Young's modulus [Pa]; None when there is no figure.
    poisson_ratio : float or None
        Poisson's ratio [-].
    density : float or None
        Density [kg/m^3].
    conductivity : float or None
        Thermal conductivity [W/(m K)].
    specific_heat : float or None
        Specific heat capacity [J/(kg K)].
    source : str
        Where the table's figures are from, with a mark on those from memory.
    own : tuple of str
        Properties whose value the user gave, not the table.
    """

    name: str
    elastic_modulus: float | None = None
    poisson_ratio: float | None = None
    density: float | None = None
    conductivity: float | None = None
    specific_heat: float | None = None
    source: str = ""
    own: tuple[str, ...] = ()


def materials() -> dict[str, Material]:
    """Return the table of materials by name.

    Returns
    -------
    dict
        Materials [SI] by name.

    References
    ----------
    Head and ``source`` column of ``data/materials.csv``: a textbook or trade source for each figure.

    Examples
    --------
    >>> materials()["tin bronze CuSn11"].conductivity
    54.0
    """
    rows = map(dict, read_table("materials.csv"))
    return {row["name"]: _material(row) for row in rows}


def material(name: str) -> Material:
    """Look up one material.

    Parameters
    ----------
    name : str
        Name as in the table; capital and small letters are the same.

    Returns
    -------
    Material
        Its constants [SI].

    Raises
    ------
    ValueError
        If the material is not in the table.

    References
    ----------
    See `materials`.

    Examples
    --------
    >>> material("Alumina 99.9 %").elastic_modulus
    380000000000.0
    """
    known = materials()
    found = {key.casefold(): value for key, value in known.items()}.get(name.strip().casefold())
    if found is None:
        raise ValueError(f"material must be one of {', '.join(known)}, found {name!r}")
    return found


def with_own_values(base: Material, own: Mapping[str, float | None]) -> Material:
    """Put the user's own values over the table's.

    Parameters
    ----------
    base : Material
        Material from the table, or ``Material("...")`` when the table has none.
    own : mapping
        The user's values by property name, in SI units (``elastic_modulus`` [Pa], ``poisson_ratio`` [-],
        ``density`` [kg/m^3], ``conductivity`` [W/(m K)], ``specific_heat`` [J/(kg K)]); None means not
        given.

    Returns
    -------
    Material
        Merged material; its field ``own`` names the properties that the user gave.

    Raises
    ------
    ValueError
        If a property is not known, or its value is not above zero (Poisson's ratio: not between -1 and 0.5).

    References
    ----------
    Own rule.

    Examples
    --------
    >>> pin = with_own_values(material("bearing steel 100Cr6"), {"elastic_modulus": 206e9, "density": None})
    >>> pin.elastic_modulus, pin.density, pin.own
    (206000000000.0, 7810.0, ('elastic_modulus',))
    """
    unknown = [name for name in own if name not in PROPERTIES]
    if unknown:
        raise ValueError(
            f"a material's property must be one of {', '.join(PROPERTIES)}, found {unknown[0]!r}"
        )
    given: dict[str, Any] = {name: float(value) for name, value in own.items() if value is not None}
    for name, value in given.items():
        _check(name, value)
    known = dict.fromkeys((*base.own, *given))
    return replace(base, **given, own=tuple(name for name in PROPERTIES if name in known))


def _check(name: str, value: float) -> None:
    if name == "poisson_ratio":
        if not -1.0 < value <= 0.5:
            raise ValueError(f"poisson_ratio must lie between -1 and 0.5, found {value:g}")
    elif not value > 0:
        raise ValueError(f"{name} must be above zero, found {value:g}")


def _material(row: dict[str, str]) -> Material:
    values = {name: float(row[name]) if row[name] else None for name in PROPERTIES}
    modulus = values["elastic_modulus"]
    return Material(
        name=row["name"],
        elastic_modulus=None if modulus is None else modulus * _GIGA,
        poisson_ratio=values["poisson_ratio"],
        density=values["density"],
        conductivity=values["conductivity"],
        specific_heat=values["specific_heat"],
        source=row["source"],
    )
