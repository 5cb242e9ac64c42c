"""The scale read from drawn graticules, with tilt and unequal axes told."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from pinscar.evidence.graticule import LONGEST, read_graticule

PITCH = 0.1e-3


def lines(pitch, angle=0.1, dark=True, cross=None, tilt=0.0, noise=0.02, seed=1):
    y, x = np.mgrid[:300.0, :400.0]
    rng = np.random.default_rng(seed)
    picture = np.full(x.shape, 0.75 if dark else 0.2) + 0.0003 * (x - 200)
    for turn, step in ((angle, pitch), (angle + np.pi / 2, cross)):
        if step is None:
            continue
        place = (x - 200) * np.cos(turn) + (y - 150) * np.sin(turn)
        place = place + tilt * place**2 / 400
        line = np.exp(-((((place + step / 2) % step - step / 2) / 1.8) ** 2))
        picture += (-0.5 if dark else 0.6) * line
    return np.clip(picture + rng.normal(0, noise, x.shape), 0, 1)


@pytest.mark.parametrize("dark", [True, False])
@pytest.mark.parametrize(("pitch", "angle"), [(18.3, 0.0), (31.7, 0.13), (24.0, 1.4)])
def test_the_drawn_pitch_is_found(pitch, angle, dark):
    reading = read_graticule(lines(pitch, angle, dark), PITCH)
    assert reading.scale == pytest.approx(PITCH / pitch, rel=1e-3)
    assert reading.scale == pytest.approx(PITCH / pitch, abs=6 * reading.relative_uncertainty * reading.scale)
    assert reading.relative_uncertainty < 1e-3
    assert reading.warnings == ()
    assert reading.across is None


def test_a_square_grid_gives_both_axes():
    reading = read_graticule(lines(25.0, 0.05, cross=25.0), PITCH)
    assert reading.across == pytest.approx(reading.scale, rel=2e-3)
    assert reading.warnings == ()


def test_unequal_axes_are_warned_of():
    reading = read_graticule(lines(25.0, 0.05, cross=26.0), PITCH)
    assert any("directions differ by" in warning for warning in reading.warnings)


def test_a_pitch_that_changes_over_the_picture_is_warned_of():
    reading = read_graticule(lines(20.0, 0.0, tilt=0.02), PITCH)
    assert any("over the picture" in warning for warning in reading.warnings)


def tilted_grid(degrees, pitch=24.0, away=1500.0):
    """A square grid seen by a pinhole `away` points off, turned about the upright line through its middle."""
    y, x = np.mgrid[:300.0, :400.0]
    u, v, turn = x - 200, y - 150, np.radians(degrees)
    # The ray through a point of the picture meets the tilted plane at these places.
    along = u * away / (away * np.cos(turn) - u * np.sin(turn))
    across = v * (1 + along * np.sin(turn) / away)
    lines = [np.exp(-((((place + pitch / 2) % pitch - pitch / 2) / 1.8) ** 2)) for place in (along, across)]
    noise = np.random.default_rng(5).normal(0, 0.01, x.shape)
    return np.clip(0.8 - 0.5 * np.maximum(*lines) + noise, 0, 1)


def test_a_level_grid_is_not_warned_of_a_tilted_one_is():
    assert read_graticule(tilted_grid(0.0), PITCH).warnings == ()
    told = " ".join(read_graticule(tilted_grid(10.0), PITCH).warnings)
    # The near side of the plane looms, and the turned direction is shortened by its cosine, 1.5 %.
    assert "over the picture: tilted" in told
    assert "directions differ by" in told


def test_noise_is_no_graticule():
    with pytest.raises(ValueError, match="lines"):
        read_graticule(np.random.default_rng(1).random((200, 300)), PITCH)


def test_a_large_picture_is_averaged_over_squares_first():
    y, x = np.mgrid[:1500.0, :2100.0]
    assert x.shape[1] > LONGEST
    for angle in (0.11, 1.5):
        place = x * np.cos(angle) + y * np.sin(angle)
        picture = 0.75 - 0.5 * np.exp(-((((place + 30) % 60.7 - 30) / 3) ** 2))
        reading = read_graticule(picture + np.random.default_rng(1).normal(0, 0.02, x.shape), PITCH)
        assert reading.scale == pytest.approx(PITCH / 60.7, rel=2e-5)
        assert reading.angle == pytest.approx(angle, abs=1e-4)


@pytest.mark.parametrize("seed", range(3))
def test_a_page_of_text_is_no_ruler(seed):
    rng = np.random.default_rng(seed)
    page = Image.new("L", (900, 700), 245)
    pen, font = ImageDraw.Draw(page), ImageFont.load_default(size=15 + 4 * seed)
    for row in range(20, 680, 22 + 5 * seed):
        words = [
            "".join(rng.choice(list("abcdefghijklmnopqrstuvwxyz"), rng.integers(2, 9))) for _ in range(14)
        ]
        pen.text((30, row), " ".join(words), font=font, fill=20)
    with pytest.raises(ValueError, match="lines"):
        read_graticule(np.asarray(page), 1e-4)


def test_the_uncertainty_holds_for_turned_rulers_and_a_lens_that_distorts():
    rng = np.random.default_rng(7)
    y, x = np.mgrid[0:480, 0:640] - np.array([240.0, 320.0])[:, None, None]
    for distorted in (0.0, 0.004):
        for _ in range(4):
            angle, pitch = np.radians(rng.uniform(-30, 30)), rng.uniform(18.0, 40.0)
            across = (x * np.cos(angle) + y * np.sin(angle)) * (
                1.0 + 0.5 * distorted * (x**2 + y**2) / 320**2
            )
            line = np.exp(-(((((across / pitch + 0.5) % 1.0) - 0.5) * pitch / 1.5) ** 2))
            found = read_graticule(np.clip(0.8 - 0.6 * line + rng.normal(0, 0.02, line.shape), 0, 1), 1e-4)
            assert abs(found.scale / (1e-4 / pitch) - 1.0) <= 2.5 * found.relative_uncertainty


def test_a_half_lit_ruler_is_read_from_the_part_that_is_seen():
    shown = lines(20.0, 0.02)
    shown[:, 220:] *= 0.04
    shown = np.clip(shown + np.random.default_rng(3).normal(0, 0.01, shown.shape), 0, 1)
    reading = read_graticule(shown, PITCH)
    # fewer lines than in the whole picture: a tenth of a per cent
    assert reading.scale == pytest.approx(PITCH / 20.0, rel=1e-3)
    assert any("dark or out of focus" in one for one in reading.warnings)


def test_rows_of_letters_set_close_are_no_ruler():
    rng = np.random.default_rng(4)
    page = Image.new("L", (900, 700), 245)
    pen, font = ImageDraw.Draw(page), ImageFont.load_default(size=28)
    for row in range(15, 690, 34):
        words = ["".join(rng.choice(list("minulrHIEAT|"), rng.integers(2, 9))) for _ in range(20)]
        pen.text((25, row), " ".join(words), font=font, fill=20)
    with pytest.raises(ValueError, match="lines"):
        read_graticule(np.asarray(page), 1e-4)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(("seed", "pitch"), [(0, 13.0), (1, 21.7), (2, 34.3)])
def test_short_lines_of_three_lengths_are_read_in_their_band(ruled, seed, pitch, upright):
    reading = read_graticule(ruled.ruler(seed, pitch, upright=upright), PITCH)
    assert reading.scale == pytest.approx(PITCH / pitch, rel=2e-3)
    assert reading.scale == pytest.approx(PITCH / pitch, abs=4 * reading.relative_uncertainty * reading.scale)


@pytest.mark.parametrize("seed", range(4))
def test_the_teeth_of_a_comb_are_no_ruler(ruled, seed):
    with pytest.raises(ValueError, match="lines"):
        read_graticule(ruled.comb(seed, 17.0 + 4 * seed, 0.05), PITCH)


@pytest.mark.parametrize("seed", range(3))
def test_rows_of_keys_are_no_ruler(ruled, seed):
    with pytest.raises(ValueError, match="lines"):
        read_graticule(ruled.keys(seed), PITCH)


def turned_ruler(turn, pitch, noise=0.01):
    """A ruler with lines of three lengths on a base line, turned by any angle, point by point."""
    y, x = np.mgrid[:600.0, :800.0] - np.array([300.0, 400.0])[:, None, None]
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    number = np.rint(u / pitch)
    long = np.where(number % 10 == 0, 96.0, np.where(number % 5 == 0, 68.0, 40.0))
    line = np.clip(1.6 - np.abs(u - number * pitch), 0, 1) * ((v > 0) & (v < long))
    shown = np.maximum(line, np.clip(1.6 - np.abs(v), 0, 1))
    return 0.8 - 0.6 * shown + np.random.default_rng(9).normal(0, noise, x.shape)


@pytest.mark.parametrize("turn", [0.0, 0.4, 1.1, 2.5])
@pytest.mark.parametrize("pitch", [12.7, 29.3, 55.1])
def test_a_ruler_of_three_lengths_is_read_at_any_angle(turn, pitch):
    reading = read_graticule(np.clip(turned_ruler(turn, pitch), 0, 1), PITCH)
    assert reading.scale == pytest.approx(PITCH / pitch, rel=5e-4)
    assert np.cos(reading.angle - turn) ** 2 == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_a_ruler_half_in_focus_is_read_from_its_sharp_part(seed):
    rng = np.random.default_rng([91, seed])
    pitch, half = rng.uniform(15.0, 40.0), rng.uniform(-40.0, 60.0)
    x = np.arange(640.0) - 320.0
    width = 1.5 + 0.35 * pitch * np.clip((x - half) / 100.0, 0, 1)
    off = ((x / pitch + 0.5) % 1.0 - 0.5) * pitch
    row = 0.8 - 0.6 * np.exp(-((off / width) ** 2)) * np.minimum(1.0, 2.0 / width)
    picture = np.clip(row + rng.normal(0, 0.02, (480, 640)), 0, 1)
    assert read_graticule(picture, PITCH).scale == pytest.approx(PITCH / pitch, rel=5e-4)


def test_a_ruler_under_half_light_is_not_shifted_by_where_the_light_ends():
    picture = np.clip(turned_ruler(0.3, 23.0), 0, 1)
    light = 0.04 + 0.96 / (1.0 + np.exp((np.arange(800.0) - 380.0) / 20.0))
    reading = read_graticule(picture * light, PITCH)
    assert reading.scale == pytest.approx(PITCH / 23.0, rel=5e-4)


def woven(seed, pitch, wander=0.05):
    """Cloth of threads that pass over and under each other and wander a little."""
    rng = np.random.default_rng([92, seed])
    y, x = np.mgrid[:480.0, :640.0]
    waves = rng.normal(0, wander / 2, (2, 4)), rng.uniform(0.01, 0.04, (2, 4)), rng.uniform(0, 6.3, (2, 4))
    u, v = x / pitch, y / pitch
    for size, step, phase in zip(*(one.T for one in waves), strict=True):
        u = u + size[0] * np.sin(step[0] * y + phase[0])
        v = v + size[1] * np.sin(step[1] * x + phase[1])
    over = (np.rint(u) + np.rint(v)) % 2 == 0
    first, second = (np.sqrt(np.clip(1 - ((one - np.rint(one)) / 0.18) ** 2, 0, 1)) for one in (u, v))
    return np.clip(0.1 + 0.7 * np.where(over & (first > 0), first, np.where(second > 0, second, first)), 0, 1)


def wall(seed, high):
    """Bricks in courses that are even to a point, of tones of their own, each course half a brick on."""
    rng = np.random.default_rng([93, seed])
    y, x = np.mgrid[:480, :640]
    course = (y / high).astype(int)
    place = x / (2.5 * high) + 0.5 * (course % 2)
    tone = rng.uniform(0.3, 0.5, (100, 100))[course, place.astype(int)]
    joint = (y - course * high < 3) | ((place - np.floor(place)) * 2.5 * high < 3)
    return np.clip(np.where(joint, 0.8, tone) + rng.normal(0, 0.01, x.shape), 0, 1)


def ruled_table(seed, apart):
    """A page of figures in rows, with a line over every fifth row."""
    rng = np.random.default_rng([94, seed])
    page = Image.new("L", (900, 800), 245)
    pen, font = ImageDraw.Draw(page), ImageFont.load_default(size=apart // 8)
    for number in range(5 * (760 // apart)):
        row = 20 + number * apart / 5
        for column in range(6):
            pen.text((40 + 140 * column, row + 3), f"{rng.uniform(0, 999):.1f}", font=font, fill=20)
        if number % 5 == 0:
            pen.line((40, row, 860, row), fill=20, width=2)
    return np.asarray(page)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("thing", [woven, wall, ruled_table])
def test_cloth_bricks_and_tables_are_no_rulers(thing, seed):
    size = {woven: 19.3, wall: 24.0, ruled_table: 110}[thing]
    with pytest.raises(ValueError, match="lines"):
        read_graticule(thing(seed, size + seed), PITCH)


def test_regular_shading_between_uneven_teeth_is_no_ruler():
    """A fence whose boards are uneven, on a rail that is shaded in even steps."""
    rng = np.random.default_rng(6)
    x = np.arange(800)
    place = x / 30.0
    picture = np.full((500, 800), 0.75)
    for number, off in enumerate(rng.normal(0, 3.6, 27)):
        middle = 30 * number + 15 + off
        picture[:, max(int(middle) - 7, 0) : max(int(middle) + 7, 0)] = 0.12
    picture[100:200] = 0.12 + 0.1 * (place - np.floor(place) - 0.5)
    with pytest.raises(ValueError, match="lines"):
        read_graticule(np.clip(picture + rng.normal(0, 0.01, picture.shape), 0, 1), PITCH)


@pytest.mark.parametrize("bend", [0.004, 0.012])
def test_a_lens_that_distorts_gives_the_mean_over_the_picture(bend):
    y, x = np.mgrid[:480.0, :640.0] - np.array([239.5, 319.5])[:, None, None]
    off = (x * (1.0 + bend * (x**2 + y**2) / 400.0**2) / 25.0 + 0.5) % 1.0 - 0.5
    picture = 0.8 - 0.6 * np.exp(-((off * 25.0 / 1.5) ** 2))
    picture = np.clip(picture + np.random.default_rng(2).normal(0, 0.02, x.shape), 0, 1)
    reading = read_graticule(picture, PITCH)
    # The mean of r^2 is a third of the half diagonal's square, 400^2; a length grows by 1 + 2 bend r^2.
    assert reading.scale == pytest.approx(PITCH / 25.0 * (1.0 + 2.0 / 3.0 * bend), rel=2e-4)
    assert reading.relative_uncertainty > 0.3 * bend
