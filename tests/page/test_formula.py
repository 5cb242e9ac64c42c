"""Formulas as images: on the baseline, in the right places of a text, the same each time."""

import base64
import json
import re

import pytest

from pinscar.page.formula import _SEARCHED, formula_html, formula_words, mute_formulas, replace_formulas
from pinscar.page.style import INK, MUTED
from pinscar.shipped import shipped_folder


def svg_of(html):
    return base64.b64decode(re.search(r"base64,([\w+/=]+)", html)[1]).decode()


def measures(html):
    """Width, height and depth below the baseline in em, and the vertical extent of the ink in SVG units."""
    width, height, shift = map(
        float, re.search(r"width:([-\d.]+)em;height:([-\d.]+)em;vertical-align:([-\d.]+)em", html).groups()
    )
    box = [float(part) for part in re.search(r'viewBox="([^"]+)"', svg_of(html))[1].split()]
    # Path commands end a word here, so the numbers come in pairs x y.
    numbers = [
        float(part) for part in re.findall(r"-?\d+\.?\d*", re.search(r' d="([^"]+)"', svg_of(html))[1])
    ]
    return width, height, -shift, box, numbers[1::2]


@pytest.mark.parametrize("tex", ["x", "p = F / A", r"\frac{F}{A}", r"R_\mathrm{r}", "y", r"h_\infty"])
def test_ink_lies_inside_the_image(tex):
    _, _, _, (_, _, _, box_height), ys = measures(formula_html(tex))
    assert min(ys) >= 0
    assert max(ys) <= box_height


@pytest.mark.parametrize("tex", ["x", "E", "H"])
def test_letters_without_descender_stand_on_the_baseline_of_the_text(tex):
    _, height, depth, (_, _, _, box_height), ys = measures(formula_html(tex))
    baseline = box_height * (1 - depth / height)
    # A flat-footed letter ends on its baseline; a hundredth of an em is less than a pixel.
    assert max(ys) == pytest.approx(baseline, abs=1.5)


def test_a_descender_hangs_below_the_baseline():
    _, _, depth_x, _, _ = measures(formula_html("x"))
    _, _, depth_y, _, _ = measures(formula_html("y"))
    assert depth_y > depth_x + 0.1


def test_image_keeps_the_proportions_of_its_box():
    width, height, _, (_, _, box_width, box_height), _ = measures(formula_html(r"\sqrt{x^2 + 1}"))
    assert width / height == pytest.approx(box_width / box_height, rel=2e-3)


def test_displayed_fractions_are_large_and_nested_ones_are_not():
    _, inline, _, _, _ = measures(formula_html(r"\frac{F}{A}"))
    _, shown, _, _, _ = measures(formula_html(r"\frac{F}{A}", display=True))
    assert shown > 1.3 * inline
    assert "dfrac" not in formula_html(r"\frac{F}{A}", display=True)


def test_alternative_text_is_the_formula_or_what_was_given():
    assert 'alt="a is less than b"' in formula_html("a < b")
    assert 'alt="force over area"' in formula_html(r"\frac{F}{A}", alt="force over area")


def test_the_same_formula_gives_the_same_image():
    assert formula_html(r"h = \sqrt{R^2 - L^2/4}") == formula_html(r"h = \sqrt{R^2 - L^2/4}")


def test_a_formula_that_cannot_be_set_is_named():
    with pytest.raises(ValueError, match=r"the formula '\\\\frac\{F' cannot be set"):
        formula_html(r"\frac{F")


@pytest.mark.parametrize(
    "text",
    [
        "costs $5 and $6",
        "between 5$ and 6$",
        "`$F$` is code",
        "```\n$F$ and $$x$$\n```",
        "a single $ sign",
        "$ x $ has blanks",
    ],
)
def test_no_formula_is_seen_where_there_is_none(text):
    assert replace_formulas(text) == text


def test_an_escaped_dollar_is_a_dollar():
    assert replace_formulas(r"\$F\$") == "$F$"


def test_formulas_in_a_text_are_found():
    html = replace_formulas("With $F$, $A$:\n\n$$p =\n\\frac{F}{A}$$\n\nand ($k$).")
    assert html.count("<img") == 4
    assert html.count('<div class="formula">') == 1
    assert 'alt="p equals F over A"' in html


@pytest.mark.parametrize(
    ("tex", "words"),
    [
        (r"A = \frac{\pi}{4} L\,W", "A equals (pi over 4) L W"),
        (r"\frac{a + b}{c}", "(a plus b) over c"),
        (
            r"h = R_r - \sqrt{R_r^2 - L^2/4}",
            "h equals R sub r minus square root of (R sub r squared minus L squared over 4)",
        ),
        (r"t^{1/4}", "t to the power (1 over 4)"),
        (r"z_{i-1}", "z sub (i minus 1)"),
        (r"\overline{\ln x}", "(natural logarithm of x) bar"),
        (r"W_0\left(-e^{-1 - t/\tau}\right)", "W sub 0 (minus e to the power (minus 1 minus t over tau))"),
        (r"R_\mathrm{q1} \approx 3\,\mu", "R sub q1 is about 3 mu"),
    ],
)
def test_a_formula_is_heard_in_words(tex, words):
    assert formula_words(tex) == words


def test_no_formula_of_a_template_is_heard_as_tex():
    found = [
        match["inline"] or match["display"]
        for file in shipped_folder("templates").glob("*.ipynb")
        for cell in json.loads(file.read_text(encoding="utf-8"))["cells"]
        for match in _SEARCHED.finditer("".join(cell["source"]))
        if match["inline"] or match["display"]
    ]
    assert len(found) > 20
    assert [tex for tex in found if set(formula_words(tex)) & set("\\{}_^=+/$")] == []


def test_formulas_in_notes_are_as_muted_as_their_text():
    html = f'<p class="method">{formula_html("F")}</p><p>{formula_html("F")}</p>'
    notes, rest = mute_formulas(html).split("</p>", 1)
    assert MUTED.encode() in base64.b64decode(re.search(r"base64,([^\"]+)", notes)[1])
    assert INK.encode() in base64.b64decode(re.search(r"base64,([^\"]+)", rest)[1])
