"""`pinscar plan --blends`: the next blends as a campaign that checks clean, with a weigh-out that adds up."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest

from pinscar.campaign.campaign import read_settings
from pinscar.campaign.toml_file import read_toml
from pinscar.errors import InputError, UsageError
from pinscar.study.formulation.next_campaign import write_campaign

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "formulation" / "conveyor_12"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    folder = tmp_path_factory.mktemp("plan") / "next"
    return folder, write_campaign(folder, [DEMO], "D", 2, ["price at most 3.7 EUR/kg"], "200 g", "0.01 g")


def test_the_campaign_is_read_without_a_word(written: tuple[Path, list[str]]) -> None:
    folder, told = written
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    file, problems = read_toml(text)
    assert problems == []
    assert file == read_settings(folder)
    assert file.campaign.reference == "R-10"
    assert [one.id for one in file.lubricants] == ["R-10", "N-01", "N-02"]
    assert all(sum(one.composition.values()) == pytest.approx(1.0) for one in file.lubricants)
    assert all(one.price.per_kg <= 3.7 for one in file.lubricants[1:])
    assert file.rig == read_settings(DEMO).rig
    assert file.components == read_settings(DEMO).components
    assert "qualified chemist" in text and "safety data sheets" in text
    assert "invented" in text.splitlines()[0].lower()
    assert told[-1].startswith("weigh out by ")


def test_the_weigh_out_adds_up_to_the_batch(written: tuple[Path, list[str]]) -> None:
    folder, _ = written
    with (folder / "weigh_out.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    for oil in ("N-01", "N-02"):
        own = [row for row in rows if row["lubricant"] == oil]
        assert sum(float(row["mass [g]"]) for row in own) == pytest.approx(200.0, abs=1e-6)
        shares = read_settings(folder).lubricants[int(oil[-1])].composition
        for row in own:
            assert float(row["share [%]"]) == pytest.approx(100 * shares[row["component"]], abs=0.005)


def test_what_stands_in_the_way_is_said(written: tuple[Path, list[str]], tmp_path: Path) -> None:
    folder, _ = written
    with pytest.raises(UsageError, match="already has a campaign"):
        write_campaign(folder, [DEMO], "D", 2, [], "200 g", "0.01 g")
    new = tmp_path / "new"
    for aim, count, limits, size, step, words in (
        ("best", 2, [], "200 g", "0.01 g", "aim"),
        ("D", 2, [], "200 N", "0.01 g", "--batch-size"),
        ("D", 2, [], "0.5 g", "0.01 g", "hundred steps"),
        ("D", 2, ["price below 3"], "200 g", "0.01 g", "not a limit"),
        ("D", 2, ["price at most 1 EUR/kg"], "200 g", "0.01 g", "limit on the price"),
    ):
        with pytest.raises(UsageError, match=words):
            write_campaign(new, [DEMO], aim, count, limits, size, step)
    with pytest.raises(InputError):
        write_campaign(new, [tmp_path / "nowhere"], "D", 2, [], "200 g", "0.01 g")
    bare = tmp_path / "bare"
    shutil.copytree(DEMO, bare, ignore=shutil.ignore_patterns("lubricants.csv"))
    with pytest.raises(InputError, match="no oil of these campaigns has a composition"):
        write_campaign(new, [bare], "D", 2, [], "200 g", "0.01 g")
    assert not new.exists()
