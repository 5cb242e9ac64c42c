"""What every test geometry can do, and the table from which a campaign picks one."""

from __future__ import annotations

import math
from typing import Protocol

from numpy.typing import ArrayLike

from pinscar.contact.arrays import FloatArray
from pinscar.contact.ball_on_disc import BallOnDisc
from pinscar.contact.block_on_ring import BlockOnRing
from pinscar.contact.crossed_cylinders import CrossedCylinders
from pinscar.contact.hertz import EllipticContact, LineContact
from pinscar.contact.worn_ring import WornRing

GEOMETRIES = ("crossed-cylinders", "ball-on-disc", "block-on-ring", "worn-ring")


class Geometry(Protocol):
    """Two bodies rubbing on each other, the softer of which wears to a scar.

    ``length`` is the scar's extent that fixes its depth, ``width`` the one across; each geometry says which
    is which. Arrays are vectorised over runs; NaN (not measured) stays NaN. To add a geometry, write one
    file with a frozen dataclass that has these members, and add its name to `make_geometry`.
    """

    @property
    def name(self) -> str:
        """Name in campaign.toml [-]."""
        ...

    def initial_contact(self, load: ArrayLike, reduced_modulus: ArrayLike) -> EllipticContact | LineContact:
        """Solve the elastic contact of the unworn bodies, from load [N] and reduced modulus [Pa]."""
        ...

    def scar_depth(self, length: ArrayLike) -> FloatArray:
        """Compute the depth of a scar [m] from its length [m]."""
        ...

    def scar_length(self, depth: ArrayLike) -> FloatArray:
        """Compute the length of a scar [m] from its depth [m]."""
        ...

    def implied_width(self, length: ArrayLike) -> FloatArray:
        """Compute the width that the geometry implies [m] from the length [m]."""
        ...

    def longest_scar(self) -> float:
        """Compute the length of scar [m] beyond which the other members refuse."""
        ...

    def scar_area(self, length: ArrayLike, width: ArrayLike) -> FloatArray:
        """Compute the area of a scar [m^2] from its measured axes [m]."""
        ...

    def wear_volume(self, length: ArrayLike, width: ArrayLike | None = None) -> FloatArray:
        """Compute the volume worn away [m^3] from the scar's length [m]."""
        ...


def make_geometry(
    name: str,
    *,
    pin_diameter: float | None = None,
    ring_diameter: float,
    ring_width: float | None = None,
    crossing_angle: float = 0.5 * math.pi,
    ring_groove_depth: float = 0.0,
) -> Geometry:
    """Make the geometry that a campaign names.

    Parameters
    ----------
    name : str
        ``crossed-cylinders``, ``ball-on-disc``, ``block-on-ring`` or ``worn-ring`` [-].
    pin_diameter : float, optional
        Diameter of the pin, or of the ball [m]; not needed for a block.
    ring_diameter : float
        Diameter of the ring, or of the track on the disc [m].
    ring_width : float, optional
        Width over which block and ring touch [m]; needed for a block on a ring, elsewhere not used.
    crossing_angle : float
        Angle between the axes of pin and ring [rad]; used by ``crossed-cylinders``.
    ring_groove_depth : float
        Depth of the groove worn into the ring [m]; used by ``worn-ring`` and ``block-on-ring``.

    Returns
    -------
    Geometry
        The geometry.

    Raises
    ------
    ValueError
        The name is not known, a dimension that it needs is missing, or a dimension is impossible.

    References
    ----------
    ASTM G99 (ball on disc), ASTM G77 (block on ring); crossed cylinders and worn ring: the derivations that
    stand in their classes.

    Examples
    --------
    >>> make_geometry("crossed-cylinders", pin_diameter=12e-3, ring_diameter=40e-3).name
    'crossed-cylinders'
    """
    ring_radius = 0.5 * ring_diameter
    if name == "crossed-cylinders":
        return CrossedCylinders(0.5 * _need("pin_diameter", pin_diameter), ring_radius, crossing_angle)
    if name == "ball-on-disc":
        return BallOnDisc(0.5 * _need("pin_diameter", pin_diameter), ring_radius)
    if name == "block-on-ring":
        return BlockOnRing(ring_radius, _need("ring_width", ring_width), ring_groove_depth)
    if name == "worn-ring":
        return WornRing(0.5 * _need("pin_diameter", pin_diameter), ring_radius, ring_groove_depth)
    raise ValueError(f"name must be one of {', '.join(GEOMETRIES)}; got {name!r}")


def _need(name: str, value: float | None) -> float:
    if value is None:
        raise ValueError(f"{name} is needed for this geometry")
    return value
