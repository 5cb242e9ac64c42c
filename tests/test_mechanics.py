"""The notebook front of the mechanics: any unit in, quantities out, one clear error for a wrong dimension.

The values are those of outside sources that tests/reference holds; here they arrive in other units.
"""

from __future__ import annotations

import inspect
import subprocess
import sys

import numpy as np
import pint
import pytest

import pinscar
from pinscar import mechanics

Q_ = pinscar.Q_
STEEL = ("210 GPa", 0.3)


def test_two_balls_in_a_textbook_number():
    # Stachowiak and Batchelor, Engineering Tribology, EHL chapter, first example; crossed cylinders of 10 mm
    # radius are a ball of 10 mm on a flat: a = (3 F R / 4 E*)^(1/3), p0 = 3 F / (2 pi a^2) (Johnson, 1985).
    contact = mechanics.hertz_contact(Q_(600, "N"), "2 cm", Q_(20, "mm"), *STEEL)
    e_star = 210e9 / (2 * (1 - 0.3**2))
    a = (3 * 600 * 0.010 / (4 * e_star)) ** (1 / 3)
    assert contact.semi_major.to("m").magnitude == pytest.approx(a, rel=1e-9)
    assert contact.peak_pressure.to("Pa").magnitude == pytest.approx(3 * 600 / (2 * np.pi * a**2), rel=1e-9)


def test_the_ring_may_be_of_another_material():
    # aluminium ring 70 GPa, 0.33; R 5/15 mm, 300 N: p0 1.4310138 GPa by mpmath at 30 digits
    contact = mechanics.hertz_contact("300 N", "10 mm", "30 mm", *STEEL, "70 GPa", 0.33)
    assert contact.peak_pressure.to("GPa").magnitude == pytest.approx(1.4310138, rel=1e-7)


@pytest.mark.parametrize("length", ["4 mm", "4000 um", "0.4 cm", Q_(4, "mm"), Q_(4 / 25.4, "in")])
def test_a_scar_is_the_same_in_every_unit(length):
    scar = mechanics.scar(length, "12 mm", "40 mm", load="600 N")
    # exact overlap by quadrature at 30 digits: Rp 6, Rr 20, L 4 mm
    assert scar.wear_volume.to("mm^3").magnitude == pytest.approx(0.34493599, rel=1e-7)
    assert scar.implied_width.to("mm").magnitude == pytest.approx(2.1844585, rel=1e-7)
    assert scar.pressure.to("MPa").magnitude == pytest.approx(600 / 6.862679, rel=1e-6)


def test_a_measured_width_is_the_one_used_for_the_area():
    scar = mechanics.scar("4 mm", "12 mm", "40 mm", width="2 mm")
    assert scar.area.to("mm^2").magnitude == pytest.approx(np.pi / 4 * 4 * 2, rel=1e-12)
    assert scar.pressure is None


def test_other_geometries():
    # ASTM G99, cap of a ball: h = r - sqrt(r^2 - d^2/4), V = (pi h/6)(3 d^2/4 + h^2); r 5, d 1 mm
    ball = mechanics.scar("1 mm", "10 mm", "30 mm", geometry="ball-on-disc")
    assert ball.wear_volume.to("mm^3").magnitude == pytest.approx(0.009850387280, rel=1e-9)
    # ASTM G77: D 40, t 10, b 4 mm
    block = mechanics.scar("4 mm", None, "40 mm", ring_width="10 mm", geometry="block-on-ring")
    assert block.wear_volume.to("mm^3").magnitude == pytest.approx(2.674709803591, rel=1e-9)


def test_arrest_at_four_times_of_a_quantity_array():
    speed = mechanics.sliding_speed("40 mm", "700 rpm")
    times = Q_(np.array([0.1, 1, 3, 10]) * 30.968693, "s")
    conditions = ("450 N", speed, "1e-14 m^2/N", "120 MPa", "12 mm", "40 mm")
    grown = mechanics.wear_arrest(times, *conditions)
    # closed form with Lambert's W, checked against an ODE solver at 1e-12
    np.testing.assert_allclose(
        grown.scar_length.to("mm").magnitude, [1.8271754, 2.7067247, 2.9228703, 2.9504672], rtol=1e-7
    )
    exact = mechanics.wear_arrest(times, *conditions, exact=True)
    ratio = (exact.scar_length / grown.scar_length).to("1").magnitude
    # the closed form leaves out terms of the order of depth over radius, 50 um in 6 mm
    assert np.all(np.abs(ratio - 1) < 0.004)
    assert np.all(ratio != 1.0)
    assert exact.final_length > exact.scar_length[-1]


