"""Values of the rig that are possible but hardly meant."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from types import MappingProxyType

from pinscar.campaign.codes import warning
from pinscar.campaign.model import Rig
from pinscar.problems import Problem
from pinscar.units import to_unit

_USUAL: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "pin_diameter": (1e-3, 0.1, "mm"),
        "ring_diameter": (5e-3, 0.5, "mm"),
        "ring_width": (1e-3, 0.2, "mm"),
        "ring_speed": (0.1, 1050.0, "rpm"),
        "lever_ratio": (0.5, 100.0, "1"),
        "hanger_mass": (0.0, 50.0, "kg"),
        "reading_uncertainty": (1e-7, 1e-3, "mm"),
        "fling_card": (0.02, 0.6, "mm"),
        "pin.elastic_modulus": (5e8, 1.2e12, "GPa"),
        "ring.elastic_modulus": (5e8, 1.2e12, "GPa"),
        "pin.hardness": (1e7, 1e11, "GPa"),
        "ring.hardness": (1e7, 1e11, "GPa"),
        "pin.roughness_rq": (1e-9, 2e-5, "um"),
        "ring.roughness_rq": (1e-9, 2e-5, "um"),
    }
)  # low and high end [SI] and the unit to show; common practice


def check_rig(rig: Rig) -> list[Problem]:
    """Warn of values outside the range that benches have.

    Parameters
    ----------
    rig : Rig
        The rig.

    Returns
    -------
    list of Problem
        Warnings.

    References
    ----------
    Common practice.

    Examples
    --------
    >>> rig = Rig.model_validate({"geometry": "crossed-cylinders", "pin_diameter": "12 m",
    ...                           "ring_diameter": "40 mm"})
    >>> [one.column for one in check_rig(rig)]
    ['rig.pin_diameter']
    """
    found = []
    for key, (low, high, unit) in _USUAL.items():
        section, _, name = key.rpartition(".")
        value = getattr(getattr(rig, section) if section else rig, name)
        odd = [one for one in (value if isinstance(value, tuple) else (value,)) if one is not None]
        odd = [one for one in odd if not low <= one <= high]
        if odd:
            shown, least, most = (
                f"{float(one):.6g} {unit}" if unit != "1" else f"{one:.6g}"
                for one in to_unit((odd[0], low, high), unit)
            )
            message = f"this would be unusual: {name} mostly lies between {least} and {most}"
            found.append(
                warning(
                    "toml-value-unusual",
                    "campaign.toml",
                    message,
                    "check the value and its unit",
                    column=f"rig.{key}",
                    value=shown,
                )
            )
    return found


def check_fling_card(rig: Rig | None, evidence: Collection[str]) -> list[Problem]:
    """Warn of fling cards whose size is not given.

    Parameters
    ----------
    rig : Rig or None
        The rig; None where campaign.toml could not be read.
    evidence : collection of str
        The evidence files, relative to the campaign folder.

    Returns
    -------
    list of Problem
        A warning, or none.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> rig = Rig.model_validate({"geometry": "crossed-cylinders", "pin_diameter": "12 mm",
    ...                           "ring_diameter": "40 mm"})
    >>> [one.column for one in check_fling_card(rig, ["fling/run-01.jpg"])]
    ['rig.fling_card']
    """
    cards = [name for name in evidence if name.startswith("fling/")]
    if rig is None or rig.fling_card is not None or not cards:
        return []
    message = "the size of the fling cards is not given, so that they cannot be read"
    mend = 'add a line such as fling_card = "150 mm x 100 mm"'
    return [warning("fling-card-size-missing", "campaign.toml", message, mend, column="rig.fling_card")]
