"""The charts of the report at the desk: drawn on new axes or on given ones, which are returned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pinscar.decision.analysis import Analysis
from pinscar.decision.evaluate import rig_geometry
from pinscar.decision.growth import scar_growth_curves
from pinscar.decision.levels import same_level
from pinscar.decision.responses import Response
from pinscar.decision.wording import listing, load_text
from pinscar.errors import UsageError
from pinscar.report import style
from pinscar.report.contact_chart import contact_chart
from pinscar.report.figures import limits_of
from pinscar.report.growth_chart import growth_chart
from pinscar.report.interval_chart import FRAME_MM, PANEL_MM, ROW_MM, interval_chart
from pinscar.report.ratio_chart import ratio_chart
from pinscar.report.shipped import nearest

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GROWTH_MM = 62.0


@dataclass(frozen=True, slots=True)
class Plots:
    """The charts of one campaign.

    Each method takes `ax`: none (a new figure, shown by the notebook), one axes, or one for each load; and
    `load`, in N, to draw one load only. It returns what it drew on: the axes where it is one, else a list.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    """

    analysis: Analysis

    def film_pressure(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw the film pressure of each oil with every run; an open arrow is a run that gives a bound.

        Parameters
        ----------
        ax : Axes or sequence of Axes, optional
            Where to draw.
        load : float, optional
            The load [N].

        Returns
        -------
        Axes or list of Axes
            What was drawn on.
        """
        return self.response("film_pressure", ax, load)

    def scar_area(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw the scar area of each oil with every run.

        Parameters
        ----------
        ax : Axes or sequence of Axes, optional
            Where to draw.
        load : float, optional
            The load [N].

        Returns
        -------
        Axes or list of Axes
            What was drawn on.
        """
        return self.response("scar_area", ax, load)

    def response(self, name: str, ax: Any = None, load: float | None = None) -> Any:
        """Draw any response of each oil with every run, intervals and release limits.

        Parameters
        ----------
        name : str
            The response, as in campaign.toml.
        ax : Axes or sequence of Axes, optional
            Where to draw.
        load : float, optional
            The load [N].

        Returns
        -------
        Axes or list of Axes
            What was drawn on.
        """
        response = response_named(self.analysis, name)
        found = [s for s in self.analysis.summaries if s.response.name == name]
        levels = _levels((s.cell.load_level for s in found), load)
        found = [s for s in found if s.cell.load_level in levels]
        limits = [limit for limit in limits_of(self.analysis, response) if limit.load_level in levels]
        axes = _axes(ax, [sum(s.cell.load_level == level for s in found) * ROW_MM for level in levels])
        interval_chart(response, found, self._roles(), limits, axes=axes)
        return _given_back(axes)

    def ratio(self, name: str = "scar_area", ax: Any = None, load: float | None = None) -> Any:
        """Draw each oil's ratio to the reference.

        Parameters
        ----------
        name : str
            A response that has ratios.
        ax : Axes or sequence of Axes, optional
            Where to draw.
        load : float, optional
            The load [N].

        Returns
        -------
        Axes or list of Axes
            What was drawn on.

        Raises
        ------
        UsageError
            If no ratio of that response could be computed.
        """
        response_named(self.analysis, name)
        found = [
            c for c in self.analysis.comparisons if c.response.name == name and c.result.ratio is not None
        ]
        if not found:
            raise UsageError(f"no ratio of {name} to {self.analysis.reference} could be computed")
        levels = _levels((c.load_level for c in found), load)
        found = [c for c in found if c.load_level in levels]
        axes = _axes(ax, [sum(c.load_level == level for c in found) * ROW_MM for level in levels])
        ratio_chart(found, self._roles(), self.analysis.reference, axes=axes)
        return _given_back(axes)

    def contact(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw the fall of the contact pressure from the first touch to the final scar.

        Parameters
        ----------
        ax : Axes or sequence of Axes, optional
            Where to draw.
        load : float, optional
            The load [N].

        Returns
        -------
        Axes or list of Axes
            What was drawn on.
        """
        runs = self.analysis.included.dropna(subset=["scar_pressure", "load_level"])
        levels = _levels(runs["load_level"], load)
        runs = runs[runs["load_level"].isin(levels)]
        oils = [runs.loc[runs["load_level"] == level, "lubricant"].nunique() for level in levels]
        axes = _axes(ax, [count * ROW_MM for count in oils])
        contact_chart(runs, self._roles(), axes=axes)
        return _given_back(axes)

    def growth(self, ax: Any = None, load: float | None = None) -> Any:
        """Draw how the scars grew: the wear-arrest model through quiet times and final scars.

        Parameters
        ----------
        ax : Axes or sequence of Axes, optional
            Where to draw.
        load : float, optional
            The load [N].

        Returns
        -------
        Axes or list of Axes
            What was drawn on.

        Raises
        ------
        UsageError
            If the campaign has no quiet times, or another geometry than crossed cylinders.
        """
        analysis = self.analysis
        curves = scar_growth_curves(analysis.included, rig_geometry(analysis.campaign.file.rig))
        if not curves:
            raise UsageError("the wear-arrest model needs crossed cylinders and quiet times")
        levels = _levels((curve.load_level for curve in curves), load)
        axes = _axes(ax, [GROWTH_MM] * len(levels))
        growth_chart([c for c in curves if c.load_level in levels], self._roles(), axes=axes)
        return _given_back(axes)

    def _roles(self) -> dict[str, str]:
        file = self.analysis.campaign.file
        return {name: file.role_of(name) for name in dict.fromkeys(self.analysis.included["lubricant"])}


def response_named(analysis: Analysis, name: str) -> Response:
    """Find a response by its name.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    name : str
        The name.

    Returns
    -------
    Response
        The response.

    Raises
    ------
    UsageError
        If the runs have none of that name; the nearest is suggested.
    """
    known = {response.name: response for response in analysis.responses}
    if name not in known:
        raise UsageError(f"no run has the response {name!r}{nearest(name, list(known))}")
    return known[name]


def _levels(found: Iterable[float], load: float | None) -> list[float]:
    levels = sorted({float(level) for level in found})
    chosen = [level for level in levels if load is None or same_level(level, load)]
    if not chosen:
        raise UsageError(f"nothing was run at {load:g} N; there is {listing([load_text(v) for v in levels])}")
    return chosen


def _axes(given: Any, heights: Sequence[float]) -> list[Axes]:
    """Give one axes a load: the person's own, or those of a new figure that the notebook shows."""
    if given is None:
        import matplotlib.pyplot as plt

        panels = [height + PANEL_MM for height in heights]
        size = (style.PRINT_WIDTH_MM / 25.4, (sum(panels) + FRAME_MM) / 25.4)
        with style.report_style():
            figure = plt.figure(figsize=size, layout="constrained")
            grid = figure.subplots(len(panels), 1, sharex=True, squeeze=False, height_ratios=panels)
        return list(grid[:, 0])
    axes = list(given.ravel() if hasattr(given, "ravel") else given if _is_several(given) else [given])
    if len(axes) != len(heights):
        raise UsageError(
            f"there are {len(heights)} loads and {len(axes)} axes; give one axes a load, or load="
        )
    return axes


def _is_several(given: Any) -> bool:
    return isinstance(given, list | tuple)


def _given_back(axes: list[Axes]) -> Any:
    return axes[0] if len(axes) == 1 else axes