@pytest.mark.parametrize("exact", [False, True])
def test_a_raised_load_goes_on_from_the_depth_that_the_first_load_left(exact):
    conditions = ("1.466 m/s", "2e-14 m^2/N", "120 MPa", "12 mm", "40 mm", "90 deg", exact)
    stepped = mechanics.wear_arrest(
        ["20 s", "1000 s"], "300 N", *conditions, later_loads=[("20 s", "600 N"), ("600 s", "450 N")]
    )
    first = mechanics.wear_arrest("20 s", "300 N", *conditions)
    highest = mechanics.wear_arrest("5000 s", "600 N", *conditions)
    assert stepped.depth[0].magnitude == pytest.approx(first.depth.magnitude, rel=1e-12)
    # 600 N wore deeper than 450 N alone would: the last step wears nothing, and nothing is left to wait for.
    assert stepped.final_length.to("mm").magnitude == pytest.approx(
        highest.final_length.to("mm").magnitude, rel=1e-6
    )
    assert stepped.stopped_after.to("s").magnitude == 600.0


@pytest.mark.parametrize("exact", [False, True])
def test_wear_counts_as_stopped_when_the_pressure_is_within_5_percent_of_the_film(exact):
    conditions = ("450 N", "1.466 m/s", "2e-14 m^2/N", "120 MPa", "12 mm", "40 mm", "90 deg", exact)
    stopped = mechanics.wear_arrest("1 s", *conditions).stopped_after
    at = mechanics.wear_arrest(stopped, *conditions)
    area = mechanics.scar(at.scar_length, "12 mm", "40 mm").area.to("m^2").magnitude
    # The oval's area leaves out terms of the order of depth over radius, 50 um in 6 mm.
    assert 450 / area == pytest.approx(1.05 * 120e6, rel=5e-3)


@pytest.mark.parametrize(
    ("steps", "message"),
    [
        (["20 s", "600 N"], r"pairs of time and load such as \('20 s', '900 N'\); got '20 s'"),
        ([("20 s", "600 mm")], "later_loads: '600 mm' does not measure a force"),
        ([("20 s", "600 N"), ("10 s", "900 N")], "each step later than the one before"),
        ([("20 s", "-600 N")], "loads above zero"),
    ],
)
def test_load_steps_that_make_no_sense_are_refused(steps, message):
    with pytest.raises(ValueError, match=message):
        called("wear_arrest", later_loads=steps)


def test_the_film_takes_si_and_other_units_alike():
    film = mechanics.film("450 N", "146.6077 cm/s", "80 cP", "20e-9 1/Pa", "12 mm", "40 mm", *STEEL)
    assert film.minimum.to("um").magnitude == pytest.approx(0.1194329, rel=1e-6)
    assert (film.lambda_ratio, film.regime, film.within_fit) == (None, None, False)


def test_viscosity_in_stokes_and_fahrenheit():
    # ASTM D341 with 68 and 9.1 mm^2/s: 29.31376 mm^2/s at 60 degC, which is 140 degF
    oil = mechanics.viscosity_at(Q_(140, "degF"), "0.68 St", "9.1 cSt", "872 kg/m^3")
    assert oil.kinematic.to("mm^2/s").magnitude == pytest.approx(29.31376, rel=1e-6)
    product = (oil.kinematic * oil.density).to("Pa s").magnitude  # eta = nu rho (ISO 3104)
    assert oil.dynamic.to("Pa s").magnitude == pytest.approx(product, rel=1e-12)
    # ASTM D2270: 53.47 and 7.80 mm^2/s give 111
    assert round(mechanics.viscosity_index("53.47 mm^2/s", "7.80 mm^2/s").magnitude) == 111


