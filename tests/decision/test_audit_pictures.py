"""Shapes of scars on pictures become findings of the audit, with how many runs they were seen in."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from pinscar.campaign.model import Rig
from pinscar.decision.evidence import largest_scar, picture_findings


def seen(run_id, shape):
    return SimpleNamespace(run_id=run_id, reading=None if shape is None else SimpleNamespace(shape=shape))


def test_tilted_pins_are_counted_among_the_runs_whose_scar_was_read():
    runs = [seen("a", "oval"), seen("b", "teardrop"), seen("c", "teardrop"), seen("d", ""), seen("e", None)]
    (found,) = picture_findings(runs, ["a", "b", "c", "d", "e"])
    assert (found.id, found.runs) == ("pin-tilted", ("b", "c"))
    assert found.message.startswith("The pin was tilted in 2 of 3 runs with a picture")


def test_an_excluded_run_says_nothing_and_ovals_alone_are_no_finding():
    assert not list(picture_findings([seen("a", "teardrop"), seen("b", "oval")], ["b"]))


def test_lobes_and_scars_cut_off_have_findings_of_their_own():
    found = list(picture_findings([seen("a", "two lobes"), seen("b", "cut off")], ["a", "b"]))
    assert [one.id for one in found] == ["scar-of-two-lobes", "scar-cut-off"]


def rig(geometry, **more):
    return Rig.model_validate(
        {"geometry": geometry, "ring_diameter": "40 mm", "ring_speed": "700 rpm", **more}
    )


def test_the_largest_scar_is_the_ring_s_chord_at_the_depth_of_the_pin():
    length, width = largest_scar(rig("crossed-cylinders", pin_diameter="12 mm"))
    # A chord 12 mm below the top of a circle of 40 mm: 2 sqrt(20^2 - 8^2) mm.
    assert length == pytest.approx(2e-3 * (20**2 - 8**2) ** 0.5)
    assert width == pytest.approx(12e-3)
    assert largest_scar(rig("crossed-cylinders", pin_diameter="60 mm"))[0] == pytest.approx(40e-3)


def test_a_ball_bounds_both_axes_and_a_ring_against_a_block_the_length():
    assert largest_scar(rig("ball-on-disc", pin_diameter="6 mm")) == pytest.approx((6e-3, 6e-3))
    assert largest_scar(rig("block-on-ring", ring_width="10 mm"))[0] == pytest.approx(40e-3)
