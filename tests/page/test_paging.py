"""A table that shows some of very many rows: the script pages through all of them, from data in the page."""

import json
import re

import pytest
from nbformat import v4

from pinscar.language.messages import read_catalogue
from pinscar.language.speaker import Speaker
from pinscar.page import markup
from pinscar.page.page import notebook_to_html
from pinscar.page.pdf import _SCREEN_ONLY

pytestmark = pytest.mark.page

HEADS = ["Run", "Oil", ("Pressure", "MPa"), "Wear stopped"]
ALL = [
    [f"n{k:03d}", "R-10" if k % 2 else "a</script>b", "not measured" if k == 7 else f"{900 - k}.5", "no"]
    for k in range(700)
]
KINDS = ["flagged" if k == 650 else "" for k in range(700)]


def made(language="en", speaker=None):
    beside = markup.all_rows(ALL, KINDS, number_columns=[2], names=[0, 1])
    table = markup.table(
        HEADS, ALL[::70], caption="Runs", key="runs", number_columns=[2], sortable=True, beside=beside
    )
    output = v4.new_output("display_data", data={"text/html": str(table)})
    notebook = v4.new_notebook(cells=[v4.new_code_cell("x", outputs=[output])])
    return notebook_to_html(notebook, title="Oils", campaign_id="c-1", language=language, speaker=speaker)


@pytest.fixture
def opened(browser, tmp_path):
    def open_page(html):
        file = tmp_path / "report.html"
        file.write_text(html, encoding="utf-8")
        tab = browser.new_page()
        said = []
        tab.on("console", lambda message: said.append(message.text))
        tab.on("pageerror", lambda error: said.append(str(error)))
        tab.goto(file.as_uri())
        tabs.append((tab, said))
        return tab

    tabs = []
    yield open_page
    for tab, said in tabs:
        tab.close()
        assert said == []


def runs(tab):
    return tab.locator("#table-runs tbody th").all_inner_texts()


def test_all_rows_are_paged_sorted_and_filtered_by_keyboard_and_told(opened):
    tab = opened(made())
    status = tab.get_by_role("status")
    assert runs(tab) == [row[0] for row in ALL[::70]]
    every = tab.get_by_role("button", name="Show all rows")
    every.press("Enter")
    assert every.get_attribute("aria-pressed") == "true"
    assert status.inner_text() == "700 rows, not sorted, page 1 of 3"
    assert runs(tab) == [row[0] for row in ALL[:300]]
    tab.get_by_role("button", name="Next").press("Enter")
    tab.get_by_role("button", name="Next").press("Enter")
    assert runs(tab) == [row[0] for row in ALL[600:]]
    assert tab.get_by_role("button", name="Next").is_disabled()
    assert tab.evaluate("document.activeElement.textContent") == "Previous"
    assert tab.locator("#table-runs tbody tr.flagged th").all_inner_texts() == ["n650"]
    tab.get_by_role("button", name="Pressure").click()
    assert runs(tab)[0] == "n699"
    assert "smallest first, page 1 of 3" in status.inner_text()
    tab.get_by_label("Show only rows that contain").fill("not measured")
    assert runs(tab) == ["n007"]
    assert tab.locator("#table-runs tbody td").first.inner_text() == "R-10"
    tab.get_by_label("Show only rows that contain").fill("")
    every.press("Enter")
    assert sorted(runs(tab)) == [row[0] for row in ALL[::70]]


def test_axe_finds_nothing_on_a_table_that_is_paged(opened):
    from axe_playwright_python.sync_playwright import Axe

    tab = opened(made())
    assert Axe().run(tab).response["violations"] == []
    tab.get_by_role("button", name="Show all rows").click()
    assert Axe().run(tab).response["violations"] == []
    tab.get_by_role("button", name="Next").click()
    assert Axe().run(tab).response["violations"] == []


def test_another_language_pages_too(opened):
    tab = opened(made("de", Speaker(catalogue=read_catalogue("de"), names=frozenset({"R-10"}))))
    tab.get_by_role("button", name="Alle Zeilen zeigen").click()
    row = tab.locator("#table-runs tbody tr").nth(1).locator("td").all_inner_texts()
    assert row == ["R-10", "899,5", "nein"]
    assert tab.get_by_role("status").inner_text() == "700 Zeilen, nicht sortiert, Seite 1 von 3"


def test_no_text_of_a_campaign_ends_the_block_and_paper_goes_without_it():
    html = made()
    (block,) = re.findall(r'<script type="application/json" class="all-rows">(.*?)</script>', html, re.DOTALL)
    assert json.loads(block)["rows"][0][2] == "a</script>b"
    assert 'all-rows">' not in _SCREEN_ONLY.sub("", html)
