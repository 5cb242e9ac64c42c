"""Relations that every geometry must obey, and the ranges that each refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinscar.contact.geometry import (
    GEOMETRIES,
    BallOnDisc,
    BlockOnRing,
    CrossedCylinders,
    Geometry,
    WornRing,
    make_geometry,
)
from pinscar.contact.overlap import oval_direction, overlap_area, overlap_volume

RADIUS = st.floats(2e-3, 0.05)
ANGLE = st.floats(0.2, math.pi - 0.2)
SHARE = st.floats(1e-3, 0.9)
MADE = [
    make_geometry(name, pin_diameter=12e-3, ring_diameter=40e-3, ring_width=6e-3, ring_groove_depth=20e-6)
    for name in GEOMETRIES
] + [CrossedCylinders(6e-3, 20e-3, math.radians(60)), CrossedCylinders(20e-3, 6e-3, 2.0)]


@pytest.mark.parametrize("geometry", MADE, ids=lambda g: g.name)
def test_volume_grows_and_is_the_sum_of_its_layers(geometry: Geometry) -> None:
    """Volume rises with the length, depth and length invert each other, and NaN stays NaN."""
    lengths = np.linspace(0.1e-3, 10e-3, 100)
    volumes = geometry.wear_volume(lengths)
    assert (np.diff(volumes) > 0).all() and volumes[0] > 0
    assert geometry.scar_length(geometry.scar_depth(lengths)) == pytest.approx(lengths, rel=1e-9, abs=0)
    mixed = np.array([[4e-3, np.nan]])
    for value in (geometry.scar_depth, geometry.implied_width, geometry.wear_volume):
        assert value(mixed).shape == (1, 2)
        assert np.isnan(value(mixed)).tolist() == [[False, True]]
    assert np.isnan(geometry.scar_area(mixed, 1e-3)).tolist() == [[False, True]]
    assert float(geometry.wear_volume(4e-3, 1e-3)) == float(geometry.wear_volume(4e-3))


@pytest.mark.parametrize("geometry", [*MADE, CrossedCylinders(6e-3, 20e-3, 0.5)], ids=lambda g: g.name)
def test_longest_scar_is_the_last_one_answered(geometry: Geometry) -> None:
    longest = geometry.longest_scar()
    for value in (geometry.scar_depth, geometry.implied_width, geometry.wear_volume):
        assert float(value(longest * (1 - 1e-9))) > 0
    with pytest.raises(ValueError, match=r"must|gives|longer"):
        for value in (geometry.scar_depth, geometry.implied_width, geometry.wear_volume):
            value(longest * (1 + 1e-6))


@settings(deadline=None)
@given(RADIUS, RADIUS, ANGLE, SHARE, SHARE)
def test_crossed_volume_grows(rp: float, rr: float, angle: float, one: float, two: float) -> None:
    pair = CrossedCylinders(rp, rr, angle)
    low, high = (min(rp, rr) * share for share in sorted((one, two)))
    assert float(pair.wear_volume(low)) <= float(pair.wear_volume(high))
    assert float(pair.scar_depth(low)) <= float(pair.scar_depth(high))


@settings(deadline=None)
@given(RADIUS, RADIUS, ANGLE, SHARE, st.floats(1e-3, 1e3))
def test_units_rescaled(rp: float, rr: float, angle: float, share: float, scale: float) -> None:
    """All lengths times s: depth and width times s, volume times s^3."""
    length = min(rp, rr) * share
    one, other = CrossedCylinders(rp, rr, angle), CrossedCylinders(rp * scale, rr * scale, angle)
    assert float(other.wear_volume(length * scale)) == pytest.approx(
        scale**3 * float(one.wear_volume(length)), rel=1e-10, abs=0
    )
    assert float(other.implied_width(length * scale)) == pytest.approx(
        scale * float(one.implied_width(length)), rel=1e-9, abs=0
    )


@settings(deadline=None)
@given(RADIUS, RADIUS, ANGLE)
def test_small_scar_limit(rp: float, rr: float, angle: float) -> None:
    """V -> pi h^2 sqrt(Rp Rr)/sin(theta), and A -> c h."""
    pair = CrossedCylinders(rp, rr, angle)
    h = 1e-7 * min(rp, rr)
    volume = math.pi * h**2 * math.sqrt(rp * rr) / math.sin(angle)
    assert float(pair.volume_at_depth(h)) == pytest.approx(volume, rel=1e-6, abs=0)
    assert float(pair.area_at_depth(h)) == pytest.approx(pair.area_slope() * h, rel=1e-6, abs=0)


@settings(deadline=None)
@given(RADIUS, RADIUS, SHARE)
def test_bodies_swapped(rp: float, rr: float, share: float) -> None:
    """The overlap of two solids does not know which one is called the pin."""
    depth = share * min(rp, rr)
    assert float(overlap_volume(rp, rr, depth)) == pytest.approx(
        float(overlap_volume(rr, rp, depth)), rel=1e-12, abs=0
    )
    assert float(overlap_area(rp, rr, depth)) == pytest.approx(
        float(overlap_area(rr, rp, depth)), rel=1e-12, abs=0
    )


@settings(deadline=None)
@given(RADIUS, RADIUS, st.floats(0.0, 1.0))
def test_bodies_swapped_at_any_depth(rp: float, rr: float, share: float) -> None:
    """Two cylinders share the same volume whichever is called the pin."""
    depth = share * (rp + rr)
    one, other = float(overlap_volume(rp, rr, depth)), float(overlap_volume(rr, rp, depth))
    assert one == pytest.approx(other, rel=1e-10, abs=1e-30)


@settings(deadline=None)
@given(RADIUS, RADIUS, ANGLE, SHARE)
def test_area_is_the_slope_of_volume(rp: float, rr: float, angle: float, share: float) -> None:
    pair = CrossedCylinders(rp, rr, angle)
    h = share * min(rp, rr)
    step = 1e-4 * h
    slope = (pair.volume_at_depth(h + step) - pair.volume_at_depth(h - step)) / (2 * step)
    assert float(slope) == pytest.approx(float(pair.area_at_depth(h)), rel=1e-6, abs=0)


@settings(deadline=None)
@given(RADIUS, RADIUS, ANGLE, SHARE)
def test_small_ovals_measure_their_own_area(rp: float, rr: float, angle: float, share: float) -> None:
    """(pi/4) L W from the implied width is the exact footprint of a shallow scar at every angle."""
    pair = CrossedCylinders(rp, rr, angle)
    length = 1e-4 * share * min(rp, rr)
    oval = pair.scar_area(length, pair.implied_width(length))
    assert float(oval) == pytest.approx(float(pair.footprint_area(length)), rel=1e-6, abs=0)


def test_right_angle_is_the_plain_chord() -> None:
    """At 90 degrees the general angle reduces to the two chords, to the last digit or two."""
    pair, lengths = CrossedCylinders(6e-3, 20e-3), np.array([0.1e-3, 2e-3, 10e-3, 20e-3])
    depth = 20e-3 - np.sqrt(20e-3**2 - lengths**2 / 4)
    assert pair.scar_depth(lengths) == pytest.approx(depth, rel=1e-9, abs=0)
    exact = pair.scar_depth(lengths)
    assert pair.implied_width(lengths) == pytest.approx(
        2 * np.sqrt(2 * 6e-3 * exact - exact**2), rel=1e-15, abs=0
    )


@settings(deadline=None)
@given(RADIUS, st.floats(0.3, 1.2))
def test_equal_radii_lie_halfway(radius: float, angle: float) -> None:
    """With equal radii the oval bisects the crossing angle; at a right angle it is a circle and W = L."""
    assert oval_direction(radius, radius, angle) == pytest.approx(0.5 * angle, rel=1e-12, abs=0)
    pair = CrossedCylinders(radius, radius)
    assert float(pair.implied_width(radius)) == pytest.approx(radius, rel=1e-14, abs=0)


def test_right_angle_to_six_decimals_is_a_right_angle() -> None:
    """Equal radii at 1.570796 rad must not turn the length axis to the diagonal."""
    one, other = CrossedCylinders(10e-3, 10e-3, 1.570796), CrossedCylinders(10e-3, 10e-3)
    assert float(one.scar_depth(5e-3)) == pytest.approx(float(other.scar_depth(5e-3)), rel=1e-12, abs=0)


def test_mirrored_angle_gives_the_same_scar() -> None:
    one, other = (CrossedCylinders(6e-3, 20e-3, math.radians(x)) for x in (60, 120))
    assert float(one.wear_volume(5e-3)) == pytest.approx(float(other.wear_volume(5e-3)), rel=1e-13, abs=0)
    assert float(one.implied_width(5e-3)) == pytest.approx(float(other.implied_width(5e-3)), rel=1e-13, abs=0)


def test_thicker_pin_than_ring_keeps_length_along_the_pin() -> None:
    """Pin of 20 mm on a ring of 6 mm: the length is along the pin, and shorter than the width."""
    pair = CrossedCylinders(20e-3, 6e-3)
    assert float(pair.implied_width(4e-3)) == pytest.approx(
        2 * math.sqrt(40e-3 * 0.343146e-3), rel=5e-3, abs=0
    )
    assert float(pair.scar_depth(4e-3)) == pytest.approx(6e-3 - math.sqrt(36e-6 - 4e-6), rel=1e-12, abs=0)


@pytest.mark.parametrize(
    ("pair", "call", "length"),
    [
        (CrossedCylinders(6e-3, 20e-3), "scar_depth", 41e-3),
        (CrossedCylinders(6e-3, 20e-3), "scar_depth", -1e-3),
        (CrossedCylinders(6e-3, 20e-3), "implied_width", 29e-3),
        (CrossedCylinders(6e-3, 20e-3), "wear_volume", 37e-3),
        (CrossedCylinders(6e-3, 20e-3, 1.0), "wear_volume", 60e-3),
        (BallOnDisc(3e-3), "wear_volume", 6.1e-3),
        (BlockOnRing(20e-3, 6e-3), "wear_volume", 41e-3),
        (WornRing(6e-3, 20e-3, 1e-4), "wear_volume", 29e-3),
    ],
)
def test_impossible_scars_are_refused(pair: Geometry, call: str, length: float) -> None:
    with pytest.raises(ValueError, match=r"must|gives|longer"):
        getattr(pair, call)(length)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ({"name": "pin-on-vee", "pin_diameter": 1e-3, "ring_diameter": 1e-3}, "crossed-cylinders"),
        ({"name": "crossed-cylinders", "ring_diameter": 1e-3}, "pin_diameter"),
        ({"name": "block-on-ring", "ring_diameter": 1e-3}, "ring_width"),
        ({"name": "crossed-cylinders", "pin_diameter": 0.0, "ring_diameter": 1e-3}, "pin_radius"),
        (
            {"name": "crossed-cylinders", "pin_diameter": 1e-3, "ring_diameter": 1e-3, "crossing_angle": 0.0},
            "angle",
        ),
        (
            {"name": "worn-ring", "pin_diameter": 1e-3, "ring_diameter": 2e-3, "ring_groove_depth": 1e-3},
            "groove",
        ),
    ],
)
def test_impossible_geometries_are_refused(arguments: dict[str, object], word: str) -> None:
    with pytest.raises(ValueError, match=word):
        make_geometry(**arguments)  # type: ignore[arg-type]


class TestWornRing:
    """The pin on a ring that has worn as well."""

    def test_no_groove_is_crossed_cylinders(self) -> None:
        """The volume comes from slices across the track here, from slices along the pin there."""
        lengths = np.array([0.1e-3, 2e-3, 6e-3, 10e-3, 20e-3])
        worn, fresh = WornRing(6e-3, 20e-3, 0.0), CrossedCylinders(6e-3, 20e-3)
        assert worn.wear_volume(lengths) == pytest.approx(fresh.wear_volume(lengths), rel=1e-13, abs=0)
        assert worn.implied_width(lengths) == pytest.approx(fresh.implied_width(lengths), rel=1e-13, abs=0)
        assert (worn.ring_volume(lengths) == 0).all()

    def test_both_volumes_by_a_grid(self) -> None:
        """Independent route: the worn surfaces on a grid, the ring's loss all the way round."""
        rp, rr, groove, length = 6e-3, 20e-3, 60e-6, 5e-3
        worn = WornRing(rp, rr, groove)
        h = float(worn.scar_depth(length))
        approach, width = h + groove, float(worn.implied_width(length))
        y = (np.arange(1500) + 0.5) / 1500 * 0.5 * width
        x = (np.arange(1500) + 0.5) / 1500 * 0.5 * length * 1.2
        pin = rp - np.sqrt(rp**2 - y**2)
        track = groove / approach * (approach - pin)
        ring_top = approach - rr + np.sqrt((rr - track) ** 2 - x[:, None] ** 2)
        lost = np.maximum(ring_top - pin, 0.0).sum() * 4 * (x[1] - x[0]) * (y[1] - y[0])
        ring = (np.pi * (rr**2 - (rr - track) ** 2)).sum() * 2 * (y[1] - y[0])
        assert float(worn.wear_volume(length)) == pytest.approx(lost, rel=1e-5, abs=0)
        assert float(worn.ring_volume(length)) == pytest.approx(ring, rel=1e-5, abs=0)


def test_worn_ring_under_a_block_cuts_with_its_smaller_radius() -> None:
    assert float(BlockOnRing(20e-3, 6e-3, 1e-3).wear_volume(4e-3)) == float(
        BlockOnRing(19e-3, 6e-3).wear_volume(4e-3)
    )
