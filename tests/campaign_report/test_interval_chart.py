"""The chart of estimates says where an interval goes on beyond its axis."""

from __future__ import annotations

import pytest

from pinscar.campaign_report.figures import response_figure
from pinscar.campaign_report.interval_chart import interval_chart
from pinscar.decision.record import Analysis
from pinscar.desk.plots import response_named

TIP = "a bar with a tip goes on beyond the axis"


@pytest.mark.parametrize(("name", "load", "tips"), [("film_pressure", 600.0, 1), ("film_pressure", 450.0, 0)])
def test_a_bar_that_goes_on_has_a_tip(demo_analysis: Analysis, name: str, load: float, tips: int) -> None:
    """The film pressure of R-10 at 600 N rests on two values and four bounds: its low end is under 1 MPa."""
    response = response_named(demo_analysis, name)
    found = [
        one
        for one in demo_analysis.summaries
        if one.response.name == name and one.cell.load_level == pytest.approx(load, rel=0.01)
    ]
    chart = interval_chart(response, found, demo_analysis.roles, [])
    (axes,) = chart.axes
    marks = [line for line in axes.lines if line.get_marker() in (4, 5)]
    assert len(marks) == tips
    assert all(mark.get_xdata()[0] == axes.get_xlim()[0] for mark in marks)
    assert (TIP in response_figure(demo_analysis, response, key="f", level=found[0].cell.load_level)) == bool(
        tips
    )
