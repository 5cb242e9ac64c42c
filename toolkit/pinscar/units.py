"""Units at the edges: one pint registry of our own, text to unit, values to SI.

Units that most tables are written in stand as numbers: reading them waits for no registry.
"""

from __future__ import annotations

import re
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pint
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Usual:
    """A unit as numbers: a value in SI is that in the unit times the factor, plus the zero.

    Pint rounds the way back on its own, and the numbers of a report are those that pint gives.

    Attributes
    ----------
    factor : float
        SI units in one of it, as pint rounds it.
    back : float or None
        It in one SI unit, as pint rounds that; None where the way back is left to pint.
    kinds : frozenset of str
        The kinds of quantity that it measures, keys of `pinscar.units.DIMENSIONS`.
    zero : float
        Where its scale begins, in SI; more than 0 for degC and degF only.
    """

    factor: float
    back: float | None
    kinds: frozenset[str]
    zero: float = 0.0


_TEMPERATURES = "temperature", "temperature difference"
_WEAR = "wear coefficient", "inverse pressure"

_TABLE: Mapping[tuple[str, ...], Mapping[str, float]] = {
    ("length",): {"m": 1.0, "cm": 0.01, "mm": 1e-3, "um": 1e-6, "µm": 1e-6, "nm": 1e-9, "in": 0.0254},
    ("area",): {"m^2": 1.0, "mm^2": 1e-6, "mm²": 1e-6},
    ("volume",): {
        "m^3": 1.0,
        "mm^3": 1e-9,
        "mm³": 1e-9,
        "L": 1.0000000000000002e-3,
        "mL": 1.0000000000000002e-6,
        "uL": 1.0000000000000003e-9,
    },
    ("time",): {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0},
    ("mass",): {"kg": 1.0, "g": 1e-3, "mg": 1e-6},
    ("force",): {"N": 1.0, "kN": 1000.0, "kgf": 9.80665},
    ("pressure",): {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9},
    ("power",): {"W": 1.0, "kW": 1000.0},
    ("speed",): {"m/s": 1.0, "mm/s": 1e-3},
    ("rotational speed",): {"rad/s": 1.0, "rpm": 0.10471975511965977},
    ("angle",): {"rad": 1.0, "deg": 0.017453292519943295},
    ("pure number",): {"1": 1.0, "-": 1.0, "%": 0.01},
    ("density",): {"kg/m^3": 1.0},
    ("kinematic viscosity",): {"m^2/s": 1.0, "mm^2/s": 1e-6, "mm²/s": 1e-6},
    ("dynamic viscosity",): {"Pa s": 1.0, "mPa s": 1e-3},
    ("image scale",): {"m/px": 1.0, "um/px": 1e-6},
    ("specific heat capacity",): {"J/(kg K)": 1.0},
    ("thermal conductivity",): {"W/(m K)": 1.0},
    _TEMPERATURES: {"K": 1.0},
    _WEAR: {"m^2/N": 1.0, "mm^3/(N m)": 1e-9, "1/Pa": 1.0, "1/GPa": 1e-9},
}

_BACK: Mapping[str, float] = {"L": 999.9999999999999, "uL": 999999999.9999999, "1/GPa": 1e9}
"""The way back of units whose factor pint makes of parts."""

USUAL: Mapping[str, Usual] = MappingProxyType(
    {
        text: Usual(one, _BACK.get(text, 1.0 / one), frozenset(kinds))
        for kinds, units in _TABLE.items()
        for text, one in units.items()
    }
    | {
        "degC": Usual(1.0, 1.0, frozenset({"temperature"}), 273.15),
        "°C": Usual(1.0, 1.0, frozenset({"temperature"}), 273.15),
        "degF": Usual(0.5555555555555556, None, frozenset({"temperature"}), 255.37222222222223),
    }
)
"""The units by how they are written."""


DIMENSIONS: Mapping[str, str] = MappingProxyType(
    {
        "angle": "rad",
        "area": "m^2",
        "density": "kg/m^3",
        "dynamic viscosity": "Pa s",
        "force": "N",
        "image scale": "m/px",
        "inverse pressure": "1/Pa",
        "kinematic viscosity": "m^2/s",
        "length": "m",
        "mass": "kg",
        "power": "W",
        "pressure": "Pa",
        "pure number": "1",
        "rotational speed": "rad/s",
        "speed": "m/s",
        "specific heat capacity": "J/(kg K)",
        "temperature": "K",
        "temperature difference": "K",
        "thermal conductivity": "W/(m K)",
        "time": "s",
        "volume": "m^3",
        "wear coefficient": "m^2/N",
    }
)
"""The kinds of quantity pinscar knows, each with its SI unit."""

