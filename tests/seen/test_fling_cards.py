"""Fling cards of the demo: read, compared with what was typed, refused where they must be."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from pinscar.bench.gather import fling_fillings
from pinscar.campaign.campaign import read_campaign
from pinscar.campaign_report import sections
from pinscar.cli.main import run
from pinscar.decision.analysis import analyse
from pinscar.decision.evidence import Evidence
from pinscar.decision.media import read_picture
from pinscar.evidence.fling_card import read_fling_card
from pinscar.seen import cards
from pinscar.seen.cards import FOUND, GUESS, fling_overlay

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
CARDS = DEMO / "fling"
SIZE = ["--card", "150mm x 100mm"]


def cards_of(campaign, runs):
    return Evidence(campaign, runs, (), 0.95).cards


@pytest.fixture(scope="module")
def three(tmp_path_factory):
    """The demo with three of its cards: one plain, one blurred, one that is no picture."""
    folder = tmp_path_factory.mktemp("three") / "campaign"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("fling", "micrographs", "report*", "sound"))
    (folder / "fling").mkdir()
    for name in ("c07-01.jpg", "c07-22.jpg"):
        shutil.copy(CARDS / name, folder / "fling" / name)
    (folder / "fling" / "c07-12.jpg").write_text("no picture", encoding="utf-8")
    return read_campaign(folder)


@pytest.fixture(scope="module")
def seen(three):
    return {one.run_id: one for one in cards_of(three, three.runs)}


def test_read_refused_and_unreadable_cards_are_told_apart(seen):
    assert list(seen) == ["c07-01", "c07-12", "c07-22"]
    good = seen["c07-01"]
    assert good.why_not == ""
    # The typed area is the card's true one with 3 % of error.
    assert good.reading.fling_area == pytest.approx(good.typed, rel=0.1)
    assert "can't be read as a picture" in seen["c07-12"].why_not
    assert seen["c07-22"].why_not.startswith("measure by hand: the picture is blurred")
    assert seen["c07-22"].reading.fling_area is None


def test_the_sentence_counts_and_compares(seen):
    told = cards.cards_sentence(list(seen.values()))
    assert told.startswith("1 of 3 fling cards could be read; drops cover ")
    assert "Of 1 with an area typed in, all agree within" in told


def test_the_section_says_it_in_words_picture_and_table(three):
    html = cards.seen_html(cards_of(three, three.runs))
    assert html.count("data:image/jpeg;base64,") == 1
    assert html.count('class="flagged"') == 2
    assert "not read" in html and "blank" in html
    assert html == cards.seen_html(cards_of(three, three.runs))


def test_a_campaign_without_cards_shows_nothing(three, tmp_path):
    no_cards = replace(three, folder=tmp_path)
    assert sections.fling_cards(analyse(no_cards)).data == ""


def test_cards_without_a_size_are_not_read(three):
    rig = three.file.rig.model_copy(update={"fling_card": None})
    found = cards_of(replace(three, file=three.file.model_copy(update={"rig": rig})), three.runs)
    assert {one.why_not for one in found} == {"campaign.toml has no fling_card"}
    assert cards.cards_sentence(found).startswith("0 of 3 fling cards could be read: see")


def test_a_difference_from_what_was_typed_is_pointed_out(three):
    runs = three.runs.assign(fling_area=np.where(three.runs["run_id"] == "c07-01", 3e-4, np.nan))
    html = cards.seen_html(cards_of(three, runs))
    assert "Of 1 with an area typed in, 1 differ" in html
    assert "differs" in html


def test_the_overlay_outlines_drops_in_blue_and_guesses_in_orange(seen):
    good, refused = (fling_overlay(seen[name].reading) for name in ("c07-01", "c07-22"))
    assert (good == FOUND).all(axis=2).mean() > 0.005
    assert not (good == GUESS).all(axis=2).any()
    assert (refused == GUESS).all(axis=2).any()
    assert not (refused == FOUND).all(axis=2).any()
    # The scale bar, black below the card, is 50 mm of the card's 150.
    black = (good == 0).all(axis=2)
    row = black[seen["c07-01"].reading.card.shape[0] + 60 + 4, 30:]
    bar = int(np.flatnonzero(~row)[0])
    assert bar / seen["c07-01"].reading.card.shape[1] == pytest.approx(1 / 3, abs=0.005)


def test_fling_prints_json_and_draws_the_overlay(tmp_path, capsys):
    drawn = tmp_path / "drawn.png"
    assert run(["fling", str(CARDS / "c07-01.jpg"), *SIZE, "--json", "--overlay", str(drawn)]) == 0
    told = json.loads(capsys.readouterr().out)
    reading = read_fling_card(read_picture(CARDS / "c07-01.jpg"), 0.15, 0.10)
    assert told["accepted"] is True and told["reason"] is None
    assert told["fling_area_mm2"] == pytest.approx(reading.fling_area * 1e6, abs=1e-3)
    assert told["drops"] == reading.count == sum(one["drops"] for one in told["sizes"])
    assert sum(one["area_mm2"] for one in told["sizes"]) == pytest.approx(told["fling_area_mm2"], abs=0.01)
    sizes = [told[f"diameter_{share}_by_area_mm"] for share in (10, 50, 90)]
    assert sizes == sorted(sizes)
    assert min(Image.open(drawn).size) > 800


def test_fling_tells_number_area_and_sizes(capsys):
    assert run(["fling", str(CARDS / "c07-14.jpg"), "--card", "100 x 150 mm"]) == 0
    told = capsys.readouterr()
    # drawn: 192.5 mm²; it is read within 4 %, well within twice its uncertainty
    covered = float(told.out.split("covered ")[1].split()[0])
    assert covered == pytest.approx(192.5, rel=0.04)
    assert "% of the card" in told.out
    assert "half of the area in drops up to" in told.out
    assert "strokes or fibres" in told.err and "write on the back" in told.err


def test_a_refused_card_has_no_numbers(capsys):
    assert run(["fling", str(CARDS / "c07-22.jpg"), *SIZE, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["accepted"] is False
    assert told["reason"].startswith("measure by hand")
    names = (
        "drops",
        "fling_area_mm2",
        "fling_area_u_mm2",
        "covered_share",
        "sizes",
        "diameter_50_by_area_mm",
    )
    assert all(told[name] is None for name in names)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["fling", "nowhere.png", *SIZE], 1, "there is no such picture"),
        (["fling", __file__, *SIZE], 1, "can't be read as a picture"),
        (["fling", __file__, "--card", "150mm"], 2, "150 mm x 100 mm"),
        (["fling", __file__, "--card", "150 x 100"], 2, "unit"),
        (["fling", str(CARDS / "c07-01.jpg"), "--card", "150mm x 120mm"], 1, "the size is wrong"),
    ],
)
def test_wrong_words_and_files_get_one_plain_line(words, status, said, capsys):
    assert run(words) == status
    errors = capsys.readouterr().err
    assert said in errors
    assert errors.count("\n") == 1


def test_fling_has_a_table_of_its_own_that_tells_unequal_numbers_of_runs(three):
    chosen = ["quiet_time", "temperature_rise", "fling_mass", "fling_area"]
    html = sections.observations(analyse(three, responses=chosen)).data
    table = html.split('data-id="table-observed-fling"')[1].split("</table>")[0]
    assert "Fling mass" in table and "Fling area" in table and "Quiet time" not in table
    # Six runs of C-21 at 450 N were weighed; the area of one of them is blank.
    assert "5 to 6" in table
    fewer = sections.observations(analyse(three, responses=chosen[1:])).data
    assert "Fling of each oil and load" not in fewer


def test_gather_fills_in_the_area_that_the_card_shows(tmp_path):
    picture = np.full((480, 680), 25, dtype=np.uint8)
    picture[40:440, 40:640] = 230
    y, x = np.mgrid[:480, :680]
    picture[np.hypot(x - 340, y - 240) < 40] = 130
    (tmp_path / "fling").mkdir()
    Image.fromarray(picture).save(tmp_path / "fling" / "a.png")
    shutil.copy(DEMO / "campaign.toml", tmp_path)
    runs = pd.DataFrame({"run_id": ["a"], "row": [2], "fling_area": [np.nan]})
    (filling,) = fling_fillings(tmp_path, runs)
    # the demo's card is 150 mm long, 600 points here: a circle of 40 points has a radius of 10 mm
    assert (filling.run_id, filling.row, filling.column) == ("a", 2, "fling_area")
    assert filling.value == pytest.approx(np.pi * 0.010**2, rel=0.01)
