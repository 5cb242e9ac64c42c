"""The demo report as a reader has it: accessible by axe-core, sortable by every column, and PDF/UA."""

from __future__ import annotations

import io
import json
import re
import shutil
from pathlib import Path

import pandas as pd
import pypdf
import pytest

pytestmark = [pytest.mark.page, pytest.mark.pdf]

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo" / "conveyor_07"
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


CLAUSES = {
    "7.8.2.1 a": "Test report",
    "7.8.2.1 b": "12 Mill Lane",
    "7.8.2.1 c": "Tests made at",
    "7.8.2.1 e": "3 Oven Road",
    "7.8.2.1 f": "Bench instruction BI-12",
    "7.8.2.1 g": "Condition on receipt",
    "7.8.2.1 h": "9 April 2026",
    "7.8.2.1 j": "Issued 24 April 2026",
    "7.8.2.1 k": "Samples taken",
    "7.8.2.1 l": "relate only to the items tested",
    "7.8.2.1 o": "Approved by",
    "7.8.2.1 p": "Results from others",
    "7.8.2.1, note": "not be reproduced except in full",
    "7.8.2.2": "customer",
    "7.8.3.1 c": "Measurement uncertainty",
    "7.8.3.1 d, 7.8.7": "Opinions and interpretations",
    "7.8.6.1": "Decision rule, and its risk",
    "7.8.8.1": "Changed in this revision",
    "7.8.8.3": "2026-014, revision 1",
}
"""Words by which a clause is found on its page; the other rows name several sections."""


def test_the_handbook_names_the_page_of_each_clause_of_a_test_report(report):
    cells = json.loads((ROOT / "notebooks" / "handbook.ipynb").read_text(encoding="utf-8"))["cells"]
    text = "".join(next(cell for cell in cells if cell["id"] == "test-report")["source"])
    rows = [[one.strip() for one in line.split("|")[1:-1]] for line in text.splitlines() if "| 7.8" in line]
    told = {row[0]: [int(one) for one in re.findall(r"\d+", row[4])] for row in rows}
    pages = [
        " ".join(page.extract_text().split())
        for page in pypdf.PdfReader(io.BytesIO((report / "report.pdf").read_bytes())).pages
    ]
    assert len(told) == 25
    for clause, words in CLAUSES.items():
        for number in told[clause]:
            assert words in pages[number - 1], f"{clause} is not on page {number}"
    assert told["7.8.2.1 d"] == [1, len(pages), len(pages)]
    assert all("Test report 2026-014" in page for page in pages)
    assert "End of test report 2026-014, revision 2" in pages[-1]


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
    assert "Figure 1." in pages[0].extract_text()
    assert "End of test report" in pages[1].extract_text()
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
    assert held
    assert all("Wear" in page for page in held), "the head is not repeated"
    assert re.findall(r"^(c\d\d-\d\d)\s+2026-", text, re.MULTILINE) == runs
    assert "in the order of the file" in text
    assert "Show only rows" not in text
    # On the screen the reader's order and choice are back.
    assert len(cells(tab, 0)) == sum(pd.read_csv(DEMO / "runs.csv", dtype=str)["lubricant"] == "C-21")
    assert tab.locator("#table-runs [aria-sort]").inner_text().startswith("Pressure")