EXAMPLES: Mapping[str, str] = MappingProxyType(
    {
        "angle": "deg or rad",
        "area": "mm^2",
        "density": "kg/m^3",
        "dynamic viscosity": "mPa s",
        "force": "N or kgf",
        "image scale": "um/px",
        "inverse pressure": "1/GPa",
        "kinematic viscosity": "mm^2/s",
        "length": "mm or um",
        "mass": "kg, g or mg",
        "power": "W",
        "pressure": "MPa",
        "pure number": "1 or %",
        "rotational speed": "rpm or revolution/s",
        "speed": "m/s",
        "specific heat capacity": "J/(kg K)",
        "temperature": "degC or K",
        "temperature difference": "K",
        "thermal conductivity": "W/(m K)",
        "time": "s or min",
        "volume": "mL or mm^3",
        "wear coefficient": "mm^3/(N m)",
    }
)
"""What to write for each kind of quantity, as a message says it."""

_COMMON = (
    *("mm", "um", "m", "in", "thou", "N", "kN", "kgf", "lbf", "s", "min", "h", "g", "mg", "kg"),
    *("mL", "uL", "L", "degC", "degF", "K", "MPa", "GPa", "Pa", "rpm", "rad/s"),
    *("mm^2", "mm^3", "mm^2/s", "um/px", "deg"),
)  # fmt: skip
_NO_IDEA = "write a unit such as mm, N, s, degC or mm^2/s"
_CIRCULAR = frozenset({"radian", "degree", "turn", "grade", "arcminute", "arcsecond"})
_OFFSET = frozenset({"degree_Celsius", "degree_Fahrenheit", "degree_Reaumur"})
_ROTARY = frozenset({"revolutions_per_minute", "revolutions_per_second"})
_TWO_MEANINGS = MappingProxyType({"gr": "g (gram) or grain", "Min": "min (minute)", "mPas": "mPa s"})
_ALLOWED = re.compile(r"[\w%°²³⁴⁻¹⁰ ^*/().·⋅-]{1,40}")
_EXPONENT = re.compile(r"(\^|\*\*)\s*(-?\d{1,2}(?!\d)|\(-?\d(/\d)?\))")


