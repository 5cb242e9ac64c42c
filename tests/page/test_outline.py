"""Numbers of sections, figures and tables, and the mistakes of a template that are refused."""

import pytest

from pinscar.page.markup import caption_html, reference
from pinscar.page.outline import page_parts


def test_sections_and_parts_are_numbered_in_order():
    parts = page_parts("<h2>A</h2><h3>B</h3><h3>C</h3><h2>D</h2><h3>E</h3>")
    assert [section.number for section in parts.sections] == ["1", "1.1", "1.2", "2", "2.1"]
    assert '<h3 id="e"><span class="section-number">2.1</span> E<a class="anchor' in parts.rest


def test_the_front_is_what_stands_before_the_first_section():
    parts = page_parts("<h1>Own <em>title</em></h1><p>Met.</p><h2>A</h2><p>b</p>")
    assert parts.heading == "Own title"
    assert parts.front == "<p>Met.</p>"
    assert parts.rest.startswith("<section><h2")


def test_a_page_without_sections_is_all_front():
    assert page_parts("<p>x</p>").rest == ""


def test_anchors_are_distinct_and_given_ones_kept():
    parts = page_parts('<h2>Heat</h2><h2>Heat</h2><h2 id="own" class="k">Heat</h2><h2>µ</h2>')
    assert [section.anchor for section in parts.sections] == ["heat", "heat-2", "own", "section"]
    assert '<h2 id="own" class="k">' in parts.rest


def test_figures_and_tables_are_counted_apart_and_references_follow():
    body = "".join(
        [
            f"<p>{reference('table', 'late')}</p>",
            f"<p>{caption_html('figure', 'a').html}{caption_html('table', 'b').html}</p>",
            f"<div{caption_html('table', 'c', key='late').attribute}>",
            f"{caption_html('table', 'c', key='late').html}</div>",
        ]
    )
    front = page_parts(body).front
    assert '<a class="reference" href="#table-late">Table 2</a>' in front
    assert "Figure 1.</span> a" in front
    assert "Table 1.</span> b" in front
    assert "data-" not in front


def test_a_reference_to_a_numbered_caption_is_found():
    caption = caption_html("table", "c", number=7, key="7")
    body = f"<div{caption.attribute}>{caption.html}</div>{reference('table', '7')}"
    assert ">Table 7</a>" in page_parts(body).front


def test_a_section_with_a_turned_table_is_turned_as_a_whole():
    rest = page_parts('<h2>A</h2><h2>B</h2><div class="table long landscape">x</div>').rest
    assert rest.startswith('<section><h2 id="a">')
    assert '<section class="turned"><h2 id="b">' in rest


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ("<h1>a</h1><h1>b</h1>", "more than one level 1 heading"),
        ("<h2>a</h2><h4>b</h4>", "'b' skips a level"),
        ("<h3>b</h3>", "'b' skips a level"),
        ('<p id="x">a</p><p id="x">b</p>', "same id: x"),
        (str(reference("figure", "gone")), "'figure-gone'"),
    ],
)
def test_mistakes_of_a_template_are_refused(body, message):
    with pytest.raises(ValueError, match=message):
        page_parts(body)
