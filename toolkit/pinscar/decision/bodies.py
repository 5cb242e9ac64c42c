"""The two bodies of a rig: their joint stiffness."""

from __future__ import annotations

from pinscar.campaign.model import Rig
from pinscar.contact import elastic


def reduced_modulus(rig: Rig) -> float | None:
    """Give the reduced modulus of pin and ring.

    Parameters
    ----------
    rig : Rig
        The rig.

    Returns
    -------
    float or None
        Reduced modulus [Pa]; None where an elastic constant isn't stated.
    """
    pin, ring = rig.pin, rig.ring
    if pin.elastic_modulus is None or pin.poisson_ratio is None:
        return None
    if ring.elastic_modulus is None or ring.poisson_ratio is None:
        return None
    return float(
        elastic.reduced_modulus(
            pin.elastic_modulus, pin.poisson_ratio, ring.elastic_modulus, ring.poisson_ratio
        )
    )
