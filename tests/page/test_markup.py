"""Tables, findings and callouts: escaped, scoped, and with decimal marks under one another."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pinscar.page import markup
from pinscar.page.markup import FIGURE_SPACE, POINT_SPACE, align_on_decimal_mark, starts_with_number

HOSTILE = "<script>alert('x')</script> & \"q\""
WIDTHS = {FIGURE_SPACE: 1328, POINT_SPACE: 550, ".": 550, "\u2212": 1328, **dict.fromkeys("0123456789", 1328)}


def mark_position(cell):
    """Width of what stands before the decimal mark, or before the place where it would stand."""
    before = re.split(rf"[.{POINT_SPACE}]", cell)[0]
    return sum(WIDTHS[sign] for sign in before)


@given(st.lists(st.decimals(-9999, 9999, places=None, allow_nan=False, allow_infinity=False), min_size=1))
def test_decimal_marks_line_up(values):
    texts = [f"{value:f}" for value in values]
    aligned = align_on_decimal_mark(texts)
    assert len({mark_position(cell) for cell in aligned}) == 1
    assert len({sum(WIDTHS[sign] for sign in cell) for cell in aligned}) == 1
    plain = [re.sub(rf"[{FIGURE_SPACE}{POINT_SPACE}]", "", cell).replace("\u2212", "-") for cell in aligned]
    assert plain == texts


def test_relation_signs_and_groups_of_figures_line_up_too():
    widths = {**WIDTHS, "≤": 1328, "<": 1328, "\u202f": 372}
    cells = align_on_decimal_mark(["≤ 21.3", "23.8 (22.6 to 25.1)", "1\u202f204", "< 0.25", "-7.5"])
    before = [re.split(rf"\.|(?<=[\d]){POINT_SPACE}", cell)[0] for cell in cells]
    assert len({sum(widths[sign] for sign in text) for text in before}) == 1


def test_intervals_start_at_one_place():
    aligned = align_on_decimal_mark(["118 (104 to 134)", "9.6 (8.1 to 11.4)", "not measured"])
    assert len({sum(WIDTHS[sign] for sign in cell.split(" (")[0]) for cell in aligned[:2]}) == 1
    assert aligned[2] == "not measured"


@pytest.mark.parametrize("text", ["2024-05-02", "12:30", "1.2.3", "r001", "", "not measured", "-"])
def test_what_is_no_number_is_left_alone(text):
    assert not starts_with_number(text)
    assert align_on_decimal_mark([text, "12.5"])[0] == text


def test_plain_text_is_escaped_everywhere():
    html = "".join(
        [
            markup.table([HOSTILE, (HOSTILE, HOSTILE)], [[HOSTILE, HOSTILE]], caption=HOSTILE, note=HOSTILE),
            markup.table(["a", "b"], [[HOSTILE, f"3 {HOSTILE}"]], caption="c", number_columns=[1]),
            markup.finding(HOSTILE),
            markup.method_note(HOSTILE),
            markup.key_value({HOSTILE: HOSTILE}),
            markup.callout("note", HOSTILE, HOSTILE),
            markup.verdict("met", HOSTILE),
            markup.tag("met", HOSTILE),
            markup.reference("table", HOSTILE),
        ]
    )
    assert "<script" not in html
    assert re.search(r'="[^"]*<', html) is None


def test_markup_passes():
    html = markup.table(["a"], [[markup.tag("met")]], caption=markup.Markup("<em>c</em>"))
    assert '<span class="tag kind-met">' in html
    assert "<em>c</em>" in html
    assert 'aria-label="c"' in html


def test_a_relation_sign_is_escaped_and_aligned():
    html = markup.table(["Oil", "p"], [["A", "< 0.0001"], ["B", "0.12"]], caption="c", number_columns=[1])
    assert "&lt;\u20080.0001</td>" in html
    assert "0.12\u2007\u2007</td>" in html


def test_table_heads_have_scope_and_rows_their_class():
    html = markup.table(
        ["Run", ("Load", "N")], [["r1", "450"], ["r2", "900"]], caption="Runs", row_classes=["", "excluded"]
    )
    assert html.count('scope="col"') == 2
    assert html.count('scope="row"') == 2
    assert '<tr class="excluded">' in html
    assert '<span class="unit">[N]</span>' in html
    assert html.count("<caption>") == 1


@pytest.mark.parametrize("cell", ["", "  ", "\u00a0"])
def test_an_empty_cell_is_refused(cell):
    with pytest.raises(ValueError, match="cell 1 of row 0 is empty"):
        markup.table(["a", "b"], [["x", cell]], caption="c")


def test_a_ragged_row_and_a_table_without_rows_are_refused():
    with pytest.raises(ValueError, match="row 1 has 1 cells, the head has 2"):
        markup.table(["a", "b"], [["x", "y"], ["x"]], caption="c")
    with pytest.raises(ValueError, match="without rows"):
        markup.table(["a"], [], caption="c")


@pytest.mark.parametrize("kind", markup.CALLOUTS)
def test_each_kind_is_told_by_a_word_and_a_mark_of_its_own(kind):
    word, mark = markup.CALLOUTS[kind]
    html = markup.callout(kind, "t", "x")
    assert f"<strong>{word}:</strong>" in html
    assert f">{mark}</span>" in html
    assert [other for other in markup.CALLOUTS.values() if mark == other[1]] == [(word, mark)]


def test_width_is_judged_by_what_is_read_not_by_the_markup():
    verdicts = [["film-450", markup.tag("not met")], ["scar-450", markup.tag("met")]]
    html = markup.table(["Limit", "Verdict"], verdicts, caption="c")
    assert '<div class="table few">' in html
    assert html.count('<td class="short">') == 2


def test_prose_columns_get_the_full_width():
    html = markup.table(
        ["Limit", "Because"], [["film-450", "the whole interval lies above the limit " * 3]], caption="c"
    )
    assert '<div class="table">' in html
    assert "<td>the whole" in html
