"""A campaign at the desk: ``pinscar.open("folder")`` gives an object with runs, tables, charts, report."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from pinscar import desk_units
from pinscar.campaign.reach import ROOT
from pinscar.decision.analysis import Analysis, analyse_all, narrowed
from pinscar.decision.check import check_all
from pinscar.decision.responses import Response
from pinscar.decision.results import results
from pinscar.decision.wording import counted
from pinscar.desk_evidence import (
    cards_table,
    micrographs_table,
    recordings_table,
    responses_table,
    traces_table,
)
from pinscar.desk_plots import Plots, response_named
from pinscar.desk_report import Progress, Report, make_report
from pinscar.desk_run import Run, run_named
from pinscar.desk_table import Table, as_table, problems_table, styled
from pinscar.errors import InputError
from pinscar.import_path import leave_folder
from pinscar.report import answer, result_tables, setting_tables, starter
from pinscar.report.checking import check_folder
from pinscar.report.data_mark import data_mark
from pinscar.report.markup import Markup, verdict

ABREAST = 3
"""Responses that a table holds side by side."""


def open_campaign(
    folder: str | Path,
    confidence: float | None = None,
    responses: Sequence[str] | None = None,
    root: str | Path | None = None,
) -> Desk:
    """Open a campaign folder: read it, check it, evaluate its runs.

    The folder is taken off the import path: what lies in it is data, and a file such as ``json.py`` in it is
    not imported, also where the notebook itself lies there.

    Parameters
    ----------
    folder : str or pathlib.Path
        The campaign folder.
    confidence : float, optional
        Confidence of the intervals; the campaign's own where not given.
    responses : sequence of str, optional
        Responses to look at where none is named; those of the report where not given.
    root : str or pathlib.Path, optional
        A folder around the campaign that its links and paths may lead into, from now on; where not given they
        may not leave the campaign folder.

    Returns
    -------
    Desk
        The campaign.

    Raises
    ------
    InputError
        With every problem, where the folder has errors; a notebook shows them as a table.
    """
    leave_folder(str(folder))
    if root is not None:
        os.environ[ROOT] = str(Path(root).resolve())
    place = Path(folder)
    campaign, problems = check_all(place)
    if campaign is None:
        raise InputError(problems)
    every = analyse_all(campaign, confidence)
    return Desk(place, narrowed(every, responses), every)


def check(folder: str | Path) -> Table:
    """List every problem of a campaign folder; none is raised.

    Parameters
    ----------
    folder : str or pathlib.Path
        The campaign folder.

    Returns
    -------
    Table
        A row a problem: file, row, column, what was found, what is wrong, how to mend it.
    """
    leave_folder(str(folder))
    found = check_folder(Path(folder))
    return problems_table(found.problems, found.summary)


def demo(name: str = "conveyor_07", into: str | Path | None = None) -> Path:
    """Copy a demo campaign to play with; all of them are invented.

    Parameters
    ----------
    name : str
        Its name.
    into : str or pathlib.Path, optional
        Folder to copy it into, where a copy that is there already is kept; a new temporary folder where not
        given.

    Returns
    -------
    pathlib.Path
        The copy.

    Raises
    ------
    UsageError
        If there is no such demo.
    """
    around = Path(tempfile.mkdtemp(prefix="pinscar-demo-")) if into is None else Path(into)
    copy = around / name
    if name not in starter.demo_names() or not (copy / "campaign.toml").is_file():
        starter.new_campaign(copy, name)
    return copy


@dataclass(frozen=True, slots=True)
class Desk:
    """A campaign, read and evaluated.

    Parameters
    ----------
    folder : pathlib.Path
        Its folder.
    analysis : Analysis
        Its evaluation on the responses that are looked at where none is named.
    every : Analysis
        Its evaluation on every response, also those on request.
    """

    folder: Path
    analysis: Analysis
    every: Analysis

    @property
    def runs(self) -> pd.DataFrame:
        """Every run, excluded ones too, in SI units, which stand in ``runs.attrs["units"]``."""
        frame = self.analysis.runs.copy()
        frame.attrs["units"] = self._si
        return frame

    @property
    def plot(self) -> Plots:
        """The charts."""
        return Plots(self.every)

    @property
    def responses(self) -> Table:
        """The responses that the runs have, also those on request."""
        return responses_table(self.every, self.analysis.responses)

    @property
    def _si(self) -> dict[str, str]:
        return desk_units.si_units(self.analysis.runs, self.analysis.campaign.units)

    def runs_in_units(self, units: Mapping[str, str] | None = None, *, pint: bool = False) -> pd.DataFrame:
        """Give the runs in the units people write, each told in the column's head.

        Parameters
        ----------
        units : mapping of str to str, optional
            Unit of some columns, such as ``{"load": "kgf"}``; the others as in the file, or customary ones.
        pint : bool
            Put pint quantities into the cells instead of units into the heads.

        Returns
        -------
        DataFrame
            A row a run.

        Raises
        ------
        UsageError
            For a column that has no unit, or a unit that does not fit.
        """
        chosen = desk_units.shown_units(self.analysis.runs, self.analysis.campaign.units)
        chosen |= desk_units.checked_units(units or {}, self._si)
        return (desk_units.as_quantities if pint else desk_units.in_units)(self.analysis.runs, chosen)

    def quantity(self, name: str) -> Any:
        """Give one column of the runs as a pint array.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        pint.Quantity
            In SI units.
        """
        return desk_units.quantity(self.analysis.runs, name, self._si)

    def run(self, run_id: str) -> Run:
        """Look at one run: its numbers, flags, picture, trace, recording and fling card.

        Parameters
        ----------
        run_id : str
            Its name in the file.

        Returns
        -------
        Run
            The run.

        Raises
        ------
        UsageError
            If there is none of that name.
        """
        return run_named(self.every, run_id)

    def traces(self) -> Table:
        """Show friction and temperature against time, and what they tell.

        Returns
        -------
        Table
            A row a run that has a trace.
        """
        return traces_table(self.every)

    def recordings(self) -> Table:
        """Listen to the recordings: when the noise stopped, as heard beside as typed.

        Returns
        -------
        Table
            A row a run that has a recording.
        """
        return recordings_table(self.every)

    def micrographs(self) -> Table:
        """Read the scars off their pictures, beside the axes typed in.

        Returns
        -------
        Table
            A row a run that has a picture.
        """
        return micrographs_table(self.every)

    def fling_cards(self) -> Table:
        """Read the drops on the fling cards, beside the areas typed in.

        Returns
        -------
        Table
            A row a run that has a card.
        """
        return cards_table(self.every)

    def summaries(self, *names: str) -> Table:
        """Estimate each response of each oil and load, with its interval.

        Parameters
        ----------
        *names : str
            Responses; those of the report where none is named, or any of `responses`.

        Returns
        -------
        Table
            A row an oil, load and response.
        """
        chosen = self._chosen(names)
        caption = "Estimates of each oil and load"
        parts = [
            result_tables.summary_table(self.every, part, caption=caption, key=f"summary-{number}")
            for number, part in enumerate(_abreast(chosen))
        ]
        return as_table(self._records("summaries", chosen), parts, "No run has a value of a response.")

    def compare(self, *names: str) -> Table:
        """Compare every oil with the reference, at each load.

        Parameters
        ----------
        *names : str
            Responses; those of the report where none is named. One alone is told with words, p value and
            method.

        Returns
        -------
        Table
            A row an oil, load and response.
        """
        compared = {comparison.response.name for comparison in self.every.comparisons}
        chosen = [response for response in self._chosen(names) if response.name in compared]
        parts = (
            [result_tables.comparison_table(self.every, chosen[0])]
            if len(chosen) == 1
            else [result_tables.comparison_matrix(self.every, part) for part in _abreast(chosen)]
        )
        nothing = f"No oil was run beside {self.analysis.reference} at the same load."
        return as_table(self._records("comparisons", chosen), parts, nothing)

    def criteria(self) -> Table:
        """Judge the release limits.

        Returns
        -------
        Table
            A row a limit.
        """
        parts = [setting_tables.criteria_table(self.analysis)] if self.analysis.criteria else []
        return as_table(results(self.analysis)["criteria"], parts, "The campaign states no release limits.")

    def claims(self) -> Table:
        """Judge the claims.

        Returns
        -------
        Table
            A row a claim, with the strongest wording that the data support.
        """
        parts = [setting_tables.claims_table(self.analysis)] if self.analysis.claims else []
        return as_table(results(self.analysis)["claims"], parts, "The campaign states no claims.")

    def audit(self) -> Table:
        """Show what stands against a fair comparison.

        Returns
        -------
        Table
            A row a finding.
        """
        parts = [setting_tables.findings_table(self.analysis)] if self.analysis.findings else []
        return as_table(results(self.analysis)["audit"], parts, "The audit found nothing against it.")

    def problems(self) -> Table:
        """List the warnings of the check.

        Returns
        -------
        Table
            A row a warning.
        """
        found = self.analysis.campaign.problems
        return problems_table(found, counted(len(found), "warning"))

    def report(self, pdf: bool = True, progress: Progress | None = None) -> Report:
        """Make the campaign's report anew, from its folder, as ``pinscar report`` does.

        Parameters
        ----------
        pdf : bool
            Whether a PDF is made.
        progress : callable, optional
            Called with each step of the work.

        Returns
        -------
        Report
            Where it lies; a notebook shows a link.
        """
        return make_report(self.folder, with_pdf=pdf, progress=progress)

    def _repr_html_(self) -> str:
        section = self.analysis.campaign.file.campaign
        parts: list[str] = [Markup("<h3>{}</h3>").format(section.title or section.id)]
        if section.question:
            parts.append(Markup("<p>{}</p>").format(section.question))
        if self.analysis.verdict is not None:
            parts.append(verdict(str(self.analysis.verdict), answer.verdict_sentence(self.analysis)))
        parts.append(Markup("<p>{}</p>").format(" ".join(answer.answer_sentences(self.analysis))))
        parts.append(Markup('<p class="note">{}</p>').format(self._counts()))
        return styled("\n".join(parts))

    def __repr__(self) -> str:
        section = self.analysis.campaign.file.campaign
        told = "" if self.analysis.verdict is None else f"; release limits: {self.analysis.verdict}"
        return f"<campaign {section.id}: {self._counts()}{told}>"

    def _counts(self) -> str:
        runs, included = self.analysis.runs, self.analysis.included
        oils = counted(int(included["lubricant"].nunique()), "oil")
        mark = data_mark([self.analysis.campaign])
        told = f"; {mark.lower()}" if mark else ""
        return f"{counted(len(runs), 'run')} ({len(runs) - len(included)} excluded), {oils}{told}"

    def _chosen(self, names: Sequence[str]) -> list[Response]:
        return [response_named(self.every, name) for name in names] or list(self.analysis.responses)

    def _records(self, kind: str, chosen: Sequence[Response]) -> list[dict[str, Any]]:
        wanted = {response.name for response in chosen}
        return [record for record in results(self.every)[kind] if record["response"] in wanted]


def _abreast(chosen: Sequence[Response]) -> list[Sequence[Response]]:
    return [chosen[start : start + ABREAST] for start in range(0, len(chosen), ABREAST)]
