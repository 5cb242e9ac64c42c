"""The figures' one style: its colours, its face, the same bytes each time, and the way into the page."""

import base64
import hashlib
import os
import re
import subprocess
import sys
from itertools import combinations

import matplotlib
import numpy as np
import pytest
from fontTools.ttLib import TTFont

from pinscar.page import fonts, style

DRAW = """
import hashlib
from pinscar.page.style import figure_svg, new_figure, report_style
with report_style():
    figure = new_figure(50)
    axes = figure.subplots()
    axes.plot([1, 2, 3], [3, 1, 2], "o-")
    axes.axvspan(1.5, 2, color="#dddddd")
    axes.set(xlabel=r"Depth $h_0$, \\u00b5m", title="Wear")
print(hashlib.sha256(figure_svg(figure)).hexdigest())
"""


def small_figure():
    with style.report_style():
        figure = style.new_figure(40)
        figure.subplots().plot([1, 2], [1, 2])
    return figure


def svgs(html):
    return [base64.b64decode(data) for data in re.findall(r"data:image/svg\+xml;base64,([\w+/=]+)", html)]


def luminance(colour):
    """Relative luminance (WCAG 2.2)."""
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision
# deficiency", 2009, severity 1.0 (from memory; rows sum to 1, as white must stay white).
DEFICIENCIES = {
    "none": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def lab(colour, deficiency):
    """CIE 1976 L*a*b* of an sRGB colour as seen with a deficiency (D65)."""
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    seen = np.clip(DEFICIENCIES[deficiency] @ linear, 0, 1)
    to_xyz = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    ratio = np.array(to_xyz) @ seen / [0.9505, 1.0, 1.089]
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("deficiency", [name for name in DEFICIENCIES if name != "none"])
def test_white_stays_white_in_the_simulation(deficiency):
    assert DEFICIENCIES[deficiency].sum(axis=1) == pytest.approx(1.0, abs=2e-6)


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_roles_and_limits_are_told_apart_by_colour_blind_eyes(deficiency):
    # A difference of 2.3 is just noticeable side by side; ten is plain at a distance.
    colours = [*(look.colour for look in style.ROLES.values()), style.LIMIT]
    for one, other in combinations(colours, 2):
        assert np.linalg.norm(lab(one, deficiency) - lab(other, deficiency)) > 10, (one, other)


def test_colours_reach_the_contrast_of_wcag():
    for look in style.ROLES.values():
        assert contrast(look.colour, style.PAPER) >= 3.0
        assert contrast(look.colour, look.tint) >= 3.0
    for text in (style.INK, style.MUTED, style.LIMIT):
        assert contrast(text, style.PAPER) >= 4.5


def test_each_role_has_its_own_mark():
    assert len({look.marker for look in style.ROLES.values()}) == len(style.ROLES)


def test_the_same_figure_gives_the_same_bytes_in_any_process():
    digests = set()
    for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "SOURCE_DATE_EPOCH": seed}
        done = subprocess.run(
            [sys.executable, "-c", DRAW], env=environment, capture_output=True, text=True, check=True
        )
        assert done.stderr == ""
        digests.add(done.stdout)
    assert len(digests) == 1
    assert len(digests.pop().strip()) == hashlib.sha256().digest_size * 2


def test_svg_has_no_date_no_text_and_no_maker():
    svg = style.figure_svg(small_figure()).decode()
    assert "<text" not in svg
    assert "date" not in svg.lower()
    assert "metadata" not in svg
    assert '<path d="M' in svg


def test_settings_are_restored_and_pyplot_is_not_needed():
    before = dict(matplotlib.rcParams)
    small_figure()
    assert dict(matplotlib.rcParams) == before


def test_figure_is_as_wide_as_the_text_block_of_the_page():
    svg = style.figure_svg(small_figure()).decode()
    width = float(re.search(r'width="([\d.]+)pt"', svg)[1])
    # The tight box leaves out a fraction of a line width.
    assert width / 72 * 25.4 == pytest.approx(170, abs=0.5)