def test_flash_shares_heat_evenly_between_equal_resting_bodies():
    conditions = ("6.863 mm^2", "46 W/(m K)", "7850 kg/m^3", "460 J/(kg K)")
    slow = mechanics.flash_temperature(0.1, "450 N", "1e-9 m/s", *conditions)
    assert slow.share_pin.magnitude == pytest.approx(0.5, rel=1e-5)
    both = mechanics.flash_temperature([0.08, 0.15], "450 N", "1.5 m/s", *conditions)
    assert both.power.to("W").magnitude.tolist() == pytest.approx([54.0, 101.25])
    assert both.rise[1] / both.rise[0] == pytest.approx(0.15 / 0.08)


def test_a_chain_joint():
    joint = mechanics.chain_joint("900 N", "4.45 mm", "11.3 mm", 14, "120 rpm", "12.7 mm")
    # ISO 606: 14 teeth of 12.7 mm pitch have a pitch diameter of 57.07 mm; T/(d b) by hand
    assert round(joint.pitch_diameter.to("mm").magnitude, 2) == 57.07
    assert joint.pressure.to("MPa").magnitude == pytest.approx(900 / (4.45 * 11.3), rel=1e-12)
    assert joint.distance is None


def test_a_chain_number_stands_for_the_sizes_that_are_not_given():
    # ISO 606: 08B has a pitch of 12.7 mm and a pin of 4.45 mm.
    motion = {"sprocket_teeth": 14, "sprocket_speed": "120 rpm"}
    joint = mechanics.chain_joint("900 N", chain="08B", **motion)
    assert round(joint.pitch_diameter.to("mm").magnitude, 2) == 57.07
    own = mechanics.chain_joint("900 N", "4.40 mm", chain="08B", **motion)
    assert own.pressure / joint.pressure == pytest.approx(4.45 / 4.40, rel=1e-12)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"chain": "99B"}, "chain designation must be one of 06B, 08B"),
        ({"pin_diameter": "4.45 mm"}, "pin_diameter and bush_length are needed"),
        ({"chain": "08B", "sprocket_teeth": None}, "sprocket_teeth and sprocket_speed are needed"),
    ],
)
def test_a_joint_without_its_sizes_says_what_is_missing(given, message):
    with pytest.raises(ValueError, match=message):
        mechanics.chain_joint("900 N", **{"sprocket_teeth": 14, "sprocket_speed": "120 rpm"} | given)


def test_a_bench_load():
    # standard gravity 9.80665 m/s^2 (3rd CGPM, 1901)
    load = mechanics.bench_load(["5 kg", "11.0231131092 lb"], "800 g", 10)
    np.testing.assert_allclose(load.to("N").magnitude, 9.80665 * 5.8 * 10, rtol=1e-10)


def test_a_quantity_of_another_registry_is_taken():
    other = pint.UnitRegistry()
    assert mechanics.sliding_speed(
        other.Quantity(40, "mm"), other.Quantity(700, "rpm")
    ).magnitude == pytest.approx(np.pi * 0.040 * 700 / 60)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: mechanics.hertz_contact("600 N", "12 N", "40 mm", *STEEL),
            "pin_diameter: '12 N' does not measure a length; write e.g. 12 mm",
        ),
        (
            lambda: mechanics.hertz_contact(Q_(600, "kg"), "12 mm", "40 mm", *STEEL),
            "load: 600 kg does not measure a force; write e.g. 12 N",
        ),
        (lambda: mechanics.bench_load(5), "weights: 5 has no unit; write e.g. 12 kg"),
        (
            lambda: mechanics.sliding_speed("40 mm", "12 Hz"),
            "ring_speed: '12 Hz': Hz does not say whether it counts turns or radians; "
            "write rpm or revolution/s",
        ),
        (
            lambda: mechanics.viscosity_at("80 degC", "thick", "5 mm^2/s"),
            "kinematic_viscosity_40: 'thick' is not a number followed by a unit; write it like \"12 mm\"",
        ),
        (
            lambda: mechanics.viscosity_index("73 mm2/s", "8.86 mm^2/s"),
            "kinematic_viscosity_40: '73 mm2/s': 'mm2/s' is not a unit that can be read; write mm^2/s",
        ),
        (lambda: mechanics.wear_coefficient(None, "1 N", "1 m"), "wear_volume is needed"),
        (lambda: mechanics.scar("4 mm", "12 mm"), "ring_diameter is needed"),
        (lambda: mechanics.scar({}, "12 mm", "40 mm"), "length: {} is neither a quantity, nor text"),
    ],
)
def test_a_wrong_argument_is_named_with_what_was_found_and_what_is_wanted(call, message):
    with pytest.raises(ValueError) as failure:
        call()
    assert str(failure.value).startswith(message)
    assert failure.value.__cause__ is None
    assert failure.value.__suppress_context__ or failure.value.__context__ is None


