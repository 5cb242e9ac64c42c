"""The two bodies of a rig: their constants, stated or looked up, and their joint stiffness."""

from __future__ import annotations

from pinscar.campaign.model import Body, Rig
from pinscar.contact import hertz
from pinscar.contact.materials import Material, material, materials
from pinscar.problems import Problem, Severity

# Key in campaign.toml, and name of the same property in the table of materials.
_LOOKED_UP = {
    "elastic_modulus": "elastic_modulus",
    "poisson_ratio": "poisson_ratio",
    "density": "density",
    "thermal_conductivity": "conductivity",
    "specific_heat": "specific_heat",
}


def with_table_values(rig: Rig) -> Rig:
    """Fill what a body doesn't state from the table of materials, where it names one; stated values win."""
    return rig.model_copy(update={"pin": _filled(rig.pin), "ring": _filled(rig.ring)})


def material_problems(rig: Rig) -> list[Problem]:
    """List the bodies whose material the table doesn't have."""
    return [
        Problem(
            code="material-unknown",
            severity=Severity.ERROR,
            file="campaign.toml",
            message="this material is not in the table of materials",
            mend=f"write one of {', '.join(sorted(materials()))}, or leave it out and state the constants",
            column=f"rig.{name}.material",
            value=body.material,
        )
        for name, body in (("pin", rig.pin), ("ring", rig.ring))
        if body.material is not None and _found(body.material) is None
    ]


def looked_up(body: Body) -> tuple[str, ...]:
    """Name the properties of a body that come from the table of materials."""
    if body.material is None:
        return ()
    found = _found(body.material)
    return tuple(
        key
        for key, name in _LOOKED_UP.items()
        if getattr(body, key) is None and getattr(found, name, None) is not None
    )


def reduced_modulus(rig: Rig) -> float | None:
    """Give the reduced modulus of pin and ring."""
    pin, ring = _filled(rig.pin), _filled(rig.ring)
    if pin.elastic_modulus is None or pin.poisson_ratio is None:
        return None
    if ring.elastic_modulus is None or ring.poisson_ratio is None:
        return None
    return float(
        hertz.reduced_modulus(
            pin.elastic_modulus, pin.poisson_ratio, ring.elastic_modulus, ring.poisson_ratio
        )
    )


def _filled(body: Body) -> Body:
    if body.material is None:
        return body
    found = _found(body.material)
    return body.model_copy(update={key: getattr(found, _LOOKED_UP[key]) for key in looked_up(body)})


def _found(name: str) -> Material | None:
    try:
        return material(name)
    except ValueError:
        return None
