"""The page: what it shows and hides, that it stands alone, and that a screen reader can follow it."""

import base64
import hashlib
import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from nbformat import v4

from pinscar.page.page import notebook_to_html, render_markdown
from pinscar.shipped import shipped_folder

VOID = {"meta", "link", "img", "br", "source", "hr"}


class Elements(HTMLParser):
    """All elements with their attributes, and whether each one opened is closed in order."""

    def __init__(self, html):
        super().__init__()
        self.found, self.open = [], []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag, f"</{tag}> closes nothing"

    def named(self, *tags):
        return [attributes for tag, attributes in self.found if tag in tags]


@pytest.fixture(scope="module")
def elements(sample_page):
    return Elements(sample_page)


def page_of(*cells, **options):
    notebook = v4.new_notebook(cells=list(cells))
    return notebook_to_html(notebook, **{"title": "Oils", "campaign_id": "c-1", **options})


def test_every_element_is_closed(elements):
    assert elements.open == []


def test_neither_code_nor_streams_nor_plain_results_are_shown(sample_page):
    for hidden in ("secret_source_text", "a warning nobody should read", "&lt;object&gt;", "<object>"):
        assert hidden not in sample_page


def test_the_page_stands_alone(sample_page, elements):
    assert elements.named("iframe", "object", "embed") == []
    assert elements.named("script") == [{}]  # our own, which sorts
    addresses = [a[name] for _, a in elements.found for name in ("src", "href", "srcset") if name in a]
    assert all(address.startswith(("data:", "#")) for address in addresses)
    assert re.findall(r"url\((?!data:)", sample_page) == []
    assert "@import" not in sample_page
    assert [name for _, a in elements.found for name in a if name.startswith("on")] == []


