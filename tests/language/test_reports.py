"""Whole reports in German: no message is left in English, no number or name is lost, verify reads them."""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path

import nbformat.v4 as v4
import pytest
from template_run import run_template

from pinscar.campaign.campaign import read_campaign
from pinscar.language.current import say_figure
from pinscar.language.own_words import speaker_of
from pinscar.page.page import notebook_to_html, script_source
from pinscar.press.page_numbers import unlike_numbers

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo" / "conveyor_07"
TOML = """
[campaign]
id = "small-1"
question = "Is C-21 better than R-10, or D-9?"
reference = "R-10"
{campaign}

[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
{more}
"""
HEAD = (
    "run_id,run_day,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,"
    "batch_of_day"
)
LIMITS = """
[[criteria]]
id = "film"
response = "film_pressure"
lubricant = "C-21"
load = "450 N"
rule = "at least"
limit = "{limit}"

[[criteria]]
id = "area"
response = "scar_area"
lubricant = "C-21"
load = "450 N"
rule = "ratio at most"
limit = {ratio}
"""
LABORATORY = """
[report]
laboratory = "Example Bench Laboratory (invented)"
address = ["12 Mill Lane", "Exampletown"]
place = "at the laboratory, bench 2"
customer = ["Example Conveyors (invented)", "3 Oven Road"]
order = "PO 4711"
number = "2026-014"
revision = 2
replaces = "2026-014, revision 1"
reason = "One run is excluded."
issued = 2026-04-24
author = "A. Author"
approver = "B. Approver"
method = { document = "Bench instruction BI-12", edition = "edition 3" }
deviations = ["The ring was changed once. No run was lost"]
environment = "relative humidity 45 to 55 %"
sampling = "by the customer"
supplied_by_customer = ["viscosities of all oils"]
external = []
opinions = ["Try C-21 on one conveyor first"]
"""


def runs(name: str, length: float, *, n: int = 5, load: int = 450, stopped: str = "yes", year: int = 2026):
    """Give runs of one oil whose scars scatter by a hundredth or two."""
    return [
        f"{name}-{load}-{i},{year}-03-0{1 + i % 3},{name},{load},60,{length + 0.04 * i:.2f},"
        f"{0.545 * length + 0.02 * i:.2f},{stopped},{'AB'[i % 2]}"
        for i in range(n)
    ]


def small(folder: Path, rows: list[str], more: str = "", campaign: str = "") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    toml = TOML.replace("{campaign}", campaign).replace("{more}", more)
    (folder / "campaign.toml").write_text(toml, encoding="utf-8")
    (folder / "runs.csv").write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return folder


def without_findings(folder: Path) -> Path:
    """Two oils, all limits met."""
    limits = LIMITS.format(limit="60 MPa", ratio=0.9)
    return small(folder, runs("R-10", 3.8, n=6) + runs("C-21", 2.9, n=6), limits)


def censored(folder: Path) -> Path:
    """Wear was still running in all runs of one oil and some of another; a limit is open, one not met."""
    rows = runs("R-10", 3.8, stopped="no") + runs("C-21", 3.5) + runs("D-9", 3.1, stopped="")
    return small(
        folder, rows + runs("C-21", 4.1, load=600, stopped="no"), LIMITS.format(limit="90 MPa", ratio=0.5)
    )


def with_history(folder: Path) -> Path:
    """An earlier campaign lends its scatter and its reference; a laboratory issues the report."""
    small(folder / "old", runs("R-10", 3.7, n=9, year=2025) + runs("B-5", 3.2, year=2025))
    campaign = 'reference_history = ["old"]'
    rows = runs("R-10", 3.8) + runs("C-21", 2.9)
    return small(folder, rows, LIMITS.format(limit="90 MPa", ratio=0.9) + LABORATORY, campaign)


def in_blocks(folder: Path) -> Path:
    """Days are blocks; a claim is made of the best of all."""
    claim = '\n[[claims]]\nsubject = "C-21"\nresponse = "scar_area"\ndirection = "lower"\nagainst = "R-10"\n'
    claim += 'best_of_all = true\nload = "450 N"\n'
    rows = runs("R-10", 3.8, n=6) + runs("C-21", 2.9, n=6) + runs("D-9", 3.3, n=6)
    return small(folder, rows, claim, 'block = "run_day"')


@pytest.fixture
def german(monkeypatch):
    """Make the pages of a template, charts not drawn: English, German, results, what is missing."""

    def make(template: str, folder: Path, **given):
        speaker = speaker_of("de", [read_campaign(folder)], given)
        drawn = []

        def said_only(figure):
            say_figure(figure, speaker)
            drawn.append(figure)
            return b"<svg/>"

        monkeypatch.setattr("pinscar.page.style.figure_svg", said_only)
        html, results = run_template(template, folder, monkeypatch, **given)
        cell = v4.new_code_cell("", outputs=[v4.new_output("display_data", data={"text/html": html})])
        notebook = v4.new_notebook(cells=[cell])
        name = results["campaign"]["id"]
        english = notebook_to_html(notebook, title=name, campaign_id=name)
        page = notebook_to_html(notebook, title=name, campaign_id=name, language="de", speaker=speaker)
        return english, page, results, list(speaker.missing)

    return make


def plain(page: str) -> str:
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"<[^>]*>", " ", text).replace("\u202f", "")


def numbers(page: str) -> list[str]:
    """List the numbers in the columns of numbers of a page, with a decimal point."""
    cells = re.findall(r'<td class="(?:number|interval)">(.*?)</td>', page)
    texts = [re.sub(r"<[^>]*>", "", cell) for cell in cells]
    return [one.replace(",", ".") for text in texts for one in re.findall(r"\d+(?:[.,]\d+)?", text)]


