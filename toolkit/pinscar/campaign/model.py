"""What campaign.toml may hold, one record per section with SI numbers, and a campaign as it was read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal

import pandas as pd
from pydantic import BeforeValidator, Field, model_validator

from pinscar.campaign.quantities import (
    FieldError,
    Price,
    choice,
    composition,
    name,
    price,
    quantity,
    share,
    text,
    text_list,
    usual_quantity,
    whole_number,
    yes_no,
)
from pinscar.campaign.report_section import ReportSection, Sample, TomlSection, section
from pinscar.errors import Problem
from pinscar.units import UnitError, parse_quantity, split_quantity, to_si

SAME_LOAD = 0.005
"""Loads within this share of each other are one load level."""


MEND = 'write both sides with their unit, such as "150 mm x 100 mm"'


def card_size(value: Any) -> tuple[float, float]:
    """Read the sides of a card.

    Examples
    --------
    >>> card_size("100 x 150 mm")
    (0.15, 0.1)
    """
    parts = [one.strip() for one in re.split("[x×]", value)] if isinstance(value, str) else []
    if len(parts) != 2 or not all(parts):
        raise FieldError("toml-not-a-quantity", "this is not a card size", MEND)
    sides = [_length(text) for text in _with_units(*parts)]
    return max(sides), min(sides)


def _with_units(first: str, second: str) -> tuple[str, str]:
    try:
        alone, unit = split_quantity(first)[1] == "1", split_quantity(second)[1]
    except UnitError as error:
        raise FieldError(f"toml-{error.code}", error.message, error.mend) from error
    return (f"{first} {unit}" if alone and unit != "1" else first), second


def _length(text: str) -> float:
    try:
        number = parse_quantity(text, "length")
    except UnitError as error:
        mend = MEND if error.code == "unit-missing" else error.mend
        raise FieldError(f"toml-{error.code}", error.message, mend) from error
    if not 0 < number < float("inf"):
        raise FieldError("toml-out-of-range", "the sides must be more than zero", "correct the value")
    return number


GEOMETRIES = ("crossed-cylinders", "ball-on-disc", "block-on-ring", "worn-ring")
"""Names of the contact geometries a rig may have."""

DEGREE = 0.017453292519943295  # rad

Text = Annotated[str, BeforeValidator(text)]
Name = Annotated[str, BeforeValidator(name)]
Length = Annotated[float, BeforeValidator(quantity("length"))]
Force = Annotated[float, BeforeValidator(quantity("force"))]
Pressure = Annotated[float, BeforeValidator(quantity("pressure"))]
Mass = Annotated[float, BeforeValidator(quantity("mass", low_allowed=True))]
Density = Annotated[float, BeforeValidator(quantity("density"))]
Viscosity = Annotated[float, BeforeValidator(quantity("kinematic viscosity"))]
RotationalSpeed = Annotated[float, BeforeValidator(quantity("rotational speed"))]
Temperature = Annotated[float, BeforeValidator(quantity("temperature"))]
Number = Annotated[float, BeforeValidator(quantity("pure number"))]
Share = Annotated[
    float,
    BeforeValidator(
        quantity("pure number", high=0.99, needed='more than 0 and less than 100 %, such as "10 %"')
    ),
]
MassShare = Annotated[float, BeforeValidator(share)]
MassShares = Annotated[dict[str, float], BeforeValidator(composition)]
MassPrice = Annotated[Price, BeforeValidator(price)]
SmallShare = Annotated[
    float,
    BeforeValidator(
        quantity("pure number", high=0.5, low_allowed=True, needed='a share of at most 50 %, such as "1 %"')
    ),
]
Confidence = Annotated[
    float,
    BeforeValidator(
        quantity("pure number", low=0.5, high=0.9999, needed="more than 0.5 and less than 1, such as 0.95")
    ),
]
PoissonRatio = Annotated[
    float,
    BeforeValidator(
        quantity("pure number", high=0.5, low_allowed=True, needed="from 0 to 0.5, such as 0.30")
    ),
]
CrossingAngle = Annotated[
    float,
    BeforeValidator(
        quantity(
            "angle",
            high=90.000001 * DEGREE,
            needed='more than 0 and at most "90 deg", the smaller angle of the axes',
        )
    ),
]
Role = Literal["reference", "candidate", "benchmark"]
Direction = Annotated[Literal["lower", "higher"], BeforeValidator(choice("lower", "higher"))]


class CampaignSection(TomlSection):
    """``[campaign]``: what is asked.

    ``confidence`` is a share, 0.95 where it isn't given; ``block`` names the column whose values form blocks;
    ``control`` lists the campaign folders of reference-oil checks on this rig, relative to this one;
    ``history`` those of earlier campaigns whose scatter between repeats is counted in;
    ``reference_history`` those whose reference oil and other oils are shown beside this campaign's;
    ``spread`` says whether all oils share one spread between runs ("pooled") or each has its own;
    ``dates`` whether day or month stands first in dates such as 3/4/2026 of the runs table.
    """

    id: Text
    reference: Name
    title: Text | None = None
    question: Text | None = None
    confidence: Confidence = 0.95
    block: Text | None = None
    spread: Annotated[Literal["own", "pooled"], BeforeValidator(choice("own", "pooled"))] = "own"
    dates: (
        Annotated[Literal["day first", "month first"], BeforeValidator(choice("day first", "month first"))]
        | None
    ) = None
    control: Annotated[tuple[str, ...], BeforeValidator(text_list)] = ()
    history: Annotated[tuple[str, ...], BeforeValidator(text_list)] = ()
    reference_history: Annotated[tuple[str, ...], BeforeValidator(text_list)] = ()


class Body(TomlSection):
    """``[rig.pin]`` or ``[rig.ring]``: what a body is made of; None where it isn't stated.

    Moduli and strengths [Pa], roughness [m], density [kg/m^3], conductivity [W/(m K)],
    heat capacity [J/(kg K)].
    """

    material: Text | None = None
    elastic_modulus: Pressure | None = None
    poisson_ratio: PoissonRatio | None = None
    hardness: Pressure | None = None
    yield_strength: Pressure | None = None
    roughness_rq: Length | None = None
    density: Density | None = None
    thermal_conductivity: Annotated[float, BeforeValidator(quantity("thermal conductivity"))] | None = None
    specific_heat: Annotated[float, BeforeValidator(quantity("specific heat capacity"))] | None = None


class Rig(TomlSection):
    """``[rig]``: the machine. Lengths [m], speed [rad/s], angle [rad], mass [kg]; load uncertainty a share.

    ``pin_diameter`` is the ball's for ball-on-disc, and ``ring_diameter`` the wear track's on the disc.
    ``reading_resolution`` is the step in which scar axes are read, ``balance_resolution`` that of flings.
    ``fling_card`` is the longer and the shorter side of the card that catches what the ring flings off.
    """

    geometry: Annotated[str, BeforeValidator(choice(*GEOMETRIES))]
    pin_diameter: Length | None = None
    ring_diameter: Length
    ring_width: Length | None = None
    ring_groove_depth: Annotated[float, BeforeValidator(quantity("length", low_allowed=True))] = 0.0
    crossing_angle: CrossingAngle = 90.0 * DEGREE
    ring_speed: RotationalSpeed | None = None
    lever_ratio: Number = 1.0
    hanger_mass: Mass = 0.0
    load_uncertainty: SmallShare | None = None
    reading_uncertainty: Length | None = None
    reading_resolution: Length | None = None
    balance_resolution: Annotated[float, BeforeValidator(quantity("mass"))] | None = None
    fling_card: Annotated[tuple[float, float], BeforeValidator(card_size)] | None = None
    pin: Body = Body()
    ring: Body = Body()

    @model_validator(mode="after")
    def _has_what_its_geometry_needs(self) -> Rig:
        needed = ["ring_width"] if self.geometry == "block-on-ring" else ["pin_diameter"]
        needed += ["ring_groove_depth"] if self.geometry == "worn-ring" else []
        for key in needed:
            if key not in self.model_fields_set:
                message = f"the geometry {self.geometry} needs {key}"
                example = "0.02 mm" if key == "ring_groove_depth" else "12 mm"
                raise FieldError("toml-key-missing", message, f'add a line such as {key} = "{example}"', key)
        return self


class Lubricant(TomlSection):
    """``[[lubricants]]``: one product. Viscosities [m^2/s], density [kg/m^3], pressure-viscosity [1/Pa].

    ``composition`` is the mass share of each component [1], with sum 1; ``drive_loss`` is what the drive
    takes with this oil in it [W].
    """

    id: Name
    role: Annotated[Role, BeforeValidator(choice("reference", "candidate", "benchmark"))] | None = None
    name: Text | None = None
    batch: Text | None = None
    kinematic_viscosity_40: Viscosity | None = None
    kinematic_viscosity_100: Viscosity | None = None
    density_15: Density | None = None
    pressure_viscosity: Annotated[float, BeforeValidator(quantity("inverse pressure"))] | None = None
    price: MassPrice | None = None
    drive_loss: Annotated[float, BeforeValidator(quantity("power"))] | None = None
    composition: MassShares | None = None
    sample: Annotated[Sample, BeforeValidator(section('sample = { batch = "..." }'))] | None = None


class Component(TomlSection):
    """``[[components]]``: what oils are blended from. Shares [1] bound what may be blended next, in steps."""

    id: Text
    price: MassPrice | None = None
    lowest: MassShare | None = None
    highest: MassShare | None = None
    step: Share | None = None

    @model_validator(mode="after")
    def _bounds_in_order(self) -> Component:
        if self.lowest is not None and self.highest is not None and self.highest < self.lowest:
            message = "the highest share is below the lowest"
            raise FieldError("toml-out-of-range", message, "swap or correct the two", "highest")
        return self


RELATIVE_RULES = ("ratio at least", "ratio at most", "not worse than")
RULES = ("at least", "at most", *RELATIVE_RULES)


def _limit_text(value: Any) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str):
        raise FieldError(
            "toml-not-a-quantity", "this is not a limit", 'write it like "120 MPa", or 0.8 for a ratio'
        )
    try:
        usual = usual_quantity(value)
        number, unit = split_quantity(usual)
        in_si = float(to_si(number, unit))
    except UnitError as error:
        raise FieldError(f"toml-{error.code}", error.message, error.mend) from error
    if not abs(in_si) < float("inf"):
        raise FieldError("toml-out-of-range", "the limit is not finite", "correct the value")
    return usual.strip()


class Criterion(TomlSection):
    """``[[criteria]]``: one release limit. Load [N]; `limit` is in SI, `limit_text` as the file has it.

    ``better`` says which way is better, which "not worse than" must know of a response of the user's own.
    """

    id: Text
    response: Text
    lubricant: Name
    rule: Annotated[
        Literal["at least", "at most", "ratio at least", "ratio at most", "not worse than"],
        BeforeValidator(choice(*RULES)),
    ]
    load: Force | None = None
    limit_text: Annotated[str, BeforeValidator(_limit_text)] | None = Field(default=None, alias="limit")
    margin: Share | None = None
    better: Direction | None = None

    @model_validator(mode="after")
    def _limit_fits_rule(self) -> Criterion:
        needed, other = ("margin", "limit") if self.rule == "not worse than" else ("limit", "margin")
        given = {"limit": self.limit_text, "margin": self.margin}
        if given[needed] is None:
            example = {
                "margin": 'margin = "10 %"',
                "limit": "limit = 0.8" if self.is_relative else 'limit = "120 MPa"',
            }
            message = f'the rule "{self.rule}" needs {needed}'
            raise FieldError("criterion-limit", message, f"add a line such as {example[needed]}", needed)
        if given[other] is not None:
            message = f'the rule "{self.rule}" takes {needed} and not {other}'
            raise FieldError("criterion-limit", message, f"take {other} out", other)
        if self.is_relative and self.limit_text is not None:
            self._check_ratio(self.limit_text)
        return self

    def _check_ratio(self, limit_text: str) -> None:
        if split_quantity(limit_text)[1] not in ("1", "%") or self.limit <= 0:
            message = f'the limit of the rule "{self.rule}" is a ratio to the reference'
            raise FieldError(
                "criterion-limit", message, "write a positive number without unit, such as 0.8", "limit"
            )

    @property
    def is_relative(self) -> bool:
        """Whether the limit is on the ratio to the reference."""
        return self.rule in RELATIVE_RULES

    @property
    def limit(self) -> float:
        """The limit [SI of the response, or 1 for a ratio]; NaN where the rule takes a margin."""
        return float("nan") if self.limit_text is None else float(to_si(*split_quantity(self.limit_text)))

    @property
    def limit_unit(self) -> str:
        """The limit's unit as the file has it; ``"1"`` where there is none."""
        return "1" if self.limit_text is None else split_quantity(self.limit_text)[1]

    def ratio_limit(self, better: Literal["lower", "higher"]) -> float:
        """Give the limit on the ratio to the reference [1].

        A margin m reads "at most m worse": ratio at least 1 - m where higher is better, else at most 1 + m.
        """
        if self.margin is None:
            return self.limit
        return 1.0 - self.margin if (self.better or better) == "higher" else 1.0 + self.margin


