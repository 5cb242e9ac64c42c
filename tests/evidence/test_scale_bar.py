"""Scale bars drawn on micrographs are read to a point of the picture; what is no bar is refused."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from pinscar.decision.media import read_picture
from pinscar.evidence.scale_bar import read_scale_bar
from pinscar.evidence.scar_image import measure_scar
from pinscar.page.style import LENGTHS_MM
from pinscar.seen.pictures import overlay

DEMO = Path(__file__).resolve().parents[2] / "data_demo"
INKS = {"white": (255, 255, 255), "black": (0, 0, 0), "red": (255, 0, 0), "yellow": (255, 255, 0)}
MM = 1e-3


def with_bar(under, long, thick=4, at=(0.75, 0.92), ink="white", box=None, ticks=0, label="", below=False):
    """Draw a bar of `long` points with its middle at a share of the picture's width and height."""
    picture = Image.fromarray(under).convert("RGB")
    draw = ImageDraw.Draw(picture)
    x = round(at[0] * picture.width - long / 2)
    y = round(at[1] * picture.height)
    font = ImageFont.load_default(size=18)
    if box:
        up, down = (0, 30) if below else (30, 0)
        draw.rectangle((x - 9, y - 9 - up, x + long + 8, y + thick + 8 + down), fill=INKS[box])
    draw.rectangle((x, y, x + long - 1, y + thick - 1), fill=INKS[ink])
    for left in (x, x + long - thick) if ticks else ():
        draw.rectangle((left, y - ticks, left + thick - 1, y + thick - 1 + ticks), fill=INKS[ink])
    place, anchor = ((x, y + thick + 3 + ticks), "la") if below else ((x, y - 4 - ticks), "lb")
    draw.text(place, label, anchor=anchor, font=font, fill=INKS[ink])
    return np.asarray(picture)


def as_jpeg(pixels, quality):
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=quality)
    return np.asarray(Image.open(stream))


def plain(shape=(300, 400), level=90):
    return np.full(shape, level, dtype=np.uint8)


@pytest.fixture(scope="module")
def micrograph(render):
    """One rendered micrograph with uneven light, dirt, fibres and noise; no glare where the bars are."""
    look = render.Look(light=0.4, curvature=0.5, film=2, glare=0, debris=20, fibres=2)
    return render.render(look, np.random.default_rng(7))


STYLES = {
    "white": {},
    "black": {"ink": "black"},
    "red, of the brightness around it": {"ink": "red"},
    "yellow, thin": {"ink": "yellow", "thick": 2},
    "a line of one point": {"thick": 1, "ink": "black"},
    "thick": {"thick": 12},
    "short": {"long": 37},
    "long": {"long": 330, "at": (0.5, 0.9)},
    "over the scar": {"at": (0.5, 0.5)},
    "in the upper corner": {"at": (0.2, 0.1), "label": "500 um", "below": True},
    "with a label": {"label": "0.5 mm"},
    "black on a white box": {"ink": "black", "box": "white", "label": "1 mm"},
    "white on a black box": {"box": "black", "label": "l I | 1 mm", "below": True, "at": (0.75, 0.85)},
}


@pytest.mark.parametrize("style", STYLES)
def test_the_drawn_bar_is_found_to_a_fraction_of_a_point(micrograph, style):
    words = {"long": 97} | STYLES[style]
    reading = read_scale_bar(with_bar(micrograph, **words), 0.5 * MM)
    # Without compression or noise of its own a bar drawn to whole points is read as drawn.
    assert reading.points == pytest.approx(words["long"], abs=0.25)
    assert reading.scale == pytest.approx(0.5 * MM / words["long"], rel=0.01)
    assert reading.relative_uncertainty == pytest.approx(np.sqrt(1 / 6) / words["long"], rel=0.5)
    assert abs(reading.angle) < 0.01
    columns = (
        round(words.get("at", (0.75,))[0] * 480 - words["long"] / 2) - 0.5 + np.array([0, words["long"]])
    )
    # A quarter of a point.
    assert reading.ends[:, 0] == pytest.approx(columns, abs=0.25)


