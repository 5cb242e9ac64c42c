"""What surrounds the scars, as records: contact, growth, film, heat, service and spread."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pinscar.contact.chain import SeverityRow


@dataclass(frozen=True, slots=True)
class Spread:
    """Median and ends of some values.

    Attributes
    ----------
    n : int
        How many there are.
    median, low, high : float
        NaN where there are none.
    """

    n: int
    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ContactState:
    """The contact of one oil and load, at the first touch and at the end of the runs.

    Attributes
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    hertz_peak_pressure : float
        Median peak pressure of the first touch [Pa]; NaN where it is not computed.
    scar_pressure : Spread
        Mean pressure of the final scars [Pa].
    scar_depth : Spread
        Their depth [m].
    """

    lubricant: str
    load_level: float
    hertz_peak_pressure: float
    scar_pressure: Spread
    scar_depth: Spread

    @property
    def drop(self) -> float:
        """First peak pressure over the median final one [1]; NaN where either lacks."""
        return self.hertz_peak_pressure / self.scar_pressure.median


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What surrounds the scars of a campaign.

    Attributes
    ----------
    contact : tuple of ContactState
        The contact of each oil and load.
    growth : tuple of Growth
        How scars grew, where quiet times tell.
    film : tuple of FilmState
        Films between the unworn bodies.
    no_film : str or None
        Why there are none.
    heat : tuple of HeatState
        Friction heat at the end of the runs.
    no_heat : str or None
        Why there is none.
    joint : JointDuty or None
        What the chain's joint goes through; None without a stated service.
    bench : tuple of BenchDuty
        The bench set against it.
    uncertainty : mapping of str to ndarray
        Relative standard uncertainty of one measurement of a response [1], of each included run in their
        order; responses whose uncertainty the rig does not state are left out.
    cell_uncertainty : mapping of str to mapping
        Its median by response, then by oil and load level.
    specific_energy_uncertainty : mapping of str to float
        Standard uncertainty of the friction energy over the wear volume [J/m^3], by run_id, of the runs with
        a trace; NaN where that of the energy or of the volume is not known.
    """

    contact: tuple[ContactState, ...]
    growth: tuple[Growth, ...]
    film: tuple[FilmState, ...]
    no_film: str | None
    heat: tuple[HeatState, ...]
    no_heat: str | None
    joint: JointDuty | None
    bench: tuple[BenchDuty, ...]
    uncertainty: Mapping[str, NDArray[np.float64]]
    cell_uncertainty: Mapping[str, Mapping[tuple[str, float], float]]
    specific_energy_uncertainty: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmState:
    """Film between the unworn bodies for one oil, load and temperature.

    Attributes
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    temperature : float
        Inlet temperature taken [K].
    occasion : str
        Which temperature that is: the ambient one or the highest seen.
    dynamic_viscosity : float
        Dynamic viscosity at that temperature [Pa s].
    pressure_viscosity : float
        Pressure-viscosity coefficient [1/Pa].
    correlation : str
        How the coefficient was got.
    minimum, central : float
        Film thickness [m].
    lambda_ratio : float or None
        Minimum film thickness over composite roughness [1]; None where a roughness is not stated.
    regime : str
        The trade's word for the regime.
    within_fit : bool
        Whether the ellipticity lies in the range that the film formula was fitted on.
    """

    lubricant: str
    load_level: float
    temperature: float
    occasion: str
    dynamic_viscosity: float
    pressure_viscosity: float
    correlation: str
    minimum: float
    central: float
    lambda_ratio: float | None
    regime: str
    within_fit: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatState:
    """Friction heat at the end of the runs of one oil and load.

    Attributes
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    friction : tuple of float
        Lowest and highest friction coefficient taken [1].
    measured : bool
        Whether the friction comes from traces; else it is the range of common practice.
    power : tuple of float
        Friction power [W].
    flash_rise : tuple of float
        Largest rise of the scar's surface over the bulk [K].
    share_pin : float
        Share of the heat that the pin takes [1].
    """

    lubricant: str
    load_level: float
    friction: tuple[float, float]
    measured: bool
    power: tuple[float, float]
    flash_rise: tuple[float, float]
    share_pin: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointDuty:
    """What the chain's joint goes through.

    Attributes
    ----------
    pressure : float
        Mean pressure between pin and bush [Pa].
    speed : float
        Sliding speed while a link swings [m/s].
    swing : float
        Angle of one swing [rad].
    sliding_per_swing : float
        Sliding distance of one swing [m].
    pitch_diameter : float
        Of the sprocket [m].
    chain_speed : float
        Mean speed of the chain [m/s].
    torque, power : float
        At the sprocket, from the tension [N m], [W].
    """

    pressure: float
    speed: float
    swing: float
    sliding_per_swing: float
    pitch_diameter: float
    chain_speed: float
    torque: float
    power: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchDuty:
    """The bench at one load level, set against the joint.

    Attributes
    ----------
    load_level : float
        Load level [N].
    pressure, speed, distance : float
        Median final scar pressure [Pa], sliding speed [m/s] and sliding distance [m] of its runs.
    pressures : tuple of float
        Lowest and highest final scar pressure [Pa].
    rows : tuple of SeverityRow
        Bench against service, quantity by quantity.
    swings : float
        Swings of a joint that slide as far as one run.
    """

    load_level: float
    pressure: float
    speed: float
    distance: float
    pressures: tuple[float, float]
    rows: tuple[SeverityRow, ...]
    swings: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """Scar length against time for one oil and load.

    Attributes
    ----------
    lubricant : str
        Lubricant id.
    load_level : float
        Load level [N].
    n : int
        Runs with a quiet time that the curve rests on.
    wear_coefficient, film_pressure : float
        Medians over those runs [m^2/N], [Pa].
    time, length : ndarray
        The curve [s], [m].
    quiet_time, quiet_length : float
        Median quiet time [s], and the length that the curve has reached by then [m].
    end_time, end_length : ndarray
        End of each run [s] and its measured scar length [m], runs without quiet time too.
    """

    lubricant: str
    load_level: float
    n: int
    wear_coefficient: float
    film_pressure: float
    time: NDArray[np.float64]
    length: NDArray[np.float64]
    quiet_time: float
    quiet_length: float
    end_time: NDArray[np.float64]
    end_length: NDArray[np.float64]