def test_figure_html_escapes_numbers_and_refers():
    html = style.figure_html(small_figure(), alt='C-21 "holds" <more>', caption="a < b", number=4, key="film")
    assert 'alt="C-21 &#34;holds&#34; &lt;more&gt;"' in html
    assert '<figure class="figure" id="figure-film">' in html
    assert '<span class="label">Figure 4.</span> a &lt; b</figcaption>' in html


def test_a_figure_without_alternative_text_is_refused():
    with pytest.raises(ValueError, match="alt must be a sentence"):
        style.figure_html(small_figure(), alt=" ", caption="x")


def test_narrow_version_is_offered_to_phones_only():
    html = style.figure_html(small_figure(), alt="Rises.", caption="x", narrow=small_figure())
    assert html.count("<source ") == 1
    assert 'media="(max-width: 600px)"' in html
    assert len(svgs(html)) == 2


def test_a_pyplot_figure_is_closed():
    import matplotlib.pyplot as plt

    with style.report_style():
        figure, axes = plt.subplots()
        axes.plot([1, 2])
    number = figure.number
    style.figure_html(figure, alt="Rises.", caption="x")
    assert not plt.fignum_exists(number)


# The bundled face ------------------------------------------------------------------------------------------

NEEDED = "±×÷−–—→←↑↓·°µμλσπητΔΩΣ∞√∫≤≥≠≈✓✗■▲○…‘’“”²³⁻⁶₀½‰\u2007\u2008\u00a0\u202f"


@pytest.fixture(params=fonts.STYLES, ids=lambda font_style: font_style.name)
def face(request):
    return TTFont(request.param.file("ttf"))


def tabular(font):
    """Map each glyph to the one that the tnum feature puts in its place."""
    table = font["GSUB"].table
    lookups = {
        index
        for record in table.FeatureList.FeatureRecord
        if record.FeatureTag == "tnum"
        for index in record.Feature.LookupListIndex
    }
    swaps = {}
    for index in lookups:
        for subtable in table.LookupList.Lookup[index].SubTable:
            swaps.update(getattr(subtable, "ExtSubTable", subtable).mapping)
    return swaps


def test_face_has_the_signs_a_report_needs(face):
    assert [sign for sign in NEEDED if ord(sign) not in face.getBestCmap()] == []


def test_face_has_tabular_figures_and_spaces_as_wide(face):
    # What pinscar.page.markup relies on.
    names, swaps, widths = face.getBestCmap(), tabular(face), face["hmtx"]

    def width(sign):
        return widths[swaps.get(names[ord(sign)], names[ord(sign)])][0]

    assert {width(sign) for sign in "0123456789\u2007−+<>"} == {width("0")}
    assert width("\u2008") == width(".")
    assert "GPOS" in face


def test_face_names_its_source_and_licence_and_not_the_upstream_family(face):
    names = {record.nameID: str(record) for record in face["name"].names}
    assert names[16] == fonts.FAMILY
    assert "SIL" in names[13]
    licence = (fonts.FOLDER / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert "with Reserved Font Name" not in licence


def test_fonts_in_a_page_weigh_under_350_kilobytes():
    assert len(fonts.font_face_css(embedded=True)) < 350_000


def test_both_formats_hold_the_same_characters():
    for font_style in fonts.STYLES:
        web = TTFont(font_style.file("woff2"))
        assert web.getBestCmap().keys() == TTFont(font_style.file("ttf")).getBestCmap().keys()


def test_what_a_notebook_shows_figures_by_outlives_the_style() -> None:
    """The first figure of a notebook turns pyplot interactive; later ones need that to stay."""
    before = matplotlib.is_interactive()
    try:
        matplotlib.interactive(False)
        with style.report_style():
            matplotlib.interactive(True)
        assert matplotlib.is_interactive()
        with pytest.raises(ValueError, match="drawing failed"), style.report_style():
            raise ValueError("drawing failed")
        assert matplotlib.is_interactive()
    finally:
        matplotlib.interactive(before)
