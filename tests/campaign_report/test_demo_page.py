"""The demo report as a reader has it: accessible by axe-core, sortable by every column, and PDF/UA."""

from __future__ import annotations

import io
import re
import shutil
from pathlib import Path

import pandas as pd
import pypdf
import pytest

pytestmark = [pytest.mark.page, pytest.mark.pdf]

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"
LOOKS = tuple((width, scheme) for width in (1280, 390) for scheme in ("light", "dark"))


@pytest.fixture(scope="module")
def report(command, tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "conveyor_07"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("report*"))
    done = command("report", folder)
    assert done.returncode == 0, done.stderr
    return folder / "report"


@pytest.fixture
def tab(browser, report):
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    opened.goto((report / "report.html").as_uri())
    yield opened
    opened.close()


def cells(tab, column):
    """The texts of a column of the run table, without the spaces that pad its numbers."""
    shown = "[...document.querySelectorAll('#table-runs tbody tr')].map(row => row.cells[%d].textContent)"
    return [re.sub(r"[\u2007\u2008\u202f]", "", text) for text in tab.evaluate(shown % column)]


def value(text):
    """What a cell is worth when its column is sorted, by other means than the page's own."""
    number = re.match(r"\d+(\.\d+)?(?=\*?$)", text)
    if number:
        return float(number[0])
    parts = re.split(r"(\d+)", text.lower())
    return tuple(int(part) if part.isdigit() else part for part in parts)


def test_axe_finds_nothing_on_the_demo_report(report, axe):
    assert axe(report / "report.html", LOOKS) == []


def test_axe_finds_nothing_on_a_sorted_and_filtered_table(tab, report):
    from axe_playwright_python.sync_playwright import Axe

    tab.get_by_role("button", name="Pressure").click()
    tab.get_by_role("searchbox", name="Show only rows that contain").fill("no such row")
    assert tab.get_by_role("status").inner_text().startswith("0 of 47 rows")
    assert Axe().run(tab, context="#table-runs").violations_count == 0


def test_a_report_of_usual_length_has_at_most_14_pages_none_half_empty(report):
    pages = pypdf.PdfReader(io.BytesIO((report / "report.pdf").read_bytes())).pages
    assert 8 <= len(pages) <= 14
    assert "What to do next" in pages[0].extract_text()
    assert "Figure 1." in pages[0].extract_text()
    for number, page in enumerate(list(pages)[:-1], 1):
        lines = drawn_down_to(page)
        assert min(lines) < 0.5 * float(page.mediabox.height), f"page {number} is half empty"


def drawn_down_to(page):
    """Heights from the page's foot at which text of the body stands; the running foot is left out."""
    heights = []

    def note(text, _, matrix, *__):
        if text.strip() and matrix[5] > 45.0:
            heights.append(float(matrix[5]))

    page.extract_text(visitor_text=note)
    return heights


def test_a_brief_report_has_two_pages(command, report, tmp_path):
    out = tmp_path / "brief"
    done = command("report", report.parent, "-o", out, "-p", "detail=brief")
    assert done.returncode == 0, done.stderr
    pages = pypdf.PdfReader(io.BytesIO((out / "report.pdf").read_bytes())).pages
    assert len(pages) == 2
    assert (out / "results.json").read_bytes() == (report / "results.json").read_bytes()


def test_a_length_that_is_none_ends_in_one_plain_line(command, report, tmp_path):
    done = command("report", report.parent, "-o", tmp_path / "x", "--no-pdf", "-p", "detail=long")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.strip().endswith("detail must be brief, standard or full, not 'long'")
    assert len(done.stderr.strip().splitlines()) == 1


def test_the_pdf_keeps_the_checked_rules_of_pdf_ua(report, pdf_faults):
    assert pdf_faults((report / "report.pdf").read_bytes()) == []


@pytest.mark.parametrize("column", range(12))
def test_every_column_sorts_up_and_down_and_back(tab, column):
    head = tab.locator("#table-runs thead th").nth(column)
    before = cells(tab, column)
    unknown = [text for text in before if text.startswith("not ") or text == "none"]
    known = [text for text in before if text not in unknown]
    assert known
    head.get_by_role("button").click()
    assert head.get_attribute("aria-sort") == "ascending"
    assert [value(text) for text in cells(tab, column)[: len(known)]] == sorted(map(value, known))
    assert cells(tab, column)[len(known) :] == unknown
    head.get_by_role("button").click()
    assert head.get_attribute("aria-sort") == "descending"
    downwards = sorted(map(value, known), reverse=True)
    assert [value(text) for text in cells(tab, column)[: len(known)]] == downwards
    assert cells(tab, column)[len(known) :] == unknown
    head.get_by_role("button").click()
    assert head.get_attribute("aria-sort") is None
    assert cells(tab, column) == before


def test_paper_keeps_the_order_of_the_file_and_has_no_controls(tab):
    runs = list(pd.read_csv(DEMO / "runs.csv", dtype=str)["run_id"])
    tab.get_by_role("button", name="Pressure").click()
    tab.get_by_role("searchbox").fill("C-21")
    assert cells(tab, 0) != runs
    printed = pypdf.PdfReader(io.BytesIO(tab.pdf(prefer_css_page_size=True)))
    # short names leave room for the table on upright pages; the full report turns them
    pages = [page.extract_text() for page in printed.pages]
    held = [page for page in pages if re.search(r"^c\d\d-\d\d\s+2026-", page, re.MULTILINE)]
    text = "\n".join(held)
    assert len(held) > 1
    assert all("Wear" in page for page in held), "the head is not repeated"
    assert re.findall(r"^(c\d\d-\d\d)\s+2026-", text, re.MULTILINE) == runs
    assert "in the order of the file" in text
    assert "Show only rows" not in text
    # On the screen the reader's order and choice are back.
    assert len(cells(tab, 0)) == sum(pd.read_csv(DEMO / "runs.csv", dtype=str)["lubricant"] == "C-21")
    assert tab.locator("#table-runs [aria-sort]").inner_text().startswith("Pressure")