@pytest.mark.parametrize(("quality", "ink"), [(95, "white"), (80, "black"), (60, "white"), (75, "red")])
def test_compression_moves_an_end_by_less_than_a_point(micrograph, quality, ink):
    reading = read_scale_bar(as_jpeg(with_bar(micrograph, 120, 5, ink=ink, label="1 mm"), quality), MM)
    # Blurred bar: under a point.
    assert reading.points == pytest.approx(120, abs=0.8)


def test_noise_on_the_bar_is_averaged_out(micrograph):
    drawn = with_bar(micrograph, 120, 6).astype(float)
    noisy = drawn + np.random.default_rng(3).normal(0, 8, drawn.shape)
    reading = read_scale_bar(np.clip(noisy, 0, 255).astype(np.uint8), MM)
    # Half a point.
    assert reading.points == pytest.approx(120, abs=0.5)


@pytest.mark.parametrize("share", [0.63, 0.81, 1.37, 2.0])
def test_a_picture_made_smaller_or_larger_keeps_its_scale(micrograph, share):
    drawn = Image.fromarray(with_bar(micrograph, 151, 6, label="1 mm"))
    size = round(drawn.width * share), round(drawn.height * share)
    changed = np.asarray(drawn.resize(size, Image.Resampling.LANCZOS))
    reading = read_scale_bar(changed, MM)
    truth = 151 * size[0] / drawn.width
    # Half a point.
    assert reading.points == pytest.approx(truth, abs=0.5)


@pytest.mark.parametrize("degrees", [-0.8, -0.3, 0.4, 0.9])
def test_a_bar_slightly_aslant_is_read_with_its_angle(degrees):
    # Drawn eight times as fine and averaged down, so that its sides fall between points.
    fine = Image.new("L", (400 * 8, 300 * 8), 90)
    turn = np.radians(degrees)
    corners = np.array([[-70.0, -3.0], [70.0, -3.0], [70.0, 3.0], [-70.0, 3.0]])
    turned = corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    ImageDraw.Draw(fine).polygon([(8 * (x + 250), 8 * (y + 250)) for x, y in turned], fill=255)
    reading = read_scale_bar(np.asarray(fine.resize((400, 300), Image.Resampling.BOX)), MM)
    # Under half a point; the angle to that over the bar's length.
    assert reading.points == pytest.approx(140, abs=0.4)
    assert np.degrees(reading.angle) == pytest.approx(degrees, abs=0.06)


def test_an_upright_bar_is_the_lying_one_turned(micrograph):
    drawn = with_bar(micrograph, 130, 5)
    lying, upright = read_scale_bar(drawn, MM), read_scale_bar(drawn.transpose(1, 0, 2), MM)
    assert upright.points == pytest.approx(lying.points, rel=1e-9)
    assert upright.ends == pytest.approx(lying.ends[:, ::-1], rel=1e-9)
    assert upright.angle == pytest.approx(np.pi / 2 - lying.angle)


def test_end_ticks_are_read_between_their_middles_and_told(micrograph):
    reading = read_scale_bar(with_bar(micrograph, 120, 3, ticks=7), MM)
    # A quarter of a point.
    assert reading.points == pytest.approx(117, abs=0.25)
    assert reading.ticks == 3
    # The length may count from the ticks' outer or inner edges: both lie within two standard uncertainties.
    assert 2 * reading.relative_uncertainty * reading.points > 3
    assert any("end ticks" in warning for warning in reading.warnings)


def test_the_bar_of_the_overlay_gives_the_scale_that_drew_it(render):
    for seed, scale in ((1, 14e-6), (2, 3.3e-6)):
        picture = render.render(render.Look(), np.random.default_rng(seed))
        drawn = overlay(picture, measure_scar(picture, scale), scale)
        bar = max(one for one in LENGTHS_MM if one <= 0.3 * picture.shape[1] * scale / MM)
        # Pillow fills the last point too: up to a point and a half longer than asked for.
        assert read_scale_bar(drawn, bar * MM).points == pytest.approx(bar * MM / scale, abs=1.5)


