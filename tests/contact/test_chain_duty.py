"""What chain, severity and materials promise beyond the printed values."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.contact.chain import (
    Duty,
    bench_against_service,
    chain_size,
    chain_sizes,
    joint_speed,
    pitch_diameter,
    service_distance,
    sliding_per_swing,
    sliding_per_turn,
    swing_angle,
)
from pinscar.contact.hertz import material, materials


@given(st.integers(5, 120), st.floats(1e-3, 0.1))
def test_the_links_close_the_polygon(teeth, pitch):
    # z chords of length P make the whole turn: a second route to the pitch diameter.
    angles = np.arange(teeth + 1) * swing_angle(teeth)
    radius = pitch_diameter(pitch, teeth) / 2
    points = radius * np.exp(1j * angles)
    assert np.abs(np.diff(points)) == pytest.approx(pitch, rel=1e-9, abs=0)
    assert abs(points[-1] - points[0]) < 1e-9 * radius


@given(st.integers(6, 60), st.floats(1.0, 50.0))
def test_the_swing_is_sliding_speed_times_the_time_of_one_tooth(teeth, omega):
    time_of_one_tooth = 2 * np.pi / teeth / omega
    assert joint_speed(5e-3, omega) * time_of_one_tooth == pytest.approx(sliding_per_swing(5e-3, teeth))


def test_a_turn_is_two_swings_at_each_sprocket():
    assert sliding_per_turn(4.45e-3, [19]) == pytest.approx(2 * sliding_per_swing(4.45e-3, 19))
    assert sliding_per_turn(4.45e-3, [19, 38]) == pytest.approx(1.5 * sliding_per_turn(4.45e-3, [19]))


def test_service_distance_counts_the_turns():
    # 100 links of 12.7 mm at 1.27 m/s: one turn a second.
    found = service_distance(4.45e-3, [19, 19], 12.7e-3, 100, 1.27, 3600.0)
    assert found == pytest.approx(3600 * sliding_per_turn(4.45e-3, [19, 19]))


@pytest.mark.parametrize("teeth", [4, 0, -3, 12.5])
def test_impossible_sprockets_are_refused(teeth):
    with pytest.raises(ValueError, match="sprocket_teeth"):
        pitch_diameter(12.7e-3, teeth)


def test_an_unknown_chain_is_refused_with_the_ones_there_are():
    with pytest.raises(ValueError, match="06B, 08B"):
        chain_size("99B")
    assert chain_size(" 08b-1 ") == chain_sizes()["08B"]


def test_severity_says_which_side_is_harder():
    rows = {
        row.quantity: row for row in bench_against_service(Duty(120e6, 1.5, 90.0), Duty(18e6, 0.03, 400.0))
    }
    assert rows["pressure"].ratio == pytest.approx(120 / 18)
    assert rows["pressure"].sentence.startswith("The bench presses 6.7 times as hard as the service")
    assert rows["pressure times speed"].ratio == pytest.approx(120 * 1.5 / (18 * 0.03))
    assert rows["sliding distance"].verdict == "bench less severe"
    assert "less severe in distance" in rows["sliding distance"].sentence


def test_severity_calls_near_equals_even():
    rows = bench_against_service(Duty(19e6, 0.03, 91.0), Duty(18e6, 0.03, 100.0))
    assert [row.verdict for row in rows] == ["even", "even", "even", "even"]
    assert "about as hard as" in rows[0].sentence


def test_severity_without_a_value_says_what_is_missing():
    rows = bench_against_service(Duty(120e6, None, float("nan")), Duty(18e6, 0.03, 400.0))
    assert [row.ratio is None for row in rows] == [False, True, True, True]
    assert "sliding speed of the bench is not known" in rows[1].sentence
    assert rows[3].verdict == "not computed"
    zero = bench_against_service(Duty(1.0, 1.0, 1.0), Duty(0.0, 1.0, 1.0))[0]
    assert zero.ratio is None
    assert "zero or less has no ratio" in zero.sentence


@given(*[st.floats(1e-3, 1e9)] * 4)
def test_swapping_bench_and_service_swaps_the_verdict(a, b, c, d):
    swap = {
        "bench more severe": "bench less severe",
        "bench less severe": "bench more severe",
        "even": "even",
    }
    one = bench_against_service(Duty(a, b, 1.0), Duty(c, d, 1.0))
    two = bench_against_service(Duty(c, d, 1.0), Duty(a, b, 1.0))
    for left, right in zip(one, two, strict=True):
        assert left.ratio * right.ratio == pytest.approx(1.0)
        # At the very edge of even the two quotients may round apart.
        if abs(abs(np.log(left.ratio)) - np.log(1.1)) > 1e-9:
            assert right.verdict == swap[left.verdict]


def test_every_material_has_a_source_and_sane_constants():
    table = materials()
    assert len(table) >= 12
    for name, entry in table.items():
        assert entry.source, name
        assert 50e9 < entry.elastic_modulus < 700e9
        assert 0.1 < entry.poisson_ratio < 0.4
        assert 2000 < entry.density < 16000
        assert 1 < entry.conductivity < 300
        assert 200 < entry.specific_heat < 1000


def test_materials_cannot_be_changed_in_place():
    with pytest.raises(dataclasses.FrozenInstanceError):
        material("brass CuZn30").density = 1.0
    with pytest.raises(ValueError, match="material must be one of"):
        material("unobtainium")