class Service(TomlSection):
    """``[service]``: the chain duty the bench stands for. Lengths [m], speed [rad/s], tension [N]."""

    chain_pitch: Length
    pin_diameter: Length
    bush_length: Length
    sprocket_teeth: Annotated[int, BeforeValidator(whole_number(5))]
    sprocket_speed: RotationalSpeed
    chain_tension: Force


class Claim(TomlSection):
    """``[[claims]]``: a sentence someone wants to print. Load [N], percentage as a share."""

    subject: Name
    response: Text
    direction: Direction
    against: Name
    load: Force
    percentage: Share | None = None
    best_of_all: Annotated[bool, BeforeValidator(yes_no)] = False


class CampaignFile(TomlSection):
    """The whole of campaign.toml."""

    campaign: CampaignSection
    rig: Rig
    lubricants: tuple[Lubricant, ...] = ()
    components: tuple[Component, ...] = ()
    criteria: tuple[Criterion, ...] = ()
    service: Service | None = None
    claims: tuple[Claim, ...] = ()
    report: ReportSection | None = None

    def role_of(self, lubricant: str) -> Role:
        """Give a lubricant's role: the reference's by its name, else as declared, else candidate."""
        if lubricant == self.campaign.reference:
            return "reference"
        return next((one.role for one in self.lubricants if one.id == lubricant and one.role), "candidate")


