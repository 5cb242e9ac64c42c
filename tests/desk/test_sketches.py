"""The sketches that explain: dimensions to scale, verdicts as the decision gives them."""

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import pytest
from matplotlib.text import Text

from pinscar.contact.geometry import CrossedCylinders
from pinscar.desk.plots import scar_sketch, verdict_sketch


def written(axes):
    return [text.get_text().strip() for text in axes.findobj(Text) if text.get_text().strip()]


@pytest.fixture
def axes():
    figure, three = plt.subplots(1, 3)
    yield three
    plt.close(figure)


def test_a_scar_is_drawn_to_scale_with_every_dimension_named(axes):
    scar_sketch(axes, CrossedCylinders(6e-3, 20e-3), 10e-3)
    side, end, above = axes
    assert {"L", "h", "ring, Rr"} <= set(written(side))
    assert {"W", "Rp"} <= set(written(end))
    oval = above.lines[0].get_xydata()
    # 10 mm by the 5.373144 mm that pin and ring of these radii imply (own derivation, 30 digits).
    assert tuple(oval.max(axis=0) - oval.min(axis=0)) == pytest.approx((10.0, 5.373144), abs=1e-3)
    assert side.lines[0].get_ydata().min() == pytest.approx(-0.635083, abs=1e-3)


def test_intervals_carry_their_verdicts_and_a_bound_is_an_open_mark(axes):
    intervals = [(126, 141), (108, 127), (98, 112), (None, 96)]
    verdict_sketch(axes[0], intervals, 120, "at least", "Film pressure", "MPa")
    words = [word for word in written(axes[0]) if word in ("met", "undecided", "not met")]
    assert words == ["met", "undecided", "not met", "not met"]
    marks = [line for line in axes[0].lines if line.get_marker() == "o"]
    assert [mark.get_markerfacecolor() == "#ffffff" for mark in marks] == [False, False, False, True]
