"""campaign.toml: quantities in SI, misfits in plain words at their line."""

from __future__ import annotations

import math
import string
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinscar.campaign.model import CampaignFile
from pinscar.campaign.toml_file import read_toml

SHORT = """
[campaign]
id = "hoist-03"
reference = "R-10"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
"""

FULL = """
[campaign]
id = "conveyor-07"
title = "Conveyor-chain oils"
question = "May C-21 replace R-10 on the oven line?"
reference = "R-10"
confidence = "90 %"
block = "run_day"

[rig]
geometry = "crossed-cylinders"
pin_diameter = "0.5 in"
ring_diameter = "40 mm"
ring_width = "14 mm"
crossing_angle = "60 deg"
ring_speed = "700 rpm"
lever_ratio = 10.0
hanger_mass = "0.8 kg"
load_uncertainty = "1 %"
reading_uncertainty = "30 um"

[rig.pin]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "7.5 GPa"
roughness_rq = "0.20 um"
thermal_conductivity = "46 W/(m K)"
specific_heat = "475 J/(kg K)"
density = "7.83 g/cm^3"

[[lubricants]]
id = "R-10"
role = "reference"
kinematic_viscosity_40 = "68 mm²/s"
kinematic_viscosity_100 = "9.1 cSt"
density_15 = "872 kg/m^3"
pressure_viscosity = "20 1/GPa"

[[criteria]]
id = "film-450"
response = "film_pressure"
lubricant = "C-21"
load = "45.9 kgf"
rule = "at least"
limit = "120 MPa"

[[criteria]]
id = "scar"
response = "scar_area"
lubricant = "C-21"
rule = "ratio at most"
limit = 0.8

[[criteria]]
id = "equal"
response = "scar_area"
lubricant = "C-21"
load = "600 N"
rule = "not worse than"
margin = "10 %"

[[criteria]]
id = "heat"
response = "peak_temperature"
lubricant = "C-21"
rule = "at most"
limit = "80 degC"

[service]
chain_pitch = "12.7 mm"
pin_diameter = "4.45 mm"
bush_length = "11.3 mm"
sprocket_teeth = 19
sprocket_speed = "120 rpm"
chain_tension = "900 N"

[[claims]]
subject = "C-21"
response = "scar_area"
direction = "lower"
against = "R-10"
load = "450 N"
percentage = "35 %"
best_of_all = true
"""


def read(text: str) -> CampaignFile:
    content, problems = read_toml(text)
    assert problems == []
    assert content is not None
    return content


def only_problem(text: str) -> Any:
    content, problems = read_toml(text)
    assert content is None
    assert len(problems) == 1, [str(one) for one in problems]
    return problems[0]


def test_every_quantity_is_in_si() -> None:
    content = read(FULL)
    rig, oil, claim = content.rig, content.lubricants[0], content.claims[0]
    assert content.campaign.confidence == pytest.approx(0.9, rel=1e-15, abs=0)
    assert rig.pin_diameter == pytest.approx(0.0127, rel=1e-15, abs=0)
    assert rig.crossing_angle == pytest.approx(math.pi / 3, rel=1e-15, abs=0)
    assert rig.ring_speed == pytest.approx(700 * math.pi / 30, rel=1e-15, abs=0)
    assert (rig.lever_ratio, rig.hanger_mass) == (10.0, 0.8)
    assert rig.load_uncertainty == pytest.approx(0.01, rel=1e-15, abs=0)
    assert rig.reading_uncertainty == pytest.approx(3e-5, rel=1e-15, abs=0)
    assert rig.pin.elastic_modulus == pytest.approx(2.1e11, rel=1e-15, abs=0)
    assert rig.pin.density == pytest.approx(7830.0, rel=1e-15, abs=0)
    assert rig.pin.thermal_conductivity == 46.0
    assert oil.kinematic_viscosity_40 == pytest.approx(68e-6, rel=1e-15, abs=0)
    assert oil.kinematic_viscosity_100 == pytest.approx(9.1e-6, rel=1e-15, abs=0)
    assert oil.pressure_viscosity == pytest.approx(2e-8, rel=1e-15, abs=0)
    assert content.criteria[0].load == pytest.approx(45.9 * 9.80665, rel=1e-15, abs=0)
    assert content.service is not None
    assert content.service.sprocket_speed == pytest.approx(4 * math.pi, rel=1e-15, abs=0)
    assert claim.percentage == pytest.approx(0.35, rel=1e-15, abs=0)