def test_of_the_same_length_lying_and_upright_are_two_bars():
    drawn = Image.fromarray(with_bar(plain(), 80))
    ImageDraw.Draw(drawn).rectangle((40, 100, 43, 179), fill="white")
    with pytest.raises(ValueError, match=r"2 bars could be meant.* 80 at column 42, row 140"):
        read_scale_bar(np.asarray(drawn), MM)


def test_bars_that_differ_or_lie_in_a_row_are_refused():
    two = with_bar(with_bar(plain(), 80), 120, at=(0.3, 0.2))
    with pytest.raises(ValueError, match=r"2 bars could be meant.*120"):
        read_scale_bar(two, MM)
    row = with_bar(with_bar(plain(), 60, at=(0.3, 0.9)), 60, at=(0.6, 0.9))
    with pytest.raises(ValueError, match="2 bars could be meant"):
        read_scale_bar(row, MM)


def banner():
    picture = plain()
    picture[270:, :] = 255
    return picture


def framed():
    picture = Image.fromarray(plain())
    ImageDraw.Draw(picture).rectangle((250, 200, 390, 214), outline=255, width=2)
    return np.asarray(picture)


def lettered():
    picture = Image.fromarray(plain())
    for size, row in ((14, 40), (40, 80), (70, 150)):
        ImageDraw.Draw(picture).text(
            (30, row), "lI1 0.5 mm", font=ImageFont.load_default(size=size), fill=255
        )
    return np.asarray(picture)


def steep():
    picture = Image.fromarray(plain())
    ImageDraw.Draw(picture).line((200, 200, 350, 212), fill=255, width=4)
    return np.asarray(picture)


def scratched():
    x = np.arange(400.0)
    fading = np.exp(-(((x - 200) / 60) ** 2))
    picture = plain().astype(float)
    picture[200:203] += 150 * fading
    return picture.astype(np.uint8)


@pytest.mark.parametrize("picture", [plain, banner, framed, lettered, steep, scratched])
def test_borders_frames_letters_and_scratches_are_no_bar(picture):
    with pytest.raises(ValueError, match="no scale bar is seen"):
        read_scale_bar(picture(), MM)


@pytest.mark.parametrize("standing", [False, True])
@pytest.mark.parametrize(("row", "column"), [(40, 30), (800, 700), (1540, 1800)])
def test_a_bar_anywhere_on_a_large_picture_is_found(row, column, standing):
    # so large that bars are sought on blocks of its points first, and then only where one may lie
    picture = np.random.default_rng(2).normal(110, 6, (1600, 2203)).clip(0, 255).astype(np.uint8)
    picture[row : row + 9, column : column + 351] = 255
    found = read_scale_bar(picture.T if standing else picture, MM)
    assert found.points == pytest.approx(351, abs=0.1)


def test_a_graticule_is_no_bar():
    lines = np.where(np.arange(400) % 25 < 3, 30, 200).astype(np.uint8) * np.ones((300, 1), dtype=np.uint8)
    lines[:60] = lines[-60:] = 200
    with pytest.raises(ValueError, match="bars could be meant"):
        read_scale_bar(lines, MM)


def test_no_demo_micrograph_yields_a_bar():
    paths = sorted(DEMO.glob("*/micrographs/*.jpg"))
    assert len(paths) >= 10
    for path in paths:
        with pytest.raises(ValueError, match="no scale bar is seen"):
            read_scale_bar(read_picture(path), MM)


def test_no_rendered_micrograph_yields_a_bar(render):
    for seed in range(2000, 2060):
        with pytest.raises(ValueError, match="no scale bar is seen"):
            read_scale_bar(render.varied(seed)[0], MM)


@pytest.mark.parametrize("length", [0.0, -1.0, np.nan, np.inf])
def test_a_length_that_is_none_is_refused(length):
    with pytest.raises(ValueError, match="length of the bar"):
        read_scale_bar(with_bar(plain(), 80), length)


