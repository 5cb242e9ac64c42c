"""The study templates hold the numbers of the library; poor data gives plain sentences."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from html import unescape
from pathlib import Path

import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.study.precision import page as precision_report
from pinscar.study.precision import words as precision_meaning
from pinscar.study.precision.study import study_precision
from pinscar.study.reading import page as reading_report
from pinscar.study.reading import words as reading_meaning
from pinscar.study.reading import words as reading_words
from pinscar.study.reading.study import study_readings

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo"
TOML = """
[campaign]
id = "small"
reference = "A"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
[[lubricants]]
id = "A"
"""
RUNS = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],operator"


def run(template: str, folder: Path, out: Path, *words: str) -> subprocess.CompletedProcess[str]:
    code = "import sys; from pinscar.cli.main import main; sys.exit(main())"
    return subprocess.run(
        [
            sys.executable,
            "-c",
            code,
            "report",
            str(folder),
            "-t",
            template,
            "-o",
            str(out),
            "--no-pdf",
            *words,
        ],
        check=False,
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONIOENCODING": "utf-8"},
        timeout=300,
    )


def text_of(html: str) -> str:
    body = re.sub(r"<(style|script)\b.*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", "", body)))


def small(folder: Path, runs: list[str], readings: list[str] | None = None) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "campaign.toml").write_text(TOML, encoding="utf-8")
    (folder / "runs.csv").write_text("\n".join([RUNS, *runs, ""]), encoding="utf-8")
    if readings:
        head = "run_id,reader,reading,scar_length [mm],scar_width [mm]"
        (folder / "readings.csv").write_text("\n".join([head, *readings, ""]), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    place = tmp_path_factory.mktemp("studies")
    made = {"precision_study": "precision_02", "reading_study": "reading_03"}
    for template, demo in made.items():
        done = run(template, DEMO / demo, place / template)
        assert done.returncode == 0, done.stderr
    return {template: place / template for template in made}


@pytest.mark.parametrize("template", ["precision_study", "reading_study"])
def test_a_study_is_one_page_with_one_title_and_its_sections(reports: dict[str, Path], template: str) -> None:
    html = (reports[template] / "report.html").read_text(encoding="utf-8")
    assert len(re.findall(r"<h1\b", html)) == 1
    assert len(re.findall(r"<h2\b", html)) == 7
    front = text_of(html.split("<h2", 1)[0])
    assert "in 19 cases of 20" in front
    assert html.split("<h2", 1)[0].count("<figure") == 1
    words = text_of(html)
    assert not re.search(r"\bnan\b|\binf\b|None|Traceback|float64", words)


@pytest.mark.page
@pytest.mark.parametrize("template", ["precision_study", "reading_study"])
def test_axe_finds_nothing_on_the_page_of_a_study(reports: dict[str, Path], template: str, axe) -> None:
    assert axe(reports[template] / "report.html") == []


def test_results_of_the_precision_study_are_those_of_the_library(reports: dict[str, Path]) -> None:
    found = json.loads((reports["precision_study"] / "results.json").read_text(encoding="utf-8"))
    direct = study_precision(read_campaign(DEMO / "precision_02"))
    assert found["schema"] == "pinscar.results/1"
    assert found["campaign"]["id"] == "precision-02"
    assert found["study"]["group"] == "laboratory"
    assert found["overall"] is None
    assert len(found["precision"]) == len(direct.materials) == 2
    for row, material in zip(found["precision"], direct.materials, strict=True):
        assert row["s_r"] == pytest.approx(material.precision.repeatability_sd, rel=1e-10)
        assert row["R"] == pytest.approx(material.precision.reproducibility_limit, rel=1e-10)
        assert [cell["h"] for cell in row["groups"]] == pytest.approx([c.h for c in material.precision.cells])


def test_the_precision_study_finds_the_laboratories_that_were_made_to_stand_out(
    reports: dict[str, Path],
) -> None:
    """The demo's truth: L4 scatters three times as much, the scars of L6 are larger."""
    found = json.loads((reports["precision_study"] / "results.json").read_text(encoding="utf-8"))
    assert {flag["group"] for flag in found["flags"] if flag["test"] in ("k", "Cochran")} == {"L4"}
    assert {flag["group"] for flag in found["flags"] if flag["test"] == "h"} == {"L6"}
    words = text_of((reports["precision_study"] / "report.html").read_text(encoding="utf-8"))
    assert "L4 scatters more than the others" in words
    assert "differ by more than r in 1 case of 20" in words