def test_limits_keep_their_text_and_have_an_si_value() -> None:
    film, scar, equal, heat = read(FULL).criteria
    assert (film.limit, film.limit_unit, film.limit_text) == (
        pytest.approx(1.2e8, rel=1e-15, abs=0),
        "MPa",
        "120 MPa",
    )
    assert (scar.limit, scar.limit_unit, scar.load) == (0.8, "1", None)
    assert heat.limit == pytest.approx(353.15, rel=1e-15, abs=0)
    assert math.isnan(equal.limit)
    assert [one.is_relative for one in (film, scar, equal, heat)] == [False, True, True, False]


def test_a_margin_is_on_the_side_that_is_worse() -> None:
    _, scar, equal, _ = read(FULL).criteria
    assert equal.ratio_limit("lower") == pytest.approx(1.1, rel=1e-15, abs=0)
    assert equal.ratio_limit("higher") == pytest.approx(0.9, rel=1e-15, abs=0)
    assert scar.ratio_limit("lower") == 0.8


def test_the_users_own_direction_wins() -> None:
    content = read(FULL.replace('margin = "10 %"', 'margin = "10 %"\nbetter = "higher"'))
    assert content.criteria[2].ratio_limit("lower") == pytest.approx(0.9, rel=1e-15, abs=0)


def test_a_short_file_has_nothing_made_up() -> None:
    content = read(SHORT)
    assert content.campaign.confidence == 0.95
    assert content.rig.crossing_angle == pytest.approx(math.pi / 2, rel=1e-15, abs=0)
    assert (content.rig.lever_ratio, content.rig.hanger_mass) == (1.0, 0.0)
    assert content.rig.pin.elastic_modulus is None
    assert content.rig.ring.poisson_ratio is None
    assert content.rig.load_uncertainty is None
    assert (content.lubricants, content.criteria, content.claims, content.service) == ((), (), (), None)


def test_roles_follow_the_reference() -> None:
    content = read(
        FULL.replace("[[criteria]]", '[[lubricants]]\nid = "B-05"\nrole = "benchmark"\n[[criteria]]', 1)
    )
    assert [content.role_of(one) for one in ("R-10", "C-21", "B-05")] == [
        "reference",
        "candidate",
        "benchmark",
    ]


@pytest.mark.parametrize(
    ("geometry", "missing"),
    [("crossed-cylinders", "pin_diameter"), ("ball-on-disc", "pin_diameter"), ("block-on-ring", "ring_width"),
     ("worn-ring", "ring_groove_depth")],
)  # fmt: skip
def test_a_geometry_says_what_it_needs(geometry: str, missing: str) -> None:
    text = SHORT.replace("crossed-cylinders", geometry)
    if missing == "pin_diameter":
        text = text.replace('pin_diameter = "12 mm"\n', "")
    problem = only_problem(text)
    assert (problem.code, problem.column) == ("toml-key-missing", f"rig.{missing}")
    assert missing in problem.mend


def test_a_block_needs_no_pin() -> None:
    text = SHORT.replace("crossed-cylinders", "block-on-ring").replace(
        'pin_diameter = "12 mm"', 'ring_width = "6 mm"'
    )
    assert read(text).rig.pin_diameter is None


