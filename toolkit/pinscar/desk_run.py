"""One run at the desk: what was typed, what it tells, and its picture, trace, recording and fling card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pinscar.campaign.names import nearest
from pinscar.decision.analysis import Analysis
from pinscar.desk_run_page import run_html
from pinscar.desk_table import styled
from pinscar.desk_units import si_units
from pinscar.errors import UsageError
from pinscar.evidence.fling_card import FlingReading
from pinscar.evidence.scar_image import ScarReading
from pinscar.evidence.sound import QuietHeard
from pinscar.report import fling_cards, micrographs, recordings, sound_chart, style, trace_chart
from pinscar.report.traces_section import traces_drawn

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TRACE_UNITS = {"time": "s", "friction_force": "N", "temperature": "K", "motor_power": "W"}
TRACE_MM, SOUND_MM, PICTURE_MM = (40.0, 34.0), (48.0,), (100.0,)


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a campaign; a notebook shows all that is known of it.

    Parameters
    ----------
    run_id : str
        The run.
    analysis : Analysis
        The evaluation of its campaign, with every response.
    """

    run_id: str
    analysis: Analysis

    @property
    def values(self) -> pd.Series:
        """Its row of the runs table, SI units, which stand in ``values.attrs["units"]``."""
        row = self._row.iloc[0].rename(self.run_id)
        row.attrs["units"] = si_units(self.analysis.runs, self.analysis.campaign.units)
        return row

    @property
    def trace(self) -> pd.DataFrame | None:
        """Its trace with the zero of the force taken off, SI units; None where none counts."""
        drawn = self._drawn()
        if drawn is None:
            return None
        frame = drawn.told.trace.copy()
        frame.attrs["units"] = {name: unit for name, unit in TRACE_UNITS.items() if name in frame}
        return frame

    @property
    def recording(self) -> QuietHeard | None:
        """What its recording tells; None where none counts."""
        heard = self._heard()
        return None if heard is None else heard.heard

    @property
    def scar(self) -> ScarReading | None:
        """What is read off its micrograph; None where there is none, or no scale of it."""
        seen = self._seen()
        return None if seen is None else seen.reading

    @property
    def fling(self) -> FlingReading | None:
        """What is read off its fling card; None where there is none, or it can't be read."""
        card = self._card()
        return None if card is None else card.reading

    def plot_trace(self, ax: Any = None) -> list[Axes]:
        """Draw friction coefficient and temperature against time.

        Parameters
        ----------
        ax : sequence of Axes, optional
            Two: for the friction and for the temperature; new ones where not given.

        Returns
        -------
        list of Axes
            The two.

        Raises
        ------
        UsageError
            If no trace of the run counts.
        """
        drawn = self._drawn()
        if drawn is None:
            raise UsageError(f"{self.run_id} has no usable trace; traces lie in traces/RUN_ID.csv")
        axes = _axes(ax, TRACE_MM)
        trace_chart.draw_trace(axes, drawn, self._role)
        return axes

    def plot_sound(self, ax: Axes | None = None) -> Axes:
        """Draw the level of the recording against time, with the end of the noise.

        Parameters
        ----------
        ax : Axes, optional
            Where to draw; new ones where not given.

        Returns
        -------
        Axes
            What was drawn on.

        Raises
        ------
        UsageError
            If no recording of the run counts, or it tells no level.
        """
        heard = self._heard()
        if heard is None:
            raise UsageError(f"{self.run_id} has no usable recording; recordings lie in sound/RUN_ID.wav")
        if heard.heard.level is None:
            raise UsageError(f"{self.run_id}: {heard.heard.reason}")
        axes = _axes(ax, SOUND_MM)
        sound_chart.draw_sound(axes[0], heard, self._role)
        return axes[0]

    def plot_scar(self, ax: Axes | None = None) -> Axes:
        """Show the micrograph with the outline and axes that were read.

        Parameters
        ----------
        ax : Axes, optional
            Where to draw; new ones where not given.

        Returns
        -------
        Axes
            What was drawn on.

        Raises
        ------
        UsageError
            If there is no micrograph of the run, or it can't be read.
        """
        seen = self._seen()
        if seen is None:
            raise UsageError(f"{self.run_id} has no micrograph; they lie in micrographs/RUN_ID.jpg")
        if seen.picture is None:
            raise UsageError(f"{self.run_id}: {seen.why_not}")
        return _picture(ax, seen.picture, f"{self.run_id}, {self._oil}")

    def plot_fling(self, ax: Axes | None = None) -> Axes:
        """Show the fling card, laid flat, with its drops outlined.

        Parameters
        ----------
        ax : Axes, optional
            Where to draw; new ones where not given.

        Returns
        -------
        Axes
            What was drawn on.

        Raises
        ------
        UsageError
            If there is no fling card of the run, or it can't be read.
        """
        card = self._card()
        if card is None:
            raise UsageError(f"{self.run_id} has no fling card; they lie in fling/RUN_ID.jpg")
        if card.picture is None:
            raise UsageError(f"{self.run_id}: {card.why_not}")
        return _picture(ax, card.picture, f"{self.run_id}, {self._oil}")

    def _repr_html_(self) -> str:
        run = self._row.to_dict("records")[0]
        return styled(run_html(self.analysis, run, self._seen(), self._drawn(), self._heard(), self._card()))

    def __repr__(self) -> str:
        run = self._row.iloc[0]
        out = f", excluded: {run['excluded']}" if run["excluded"] else ""
        return f"<run {self.run_id}: {self._oil} at {run['load']:.0f} N{out}>"

    @property
    def _row(self) -> pd.DataFrame:
        return self.analysis.runs[self.analysis.runs["run_id"] == self.run_id]

    @property
    def _oil(self) -> str:
        return str(self._row["lubricant"].iloc[0])

    @property
    def _role(self) -> str:
        return self.analysis.campaign.file.role_of(self._oil)

    def _seen(self) -> micrographs.RunSeen | None:
        return next(iter(micrographs.runs_seen(self.analysis.campaign.folder, self._row)), None)

    def _card(self) -> fling_cards.CardSeen | None:
        campaign = self.analysis.campaign
        seen = fling_cards.cards_seen(campaign.folder, self._row, campaign.file.rig.fling_card)
        return next(iter(seen), None)

    def _drawn(self) -> trace_chart.TraceDrawn | None:
        return next(iter(traces_drawn(self.analysis, [self.run_id])), None)

    def _heard(self) -> recordings.RunHeard | None:
        heard = recordings.listen(self.analysis.campaign, self.analysis.confidence, [self.run_id])
        return next(iter(heard), None)