def test_records_are_tables_in_a_notebook():
    html = mechanics.scar(["2 mm", "4 mm"], "12 mm", "40 mm")._repr_html_()
    assert "<td>0.021521, 0.34494 mm³</td>" in html
    assert "<th scope='row' style='text-align:left'>pressure</th><td>not computed</td>" in html


def test_nothing_is_loaded_before_it_is_asked_for():
    code = (
        "import sys, pinscar; early = {'pint', 'numpy', 'pinscar.mechanics'} & set(sys.modules); "
        "pinscar.mechanics.bench_load('1 kg'); print(sorted(early), 'pinscar.mechanics' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[] True"


def test_every_argument_that_has_a_dimension_is_declared():
    public = [
        one
        for name, one in vars(mechanics).items()
        if inspect.isfunction(one) and one.__module__ == mechanics.__name__ and not name.startswith("_")
    ]
    assert len(public) == 11
    plain = {"exact", "geometry", "sprocket_teeth", "links", "chain", "later_loads"}
    for function in public:
        for name, kind in inspect.get_annotations(function).items():
            if name in plain or name == "return":
                continue
            assert kind in vars(pinscar.arguments), f"{function.__name__}: {name} is not declared"


CALLS = {
    "bench_load": {"weights": "5 kg", "hanger_mass": "0.8 kg", "lever_ratio": 10.0},
    "sliding_speed": {"ring_diameter": "40 mm", "ring_speed": "700 rpm"},
    "hertz_contact": {
        "load": "600 N",
        "pin_diameter": "12 mm",
        "ring_diameter": "40 mm",
        "elastic_modulus": "210 GPa",
        "poisson_ratio": 0.3,
        "ring_elastic_modulus": "70 GPa",
        "ring_poisson_ratio": 0.33,
        "crossing_angle": "80 deg",
    },
    "scar": {
        "length": "4 mm",
        "pin_diameter": "12 mm",
        "ring_diameter": "40 mm",
        "width": "2 mm",
        "load": "600 N",
        "crossing_angle": "90 deg",
        "ring_width": "14 mm",
    },
    "wear_coefficient": {"wear_volume": "1 mm^3", "load": "450 N", "sliding_distance": "90 m"},
    "wear_arrest": {
        "time": "30 s",
        "load": "450 N",
        "speed": "1.5 m/s",
        "wear_coefficient": "1e-14 m^2/N",
        "film_pressure": "120 MPa",
        "pin_diameter": "12 mm",
        "ring_diameter": "40 mm",
        "crossing_angle": "90 deg",
    },
    "film": {
        "load": "450 N",
        "speed": "1.5 m/s",
        "dynamic_viscosity": "80 mPa s",
        "pressure_viscosity": "20 1/GPa",
        "pin_diameter": "12 mm",
        "ring_diameter": "40 mm",
        "elastic_modulus": "210 GPa",
        "poisson_ratio": 0.3,
        "pin_roughness_rq": "0.2 um",
        "ring_roughness_rq": "0.15 um",
    },
    "viscosity_at": {
        "temperature": "80 degC",
        "kinematic_viscosity_40": "32 mm^2/s",
        "kinematic_viscosity_100": "5.4 mm^2/s",
        "density_15": "872 kg/m^3",
    },
    "viscosity_index": {"kinematic_viscosity_40": "32 mm^2/s", "kinematic_viscosity_100": "5.4 mm^2/s"},
    "flash_temperature": {
        "friction_coefficient": 0.1,
        "load": "450 N",
        "speed": "1.5 m/s",
        "scar_area": "6.8 mm^2",
        "conductivity": "46 W/(m K)",
        "density": "7850 kg/m^3",
        "specific_heat": "460 J/(kg K)",
        "ring_conductivity": "40 W/(m K)",
        "ring_density": "7800 kg/m^3",
        "ring_specific_heat": "450 J/(kg K)",
    },
    "chain_joint": {
        "chain_tension": "900 N",
        "pin_diameter": "4.45 mm",
        "bush_length": "11.3 mm",
        "sprocket_speed": "120 rpm",
        "chain_pitch": "12.7 mm",
        "duration": "1 h",
    },
}
ARGUMENTS = [(function, name) for function, arguments in CALLS.items() for name in arguments]


def called(function, **changed):
    more = {"sprocket_teeth": 19, "links": 100} if function == "chain_joint" else {}
    return getattr(mechanics, function)(**{**CALLS[function], **changed}, **more)


def numbers_of(result):
    parts = [result] if hasattr(result, "units") else [getattr(result, one) for one in vars(result)]
    return [part.to_base_units().magnitude for part in parts if hasattr(part, "units")]


def scaled(value, factor):
    if not isinstance(value, str):
        return value * factor
    number, unit = value.split(" ", 1)
    return f"{float(number) * factor} {unit}"


@pytest.mark.parametrize(("function", "name"), ARGUMENTS)
def test_every_argument_takes_a_list_and_gives_what_its_elements_give(function, name):
    value = CALLS[function][name]
    both = [value, scaled(value, 1.02)]
    together = numbers_of(called(function, **{name: both}))
    alone = [numbers_of(called(function, **{name: one})) for one in both]
    for part, first, second in zip(together, *alone, strict=True):
        expected = [first, second]
        np.testing.assert_allclose(np.broadcast_to(part, 2), expected, rtol=1e-12)


@pytest.mark.parametrize("exact", [False, True])
def test_a_list_of_runs_is_matched_element_by_element(exact):
    lists = {"load": ["450 N", "600 N"], "film_pressure": ["120 MPa", "140 MPa"], "time": ["30 s", "60 s"]}
    together = called("wear_arrest", **lists, exact=exact).scar_length.to("mm").magnitude
    alone = [
        called("wear_arrest", **{name: both[i] for name, both in lists.items()}, exact=exact).scar_length
        for i in range(2)
    ]
    np.testing.assert_allclose(together, [one.to("mm").magnitude for one in alone], rtol=1e-12)


@pytest.mark.parametrize(("function", "name"), ARGUMENTS)
@pytest.mark.parametrize("factor", [-1.0, 0.0])
def test_an_impossible_value_is_refused_by_the_name_that_was_given(function, name, factor):
    if name in {"poisson_ratio", "ring_poisson_ratio"}:
        factor = 2.0  # above 0.5; a negative one is allowed
    wrong = scaled(CALLS[function][name], factor)
    try:
        called(function, **{name: wrong})
    except ValueError as failure:
        assert str(failure).startswith(f"{name} ")
        assert "found" in str(failure) or str(failure).endswith(f"; got {wrong!r}")
        return
    allowed = {"time", "load", "hanger_mass", "weights", "sprocket_speed", "duration", "ring_speed"}
    allowed |= {"length", "wear_volume", "speed", "friction_coefficient", "chain_tension", "temperature"}
    allowed |= {"pin_roughness_rq", "ring_roughness_rq"}
    assert factor == 0.0, f"{function}: {name} may not be negative"
    assert name in allowed, f"{function}: {name} may not be zero"


@pytest.mark.parametrize(
    "pair", [("10 mm^2/s", "12 mm^2/s"), ("9 mm^2/s", "9 mm^2/s"), ("3e7 mm^2/s", "9 mm^2/s")]
)
def test_a_viscosity_pair_is_refused_by_both_or_by_none(pair):
    for call in (lambda: mechanics.viscosity_at("80 degC", *pair), lambda: mechanics.viscosity_index(*pair)):
        with pytest.raises(ValueError, match=r"kinematic_viscosity_(40|100) must"):
            call()


def test_lists_that_do_not_match_are_named():
    with pytest.raises(ValueError, match="equally long or hold one value; found length 3, pin_diameter 2"):
        mechanics.scar(["1 mm", "2 mm", "3 mm"], ["12 mm", "10 mm"], "40 mm")
    with pytest.raises(ValueError, match=r"weights: the lists in .* are not equally long"):
        mechanics.bench_load([["5 kg"], ["5 kg", "6 kg"]])
