"""The columns pinscar knows: kind, unit, range and meaning of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

Kind = Literal["text", "number", "choice", "moment"]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Attributes
    ----------
    name : str
        Name without the unit.
    meaning : str
        What it holds, as a person would say it.
    kind : {"text", "number", "choice", "moment"}
        How its cells are read.
    dimension : str
        Kind of quantity of a number, a key of `pinscar.units.DIMENSIONS`.
    unit : str
        Unit to write where a message shows the header.
    required : bool
        Whether the column must be there.
    filled : bool
        Whether each of its cells must be filled.
    low : float
        Numbers must be above it [SI].
    low_allowed : bool
        Whether `low` itself is allowed.
    whole : bool
        Whether numbers must be whole.
    usual : tuple of float and float, optional
        Range outside which the unit may be wrong [SI].
    options : tuple of str
        Words of a choice.
    """

    name: str
    meaning: str
    kind: Kind = "text"
    dimension: str = ""
    unit: str = ""
    required: bool = False
    filled: bool = False
    low: float = 0.0
    low_allowed: bool = False
    whole: bool = False
    usual: tuple[float, float] | None = None
    options: tuple[str, ...] = ()

    @property
    def needs_unit(self) -> bool:
        """Whether its header must carry a unit."""
        return self.kind == "number" and self.dimension != "pure number"

    @property
    def header(self) -> str:
        """The header as it should be written."""
        return f"{self.name} [{self.unit}]" if self.needs_unit else self.name


_SCAR = (5e-5, 0.03)
_SEEN = 1e-6  # a light microscope resolves no finer (wavelength of light)
_TEMPERATURE = (223.15, 873.15)

RUNS = (
    Column("run_id", "name of the run; traces, recordings and micrographs carry it too",
           required=True, filled=True),
    Column("lubricant", "id of the lubricant", required=True, filled=True),
    Column("load", "force of the pin on the ring; with load steps the first or last one's",
           "number", "force", "N", usual=(5.0, 20e3)),
    Column("weights", "weights on the lever, in place of load", "number", "mass", "kg", low_allowed=True,
           usual=(0.01, 500.0)),
    Column("duration", "length of the run, all load steps together", "number", "time", "s",
           required=True, filled=True, usual=(2.0, 3000.0)),
    Column("scar_length", "length of the scar, along the pin", "number", "length", "mm", required=True,
           low=_SEEN, usual=_SCAR),
    Column("scar_width", "width of the scar; blank: computed from the geometry", "number", "length", "mm",
           required=True, low=_SEEN, usual=_SCAR),
    Column("ring_speed", "speed of the ring; blank: the rig's", "number", "rotational speed", "rpm",
           usual=(0.1, 1050.0)),
    Column("wear_stopped", "whether wear had stopped at the end; blank: not judged", "choice",
           options=("yes", "no")),
    Column("quiet_time", "when the rubbing noise stopped", "number", "time", "s", low_allowed=True),
    Column("quiet_after", "where the noise faded and quiet_time is blank: when it began to fall",
           "number", "time", "s", low_allowed=True),
    Column("quiet_before", "where the noise faded: when nothing was left of it; it stopped earlier",
           "number", "time", "s", low_allowed=True),
    Column("peak_temperature", "highest temperature of the run", "number", "temperature", "degC",
           usual=_TEMPERATURE),
    Column("ambient_temperature", "temperature of the room", "number", "temperature", "degC",
           usual=(248.15, 333.15)),
    Column("fling_mass", "lubricant flung off", "number", "mass", "mg", low_allowed=True, usual=(0.0, 0.1)),
    Column("fling_area", "area covered by drops on the card behind the ring", "number", "area", "mm^2",
           low_allowed=True, usual=(0.0, 0.1)),
    Column("drips", "number of drips", "number", "pure number", low_allowed=True, whole=True),
    Column("smoke", "smoke seen", "choice", options=("none", "light", "heavy")),
    Column("run_at", "date and time of the run, ISO 8601", "moment"),
    Column("run_day", "day of the run; blank: taken from run_at", "moment"),
    Column("operator", "who ran it"),
    Column("ring_id", "which ring"),
    Column("pin_lot", "lot of the pins"),
    Column("pin_state", "state of the pin", "choice", options=("new", "reground")),
    Column("dose", "lubricant applied", "number", "volume", "mL", usual=(1e-10, 1e-2)),
    Column("micrograph_scale", "size of one point of the micrograph", "number", "image scale", "um/px",
           usual=(1e-8, 1e-4)),
    Column("scale_bar", "length of the scale bar on the micrograph", "number", "length", "mm",
           usual=(1e-6, 1e-2)),
    Column("sound_gain", "gain of the sound recorder as its display shows it, such as 20 dB; loudness is "
           "compared at one gain only"),
    Column("excluded", "blank, or why the run is excluded"),
    Column("note", "anything else"),
)  # fmt: skip