def run_named(analysis: Analysis, run_id: str) -> Run:
    """Find a run by its name.

    Parameters
    ----------
    analysis : Analysis
        The evaluation, with every response.
    run_id : str
        The name.

    Returns
    -------
    Run
        The run.

    Raises
    ------
    UsageError
        If there is none; the nearest name is suggested.
    """
    known = [str(name) for name in analysis.runs["run_id"]]
    if run_id in known:
        return Run(run_id, analysis)
    near = nearest(str(run_id), known)
    meant = "" if near is None else f"; did you mean {near!r}?"
    raise UsageError(f"no run is called {run_id!r}{meant} (there are {len(known)}: {known[0]} … {known[-1]})")


def _picture(ax: Axes | None, pixels: Any, title: str) -> Axes:
    axes = _axes(ax, PICTURE_MM)[0]
    with style.report_style():
        axes.imshow(pixels)
        axes.set_title(title, fontsize=style.TEXT_SIZE)
        axes.set_axis_off()
    return axes


def _axes(given: Any, heights: Sequence[float]) -> list[Axes]:
    """Give the person's own axes, or those of a new figure that the notebook shows."""
    if given is None:
        import matplotlib.pyplot as plt

        size = (style.PRINT_WIDTH_MM / 25.4, (sum(heights) + 8.0) / 25.4)
        with style.report_style():
            figure = plt.figure(figsize=size, layout="constrained")
            grid = figure.subplots(len(heights), 1, sharex=True, squeeze=False, height_ratios=list(heights))
        return list(grid[:, 0])
    axes = list(np.ravel(given))
    if len(axes) != len(heights):
        raise UsageError(f"this chart needs {len(heights)} axes, not {len(axes)}")
    return axes