ENGLISH = re.compile(r"\b(?:the|with|which|were|each|runs|oils|than|from|this|are|not|at)\b(?!\.csv)")
TITLES = ("Contact Mechanics", "Statistical Methods for Reliability Data", "Statistical Intervals")


def left_in_english(page: str, *own: str) -> list[str]:
    """Find words that no German text has, the author's own text and titles of books set aside."""
    text = " ".join(plain(page).split())
    for one in (*own, *TITLES):
        # the page begins a sentence with a capital
        text = text.replace(one, " ").replace(one[:1].upper() + one[1:], " ")
    return ENGLISH.findall(text)


@pytest.mark.parametrize("detail", ["brief", "standard", pytest.param("full", marks=pytest.mark.slow)])
def test_the_demo_report_is_german_throughout(german, demo_analysis, monkeypatch, detail):
    monkeypatch.setattr("pinscar.campaign_report.sections.load", lambda *_, **__: demo_analysis)
    english, page, results, missing = german("campaign_report", DEMO, detail=detail)
    assert missing == []
    if detail != "brief":
        script = re.search(r"<script>(.*?)</script>", page, re.DOTALL)[1]
        assert script_source(script) in page, "the page's policy lets its script run"
        assert "nicht sortiert" in script
    report = tomllib.loads((DEMO / "campaign.toml").read_text(encoding="utf-8"))["report"]
    own = (
        "May C-21 replace R-10 on the oven line?",
        "hanger touched the frame in the first seconds, load not known",
        *(word for word in report.values() if isinstance(word, str)),
        *(word for words in report.values() if isinstance(words, list) for word in words),
    )
    assert left_in_english(page, *own, "timer missed, stopped by hand at 75 s") == []
    assert list(unlike_numbers(english, results)) == []
    assert list(unlike_numbers(page, results)) == []


@pytest.mark.parametrize("template", ["comparison_sheet", "release_record"])
def test_sheet_and_record_of_the_demo_are_german_throughout(german, demo_analysis, monkeypatch, template):
    monkeypatch.setattr("pinscar.campaign_report.sections.load", lambda *_, **__: demo_analysis)
    _, page, results, missing = german(template, DEMO)
    assert missing == []
    assert list(unlike_numbers(page, results)) == []


@pytest.mark.parametrize("make", [without_findings, censored, with_history, in_blocks])
def test_other_campaigns_are_german_throughout(german, tmp_path, make):
    for template, given in (("campaign_report", {"detail": "full"}), ("release_record", {})):
        english, page, results, missing = german(template, make(tmp_path / template), **given)
        assert missing == []
        assert list(unlike_numbers(page, results)) == []
        assert len(numbers(page)) > 20 or template == "release_record"
        assert numbers(page) == numbers(english)


def test_a_number_that_was_changed_in_a_german_page_is_found(german, tmp_path):
    _, page, results, _ = german("campaign_report", without_findings(tmp_path / "c"))
    changed = re.sub(r"(id=\"table-runs\".*?>)3,80<", r"\g<1>3,90<", page, count=1, flags=re.DOTALL)
    assert changed != page
    (found,) = unlike_numbers(changed, results)
    assert (found.shown, found.exact) == ("3.90", "3.8")


def test_own_text_is_left_alone_even_where_it_reads_like_ours(german, tmp_path):
    folder = with_history(tmp_path)
    toml = (folder / "campaign.toml").read_text(encoding="utf-8")
    ours = "The fairness audit found nothing against these runs"
    (folder / "campaign.toml").write_text(
        toml.replace("Try C-21 on one conveyor first", ours), encoding="utf-8"
    )
    (folder / "notes.md").write_text("## Claims\n\nNothing here is a result.\n", encoding="utf-8")
    _, page, _, missing = german("campaign_report", folder, detail="standard")
    assert missing == []
    for text in (ours, "The ring was changed once. No run was lost", "Nothing here is a result", "PO 4711"):
        assert text in re.sub(r"<[^>]*>", "", page)
    assert "Prüfbericht" in page and "24.\N{NO-BREAK SPACE}April\N{NO-BREAK SPACE}2026" in page


def test_names_that_are_words_of_ours_are_not_translated(german, tmp_path):
    rows = [row.replace("C-21", "Smoke") for row in runs("R-10", 3.8) + runs("C-21", 2.9)]
    _, page, results, _ = german("campaign_report", small(tmp_path, rows))
    assert "Smoke bei 450" in plain(page).replace("\N{NO-BREAK SPACE}", " ")
    assert list(unlike_numbers(page, results)) == []


def test_language_is_chosen_by_parameter_or_campaign_and_refused_by_name(command, tmp_path):
    shutil.copytree(without_findings(tmp_path / "c"), tmp_path / "d")
    toml = (tmp_path / "d" / "campaign.toml").read_text(encoding="utf-8")
    (tmp_path / "d" / "campaign.toml").write_text(f'{toml}\n[report]\nlanguage = "DE"\n', encoding="utf-8")
    done = command("report", tmp_path / "d", "--no-pdf")
    assert done.returncode == 0, done.stderr
    assert "translation" not in done.stdout
    page = (tmp_path / "d" / "report" / "report.html").read_text(encoding="utf-8")
    assert '<html lang="de"' in page and "Eingehalten." in page
    assert command("verify", tmp_path / "d" / "report", "--rerun").returncode == 0
    wrong = command("report", tmp_path / "c", "--no-pdf", "-p", "language=fr")
    assert wrong.returncode == 2
    assert "language must be en or de, not 'fr'" in wrong.stderr