@dataclass(frozen=True, kw_only=True)
class Campaign:
    """A campaign that was read and has no errors.

    Attributes
    ----------
    folder : Path
        Where it lies.
    file : CampaignFile
        campaign.toml, quantities in SI.
    runs : DataFrame
        One row per run, excluded ones too, in the order of the file; SI numbers. Beside the file's columns:
        ``row`` (as a spreadsheet shows it), ``scar_from`` and ``width_from`` ("runs", "readings" or "") and
        ``read_by_code`` (whether the length is from readings that all have a blind code).
    load_steps : DataFrame
        ``run_id``, ``start`` [s], ``load`` [N]; every stepped run from start 0 on.
    readings : DataFrame
        ``run_id``, ``reader``, ``reading``, ``scar_length`` [m], ``scar_width`` [m], ``blind_code``.
    units : dict of str to str
        Unit of each numeric column of the runs, as its header has it.
    problems : tuple of Problem
        Warnings.
    inputs : dict of str to str
        SHA-256 of each file, by path relative to the folder.
    headers : dict of str to str
        Header of each column of the runs that the file has, as written there.
    control : tuple of Campaign
        The campaigns of reference-oil checks that campaign.toml names, without their own.
    traces : mapping of str to DataFrame
        By run_id, of the included runs that have one; of very many, all but the first are read from their
        files when they are asked for (`pinscar.campaign.kept_traces.Traces`). ``time`` [s],
        ``friction_force`` [N], ``motor_power`` [W], ``temperature`` [K]; NaN where a reading is missing.
    history : tuple of Campaign
        The earlier campaigns that campaign.toml names, without their own.
    reference_history : tuple of Campaign
        Those whose reference oil and other oils are shown beside this campaign's, without their own.
    """

    folder: Path
    file: CampaignFile
    runs: pd.DataFrame
    load_steps: pd.DataFrame
    readings: pd.DataFrame
    units: dict[str, str]
    problems: tuple[Problem, ...]
    inputs: dict[str, str]
    headers: dict[str, str] = field(default_factory=dict)
    control: tuple[Campaign, ...] = ()
    traces: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    history: tuple[Campaign, ...] = ()
    reference_history: tuple[Campaign, ...] = ()
