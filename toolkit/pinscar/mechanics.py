"""The mechanics for notebooks: quantities with units in and out.

    from pinscar import mechanics
    mechanics.hertz_contact("600 N", "12 mm", "40 mm", "210 GPa", 0.3)

Each argument may be a pint quantity, text such as ``"12 mm"``, or a list of either; lists are matched element
by element. Results are quantities of pinscar's registry (`pinscar.Q_`). The work is done by
`pinscar.contact`, in SI floats.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from pinscar.arguments import (
    Angle,
    Area,
    Conductivity,
    DynamicViscosity,
    Force,
    InversePressure,
    KinematicViscosity,
    Length,
    Mass,
    MassDensity,
    Number,
    Pressure,
    RotationalSpeed,
    SpecificHeat,
    Speed,
    Temperature,
    Time,
    Volume,
    WearCoefficient,
    quantity,
    si_values,
    with_units,
    with_units_one_by_one,
)
from pinscar.contact import arrest, heat, hertz, viscosity, wear
from pinscar.contact import chain as chains
from pinscar.contact import film as films
from pinscar.contact.arrays import not_negative, positive, within
from pinscar.contact.film import lubrication_regime
from pinscar.contact.geometry import GEOMETRIES, CrossedCylinders, make_geometry
from pinscar.contact.viscosity import density
from pinscar.contact.viscosity import pressure_viscosity as estimate_pressure_viscosity
from pinscar.errors import OutOfRangeError
from pinscar.mechanics_sheets import (
    ChainJoint,
    Film,
    FlashTemperature,
    HertzContact,
    Scar,
    Viscosity,
    WearArrest,
)


@with_units
def bench_load(weights: Mass, hanger_mass: Mass = "0 kg", lever_ratio: Number = 1.0) -> Any:
    """Compute the load that weights on a lever press the pin with, ``F = g (m + m0) i``.

    Parameters
    ----------
    weights : mass
        Weights.
    hanger_mass : mass
        Hanger that carries them.
    lever_ratio : number
        Arm of the weights over arm of the pin.

    Returns
    -------
    pint.Quantity
        Load, in N.

    References
    ----------
    Balance of moments on a lever; standard gravity g = 9.80665 m/s^2 (3rd CGPM, 1901).

    Examples
    --------
    >>> print(f"{bench_load('5 kg', '0.8 kg', 10):.4f}")
    568.7857 newton
    """
    return quantity(wear.load_from_weights(weights, hanger_mass, lever_ratio), "N")


@with_units
def sliding_speed(ring_diameter: Length, ring_speed: RotationalSpeed) -> Any:
    """Compute the speed of the ring's surface, ``v = pi D n``.

    Parameters
    ----------
    ring_diameter : length
        Diameter of the ring.
    ring_speed : rotational speed
        Its speed, which must say whether it counts turns or radians.

    Returns
    -------
    pint.Quantity
        Sliding speed, in m/s.

    References
    ----------
    Kinematics of a turning circle, v = omega D/2.

    Examples
    --------
    >>> print(f"{sliding_speed('40 mm', '700 rpm'):.6f}")
    1.466077 meter / second
    """
    return quantity(wear.sliding_speed(ring_diameter, ring_speed), "m/s")


@with_units_one_by_one("pin_diameter", "ring_diameter", "crossing_angle")
def hertz_contact(
    load: Force,
    pin_diameter: Length,
    ring_diameter: Length,
    elastic_modulus: Pressure,
    poisson_ratio: Number,
    ring_elastic_modulus: Pressure = None,
    ring_poisson_ratio: Number = None,
    crossing_angle: Angle = "90 deg",
) -> HertzContact:
    """Solve the elastic contact of the unworn cylinders (Hertz).

    Parameters
    ----------
    load : force
        Load.
    pin_diameter, ring_diameter : length
        Diameters.
    elastic_modulus : pressure
        Young's modulus of the pin.
    poisson_ratio : number
        Poisson's ratio of the pin.
    ring_elastic_modulus : pressure, optional
        Young's modulus of the ring; the pin's where not given.
    ring_poisson_ratio : number, optional
        Poisson's ratio of the ring; the pin's where not given.
    crossing_angle : angle
        Angle between the axes.

    Returns
    -------
    HertzContact
        Half-axes, pressures and approach.

    References
    ----------
    K. L. Johnson, Contact Mechanics, 1985, section 4.2(c).

    Examples
    --------
    Equal steel cylinders of 10 mm radius, the same as a sphere of 10 mm on a flat:

    >>> print(hertz_contact("600 N", "20 mm", "20 mm", "210 GPa", 0.3))
    semi major: 339.12 µm
    semi minor: 339.12 µm
    peak pressure: 2.4911 GPa
    mean pressure: 1.6607 GPa
    approach: 11.5 µm
    """
    _check_elastic(elastic_modulus, poisson_ratio)
    if ring_elastic_modulus is not None:
        positive("ring_elastic_modulus", ring_elastic_modulus)
    if ring_poisson_ratio is not None:
        within("ring_poisson_ratio", ring_poisson_ratio, -1, 0.5)
    ring_modulus = elastic_modulus if ring_elastic_modulus is None else ring_elastic_modulus
    ring_poisson = poisson_ratio if ring_poisson_ratio is None else ring_poisson_ratio
    modulus = hertz.reduced_modulus(elastic_modulus, poisson_ratio, ring_modulus, ring_poisson)
    pair = _pair(pin_diameter, ring_diameter, crossing_angle)
    contact = pair.initial_contact(load, modulus)
    return HertzContact(
        quantity(contact.semi_major, "um"),
        quantity(contact.semi_minor, "um"),
        quantity(contact.peak_pressure, "GPa"),
        quantity(contact.mean_pressure, "GPa"),
        quantity(contact.approach, "um"),
    )


@with_units_one_by_one("pin_diameter", "ring_diameter", "ring_width", "crossing_angle")
def scar(
    length: Length,
    pin_diameter: Length = None,
    ring_diameter: Length = None,
    width: Length = None,
    load: Force = None,
    crossing_angle: Angle = "90 deg",
    ring_width: Length = None,
    geometry: str = "crossed-cylinders",
) -> Scar:
    """Compute what a scar's axes tell: depth, width, area, pressure and wear volume.

    Parameters
    ----------
    length : length
        Length of the scar, the axis that fixes its depth.
    pin_diameter : length
        Diameter of the pin or the ball; not needed for a block.
    ring_diameter : length
        Diameter of the ring, or of the track on a disc.
    width : length, optional
        Measured width; the implied one is taken for the area where it is not given.
    load : force, optional
        Load at the end, for the pressure.
    crossing_angle : angle
        Angle between the axes of pin and ring.
    ring_width : length, optional
        Width over which block and ring touch; needed for a block.
    geometry : str
        ``crossed-cylinders``, ``ball-on-disc``, ``block-on-ring`` or ``worn-ring``.

    Returns
    -------
    Scar
        Depth, implied width, area, pressure and volume.

    Raises
    ------
    ValueError
        A quantity is missing or does not fit, or the geometry is not known.

    References
    ----------
    ASTM G99 (ball), ASTM G77 (block). Crossed cylinders: the derivation in
    `pinscar.contact.geometry.CrossedCylinders`.

    Examples
    --------
    A pin of 12 mm on a ring of 40 mm:

    >>> print(scar("10 mm", "12 mm", "40 mm", load="450 N"))
    depth: 635.08 µm
    implied width: 5.3731 mm
    area: 42.201 mm²
    pressure: 10.663 MPa
    wear volume: 13.641 mm³
    """
    if ring_diameter is None:
        raise ValueError("ring_diameter is needed; write e.g. ring_diameter='40 mm'")
    if geometry not in GEOMETRIES:
        raise ValueError(f"geometry must be one of {', '.join(GEOMETRIES)}; got {geometry!r}")
    for name, value in (
        ("pin_diameter", pin_diameter),
        ("ring_diameter", ring_diameter),
        ("ring_width", ring_width),
    ):
        if value is not None:
            positive(name, value)
    shape = make_geometry(
        geometry,
        pin_diameter=_one(pin_diameter),
        ring_diameter=float(ring_diameter),
        ring_width=_one(ring_width),
        crossing_angle=float(crossing_angle),
    )
    implied = shape.implied_width(length)
    area = shape.scar_area(length, implied if width is None else width)
    if load is not None:  # the pressure needs an area
        positive("length", length)
        if width is not None:
            positive("width", width)
    pressure = None if load is None else quantity(wear.mean_pressure(load, area), "MPa")
    return Scar(
        quantity(shape.scar_depth(length), "um"),
        quantity(implied, "mm"),
        quantity(area, "mm^2"),
        pressure,
        quantity(shape.wear_volume(length), "mm^3"),
    )


@with_units
def wear_coefficient(wear_volume: Volume, load: Force, sliding_distance: Length) -> Any:
    """Compute the wear coefficient, ``k = V / (F s)``.

    Parameters
    ----------
    wear_volume : volume
        Volume worn away.
    load : force
        Load.
    sliding_distance : length
        Sliding distance.

    Returns
    -------
    pint.Quantity
        Wear coefficient, in mm^3/(N m).

    References
    ----------
    J. F. Archard, Contact and rubbing of flat surfaces, J. Appl. Phys. 24, 1953.

    Examples
    --------
    >>> k = wear_coefficient("0.345 mm^3", "600 N", "88 m")
    >>> print(f"{k.magnitude:.4e}")
    6.5341e-06
    """
    not_negative("wear_volume", wear_volume)
    force_distance = positive("load", load) * positive("sliding_distance", sliding_distance)
    return quantity(wear.wear_coefficient(wear_volume, force_distance), "mm^3/(N m)")


@with_units_one_by_one("pin_diameter", "ring_diameter", "crossing_angle")
def wear_arrest(
    time: Time,
    load: Force,
    speed: Speed,
    wear_coefficient: WearCoefficient,
    film_pressure: Pressure,
    pin_diameter: Length,
    ring_diameter: Length,
    crossing_angle: Angle = "90 deg",
    exact: bool = False,
    later_loads: Sequence[tuple[Any, Any]] = (),
) -> WearArrest:
    """Compute how long a scar is at times of a run: Archard wear above the pressure that the film carries.

    When the load changes during the run, each load starts from the depth that the one before has left.

    Parameters
    ----------
    time : time
        Times since the start.
    load : force
        Load at the start.
    speed : speed
        Sliding speed.
    wear_coefficient : wear coefficient
        Wear coefficient while metal rubs.
    film_pressure : pressure
        Pressure that the film carries.
    pin_diameter, ring_diameter : length
        Diameters.
    crossing_angle : angle
        Angle between the axes.
    exact : bool
        Whether the exact scar area is used; else the closed form for shallow scars.
    later_loads : list of (time, force)
        Load steps after the first: time since the start of the run, and the load from then on.

    Returns
    -------
    WearArrest
        Scar length and depth at the times, final length, when wear has stopped, time constant.

    Raises
    ------
    ValueError
        A quantity does not fit, the load steps do not follow one another, or the scar would grow deeper than
        0.8 of the smaller radius.

    References
    ----------
    J. F. Archard, J. Appl. Phys. 24, 1953, for the wear above the film pressure; with p = F/(c h) its
    integral is h + h_inf ln(1 - h/h_inf) = -k v pf t, solved by Lambert's W (R. M. Corless et al., 1996).
    Within 5 % of the film pressure: own convention for "stopped".

    Examples
    --------
    After a time of tau a scar has worn to 0.8414 of its final depth:

    >>> grown = wear_arrest("30.968693 s", "450 N", sliding_speed("40 mm", "700 rpm"), "1e-5 mm^3/(N m)",
    ...                     "120 MPa", "12 mm", "40 mm")
    >>> print(grown)
    scar length: 2.7067 mm
    depth: 45.842 µm
    final length: 2.9505 mm
    stopped after: 64.791 s
    time constant: 30.969 s

    The load raised after a minute:

    >>> steps = [("60 s", "600 N")]
    >>> print(wear_arrest("120 s", "450 N", "1.466 m/s", "1e-5 mm^3/(N m)", "120 MPa", "12 mm", "40 mm",
    ...                   later_loads=steps))
    scar length: 3.3134 mm
    depth: 68.734 µm
    final length: 3.4062 mm
    stopped after: 124.8 s
    time constant: 41.294 s
    """
    pair = _pair(pin_diameter, ring_diameter, crossing_angle)
    rest = (speed, wear_coefficient, film_pressure)
    tau = arrest.time_constant(load, *rest, pair.area_slope())
    starts, loads = _load_steps(later_loads)
    if loads:
        tau = arrest.time_constant(loads[-1], *rest, pair.area_slope())

    def course(at: Any, first: float, pace: float, coefficient: float, film: float) -> Any:
        run = (at, [0.0, *starts], [first, *loads], pace, coefficient, film)
        if exact:
            return arrest.worn_depth_exact(*run, pair)
        return arrest.worn_depth_steps(*run, pair.area_slope())

    def end(_: Any, first: float, pace: float, coefficient: float, film: float) -> Any:
        run = ([0.0, *starts], [first, *loads], pace, coefficient, film)
        return np.array(arrest.end_of_wear(*run, pair, STOPPED_EXCESS, exact))

    depth = _each_run(course, time, load, *rest)
    final, stopped = np.moveaxis(_each_run(end, 0.0, load, *rest), -1, 0)
    return WearArrest(
        quantity(pair.scar_length(depth), "mm"),
        quantity(depth, "um"),
        quantity(pair.scar_length(final), "mm"),
        quantity(stopped, "s"),
        quantity(tau, "s"),
    )


@with_units
def film(
    load: Force,
    speed: Speed,
    dynamic_viscosity: DynamicViscosity,
    pressure_viscosity: InversePressure,
    pin_diameter: Length,
    ring_diameter: Length,
    elastic_modulus: Pressure,
    poisson_ratio: Number,
    pin_roughness_rq: Length = None,
    ring_roughness_rq: Length = None,
) -> Film:
    """Compute the film between an unworn pin and a ring that moves along it, at 90 degrees.

    Parameters
    ----------
    load : force
        Load.
    speed : speed
        Sliding speed of the ring; the film is entrained at half of it, as the pin stands still.
    dynamic_viscosity : dynamic viscosity
        At the inlet temperature.
    pressure_viscosity : inverse pressure
        Pressure-viscosity coefficient.
    pin_diameter, ring_diameter : length
        Diameters.
    elastic_modulus : pressure
        Young's modulus of both bodies.
    poisson_ratio : number
        Poisson's ratio of both bodies.
    pin_roughness_rq, ring_roughness_rq : length, optional
        Root-mean-square roughness, for lambda.

    Returns
    -------
    Film
        Thickness, ellipticity and whether it is within the fit, lambda, regime.

    Raises
    ------
    ValueError
        A quantity does not fit, or both surfaces are perfectly smooth.

    References
    ----------
    B. J. Hamrock and D. Dowson, J. Lubr. Technol. 99, 1977, part III.

    Examples
    --------
    >>> print(film("450 N", "1.466077 m/s", "80 mPa s", "20 1/GPa", "12 mm", "40 mm", "210 GPa", 0.3,
    ...            "0.2 um", "0.2 um"))
    minimum: 0.11943 µm
    central: 0.30459 µm
    ellipticity: 0.47664
    within fit: False
    lambda ratio: 0.42226
    regime: boundary
    """
    _check_elastic(elastic_modulus, poisson_ratio)
    for name, diameter in (("pin_diameter", pin_diameter), ("ring_diameter", ring_diameter)):
        positive(name, diameter)
    modulus = hertz.reduced_modulus(elastic_modulus, poisson_ratio, elastic_modulus, poisson_ratio)
    thickness = films.hamrock_dowson(
        load,
        films.entrainment_speed(0.0, not_negative("speed", speed)),
        dynamic_viscosity,
        pressure_viscosity,
        modulus,
        0.5 * ring_diameter,
        0.5 * pin_diameter,
    )
    ratio = regime = None
    if pin_roughness_rq is not None and ring_roughness_rq is not None:
        pin_rq = not_negative("pin_roughness_rq", pin_roughness_rq)
        if np.any(pin_rq + not_negative("ring_roughness_rq", ring_roughness_rq) == 0):
            raise OutOfRangeError(
                "ring_roughness_rq", "must be above zero where pin_roughness_rq is zero", 0.0
            )
        found = films.lambda_ratio(thickness.minimum, pin_roughness_rq, ring_roughness_rq)
        words = lubrication_regime(found)
        ratio, regime = quantity(found, "1"), str(words) if words.ndim == 0 else words
    return Film(
        quantity(thickness.minimum, "um"),
        quantity(thickness.central, "um"),
        quantity(thickness.ellipticity, "1"),
        bool(thickness.within_fit) if thickness.within_fit.ndim == 0 else thickness.within_fit,
        ratio,
        regime,
    )


@with_units
def viscosity_at(
    temperature: Temperature,
    kinematic_viscosity_40: KinematicViscosity,
    kinematic_viscosity_100: KinematicViscosity,
    density_15: MassDensity = None,
) -> Viscosity:
    """Compute an oil's viscosity at a temperature from its viscosities at 40 and 100 degC.

    Parameters
    ----------
    temperature : temperature
        Temperature.
    kinematic_viscosity_40, kinematic_viscosity_100 : kinematic viscosity
        Kinematic viscosities at 40 and 100 degC.
    density_15 : density, optional
        Density at 15 degC, for the dynamic viscosity and the pressure-viscosity coefficient.

    Returns
    -------
    Viscosity
        Kinematic viscosity; with a density also density, dynamic viscosity, and the pressure-viscosity
        coefficient estimated by Wooster's correlation.

    References
    ----------
    ASTM D341; density by API MPMS 11.1 (ASTM D1250).

    Examples
    --------
    The example of ASTM D341 charts, 32 and 5.4 mm^2/s, is 8.5 mm^2/s at 80 degC:

    >>> print(viscosity_at("80 degC", "32 mm^2/s", "5.4 mm^2/s"))
    kinematic: 8.5332 mm²/s
    density: not computed
    dynamic: not computed
    pressure viscosity: not computed
    """
    line = viscosity.walther_line_40_100(kinematic_viscosity_40, kinematic_viscosity_100)
    nu = viscosity.kinematic_viscosity(line, temperature)
    kinematic = quantity(nu, "mm^2/s")
    if density_15 is None:
        return Viscosity(kinematic, None, None, None)
    rho = density(density_15, temperature).density
    alpha = estimate_pressure_viscosity(nu, rho, line.slope).coefficient
    return Viscosity(
        kinematic,
        quantity(rho, "kg/m^3"),
        quantity(viscosity.dynamic_viscosity(nu, rho), "mPa s"),
        quantity(alpha, "1/GPa"),
    )


@with_units
def viscosity_index(
    kinematic_viscosity_40: KinematicViscosity, kinematic_viscosity_100: KinematicViscosity
) -> Any:
    """Compute the viscosity index, not rounded.

    Parameters
    ----------
    kinematic_viscosity_40, kinematic_viscosity_100 : kinematic viscosity
        Kinematic viscosities at 40 and 100 degC.

    Returns
    -------
    pint.Quantity
        Viscosity index, a pure number.

    References
    ----------
    ASTM D2270, procedures A and B.

    Examples
    --------
    The standard's example, reported as 92:

    >>> print(f"{viscosity_index('73.30 mm^2/s', '8.86 mm^2/s').magnitude:.2f}")
    92.43
    """
    return quantity(viscosity.viscosity_index(kinematic_viscosity_40, kinematic_viscosity_100), "1")


@with_units
def flash_temperature(
    friction_coefficient: Number,
    load: Force,
    speed: Speed,
    scar_area: Area,
    conductivity: Conductivity,
    density: MassDensity,
    specific_heat: SpecificHeat,
    ring_conductivity: Conductivity = None,
    ring_density: MassDensity = None,
    ring_specific_heat: SpecificHeat = None,
) -> FlashTemperature:
    """Compute friction power and flash temperature of a scar at rest on the pin, moving over the ring.

    Parameters
    ----------
    friction_coefficient : number
        Friction coefficient; a list such as ``[0.08, 0.15]`` for a range.
    load : force
        Load.
    speed : speed
        Sliding speed.
    scar_area : area
        Area of the scar.
    conductivity : thermal conductivity
        Of the pin.
    density : density
        Of the pin.
    specific_heat : specific heat capacity
        Of the pin.
    ring_conductivity : thermal conductivity, optional
        Of the ring; the pin's where not given.
    ring_density : density, optional
        Of the ring; the pin's where not given.
    ring_specific_heat : specific heat capacity, optional
        Of the ring; the pin's where not given.

    Returns
    -------
    FlashTemperature
        Power, largest rise over the bulk, share of the heat into the pin.

    References
    ----------
    J. C. Jaeger, 1942 (moving source); H. Blok, 1937 (partition).

    Examples
    --------
    >>> print(flash_temperature([0.08, 0.15], "450 N", "1.466 m/s", "6.863 mm^2", "46 W/(m K)",
    ...                         "7850 kg/m^3", "460 J/(kg K)"))
    power: 52.776, 98.955 W
    rise: 26.767, 50.188 K
    share pin: 0.10833
    """
    for name, value in (
        ("conductivity", conductivity),
        ("density", density),
        ("specific_heat", specific_heat),
        ("ring_conductivity", ring_conductivity),
        ("ring_density", ring_density),
        ("ring_specific_heat", ring_specific_heat),
        ("scar_area", scar_area),
        ("speed", speed),
    ):
        if value is not None:
            positive(name, value)
    pin = conductivity, heat.thermal_diffusivity(conductivity, density, specific_heat)
    other = (
        _or(ring_conductivity, conductivity),
        _or(ring_density, density),
        _or(ring_specific_heat, specific_heat),
    )
    ring = other[0], heat.thermal_diffusivity(*other)
    power = heat.friction_power(friction_coefficient, load, speed)
    rise = heat.contact_flash(power, heat.equal_area_radius(scar_area), 0.0, *pin, speed, *ring)
    return FlashTemperature(quantity(power, "W"), quantity(rise.maximum, "K"), quantity(rise.share_1, "1"))


@with_units_one_by_one("pin_diameter", "chain_pitch", "sprocket_speed", "duration")
def chain_joint(
    chain_tension: Force,
    pin_diameter: Length = None,
    bush_length: Length = None,
    sprocket_teeth: int | None = None,
    sprocket_speed: RotationalSpeed = None,
    chain_pitch: Length = None,
    links: int | None = None,
    duration: Time = None,
    chain: str | None = None,
) -> ChainJoint:
    """Compute the duty of a chain joint: pressure, speed, swing and distance.

    A chain number stands for the sizes that are not given; a size that is given wins.

    Parameters
    ----------
    chain_tension : force
        Tension of the strand.
    pin_diameter, bush_length : length
        Pin and bush of the joint; needed without ``chain``.
    sprocket_teeth : int
        Teeth of the sprocket; needed.
    sprocket_speed : rotational speed
        Its speed; needed.
    chain_pitch : length, optional
        Pitch of the chain.
    links : int, optional
        Number of links of the chain, for the distance.
    duration : time, optional
        Time of service, for the distance.
    chain : str, optional
        Chain number of ISO 606 series B, such as ``"08B"``: 06B, 08B, 10B, 12B or 16B.

    Returns
    -------
    ChainJoint
        Pressure, sliding speed, swing, sliding per swing, pitch diameter, chain speed, distance.

    Raises
    ------
    ValueError
        A quantity is missing or does not fit, or the chain number is not in the table.

    References
    ----------
    Sizes and pitch diameter, D = P/sin(pi/z): ISO 606 (bush lengths from memory). Pressure, T/(d b): ISO
    10823 (from memory). Swing 2 pi/z and sliding speed omega d/2 of a rigid sprocket: common practice.

    Examples
    --------
    >>> joint = chain_joint("900 N", "4.45 mm", "11.3 mm", 19, "120 rpm", "12.7 mm", 100, "1 h")
    >>> print(joint)  # doctest: +ELLIPSIS
    pressure: 17.898 MPa
    speed: 0.02796 m/s
    swing: 18.947 deg
    sliding per swing: 0.73579 mm
    pitch diameter: 77.159 mm
    chain speed: 0.4826 m/s
    distance: 4.0263 m
    caution: This says nothing about the strength of a chain or its fitness to lift: ...

    The same chain by its number:

    >>> by_number = chain_joint("900 N", sprocket_teeth=19, sprocket_speed="120 rpm", chain="08B")
    >>> f"{by_number.pressure:.3f~P}", f"{by_number.pitch_diameter:.2f~P}"
    ('17.898 MPa', '77.16 mm')
    """
    if chain is not None:
        size = chains.chain_size(chain)
        pin_diameter, bush_length = _or(pin_diameter, size.pin_diameter), _or(bush_length, size.bush_length)
        chain_pitch = _or(chain_pitch, size.pitch)
    if pin_diameter is None or bush_length is None:
        raise ValueError("pin_diameter and bush_length are needed; write them, or e.g. chain='08B'")
    if sprocket_teeth is None or sprocket_speed is None:
        raise ValueError("sprocket_teeth and sprocket_speed are needed; write e.g. 19 and '120 rpm'")
    positive("pin_diameter", pin_diameter)
    not_negative("sprocket_speed", sprocket_speed)
    if links is not None:
        positive("links", links)
    if duration is not None:
        not_negative("duration", duration)
    if chain_pitch is not None:
        positive("chain_pitch", chain_pitch)
    diameter = speed = distance = None
    if chain_pitch is not None:
        diameter = quantity(chains.pitch_diameter(chain_pitch, sprocket_teeth), "mm")
        pace = chains.chain_speed(chain_pitch, sprocket_teeth, sprocket_speed)
        speed = quantity(pace, "m/s")
        if links is not None and duration is not None:
            teeth = [sprocket_teeth, sprocket_teeth]
            two = (float(chain_pitch), links, float(pace), float(duration))
            distance = quantity(chains.service_distance(float(pin_diameter), teeth, *two), "m")
    return ChainJoint(
        pressure=quantity(chains.joint_pressure(chain_tension, pin_diameter, bush_length), "MPa"),
        speed=quantity(chains.joint_speed(pin_diameter, sprocket_speed), "m/s"),
        swing=quantity(chains.swing_angle(sprocket_teeth), "deg"),
        sliding_per_swing=quantity(chains.sliding_per_swing(pin_diameter, sprocket_teeth), "mm"),
        pitch_diameter=diameter,
        chain_speed=speed,
        distance=distance,
        caution=chains.LIFTING,
    )


STOPPED_EXCESS = 0.05
"""Wear counts as stopped when the pressure is this near to the film pressure, as a share of it (own rule)."""


def _each_run(law: Callable[..., Any], time: Any, *run: Any) -> Any:
    """Apply a law that takes a list of times at once, but the numbers of one run only."""
    if not any(np.ndim(one) for one in run):
        return law(time, *(float(one) for one in run))
    times, *columns = np.broadcast_arrays(time, *run)
    found = [
        law(at, *(float(one) for one in rest))
        for at, *rest in zip(times.flat, *(column.flat for column in columns), strict=True)
    ]
    shape = times.shape + np.shape(found[0])
    return np.reshape(np.array(found, dtype=np.float64), shape)


def _load_steps(later_loads: Sequence[tuple[Any, Any]]) -> tuple[list[float], list[float]]:
    """Read the load steps after the first: their starts [s] and their loads [N]."""
    for step in later_loads:
        if isinstance(step, str) or len(step) != 2:
            raise ValueError(
                f"later_loads holds pairs of time and load such as ('20 s', '900 N'); got {step!r}"
            )
    starts = [float(si_values("later_loads", start, "time")) for start, _ in later_loads]
    loads = [float(si_values("later_loads", load, "force")) for _, load in later_loads]
    if any(late <= early for early, late in itertools.pairwise([0.0, *starts])):
        raise ValueError("later_loads must start after 0 s, each step later than the one before")
    if any(not load > 0 for load in loads):
        raise ValueError("later_loads must hold loads above zero")
    return starts, loads


def _check_elastic(elastic_modulus: Any, poisson_ratio: Any) -> None:
    positive("elastic_modulus", elastic_modulus)
    within("poisson_ratio", poisson_ratio, -1, 0.5)


def _pair(pin_diameter: Any, ring_diameter: Any, crossing_angle: Any) -> CrossedCylinders:
    positive("pin_diameter", pin_diameter)
    positive("ring_diameter", ring_diameter)
    return CrossedCylinders(0.5 * float(pin_diameter), 0.5 * float(ring_diameter), float(crossing_angle))


def _one(value: Any) -> float | None:
    return None if value is None else float(value)


def _or(value: Any, instead: Any) -> Any:
    return instead if value is None else value
