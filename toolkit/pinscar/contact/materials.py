"""Elastic and thermal constants of common pin and ring materials."""

from __future__ import annotations

from dataclasses import dataclass

from pinscar.contact.arrays import read_table

_GIGA = 1e9
PROPERTIES = ("elastic_modulus", "poisson_ratio", "density", "conductivity", "specific_heat")
"""Properties that a material may have."""


@dataclass(frozen=True, kw_only=True)
class Material:
    """Constants of one material near room temperature.

    Attributes
    ----------
    name : str
        Name in the table.
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
    """

    name: str
    elastic_modulus: float | None = None
    poisson_ratio: float | None = None
    density: float | None = None
    conductivity: float | None = None
    specific_heat: float | None = None
    source: str = ""


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
    Head and ``source`` column of ``data/materials.csv``, as for `materials`.

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
