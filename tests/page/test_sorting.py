"""Sorting and filtering a table on screen: by value, by keyboard, told to all, and never on paper."""

import io

import pypdf
import pytest
from nbformat import v4

from pinscar.page import markup
from pinscar.page.page import notebook_to_html
from pinscar.page.pdf import html_to_pdf

pytestmark = pytest.mark.page

HEADS = ["Run", "Day", ("Width", "mm"), ("Film pressure", "MPa"), "Wear stopped", "Note"]
ROWS = [
    ["c07-10", "2026-04-16", "1.93*", "118 (104 to 134)", "yes", "none"],
    ["c07-9", "not noted", "not measured", "≤ 63 (33 to 74)", "not judged", "(b)"],
    ["c07-1", "2025-12-31", "10.2", "9.6 (8.1 to 11.4)", "no", "(a)"],
    ["c07-2", "2026-04-14", "-0.5", "no estimate (below 134)", "yes", "none"],
    ["c07-30", "2026-04-14", "1\u202f204", "111", "no", "–"],
]
# The run ids as each column must order them; equals keep the order of the file, unknown stands last.
UP = {
    "Run": ["c07-1", "c07-2", "c07-9", "c07-10", "c07-30"],
    "Day": ["c07-1", "c07-2", "c07-30", "c07-10", "c07-9"],
    "Width": ["c07-2", "c07-10", "c07-1", "c07-30", "c07-9"],
    "Film pressure": ["c07-1", "c07-9", "c07-30", "c07-10", "c07-2"],
    "Wear stopped": ["c07-1", "c07-30", "c07-10", "c07-2", "c07-9"],
    "Note": ["c07-1", "c07-9", "c07-10", "c07-2", "c07-30"],
}
DOWN = {
    "Run": ["c07-30", "c07-10", "c07-9", "c07-2", "c07-1"],
    "Day": ["c07-10", "c07-2", "c07-30", "c07-1", "c07-9"],
    "Width": ["c07-30", "c07-1", "c07-10", "c07-2", "c07-9"],
    "Film pressure": ["c07-10", "c07-30", "c07-9", "c07-1", "c07-2"],
    "Wear stopped": ["c07-10", "c07-2", "c07-1", "c07-30", "c07-9"],
    "Note": ["c07-9", "c07-1", "c07-10", "c07-2", "c07-30"],
}
FILE = [row[0] for row in ROWS]
TOLD = {
    "Run": ("A to Z", "Z to A"),
    "Day": ("earliest first", "latest first"),
    "Film pressure": ("smallest first", "largest first"),
}


@pytest.fixture(scope="module")
def html():
    sorts = markup.table(HEADS, ROWS, caption="Runs", key="runs", number_columns=[2, 3], sortable=True)
    plain = markup.table(["Oil"], [["R-10"]], caption="Oils", key="oils")
    output = v4.new_output("display_data", data={"text/html": f"{sorts}{plain}"})
    notebook = v4.new_notebook(cells=[v4.new_code_cell("x", outputs=[output])])
    return notebook_to_html(notebook, title="Oils", campaign_id="c-1")


@pytest.fixture(scope="module")
def address(html, tmp_path_factory):
    file = tmp_path_factory.mktemp("sorting") / "report.html"
    file.write_text(html, encoding="utf-8")
    return file.as_uri()


@pytest.fixture
def tab(browser, address):
    opened = browser.new_page()
    said = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.goto(address)
    yield opened
    opened.close()
    assert said == []


def runs(tab):
    return tab.locator("#table-runs tbody th").all_inner_texts()


def head(tab, name):
    return tab.locator("#table-runs thead th", has=tab.get_by_role("button", name=name, exact=False))


@pytest.mark.parametrize("name", UP)
def test_a_click_sorts_up_a_second_down_and_a_third_gives_the_file_back(tab, name):
    states = []
    for _ in range(4):
        head(tab, name).get_by_role("button").click()
        states.append((head(tab, name).get_attribute("aria-sort"), runs(tab)))
    up = ("ascending", UP[name])
    assert states == [up, ("descending", DOWN[name]), (None, FILE), up]


