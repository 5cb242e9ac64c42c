"""The contact sheet: pictures of the demo read, compared with what was typed, refused where they must be."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from pinscar.campaign.campaign import read_campaign
from pinscar.cli.main import run
from pinscar.decision.evidence import Evidence, scale_of_run
from pinscar.decision.media import read_picture
from pinscar.seen.micrographs import scale_sentences, seen_html

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
PICTURES = DEMO / "micrographs"


def seen_of(campaign, runs):
    return Evidence(campaign, runs, (), 0.95).micrographs


@pytest.fixture(scope="module")
def three(tmp_path_factory):
    """The demo with three of its pictures: one plain, one that nobody can read, one that is no picture."""
    folder = tmp_path_factory.mktemp("three") / "campaign"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("micrographs", "report*", "sound"))
    (folder / "micrographs").mkdir()
    for name in ("c07-01.jpg", "c07-11.jpg"):
        shutil.copy(PICTURES / name, folder / "micrographs" / name)
    (folder / "micrographs" / "c07-02.jpg").write_text("no picture", encoding="utf-8")
    return read_campaign(folder)


def test_the_sheet_tells_read_refused_and_unreadable_pictures_apart(three):
    seen = {one.run_id: one for one in seen_of(three, three.runs)}
    assert list(seen) == ["c07-01", "c07-02", "c07-11"]
    good = seen["c07-01"]
    assert good.reading.accepted and good.why_not == ""
    # The picture was drawn with the typed axes.
    assert (good.reading.length, good.reading.width) == pytest.approx(good.typed, rel=0.03)
    assert "can't be read as a picture" in seen["c07-02"].why_not
    assert seen["c07-11"].why_not.startswith("read by hand")


def test_the_section_says_it_in_words_picture_and_table(three):
    html = seen_html(seen_of(three, three.runs))
    assert html.startswith('<p class="finding">1 of 3 micrographs were read automatically')
    assert html.count("data:image/jpeg;base64,") == 1
    assert "c07-11" in html and "not read" in html
    assert html == seen_html(seen_of(three, three.runs))


def test_a_campaign_without_pictures_says_so(three, tmp_path):
    runs = three.runs.assign(run_id="other")
    assert seen_html(seen_of(three, runs)).startswith('<p class="finding">No micrographs')


def test_scar_prints_json_and_draws_the_overlay(tmp_path, capsys):
    drawn = tmp_path / "drawn.png"
    picture = str(PICTURES / "c07-01.jpg")
    assert run(["scar", picture, "--scale", "18um/px", "--json", "--overlay", str(drawn)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["accepted"] is True and told["reason"] is None
    # Rendered to the typed scar; two readings of one scar differ by about 1 %, areas by twice that.
    assert told["scar_length_mm"] == pytest.approx(3.78, rel=0.03)
    assert told["scar_width_mm"] == pytest.approx(2.03, rel=0.03)
    assert told["area_mm2"] == pytest.approx(np.pi / 4 * 3.78 * 2.03, rel=0.05)
    before, after = read_picture(PICTURES / "c07-01.jpg"), read_picture(drawn)
    assert before.shape == after.shape
    assert (before != after).any(axis=2).mean() > 0.005


def test_a_refused_scar_has_no_numbers(capsys):
    assert run(["scar", str(PICTURES / "c07-11.jpg"), "--scale", "18um/px", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["accepted"] is False
    assert told["reason"].startswith("read by hand")
    assert {told[key] for key in ("scar_length_mm", "scar_width_mm", "area_mm2", "length_u_mm")} == {None}


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["scar", "nowhere.png", "--scale", "2um/px"], 1, "there is no such picture"),
        (["scar", __file__, "--scale", "2um/px"], 1, "can't be read as a picture"),
        (["scar", __file__, "--scale", "2um"], 2, "um/px"),
        (["scar", __file__, "--scale", "0um/px"], 2, "positive"),
        (["graticule", __file__, "--pitch", "0.1"], 2, "unit"),
        (["scar", str(PICTURES), "--scale", "2um/px"], 1, "this is a folder"),
    ],
)
def test_wrong_words_and_files_get_one_plain_line(words, status, said, capsys):
    assert run(words) == status
    errors = capsys.readouterr().err
    assert said in errors
    assert errors.count("\n") == 1


@pytest.mark.parametrize("command", [["scar", "--scale", "18um/px"], ["fling", "--card", "150mm x 100mm"]])
def test_an_overlay_never_replaces_the_picture(command, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copy(PICTURES / "c07-01.jpg", "scar.jpg")
    for place, said in (("./scar.jpg", "itself"), ("scar.txt", ".png"), ("nowhere/a.png", "make it first")):
        assert run([*command, "scar.jpg", "--overlay", place]) == 2
        errors = capsys.readouterr().err
        assert said in errors and errors.count("\n") == 1
    assert Path("scar.jpg").read_bytes() == (PICTURES / "c07-01.jpg").read_bytes()


def test_graticule_tells_the_scale(tmp_path, capsys):
    x = np.arange(400) * np.ones((300, 1))
    lines = 200 - 150 * np.exp(-((((x + 10) % 20 - 10) / 1.8) ** 2))
    path = tmp_path / "lines.png"
    Image.fromarray(lines.astype(np.uint8)).save(path)
    assert run(["graticule", str(path), "--pitch", "0.1 mm", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["scale_um_per_px"] == pytest.approx(5.0, rel=1e-3)


def test_bars_give_blank_scales_and_check_typed_ones(three, tmp_path):
    folder = Path(shutil.copytree(three.folder, tmp_path / "barred"))
    for run_id in ("c07-01", "c07-03", "c07-05"):
        picture = Image.open(PICTURES / f"{run_id}.jpg").convert("RGB")
        if run_id != "c07-05":
            # 111 points of 18 um are 2 mm.
            ImageDraw.Draw(picture).rectangle((20, 335, 130, 340), fill="black")
        picture.save(folder / "micrographs" / f"{run_id}.jpg", quality=95)
    scales, bars = {"c07-01": np.nan}, {"c07-01": 2e-3, "c07-03": 2.1e-3, "c07-05": 2e-3}
    runs = three.runs.assign(scale_bar=three.runs["run_id"].map(bars))
    scales |= dict.fromkeys(("c07-03", "c07-05", "c07-11"), 18e-6)
    runs["micrograph_scale"] = runs["run_id"].map(scales)
    seen = {one.run_id: one for one in seen_of(replace(three, folder=folder), runs)}
    assert seen["c07-01"].scale.from_bar
    # Rendered to the typed scar; two readings of one scar differ by about 1 %.
    assert seen["c07-01"].reading.length == pytest.approx(seen["c07-01"].typed[0], rel=0.03)
    share = seen["c07-01"].scale.relative_uncertainty
    assert seen["c07-01"].reading.length_uncertainty > share * seen["c07-01"].reading.length > 0
    told = " ".join(scale_sentences({run_id: one.scale for run_id, one in seen.items() if one.scale}))
    assert "The scale comes from the bar on the picture, micrograph_scale being blank, for c07-01." in told
    assert "c07-03: the typed scale, 18 um/px, is 4.9 % below that of the bar on the picture, 18.92" in told
    assert "c07-05: its scale bar was not read: no scale bar is seen" in told
    assert "c07-11" not in told
    alone = runs[runs["run_id"] == "c07-05"]
    html = seen_html(seen_of(replace(three, folder=folder), alone))
    assert "<p>c07-05: its scale bar was not read" in html
    blank = alone.assign(scale_bar=np.nan, micrograph_scale=np.nan)
    (unknown,) = seen_of(replace(three, folder=folder), blank)
    assert "no micrograph_scale given, nor" in unknown.why_not


def test_a_bar_brings_its_own_uncertainty_and_a_typed_scale_goes_before_it():
    picture = np.full((120, 160), 0.3)
    picture[100:104, 20:80] = 1.0
    found = scale_of_run(picture, np.nan, 0.3e-3)
    # 60 points for 0.3 mm, each end rounded to a point: sqrt(2 / 12) of 60
    assert found.size == pytest.approx(5e-6)
    assert found.relative_uncertainty == pytest.approx(np.sqrt(1 / 6) / 60)
    typed = scale_of_run(picture, 5.1e-6, 0.3e-3)
    assert (typed.size, typed.relative_uncertainty, typed.from_bar) == (5.1e-6, 0.0, False)
    assert typed.apart == pytest.approx(0.02)
