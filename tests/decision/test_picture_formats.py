"""One picture in every form that cameras and microscopes save: read as the same greys, or refused in a line.

The forms are written by Pillow and tifffile; the orientations are those of Exif (JEITA CP-3451).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from pinscar.decision.media import read_picture
from pinscar.errors import InputError

ROWS, COLUMNS = np.mgrid[0:90, 0:120]
GREY = (40 + 120 * COLUMNS / 119 + 60 * np.exp(-((ROWS - 30) ** 2 + (COLUMNS - 50) ** 2) / 300)).astype(
    np.uint8
)
"""No symmetry: each turn of it can be told from the others."""
PICTURE = Image.fromarray(GREY).convert("RGB")
SIXTEEN = GREY.astype(np.uint16) * 257
TURNS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def _with_a_small_copy(path: Path) -> None:
    with tifffile.TiffWriter(path) as writer:
        writer.write(np.asarray(PICTURE), photometric="rgb")
        writer.write(np.asarray(PICTURE.resize((60, 45))), photometric="rgb", subfiletype=1)


SAVED: dict[str, Callable[[Path], object]] = {
    "inks.jpg": lambda path: PICTURE.convert("CMYK").save(path, quality=95),
    "inks.tif": lambda path: PICTURE.convert("CMYK").save(path),
    "sixteen_bits.png": lambda path: Image.fromarray(SIXTEEN).save(path),
    "sixteen_bits.tif": lambda path: Image.fromarray(SIXTEEN).save(path),
    "sixteen_bits_other_end.tif": lambda path: tifffile.imwrite(path, SIXTEEN, byteorder=">"),
    "sixteen_bits_in_32.tif": lambda path: tifffile.imwrite(path, SIXTEEN.astype(np.int32)),
    "sixteen_bits_of_colour.tif": lambda path: tifffile.imwrite(
        path, np.asarray(PICTURE).astype(np.uint16) * 257, photometric="rgb"
    ),
    "planes.tif": lambda path: tifffile.imwrite(
        path, np.moveaxis(np.asarray(PICTURE), 2, 0).copy(), photometric="rgb", planarconfig="separate"
    ),
    "large_offsets.tif": lambda path: tifffile.imwrite(
        path, np.asarray(PICTURE), photometric="rgb", bigtiff=True
    ),
    "tiles.tif": lambda path: tifffile.imwrite(path, np.asarray(PICTURE), photometric="rgb", tile=(64, 64)),
    "white_is_zero.tif": lambda path: tifffile.imwrite(path, 255 - GREY, photometric="miniswhite"),
    "lempel.tif": lambda path: PICTURE.save(path, compression="tiff_lzw"),
    "as_jpeg.tif": lambda path: PICTURE.save(path, compression="jpeg", quality=95),
    "palette.png": lambda path: PICTURE.quantize(256).save(path),
    "grey_opaque.png": lambda path: PICTURE.convert("LA").save(path),
    "colour_opaque.png": lambda path: PICTURE.convert("RGBA").save(path),
    "step_by_step.jpg": lambda path: PICTURE.save(path, progressive=True, quality=95),
    "with_a_preview.jpg": lambda path: PICTURE.save(
        path, format="MPO", save_all=True, quality=95, append_images=[PICTURE.resize((60, 45))]
    ),
    "with_a_small_copy.tif": _with_a_small_copy,
}


def _see_through(path: Path, palette: bool = False) -> None:
    if palette:
        return PICTURE.quantize(255).save(path, transparency=0)
    pixels = np.asarray(PICTURE.convert("RGBA")).copy()
    pixels[:10, :, 3] = 0
    return Image.fromarray(pixels).save(path)


REFUSED: dict[str, tuple[Callable[[Path], object], str]] = {
    "pages.tif": (
        lambda path: PICTURE.save(path, save_all=True, append_images=[PICTURE.rotate(180)]),
        "the file holds 2 pictures; save the one to be measured by itself",
    ),
    "moving.png": (
        lambda path: PICTURE.save(path, save_all=True, append_images=[PICTURE.rotate(180)]),
        "the file holds 2 pictures",
    ),
    "holes.png": (_see_through, "parts of the picture are transparent"),
    "hole_of_a_palette.png": (lambda path: _see_through(path, palette=True), "parts of the picture"),
    "fractions.tif": (
        lambda path: tifffile.imwrite(path, (GREY / 255).astype(np.float32)),
        "save it with 8 or 16 bits per channel",
    ),
    "thirty_two_bits.tif": (
        lambda path: tifffile.imwrite(path, SIXTEEN.astype(np.uint32) * 65536),
        "save it with 8 or 16 bits per channel",
    ),
    "other_kind.png": (lambda path: PICTURE.save(path, format="WEBP"), "save it again as PNG, JPEG or TIFF"),
}


def brightness(pixels: np.ndarray) -> np.ndarray:
    """Give greys of 0 to 255, as ITU-R BT.601 weighs colours."""
    greys = pixels.astype(float) / (257 if pixels.dtype == np.uint16 else 1)
    return greys if greys.ndim == 2 else greys[..., :3] @ [0.299, 0.587, 0.114]


@pytest.mark.parametrize("name", SAVED)
def test_every_form_of_a_picture_gives_the_same_greys(name: str, tmp_path: Path) -> None:
    SAVED[name](tmp_path / name)
    read = read_picture(tmp_path / name)
    assert read.shape[:2] == GREY.shape
    assert read.ndim == 2 or read.shape[2] == 3
    # JPEG and fewer colours cost a grey level or two
    assert np.abs(brightness(read) - GREY).mean() < 1.5
    assert np.abs(brightness(read) - GREY).max() < 12


@pytest.mark.parametrize("ending", ["jpg", "png", "tif"])
@pytest.mark.parametrize("turn", TURNS)
def test_a_camera_held_any_way_gives_the_same_picture(turn: int, ending: str, tmp_path: Path) -> None:
    how = TURNS[turn]
    note = Image.Exif()
    note[274] = turn
    turned = PICTURE if how is None else PICTURE.transpose(how)
    turned.save(tmp_path / f"turned.{ending}", exif=note, **({"quality": 95} if ending == "jpg" else {}))
    read = brightness(read_picture(tmp_path / f"turned.{ending}"))
    assert read.shape == GREY.shape
    assert np.abs(read - GREY).mean() < 1.0


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_single_picture_of_greys_is_refused_in_one_line(name: str, tmp_path: Path) -> None:
    make, words = REFUSED[name]
    make(tmp_path / name)
    with pytest.raises(InputError, match=words) as caught:
        read_picture(tmp_path / name)
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize("name", ["step_by_step.jpg", "sixteen_bits.tif", "tiles.tif", "palette.png"])
@pytest.mark.parametrize("part", [0.02, 0.2, 0.5, 0.8])
def test_a_file_that_was_cut_off_is_refused_in_one_line(name: str, part: float, tmp_path: Path) -> None:
    SAVED[name](tmp_path / name)
    whole = (tmp_path / name).read_bytes()
    (tmp_path / name).write_bytes(whole[: int(part * len(whole))])
    with pytest.raises(InputError, match="can't be read as a picture") as caught:
        read_picture(tmp_path / name)
    assert len(str(caught.value).splitlines()) == 1