@pytest.mark.parametrize("name", TOLD)
def test_a_screen_reader_hears_the_order(tab, name):
    status = tab.get_by_role("status")
    assert status.inner_text() == "5 rows, not sorted"
    for words in TOLD[name]:
        head(tab, name).get_by_role("button").press("Enter")
        assert status.inner_text() == f"5 rows, by {name}, {words}"
    head(tab, name).get_by_role("button").press("Space")
    assert status.inner_text() == "5 rows, not sorted"


def test_only_one_column_at_a_time_says_that_it_is_sorted(tab):
    head(tab, "Day").get_by_role("button").click()
    head(tab, "Run").get_by_role("button").click()
    assert tab.locator("[aria-sort]").count() == 1
    assert runs(tab) == UP["Run"]


def test_the_keyboard_goes_from_the_filter_to_each_head_and_shows_where_it_is(tab):
    tab.get_by_role("searchbox").focus()
    seen = []
    for _ in range(2 + len(HEADS)):
        tab.keyboard.press("Tab")
        seen.append(tab.evaluate("document.activeElement.className"))
    assert seen == ["box", *["sort"] * len(HEADS), "box"]
    tab.keyboard.press("Shift+Tab")
    assert tab.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    tab.keyboard.press("Enter")
    assert runs(tab) == UP["Note"]
    assert tab.evaluate("document.activeElement.className") == "sort"


def test_a_sorted_column_keeps_its_decimal_marks_under_one_another(tab):
    edges = """[...document.querySelectorAll('#table-runs tbody tr')].map(row => {
        const text = row.cells[3].firstChild, range = document.createRange();
        const found = /^[^\\da-z]*\\d+/.exec(text.data);
        if (!found) return null;
        range.setStart(text, 0); range.setEnd(text, found[0].length);
        return range.getBoundingClientRect().right; }).filter(edge => edge !== null)"""
    before = tab.evaluate(edges)
    head(tab, "Film pressure").get_by_role("button").click()
    after = tab.evaluate(edges)
    assert len(after) == 4
    assert max(after) - min(after) < 0.6
    assert sorted(after) == pytest.approx(sorted(before))


def test_without_its_script_it_is_a_plain_table_of_the_same_height(browser, address, tab):
    heights = "[...document.querySelectorAll('#table-runs tr')].map(row => row.offsetHeight)"
    context = browser.new_context(java_script_enabled=False)
    silent = context.new_page()
    silent.goto(address)
    assert silent.locator("button, input").count() == 0
    assert runs(silent) == FILE
    plain = [row.bounding_box()["height"] for row in silent.locator("#table-runs tr").all()]
    context.close()
    assert tab.evaluate(heights) == pytest.approx(plain, abs=1)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [("2026-04-14", ["c07-2", "c07-30"]), ("YES  c07-1", ["c07-10"]), ("1204", ["c07-30"]), ("nothing", [])],
)
def test_the_filter_keeps_rows_that_contain_every_word(tab, wanted, found):
    tab.get_by_label("Show only rows that contain").fill(wanted)
    assert runs(tab) == found
    assert tab.get_by_role("status").inner_text() == f"{len(found)} of 5 rows, not sorted"
    tab.get_by_label("Show only rows that contain").fill("")
    assert runs(tab) == FILE


def test_a_filtered_table_sorts_and_keeps_the_filter(tab):
    tab.get_by_label("Show only rows that contain").fill("yes")
    kept = runs(tab)
    head(tab, "Run").get_by_role("button").click()
    assert runs(tab) == [run for run in UP["Run"] if run in kept]
    assert kept == ["c07-10", "c07-2"]


def test_other_tables_stay_as_they_are(tab):
    assert tab.locator("#table-oils button").count() == 0
    assert tab.locator(".sort-tools").count() == 1


def test_a_page_that_strips_scripts_has_the_plain_table(html):
    without = html[html.index("<body>") : html.index("<script>")]
    for trace in ("<button", "<input", "aria-sort", "Show only rows"):
        assert trace not in without


@pytest.mark.pdf
def test_paper_has_the_order_of_the_file_by_either_way(tab, html):
    head(tab, "Width").get_by_role("button").click()
    by_browser = tab.pdf(prefer_css_page_size=True)
    for data in (by_browser, html_to_pdf(html, title="Oils", campaign_id="c-1")):
        text = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)
        places = [text.index(run + " ") for run in FILE]
        assert places == sorted(places)
        assert "Show only rows" not in text
    assert runs(tab) == UP["Width"]