@pytest.mark.slow
def test_two_hundred_varied_bars_are_read_within_their_uncertainty_or_refused(render):
    rng = np.random.default_rng(11)
    off, refused = [], 0
    for seed in range(3000, 3200):
        under = render.varied(seed)[0]
        words = {
            "long": int(rng.uniform(40, 190)),
            "thick": int(rng.integers(2, 9)),
            "at": tuple(rng.uniform((0.25, 0.15), (0.75, 0.9))),
            "ink": str(rng.choice(list(INKS))),
            "label": str(rng.choice(["", "0.5 mm", "500 um", "1 mm"])),
            "below": bool(rng.random() < 0.3),
        }
        drawn = as_jpeg(with_bar(under, **words), int(rng.choice([95, 85, 70])))
        try:
            reading = read_scale_bar(drawn, MM)
        except ValueError:
            refused += 1
            continue
        off.append((reading.points - words["long"]) / (reading.relative_uncertainty * reading.points))
    assert refused <= 20
    assert np.abs(off).max() < 3


def test_the_uncertainty_of_ticks_is_that_of_their_whole_width():
    reading = read_scale_bar(with_bar(plain(), 120, 3, ticks=7), MM)
    # each end rounded to a point, 1/12 each, and the length anywhere within +-3 points: 3 / sqrt(3)
    assert reading.relative_uncertainty * reading.points == pytest.approx(np.sqrt(1 / 6 + 3.0), rel=1e-3)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_point_that_an_end_covers_in_part_counts_by_that_part(share):
    picture = np.full((120, 160), 0.3)
    picture[100:104, 20:80] = 1.0
    picture[100:104, 80] = 0.3 + 0.7 * share
    assert read_scale_bar(picture, MM).points == pytest.approx(60.0 + share, abs=0.01 * share)


UPRIGHT_AND_LEVEL = {
    "level, white": (380, 100, 6, 150, 1.0),
    "level, black": (380, 100, 6, 150, 0.0),
    "upright, white": (120, 400, 150, 5, 1.0),
    "upright, black": (120, 400, 150, 5, 0.0),
}


@pytest.mark.parametrize("look", UPRIGHT_AND_LEVEL)
@pytest.mark.parametrize("seed", range(4))
def test_a_bar_that_scratches_run_into_is_read(scratched_bars, look, seed):
    picture = scratched_bars.scratched_bars(seed, [UPRIGHT_AND_LEVEL[look]], depth=0.025)
    # A third of a point.
    assert read_scale_bar(picture, MM).points == pytest.approx(150, abs=0.35)


@pytest.mark.parametrize("other", UPRIGHT_AND_LEVEL)
@pytest.mark.parametrize("seed", range(10, 13))
def test_of_two_bars_among_scratches_none_is_read(scratched_bars, other, seed):
    bars = [(60, 60, 7, 110, 1.0), UPRIGHT_AND_LEVEL[other]]
    with pytest.raises(ValueError, match="2 bars could be meant") as told:
        read_scale_bar(scratched_bars.scratched_bars(seed, bars, depth=0.035), MM)
    # Where both are stands in the line.
    assert str(told.value).count(" at column ") == 2


@pytest.mark.parametrize("seed", range(20, 30))
def test_scratches_alone_are_no_bar(scratched_bars, seed):
    turn = np.random.default_rng(seed).uniform(-0.02, 0.6)
    with pytest.raises(ValueError, match="no scale bar is seen"):
        read_scale_bar(scratched_bars.scratched_bars(seed, [], turn=turn, depth=0.035), MM)


def test_the_line_under_a_word_is_no_bar():
    picture = Image.fromarray(plain()).convert("RGB")
    draw, font = ImageDraw.Draw(picture), ImageFont.load_default(size=26)
    left, _, right, bottom = draw.textbbox((60, 100), "before cleaning", font=font)
    draw.text((60, 100), "before cleaning", font=font, fill="white")
    draw.rectangle((left, bottom + 5, right, bottom + 7), fill="white")
    with pytest.raises(ValueError, match="no scale bar is seen"):
        read_scale_bar(np.asarray(picture), MM)