class UnitError(ValueError):
    """A unit that cannot be read or does not fit, with what to write instead.

    Parameters
    ----------
    code : str
        Stable identifier, such as ``"unit-unknown"``.
    message : str
        What is wrong, in one plain clause.
    mend : str
        What to write instead, in one plain clause.
    """

    def __init__(self, code: str, message: str, mend: str) -> None:
        super().__init__(f"{message}; {mend}")
        self.code = code
        self.message = message
        self.mend = mend


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Return pinscar's own pint registry, made on first use.

    It is not pint's application registry, so nothing that a notebook does to that one changes results here.
    Added to pint's units: ``px`` (a point of a picture), ``rev`` (a turn) and ``kp`` (kilopond, 1 kgf).

    Returns
    -------
    pint.UnitRegistry
        The one registry of this process.

    References
    ----------
    Conversion factors: pint's definitions file, which follows the SI brochure and CODATA; 1 kp = 9.80665 N
    by the standard acceleration of free fall (3rd CGPM, 1901).

    Examples
    --------
    >>> round(registry().Quantity(1.0, "kp").to("N").magnitude, 5)
    9.80665
    """
    with _unseen("dask", "xarray", "babel", "uncertainties", "mip"):
        import pint

    made: pint.UnitRegistry[Any] = pint.UnitRegistry(on_redefinition="ignore")
    made.define("picture_point = [picture_point] = px")
    made.define("@alias turn = rev")
    made.define("@alias force_kilogram = kp")
    return made


@contextmanager
def _unseen(*names: str) -> Iterator[None]:
    """Hide libraries that pint would import where they are installed, to know their arrays: it gets none."""
    hidden = [name for name in names if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden))  # type: ignore[arg-type]  # None makes the import fail
    try:
        yield
    finally:
        for name in hidden:
            sys.modules.pop(name, None)


def Q_(value: Any, unit: str | None = None) -> pint.Quantity[Any]:  # noqa: N802 - pint's customary name
    """Make a quantity of pinscar's registry.

    Parameters
    ----------
    value : number, array or str
        Number(s) in `unit`, or a whole quantity as text such as ``"12 mm"`` [any].
    unit : str, optional
        Unit as text.

    Returns
    -------
    pint.Quantity
        The quantity.

    References
    ----------
    BIPM, The International System of Units, 9th ed., 2019; a thin front of pint's ``Quantity``.

    Examples
    --------
    >>> print(Q_(0.5, "in").to("mm"))
    12.7 millimeter
    >>> print(Q_("12 mm").to("m"))
    0.012 meter
    """
    if isinstance(value, str):
        value, unit = split_quantity(value)
    return registry().Quantity(value, parse_unit("1" if unit is None else unit))


def parse_unit(text: str) -> pint.Unit:
    """Turn the text between the brackets of a header into a unit.

    Parameters
    ----------
    text : str
        Unit such as ``mm^2/s``, ``mm²/s``, ``µm``, ``degC``, ``in``, ``%`` or ``um/px``; ``1`` or ``-`` is
        a pure number.

    Returns
    -------
    pint.Unit
        The unit, of pinscar's registry.

    Raises
    ------
    UnitError
        When the text is no unit, or one with two meanings at the bench.

    References
    ----------
    Names and symbols: BIPM, The International System of Units, 9th ed., 2019, and pint's list; without
    scaling factors and logarithmic units.

    Examples
    --------
    >>> parse_unit("in") == parse_unit("inch")
    True
    >>> parse_unit("mm²/s") == parse_unit("mm^2/s")
    True
    """
    text = text.strip().replace("℃", "degC").replace("℉", "degF")
    text = "1" if text in {"-", "–"} else text
    if text in _TWO_MEANINGS:
        mend = f"write {_TWO_MEANINGS[text]}"
        raise UnitError("unit-unknown", f"the unit {text!r} can be taken for another one", mend)
    unit = _try_unit(text)
    if unit is None:
        raise UnitError("unit-unknown", f"{text!r} is not a unit that can be read", _near_unit(text))
    if not registry().Quantity(1, unit)._is_multiplicative and not _is_offset(unit):
        message = f"{text} is a logarithmic unit and has no SI value"
        raise UnitError("unit-logarithmic", message, "write a unit that has an SI value")
    return unit


@lru_cache(maxsize=512)  # a chart asks for the same unit once a run, and pint takes half a millisecond
def _try_unit(text: str) -> pint.Unit | None:
    # pint would never finish a tower of powers: refuse it here
    rest = _EXPONENT.sub("$", text)
    if not _ALLOWED.fullmatch(text) or re.search(r"\^|\*\*|\$\s*\$", rest):
        return None
    try:
        unit = registry().parse_units(text)
        return unit if _has_size(unit) else None
    except Exception:  # pint raises many kinds of error on broken text
        return None


def _has_size(unit: pint.Unit) -> bool:
    """Tell whether one of a unit is a number of SI units: a high power of a large unit is none."""
    import pint

    try:
        one = float(registry().Quantity(1.0, unit).to_base_units().magnitude)
    except pint.UndefinedUnitError:
        return False
    except pint.PintError:  # one of a scale with a zero of its own, or a logarithmic one: told by its name
        return True
    return 0.0 < abs(one) < float("inf")


def _near_unit(text: str) -> str:
    raised = re.sub(r"(?<=[A-Za-z])([23])", r"^\1", text)
    if raised != text and _try_unit(raised) is not None:
        return f"write {raised}"
    same = [unit for unit in _COMMON if unit.lower() == text.lower().replace(" ", "")]
    if same:
        return f"write {same[0]}"
    if re.search(r"deg\w*\.? *c|°|^o *c$|celsius", text.lower()):
        return "write degC"
    return _NO_IDEA


def _names(unit: pint.Unit) -> set[str]:
    return {name for name, _ in registry().Quantity(1, unit).unit_items()}


def _is_offset(unit: pint.Unit) -> bool:
    names = _names(unit)
    return len(names) == 1 and names <= _OFFSET and unit.dimensionality == registry().kelvin.dimensionality


def is_offset_unit(unit_text: str) -> bool:
    """Tell whether a unit marks points on a scale with a zero of its own, as degC does.

    Ratios of numbers in such a unit mean nothing.

    Parameters
    ----------
    unit_text : str
        Unit as text.

    Returns
    -------
    bool
        True for degC and degF.

    References
    ----------
    SI brochure (BIPM, 9th edition), section 2.3.1: the Celsius scale and its zero.

    Examples
    --------
    >>> is_offset_unit("degC"), is_offset_unit("K")
    (True, False)
    """
    usual = USUAL.get(unit_text)
    return _is_offset(parse_unit(unit_text)) if usual is None else usual.zero > 0.0


def check_unit(unit_text: str) -> None:
    """Refuse what is no unit, whatever it measures.

    Parameters
    ----------
    unit_text : str
        Unit as text.

    Returns
    -------
    None
        Nothing: it is a unit.

    Raises
    ------
    UnitError
        When it cannot be read or has no SI value, as `parse_unit` says.

    References
    ----------
    See `parse_unit`.

    Examples
    --------
    >>> check_unit("mm^2/s")
    """
    if unit_text not in USUAL:
        parse_unit(unit_text)


def same_dimension(unit_text: str, other_text: str) -> bool:
    """Tell whether two units measure the same dimension.

    Parameters
    ----------
    unit_text, other_text : str
        Units as text.

    Returns
    -------
    bool
        True where numbers in one can be written in the other.

    References
    ----------
    SI brochure (BIPM, 9th edition), section 2.3.3: dimensions of quantities.

    Examples
    --------
    >>> same_dimension("MPa", "N/mm^2"), same_dimension("MPa", "N")
    (True, False)
    """
    one, other = USUAL.get(unit_text), USUAL.get(other_text)
    if one is not None and other is not None and one.kinds & other.kinds:
        return True
    return bool(parse_unit(unit_text).dimensionality == parse_unit(other_text).dimensionality)


def check_dimension(unit_text: str, dimension: str) -> None:
    """Refuse a unit that does not measure the kind of quantity wanted.

    Stricter than pint on turning: the radian is a pure number to pint, so it would take a bare Hz for rad/s
    and be wrong by 2 pi. A rotational speed must name its turn or its angle.

    Parameters
    ----------
    unit_text : str
        Unit as text.
    dimension : str
        Kind of quantity, a key of `DIMENSIONS`.

    Returns
    -------
    None
        Nothing: the unit fits.

    Raises
    ------
    UnitError
        When it does not fit, with what to write.

    References
    ----------
    SI brochure (BIPM, 9th edition), section 2.3.4: rad/s and Hz are told apart by name only.

    Examples
    --------
    >>> check_dimension("um", "length")
    >>> check_dimension("Hz", "rotational speed")
    Traceback (most recent call last):
        ...
    pinscar.units.UnitError: Hz does not say whether it counts turns or radians; write rpm or revolution/s
    """
    if unit_text in USUAL and dimension in USUAL[unit_text].kinds:
        return
    wanted = parse_unit(DIMENSIONS[dimension])
    try:
        unit = parse_unit(unit_text)
    except UnitError as failure:
        if failure.mend != _NO_IDEA:
            raise
        raise UnitError(failure.code, failure.message, f"write {EXAMPLES[dimension]}") from None
    names = _names(unit)
    if unit.dimensionality != wanted.dimensionality:
        raise _unlike(unit_text, dimension)
    if dimension == "rotational speed" and not names & (_CIRCULAR | _ROTARY):
        message = f"{unit_text} does not say whether it counts turns or radians"
        raise UnitError("unit-ambiguous", message, "write rpm or revolution/s")
    turning = bool(names & (_CIRCULAR | _ROTARY))
    if turning != (dimension in {"angle", "rotational speed"}):
        raise _unlike(unit_text, dimension)  # pint would take "mm deg" for a length
    if dimension == "temperature" and any(name.startswith("delta_") for name in names):
        raise _unlike(unit_text, dimension)
    if dimension == "temperature difference" and _is_offset(unit):
        message = f"{unit_text} marks a point on a scale and not a difference"
        raise UnitError("unit-wrong", message, "write K for a difference of temperatures")


def _unlike(unit_text: str, dimension: str) -> UnitError:
    article = "an" if dimension[0] in "aeiou" else "a"
    return UnitError(
        "unit-wrong", f"{unit_text} does not measure {article} {dimension}", _instead(unit_text, dimension)
    )


def _instead(unit_text: str, dimension: str) -> str:
    if dimension == "force" and parse_unit(unit_text).dimensionality == registry().kilogram.dimensionality:
        return "write kgf for a force given by its weight"
    if dimension.startswith("temperature") and unit_text.strip() in {"C", "F"}:
        return f"write deg{unit_text.strip()}"
    return f"write {EXAMPLES[dimension]}"


def to_si(values: ArrayLike, unit_text: str, dimension: str | None = None) -> NDArray[np.float64]:
    """Convert numbers in a unit to SI.

    Parameters
    ----------
    values : array_like
        Numbers in `unit_text` [unit_text], any shape.
    unit_text : str
        Unit as text.
    dimension : str, optional
        Kind of quantity the unit must measure, a key of `DIMENSIONS`; any if left out.

    Returns
    -------
    numpy.ndarray
        The numbers in SI base units: m, kg, s, K, rad, N, Pa and their products [SI], same shape.

    Raises
    ------
    UnitError
        When the unit cannot be read or does not fit.

    References
    ----------
    Conversion factors: pint's definitions file, which follows the SI brochure and CODATA.

    Examples
    --------
    >>> to_si([20.0, 25.0], "degC", "temperature")
    array([293.15, 298.15])
    >>> float(to_si(2310.0, "um", "length"))
    0.00231
    """
    if dimension is not None:
        check_dimension(unit_text, dimension)
    usual = USUAL.get(unit_text)
    if usual is not None:
        scaled = np.asarray(values, dtype=np.float64) * usual.factor
        return np.asarray(scaled + usual.zero if usual.zero else scaled)
    quantity = registry().Quantity(np.asarray(values, dtype=np.float64), parse_unit(unit_text))
    return np.asarray(quantity.to_base_units().magnitude, dtype=np.float64)


def to_unit(values: ArrayLike, unit_text: str) -> NDArray[np.float64]:
    """Convert SI numbers to a unit, for showing.

    Parameters
    ----------
    values : array_like
        Numbers in SI base units [SI], any shape.
    unit_text : str
        Unit to show them in, as text.

    Returns
    -------
    numpy.ndarray
        The numbers in `unit_text` [unit_text], same shape.

    References
    ----------
    Conversion factors: pint's definitions file, which follows the SI brochure and CODATA.

    Examples
    --------
    >>> float(to_unit(0.002, "mm"))
    2.0
    >>> float(to_unit(293.15, "degC"))
    20.0
    """
    usual = USUAL.get(unit_text)
    if usual is not None and usual.back is not None:
        numbers = np.asarray(values, dtype=np.float64)
        return np.asarray((numbers - usual.zero if usual.zero else numbers) * usual.back)
    unit = parse_unit(unit_text)
    base = registry().Quantity(1, unit).to_base_units().units
    quantity = registry().Quantity(np.asarray(values, dtype=np.float64), base)
    return np.asarray(quantity.to(unit).magnitude, dtype=np.float64)


def split_quantity(text: str) -> tuple[float, str]:
    """Split a quantity written as text into its number and its unit.

    Parameters
    ----------
    text : str
        Quantity such as ``"12 mm"``, ``"1 %"`` or ``"9.1e-6 m^2/s"``.

    Returns
    -------
    tuple of float and str
        Number, and unit text (``"1"`` when there is none).

    Raises
    ------
    UnitError
        When it is not a number with a decimal point, followed by a unit.

    References
    ----------
    ISO 80000-1: a number, a space, a unit symbol (from memory).

    Examples
    --------
    >>> split_quantity("12 mm")
    (12.0, 'mm')
    """
    match = re.fullmatch(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)(.*)", text, flags=re.DOTALL)
    if match is None:
        raise UnitError(
            "quantity-unreadable", "this is not a number followed by a unit", 'write it like "12 mm"'
        )
    number, unit = match.group(1), match.group(2).strip()
    if re.match(r"[,.'’]|\d", unit) and not re.match(r"1\s*/", unit):
        mend = "write decimals with a point and thousands without a mark, such as 1200.5"
        raise UnitError("quantity-unreadable", "the number has a comma or a mark between its digits", mend)
    return float(number), unit or "1"


def parse_quantity(text: str, dimension: str | None = None) -> float:
    """Read a quantity written as text, in SI.

    Parameters
    ----------
    text : str
        Quantity such as ``"12 mm"``.
    dimension : str, optional
        Kind of quantity it must be, a key of `DIMENSIONS`; any if left out.

    Returns
    -------
    float
        The number in SI base units [SI].

    Raises
    ------
    UnitError
        When it cannot be read or does not fit.

    References
    ----------
    Conversion factors: pint's definitions file, which follows the SI brochure and CODATA.

    Examples
    --------
    >>> parse_quantity("12 mm", "length")
    0.012
    """
    number, unit = split_quantity(text)
    if unit == "1" and dimension not in (None, "pure number"):
        raise UnitError(
            "unit-missing", "the number has no unit", f"write it with {EXAMPLES[dimension or '']}"
        )
    return float(to_si(number, unit, dimension))