def test_the_policy_lets_nothing_run_but_the_script_that_sorts(elements, sample_page):
    (policy,) = [a["content"] for a in elements.named("meta") if a.get("http-equiv")]
    (script,) = re.findall("<script>(.*?)</script>", sample_page, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert "default-src 'none'" in policy
    assert f"script-src 'sha256-{digest}';" in policy
    assert script == (shipped_folder("templates") / "page" / "sorting.js").read_text(encoding="utf-8").rstrip(
        "\n"
    )


def test_a_page_without_a_table_to_sort_has_no_script():
    html = page_of(v4.new_code_cell("x", outputs=[]))
    assert "<script" not in html
    assert "script-src 'none';" in html


def test_language_title_and_one_heading(elements, sample_page):
    """A page states its language, its title and exactly one main heading."""
    assert elements.named("html") == [{"lang": "en"}]
    assert len(elements.named("h1")) == 1
    assert "<title>May C-21 replace R-10 on the oven line? (conveyor-07)</title>" in sample_page


def test_contents_lead_to_every_section(elements):
    ids = [attributes["id"] for _, attributes in elements.found if "id" in attributes]
    assert len(ids) == len(set(ids))
    targets = [a["href"][1:] for a in elements.named("a") if "anchor" not in a.get("class", "")]
    assert set(targets) <= set(ids)
    sections = [a["id"] for a in elements.named("h2", "h3")]
    assert [target for target in targets if target in sections] == sections
    assert targets[0] == "content"


def test_every_section_can_be_linked_to_from_its_heading(elements, sample_page):
    anchors = [a for a in elements.named("a") if "anchor" in a.get("class", "")]
    assert [a["href"][1:] for a in anchors] == [a["id"] for a in elements.named("h2", "h3")]
    numbers = re.findall(r'<span class="section-number">([\d.]+)</span> [^<]*<a class="anchor', sample_page)
    assert [a["aria-label"] for a in anchors] == [f"Link to section {number}" for number in numbers]


def test_headings_go_down_one_level_at_a_time(elements):
    levels = [int(tag[1]) for tag, _ in elements.found if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(deeper - level <= 1 for level, deeper in pairwise(levels))


def test_images_have_text_and_tables_have_heads(elements):
    assert all(attributes.get("alt", "").strip() for attributes in elements.named("img"))
    assert {attributes.get("scope") for attributes in elements.named("th")} == {"col", "row"}
    captioned = [a for a in elements.named("table") if a.get("class") != "facts"]
    assert len(elements.named("caption")) == len(captioned)


def test_figures_and_tables_are_numbered_as_text(sample_page):
    labels = re.findall(r'<span class="label">([^<]*)</span>', sample_page)
    assert labels == ["Figure 1.", "Table 1.", "Figure 2.", "Table 2.", "Figure 3.", "Table 3."]
    assert '<a class="reference" href="#table-summary">Table 1</a>' in sample_page


def test_stylesheet_is_small_and_the_page_is_light(sample_page):
    styles = re.findall(r"<style[^>]*>(.*?)</style>", sample_page, re.DOTALL)
    fonts = [text for text in styles if "base64" in text]
    assert len(fonts) == 1
    assert sum(map(len, styles)) - len(fonts[0]) < 30_000


def test_the_same_notebook_gives_the_same_page(sample_notebook, sample_page):
    again = notebook_to_html(
        sample_notebook, title="May C-21 replace R-10 on the oven line?", campaign_id="conveyor-07"
    )
    assert again == sample_page


def test_ids_of_cells_do_not_reach_the_page(sample_notebook, sample_page):
    assert [cell.id for cell in sample_notebook.cells if f'"{cell.id}"' in sample_page] == []


def test_the_page_does_not_depend_on_where_and_how_it_is_made(tmp_path):
    code = (
        "import hashlib, nbformat.v4 as v4; from pinscar.page.page import notebook_to_html as f\n"
        "nb = v4.new_notebook(cells=[v4.new_markdown_cell('## Heat\\n\\n$x$')])\n"
        "print(hashlib.sha256(f(nb, title='Oils', campaign_id='c').encode()).hexdigest())"
    )
    digests = set()
    for i, seed in enumerate("12"):
        folder = tmp_path / seed
        folder.mkdir()
        source = str(Path(__file__).resolve().parents[2] / "toolkit")
        environment = {
            **os.environ,
            "PYTHONHASHSEED": seed,
            "LANG": ["C", "de_DE.UTF-8"][i],
            "HOME": str(folder),
        }
        environment["PYTHONPATH"] = os.pathsep.join([source, os.environ.get("PYTHONPATH", "")])
        done = subprocess.run(
            [sys.executable, "-c", code],
            cwd=folder,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        digests.add(done.stdout)
    assert len(digests) == 1


def test_a_heading_of_the_notebook_takes_the_place_of_the_title():
    html = page_of(v4.new_markdown_cell("# Oils & more\n\nText."))
    assert "<h1>Oils &amp; more</h1>" in html
    assert html.count("<h1") == 1
    assert "<title>Oils (c-1)</title>" in html


def test_texts_from_the_campaign_are_escaped():
    html = page_of(title="<b>&", campaign_id='"><i>', language="de")
    assert "<b>" not in html
    assert "<i>" not in html
    assert '<html lang="de">' in html


def test_a_cell_that_failed_is_never_passed_over():
    error = v4.new_output("error", ename="KeyError", evalue="'load'", traceback=[])
    with pytest.raises(ValueError, match="a cell ended in an error: KeyError: 'load'"):
        page_of(v4.new_code_cell("x", outputs=[error]))


def test_a_bare_picture_is_refused_rather_than_lost():
    picture = v4.new_output("display_data", data={"image/png": "aGVsbG8=", "text/plain": "<Figure>"})
    with pytest.raises(ValueError, match="bare image/png"):
        page_of(v4.new_code_cell("x", outputs=[picture]))


def test_markdown_outputs_are_shown_with_their_formulas():
    shown = v4.new_output("display_data", data={"text/markdown": "## Heat\n\nby $F$"})
    html = page_of(v4.new_code_cell("x", outputs=[shown]))
    assert '<h2 id="heat">' in html
    assert 'class="formula"' in html


def test_markdown_keeps_text_beside_formulas():
    html = render_markdown("*a* $x_1$ and $y_1$ **b**")
    assert html.startswith("<p><em>a</em> <img")
    assert html.rstrip().endswith("<strong>b</strong></p>")


def test_the_template_folder_ships_what_the_template_includes():
    folder = shipped_folder("templates") / "page"
    included = re.findall(r'include "([^"]+)"', (folder / "index.html.j2").read_text(encoding="utf-8"))
    assert included == ["sorting.js", "base.css", "screen.css", "print.css"]
    assert all((folder / name).is_file() for name in included)