def test_results_of_the_reading_study_are_those_of_the_library(reports: dict[str, Path]) -> None:
    found = json.loads((reports["reading_study"] / "results.json").read_text(encoding="utf-8"))
    direct = study_readings(read_campaign(DEMO / "reading_03"))
    assert found["study"]["axis"] == "scar_length"
    for row, one in zip(found["components"], direct.study.components, strict=True):
        assert row["variance"] == pytest.approx(one.variance, rel=1e-9)
    words = text_of((reports["reading_study"] / "report.html").read_text(encoding="utf-8"))
    assert "pooled with the repeats when its F test gives p above 0.25" in words
    assert "graticule.csv" in words
    assert direct.study.method in words


def test_the_reading_study_finds_the_error_that_was_put_in(reports: dict[str, Path]) -> None:
    """The demo's truth: repeats 0.02 to 0.03 mm, readers +0.03 and -0.02 mm: both inside their intervals."""
    found = json.loads((reports["reading_study"] / "results.json").read_text(encoding="utf-8"))
    by_source = {row["source"]: row for row in found["components"]}
    assert by_source["repeats"]["sd_low"] < 0.0238 < by_source["repeats"]["sd_high"]
    assert by_source["reader"]["sd_low"] < 0.0252 < by_source["reader"]["sd_high"]


@pytest.mark.parametrize(
    ("template", "demo", "words", "status", "said"),
    [
        ("precision_study", "reading_03", (), 1, "holds two names"),
        ("reading_study", "reading_03", ("-p", "axis=depth"), 2, "scar_width"),
    ],
)
def test_what_cannot_be_studied_ends_with_one_plain_line(
    tmp_path: Path, template: str, demo: str, words: tuple[str, ...], status: int, said: str
) -> None:
    done = run(template, DEMO / demo, tmp_path / "out", *words)
    assert done.returncode == status
    assert len(done.stderr.strip().splitlines()) == 1
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_study_of_two_operators_says_that_it_is_no_reproducibility(tmp_path: Path) -> None:
    rows = [f"r{n},A,450,60,{4 + 0.1 * n},2.1,{'xy'[n % 2]}" for n in range(1, 6)]
    study = precision_report.load(str(small(tmp_path, rows)))
    said = " ".join(precision_meaning.notes(study))
    assert "intermediate precision" in said
    assert "Only 2 operators" in said
    sections = (
        precision_report.front,
        precision_report.limits,
        precision_report.meaning,
        precision_report.consistency,
        precision_report.cells,
        precision_report.made,
    )
    html = " ".join(section(study).data for section in sections)
    assert "did not make equally many runs" in html
    assert "Fewer than three values: no outlier test." in html
    assert "nan" not in text_of(html)


def test_equal_results_give_a_report_and_no_statistics(tmp_path: Path) -> None:
    rows = [f"r{n},A,450,60,4,2.1,{'xyz'[n % 3]}" for n in range(1, 7)]
    study = precision_report.load(str(small(tmp_path, rows)))
    html = precision_report.consistency(study).data + precision_report.limits(study).data
    assert "No operator stands out" in html
    assert "No test: no group varies." in html


def readings(scars: int, repeats: int) -> list[str]:
    return [
        f"r{s},{reader},{k},{4 + 0.3 * s + 0.01 * ((7 * s + 5 * k + 3 * i) % 4):.3f},"
        for s in range(1, scars + 1)
        for i, reader in enumerate("xy")
        for k in range(1, repeats + 1)
    ]


@pytest.mark.parametrize("repeats", [1, 3])
def test_a_small_reading_study_says_what_it_cannot_know(tmp_path: Path, repeats: int) -> None:
    rows = [f"r{n},A,{400 + 50 * n},60,,,x" for n in range(1, 4)]
    study = reading_report.load(str(small(tmp_path, rows, readings(3, repeats))))
    sections = (
        reading_report.front,
        reading_report.sources,
        reading_report.readers,
        reading_report.bias,
        reading_report.meaning,
        reading_report.made,
    )
    html = " ".join(section(study).data for section in sections)
    assert "No certified length was read" in html
    assert "No oil was run twice at one load" in reading_meaning.meaning_sentence(study)
    if repeats == 1:
        assert "interaction cannot be told from the repeats" in html
    assert "nan" not in text_of(html)


def test_a_shown_bias_is_named_with_its_reader(tmp_path: Path) -> None:
    rows = [f"r{n},A,{400 + 50 * n},60,,,x" for n in range(1, 4)]
    folder = small(tmp_path, rows, readings(3, 2))
    text = "reader,certified [mm],read [mm]\nx,5,5.05\nx,5,5.06\nx,5,5.055\ny,5,5.01\ny,5,4.99\ny,5,5.00\n"
    (folder / "graticule.csv").write_text(text, encoding="utf-8")
    said = reading_words.bias_sentence(reading_report.load(str(folder)))
    # Mean 5.055 mm, s 5 um, t(0.975, 2) = 4.3027: 55 um +- 12.4 um, that is 1.1 % (0.85 to 1.35 %).
    assert said == "On the certified 5 mm x reads 1.1 % long (0.85 to 1.3 %); the other reader shows none."
