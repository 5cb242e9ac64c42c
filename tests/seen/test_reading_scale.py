"""`pinscar graticule --bar` and `pinscar scar --bar`: the scale from a bar, its doubt in that of the scar."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pinscar.cli.main import run

PICTURE = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07" / "micrographs" / "c07-01.jpg"


@pytest.fixture(scope="module")
def barred(tmp_path_factory):
    """The demo's first micrograph, 18 um a point, with a bar of 2 mm: 111 points."""
    picture = Image.open(PICTURE).convert("RGB")
    ImageDraw.Draw(picture).rectangle((340, 330, 340 + 110, 334), fill="white")
    path = tmp_path_factory.mktemp("barred") / "scar.png"
    picture.save(path)
    return str(path)


def told(capsys, *words):
    assert run([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_graticule_reads_the_bar(barred, capsys):
    found = told(capsys, "graticule", barred, "--bar", "2 mm")
    assert found["scale_um_per_px"] == pytest.approx(2000 / 111, rel=1e-3)
    # The answer is told to a tenth of a point.
    assert found["bar_px"] == pytest.approx(111, abs=0.1)
    assert found["warnings"] == []
    assert run(["graticule", barred, "--bar", "2000um"]) == 0
    assert "scale 18.02 um/px (u 0.066, from placing both ends)" in capsys.readouterr().out


def test_the_doubt_of_the_bar_is_in_that_of_the_scar(barred, capsys):
    # On the bare picture the scale is exact; both scales differ by rounding the bar to whole points.
    by_bar = told(capsys, "scar", barred, "--bar", "2mm")
    share = by_bar["scale_u_um_per_px"] / by_bar["scale_um_per_px"]
    exact = told(capsys, "scar", barred, "--scale", f"{by_bar['scale_um_per_px']}um/px")
    assert by_bar["scale_from"] == "scale bar" and exact["scale_from"] == "typed"
    assert by_bar["scar_length_mm"] == pytest.approx(exact["scar_length_mm"], abs=2e-4)
    for name in ("length", "width"):
        added = share * by_bar[f"scar_{name}_mm"]
        assert by_bar[f"{name}_u_mm"] == pytest.approx(np.hypot(exact[f"{name}_u_mm"], added), abs=2e-4)
    same = told(capsys, "scar", barred, "--scale", "18um/px", "--scale-uncertainty", f"{100 * share} %")
    assert same["length_u_mm"] == pytest.approx(by_bar["length_u_mm"], rel=5e-3)
    assert same["length_u_mm"] > exact["length_u_mm"]
    assert exact["scale_u_um_per_px"] is None  # not stated, and not 0
    assert same["scale_u_um_per_px"] == pytest.approx(18.0 * share, rel=1e-3)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["graticule"], 2, "exactly one of --pitch and --bar; neither"),
        (["graticule", "--pitch", "1mm", "--bar", "1mm"], 2, "exactly one of --pitch and --bar; both"),
        (["scar"], 2, "exactly one of --scale and --bar; neither"),
        (["scar", "--scale", "18um/px", "--bar", "1mm"], 2, "exactly one of --scale and --bar; both"),
        (["scar", "--bar", "1mm", "--scale-uncertainty", "1 %"], 2, "the bar brings its own"),
        (["scar", "--scale", "18um/px", "--scale-uncertainty", "0.5"], 2, "write 0.5 % or 50 %"),
        (["scar", "--scale", "18um/px", "--scale-uncertainty", "120 %"], 2, "from 0 to 100 %"),
        (["scar", "--scale", "18um/px", "--scale-uncertainty", "1 mm"], 2, "--scale-uncertainty 1 mm"),
        (["scar", "--bar", "1"], 2, "unit"),
        (["graticule", "--bar", "1mm"], 1, "no scale bar is seen"),
        (["scar", "--bar", "1mm"], 1, "no scale bar is seen"),
    ],
)
def test_wrong_words_and_pictures_without_a_bar_get_one_plain_line(words, status, said, capsys):
    assert run([words[0], str(PICTURE), *words[1:]]) == status
    errors = capsys.readouterr().err
    assert said in errors
    assert errors.count("\n") == 1


def test_end_ticks_are_warned_of_by_both_commands(tmp_path, capsys):
    picture = Image.open(PICTURE).convert("RGB")
    draw = ImageDraw.Draw(picture)
    draw.rectangle((340, 330, 450, 332), fill="white")
    for left in (340, 448):
        draw.rectangle((left, 324, left + 2, 338), fill="white")
    path = tmp_path / "ticks.png"
    picture.save(path)
    for command in ("graticule", "scar"):
        assert run([command, str(path), "--bar", "2mm"]) == 0
        assert "warning: the bar has end ticks" in capsys.readouterr().err