LOAD_STEPS = (
    Column("run_id", "name of the run", required=True, filled=True),
    Column("start", "when the step started, from the run's start", "number", "time", "s",
           required=True, filled=True, low_allowed=True),
    Column("load", "force of the pin on the ring in this step", "number", "force", "N", usual=(5.0, 20e3)),
    Column("weights", "weights on the lever, in place of load", "number", "mass", "kg", low_allowed=True,
           usual=(0.01, 500.0)),
)  # fmt: skip

READINGS = (
    Column("run_id", "name of the run", required=True, filled=True),
    Column("reader", "who read the scar", required=True, filled=True),
    Column("reading", "number of the reading; blank: counted in the order of the file"),
    Column("scar_length", "length of the scar, along the pin", "number", "length", "mm",
           required=True, filled=True, low=_SEEN, usual=_SCAR),
    Column("scar_width", "width of the scar", "number", "length", "mm", low=_SEEN, usual=_SCAR),
    Column("blind_code", "code under which the scar was read blind; blank: not read blind"),
)  # fmt: skip

TRACE = (
    Column("time", "time from the run's start", "number", "time", "s", required=True, filled=True,
           low=-np.inf),
    Column("friction_force", "friction force between ring and pin", "number", "force", "N", low=-np.inf),
    Column("motor_power", "power drawn by the drive", "number", "power", "W", low=-np.inf),
    Column("temperature", "temperature of the pin, its holder or the oil", "number", "temperature", "degC",
           usual=_TEMPERATURE),
)  # fmt: skip

COMPUTED: Mapping[str, str] = MappingProxyType({
    "scar_area": "mm^2",
    "scar_pressure": "MPa",
    "film_pressure": "MPa",
    "wear_volume": "mm^3",
    "wear_coefficient": "mm^3/(N m)",
    "temperature_rise": "K",
    "friction_coefficient": "1",
    "friction_energy": "J",
    "heating_rate": "K/s",
})  # fmt: skip
"""Responses pinscar computes, with the unit a message shows; no column may have their names."""

UNLOADED = 0.3
"""Readings outside the run count as those of an unloaded pin up to this share of the run's force [1]."""

TRACED: Mapping[str, str] = MappingProxyType({
    "friction_coefficient": "friction_force",
    "friction_energy": "friction_force",
    "heating_rate": "temperature",
})  # fmt: skip
"""Responses that only traces tell, each with the column of the trace that it comes from."""

SETTINGS = frozenset(
    {
        "load",
        "weights",
        "duration",
        "quiet_after",
        "quiet_before",
        "ring_speed",
        "dose",
        "ambient_temperature",
        "micrograph_scale",
        "scale_bar",
    }
)
"""Numeric columns that describe how a run was made, or bound a response; they can't be responses."""

ADDED = frozenset({"row", "scar_from", "width_from", "read_by_code"})
"""Columns that reading a campaign adds to its runs."""

RESERVED = frozenset({*COMPUTED, *ADDED})

PLANNED = ("planned_day", "planned_place", "bottle")
"""Columns of words that a plan writes beside the known ones: they say how runs were to be made."""


def find_column(columns: tuple[Column, ...], name: str) -> Column | None:
    """Find a known column by its name.

    Examples
    --------
    >>> find_column(RUNS, "load").header
    'load [N]'
    """
    return next((column for column in columns if column.name == name), None)
