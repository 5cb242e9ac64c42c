"""A smaller SVG draws the same picture."""

import io
import re

import matplotlib as mpl
import numpy as np
import pytest
from PIL import Image

from pinscar.page.style import compact_svg, new_figure, report_style


@pytest.fixture(scope="module")
def svg():
    rng = np.random.default_rng(5)
    with report_style(), mpl.rc_context({"svg.hashsalt": "x"}):
        figure = new_figure(70)
        axes = figure.subplots()
        axes.plot(np.cumsum(rng.standard_normal(400)), lw=0.8)
        axes.fill_between([0, 400], [-3, -2], [4, 5], alpha=0.3)
        axes.scatter(rng.random(30) * 400, rng.random(30) * 9)
        axes.set(xlabel="Time, s", ylabel=r"Friction $\mu$", title="# not a name")
        buffer = io.BytesIO()
        figure.savefig(buffer, format="svg")
    return buffer.getvalue().decode()


def test_it_is_smaller_by_a_quarter_and_steady(svg):
    small = compact_svg(svg)
    assert len(small) < 0.75 * len(svg)
    assert compact_svg(small) == small


def test_every_name_that_is_called_is_there_once(svg):
    small = compact_svg(svg)
    named = re.findall(r' id="([^"]+)"', small)
    called = set(re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', small))
    assert len(named) == len(set(named))
    assert {a or b for a, b in called} == set(named)


def test_scales_keep_all_their_digits(svg):
    scales = re.findall(r"scale\([^)]*\)", svg)
    assert scales
    assert re.findall(r"scale\([^)]*\)", compact_svg(svg)) == scales


@pytest.mark.page
def test_a_browser_draws_both_alike(browser, svg):
    pictures = []
    for text in (svg, compact_svg(svg)):
        tab = browser.new_page(viewport={"width": 700, "height": 320}, device_scale_factor=2)
        tab.set_content(text[text.index("<svg") :])
        pictures.append(np.asarray(Image.open(io.BytesIO(tab.screenshot())).convert("L"), dtype=float))
        tab.close()
    before, after = pictures
    assert before.std() > 10
    # Half a hundredth of a point is a 75th of a pixel here, 3 steps of grey of 255; a renderer that places
    # edges on a raster of sixteenths jumps further in a few places.
    apart = np.abs(before - after)
    assert apart.max() <= 64
    assert (apart > 8).mean() < 0.002
