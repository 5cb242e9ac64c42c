"""Constants of the two bodies: stated ones win, the table fills the rest, an unknown name is a problem."""

from __future__ import annotations

import pytest

from pinscar.campaign.model import Body, Rig
from pinscar.contact.hertz import material
from pinscar.decision.evaluate import looked_up, material_problems, reduced_modulus, with_table_values

STEEL = "bearing steel 100Cr6"


def rig(pin: Body, ring: Body) -> Rig:
    bare = Rig.model_validate(
        {"geometry": "crossed-cylinders", "pin_diameter": "12 mm", "ring_diameter": "40 mm"}
    )
    return bare.model_copy(update={"pin": pin, "ring": ring})


def test_stated_constants_win_over_the_table() -> None:
    pin = Body.model_validate({"material": STEEL, "elastic_modulus": "200 GPa"})
    filled = with_table_values(rig(pin, Body())).pin
    assert filled.elastic_modulus == 200e9
    assert filled.poisson_ratio == material(STEEL).poisson_ratio
    assert filled.thermal_conductivity == material(STEEL).conductivity
    assert "elastic_modulus" not in looked_up(pin)
    assert "thermal_conductivity" in looked_up(pin)


def test_a_body_without_constants_gives_no_stiffness_rather_than_a_default() -> None:
    steel = Body.model_validate({"elastic_modulus": "210 GPa", "poisson_ratio": 0.30})
    assert reduced_modulus(rig(steel, Body())) is None
    both = reduced_modulus(rig(steel, steel))
    # Johnson, Contact Mechanics, 1985, ch. 4: E* = E / (2 (1 - nu^2)) for like bodies.
    assert both == pytest.approx(210e9 / (2 * (1 - 0.3**2)), rel=1e-12, abs=0)


def test_a_named_material_is_as_good_as_its_constants() -> None:
    named = Body.model_validate({"material": STEEL})
    stated = Body.model_validate({"elastic_modulus": "210 GPa", "poisson_ratio": 0.30})
    assert reduced_modulus(rig(named, named)) == pytest.approx(reduced_modulus(rig(stated, stated)))


def test_an_unknown_material_is_a_problem_that_lists_the_known_ones() -> None:
    problems = material_problems(rig(Body.model_validate({"material": "unobtainable"}), Body()))
    assert [problem.code for problem in problems] == ["material-unknown"]
    assert problems[0].column == "rig.pin.material"
    assert STEEL in problems[0].mend
