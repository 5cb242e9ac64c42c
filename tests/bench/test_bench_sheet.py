"""The run sheet for the bench: a page a day, no oil named where it is blind, the key in a file of its own."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pypdf
import pytest

from pinscar.bench.bench_sheet import KEY, bottle_codes, codes_of
from pinscar.campaign.campaign import check_campaign
from pinscar.cli import main as cli

OILS = ("R-10", "H 1", "H 2")


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    words = ["--reference", OILS[0], "--candidates", "H 1; H 2", "--load", "4; 8,5 kg", "--days", "3"]
    assert cli.run(["new", str(tmp_path / "spring"), *words]) == 0
    capsys.readouterr()
    return tmp_path / "spring"


def key_of(folder: Path) -> dict[str, str]:
    text = (folder / KEY).read_text(encoding="utf-8")
    return {row["lubricant"]: row["bottle"] for row in csv.DictReader(io.StringIO(text))}


@pytest.mark.pdf
def test_each_day_has_a_page_with_weights_and_room_to_write(folder: Path) -> None:
    assert cli.run(["sheet", str(folder)]) == 0
    reader = pypdf.PdfReader(folder / "run_sheet.pdf")
    texts = [page.extract_text() for page in reader.pages]
    assert len(texts) == 3
    for number, text in enumerate(texts, 1):
        assert f"day {number}" in text
        assert "Safety first" in text
        for label in ("Dose, mL", "Pin lot", "Operator", "Room, °C", "Weights, kg", "Humidity"):
            assert label in text.replace("\n", " "), label
        assert "4.00" in text  # what hangs on the lever beside the hanger: the weights as typed
        assert "8.50" in text
    box = reader.pages[0].mediabox
    assert box.width > box.height


def test_a_blind_sheet_names_no_oil_and_the_key_all(folder: Path) -> None:
    assert cli.run(["sheet", str(folder), "--blind", "--no-pdf"]) == 0
    html = (folder / "run_sheet.html").read_text(encoding="utf-8")
    key = key_of(folder)
    assert set(key) == set(OILS)
    assert len(set(key.values())) == 3
    assert not any(oil in html for oil in OILS)
    assert all(html.count(f"<td>{code}</td>") == 8 for code in key.values())


def test_the_codes_stay_when_the_sheet_is_made_again(folder: Path) -> None:
    assert cli.run(["sheet", str(folder), "--blind", "--no-pdf", "--seed", "3"]) == 0
    first = key_of(folder)
    assert cli.run(["sheet", str(folder), "--blind", "--no-pdf", "--seed", "4"]) == 0
    assert key_of(folder) == first
    assert codes_of(folder, [*OILS, "X"], 5) | first == codes_of(folder, [*OILS, "X"], 5)


def test_a_key_that_cannot_be_read_is_not_overwritten(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / KEY).write_text("something else\n", encoding="utf-8")
    assert cli.run(["sheet", str(folder), "--blind", "--no-pdf"]) == 2
    assert "cannot be read as the key" in capsys.readouterr().err
    assert (folder / KEY).read_text(encoding="utf-8") == "something else\n"


def test_the_order_of_the_codes_tells_nothing_of_the_oils() -> None:
    firsts = {min(bottle_codes(OILS, seed).items(), key=lambda pair: pair[1])[0] for seed in range(30)}
    assert firsts == set(OILS)


def test_runs_that_were_made_are_not_on_the_sheet(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = folder / "runs.csv"
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    for row in rows[1:]:
        row["scar_length [mm]"] = "3.3"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    assert cli.run(["sheet", str(folder), "--no-pdf", "--json"]) == 0
    assert '"runs": 1' in capsys.readouterr().out


def test_a_sheet_beside_the_table_is_no_problem_of_the_campaign(folder: Path) -> None:
    before = [one.code for one in check_campaign(folder)[1]]
    assert cli.run(["sheet", str(folder), "--blind", "--no-pdf"]) == 0
    assert [one.code for one in check_campaign(folder)[1]] == before


def test_a_blind_plan_keeps_the_oils_out_of_its_sheet_too(folder: Path) -> None:
    words = ["--log-sd", "0.1", "--repeats", "2", "--no-pdf", "--blind"]
    assert cli.run(["plan", str(folder), *words]) == 0
    key = key_of(folder)
    sheet = (folder / "run_sheet.html").read_text(encoding="utf-8")
    assert not any(oil in sheet for oil in OILS)
    assert set(key) == set(OILS)
    page = (folder / "plan" / "report.html").read_text(encoding="utf-8")
    assert "blind_key.csv" in page
    assert not any(f">{code}<" in page for code in key.values())