@pytest.mark.parametrize("other", UPRIGHT_AND_LEVEL)
@pytest.mark.parametrize("seed", range(10, 16))
@pytest.mark.parametrize("depth", [0.035, 0.05])
def test_of_two_bars_none_is_read_however_strong_the_scratches(scratched_bars, other, seed, depth):
    bars = [(60, 60, 7, 110, 1.0), UPRIGHT_AND_LEVEL[other]]
    # Where scratches hide the ends of both, it may be that none is told as a bar.
    with pytest.raises(ValueError, match=r"bars could be meant|no scale bar is seen"):
        read_scale_bar(scratched_bars.scratched_bars(seed, bars, depth=depth), MM)


def test_of_two_bars_in_two_units_on_one_plate_none_is_read():
    drawn = Image.fromarray(plain())
    pen = ImageDraw.Draw(drawn)
    pen.rectangle((20, 220, 220, 285), fill=255)
    pen.rectangle((30, 230, 139, 235), fill=0)
    pen.rectangle((30, 250, 104, 255), fill=0)
    with pytest.raises(ValueError, match="2 bars could be meant"):
        read_scale_bar(np.asarray(drawn), MM)


def test_a_faint_second_bar_is_a_second_bar():
    """A black bar on dark ground beside a white one."""
    drawn = Image.fromarray(with_bar(plain(level=50), 120))
    ImageDraw.Draw(drawn).rectangle((60, 60, 139, 63), fill="black")
    with pytest.raises(ValueError, match="2 bars could be meant"):
        read_scale_bar(np.asarray(drawn), MM)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("ink", [0.0, 1.0])
def test_a_drawn_box_is_no_bar(scratched_bars, seed, ink):
    rng = np.random.default_rng([62, seed])
    high, wide, thick = (int(one) for one in rng.integers((40, 90, 2), (130, 240, 7)))
    row, column = (int(one) for one in rng.integers((30, 30), (300, 350)))
    picture = scratched_bars.scratched_bars(seed, [], depth=0.02)
    for rows, columns in (
        (slice(row, row + high), slice(column, column + thick)),
        (slice(row, row + high), slice(column + wide - thick, column + wide)),
        (slice(row, row + thick), slice(column, column + wide)),
        (slice(row + high - thick, row + high), slice(column, column + wide)),
    ):
        picture[rows, columns] = round(255 * ink)
    with pytest.raises(ValueError, match="no scale bar is seen"):
        read_scale_bar(picture, MM)


@pytest.mark.parametrize("seed", range(8))
def test_a_lone_straight_scratch_is_no_bar(seed):
    """Bright, nearly level, its ends fading within three points or more: shorter ends are those of a bar."""
    rng = np.random.default_rng([63, seed])
    rows, columns = np.indices((480, 640), dtype=float)
    turn = rng.normal(0, 0.008)
    along = (columns - 300) * np.cos(turn) + (rows - 200) * np.sin(turn)
    across = (rows - 200) * np.cos(turn) - (columns - 300) * np.sin(turn)
    seen = np.clip(1.5 + 0.5 - np.abs(across), 0, 1) * np.clip((60 - np.abs(along)) / rng.uniform(3, 6), 0, 1)
    picture = 0.4 * (1 - 0.8 * seen) + 0.72 * seen + rng.normal(0, 0.01, rows.shape)
    with pytest.raises(ValueError, match="no scale bar is seen"):
        read_scale_bar(np.rint(255 * np.clip(picture, 0, 1)).astype(np.uint8), MM)


@pytest.mark.parametrize("standing", [False, True])
@pytest.mark.parametrize("ink", [(255, 255, 0), (255, 30, 30), (30, 255, 30), (0, 255, 255), (255, 150, 0)])
def test_coloured_bars_are_read_lying_and_upright(micrograph, ink, standing):
    picture = np.asarray(Image.fromarray(micrograph).convert("RGB")).copy()
    picture[300:305, 90:221] = ink
    found = read_scale_bar(picture.transpose(1, 0, 2) if standing else picture, MM)
    # A quarter of a point.
    assert found.points == pytest.approx(131, abs=0.25)