@pytest.mark.parametrize(
    ("old", "new", "code", "mend"),
    [
        ('limit = "120 MPa"', "", "criterion-limit", 'limit = "120 MPa"'),
        ('margin = "10 %"', "limit = 0.9", "criterion-limit", 'margin = "10 %"'),
        ("limit = 0.8", 'limit = "0.8 MPa"', "criterion-limit", "without unit"),
        ("limit = 0.8", "limit = 0.8\nmargin = 0.1", "criterion-limit", "take margin out"),
        ("limit = 0.8", "limit = -0.8", "criterion-limit", "positive"),
        ('margin = "10 %"', "margin = 10", "toml-out-of-range", '"10 %" or 0.1'),
        ('rule = "at least"', 'rule = "atleast"', "toml-not-a-choice", 'write "at least"'),
        ('confidence = "90 %"', "confidence = 0.5", "toml-out-of-range", "correct"),
        ("poisson_ratio = 0.30", "poisson_ratio = 0.7", "toml-out-of-range", "correct"),
        ('"60 deg"', '"120 deg"', "toml-out-of-range", "correct"),
        ("sprocket_teeth = 19", 'sprocket_teeth = "19"', "toml-out-of-range", "without quotes"),
        ('load_uncertainty = "1 %"', "load_uncertainty = 1.5", "toml-out-of-range", '"1.5 %"'),
        ('load_uncertainty = "1 %"', 'load_uncertainty = "5 N"', "toml-unit-wrong", "1 or %"),
        ("best_of_all = true", 'best_of_all = "yes"', "toml-not-a-choice", "true or false"),
        ('title = "Conveyor-chain oils"', 'title = ""', "toml-not-text", "leave the key out"),
        ('"45.9 kgf"', '"45.9 kg"', "toml-unit-wrong", "kgf"),
        ('"700 rpm"', '"11.7 1/s"', "toml-unit-ambiguous", "rpm"),
        ('hardness = "7.5 GPa"', 'hardnes = "7.5 GPa"', "toml-key-unknown", "write hardness"),
        ("lever_ratio = 10.0", 'reference = "R-10"', "toml-key-unknown", "move it to [campaign]"),
        ("chain_tension", "chain_load", "toml-key-unknown", ""),
        ("[service]", "[sevice]", "toml-key-unknown", "write service"),
    ],
)  # fmt: skip
def test_a_misfit_is_told_with_its_mend_at_its_line(old: str, new: str, code: str, mend: str) -> None:
    text = FULL.replace(old, new, 1)
    _, problems = read_toml(text)
    problem = next(one for one in problems if one.code == code)
    assert mend in problem.mend
    assert problem.row is not None
    changed = next(
        number
        for number, (a, b) in enumerate(zip(FULL.splitlines(), text.splitlines(), strict=False))
        if a != b
    )
    section = max(number for number in range(changed + 1) if FULL.splitlines()[number].startswith("["))
    assert section <= problem.row - 1 <= changed + 1


@pytest.mark.parametrize(
    ("old", "new", "row", "message"),
    [
        ('"12 mm"', "12 mm", 7, "something follows the value on its line"),
        ('"12 mm"', "twelve", 7, "the value cannot be read"),
        ('"12 mm"', '"12 mm', 7, "a quoted text does not end on its line"),
        ("pin_diameter =", "pin_diameter", 7, "a line is neither a comment nor key = value"),
        ("pin_diameter", "ring_diameter", 8, "the key stands twice in its section"),
        ("[rig]", "[campaign]", 5, "the section stands twice"),
        ("[rig]", "[rig", 5, "the section's bracket is not closed"),
        ('"12 mm"', '"C:\\mm"', 7, "a backslash stands in double quotes"),
    ],
)  # fmt: skip
def test_broken_toml_is_told_in_plain_words_at_its_line(old: str, new: str, row: int, message: str) -> None:
    problem = only_problem(SHORT.replace(old, new, 1))
    assert (problem.code, problem.row, problem.message) == ("toml-syntax", row, message)


def test_keys_before_any_section_are_found() -> None:
    problem = only_problem('idd = "x"\n' + SHORT)
    assert (problem.code, problem.row, problem.column) == ("toml-key-unknown", 1, "idd")


def test_a_section_written_as_a_value(tmp_path: Path) -> None:
    assert only_problem('rig = "crossed"').code == "toml-not-a-section"
    assert only_problem(SHORT + 'pin = "steel"').column == "rig.pin"


def test_all_misfits_come_at_once() -> None:
    text = FULL.replace('"0.5 in"', "0.5").replace('"14 mm"', '"14 kg"').replace('"900 N"', "900")
    assert [one.column for one in read_toml(text)[1]] == [
        "rig.pin_diameter",
        "rig.ring_width",
        "service.chain_tension",
    ]


VALUES = st.one_of(
    st.sampled_from(
        ['"12 mm"', "12", "-1", "true", '""', "[]", "{}", "[1]", '"1e400 mm"', "nan", "inf", "1979-05-27"]
    ),
    st.text(string.printable.replace("\\", "").replace('"', ""), max_size=6).map(lambda text: f'"{text}"'),
)


@settings(max_examples=150, deadline=None)
@given(line=st.integers(0, FULL.count("\n") - 1), value=VALUES)
def test_no_value_makes_the_reader_stumble(line: int, value: str) -> None:
    lines = FULL.splitlines()
    key, equals, _ = lines[line].partition(" = ")
    lines[line] = f"{key}{equals}{value}" if equals else lines[line] + value
    content, problems = read_toml("\n".join(lines))
    assert (content is None) == bool(problems)
    for one in problems:
        assert one.message
        assert one.mend
        assert not any(word in str(one).lower() for word in ("pydantic", "input should", "validat"))
