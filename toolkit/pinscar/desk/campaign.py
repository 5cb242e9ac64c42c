"""A campaign at the desk: ``pinscar.open("folder")`` gives an object with runs, tables, charts, report."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from pinscar.bench import prepare
from pinscar.bench.check import check_folder
from pinscar.campaign.folder import ROOT
from pinscar.campaign_report import openers, setting
from pinscar.campaign_report import results as result_tables
from pinscar.decision.analysis import analyse_all, narrowed
from pinscar.decision.check import check_all
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.results import (
    claim_entries,
    comparison_entries,
    criterion_entries,
    finding_entries,
    run_entries,
    summary_entries,
)
from pinscar.decision.results_evidence import BLANK
from pinscar.desk import table as desk_units
from pinscar.desk.plots import Plots, response_named
from pinscar.desk.predict import predictions_table
from pinscar.desk.report import Progress, Report, make_report
from pinscar.desk.run import Run, run_named
from pinscar.desk.table import Table, as_table, problems_table, styled
from pinscar.errors import InputError
from pinscar.import_path import leave_folder
from pinscar.page.cautions import data_mark
from pinscar.page.markup import Markup, paragraph, table, verdict
from pinscar.seen import cards, micrographs
from pinscar.seen.cards import card_as_dict
from pinscar.seen.pictures import scar_as_dict
from pinscar.seen.sound import sound_parts
from pinscar.seen.traces import traces_parts
from pinscar.shipped import shipped_folder
from pinscar.shown import to_shown
from pinscar.wording import counted


def responses_table(analysis: Analysis, usual: Sequence[Response]) -> Table:
    """List the responses that the runs have."""
    shown = {response.name for response in usual}
    records: list[dict[str, Any]] = []
    for response in analysis.responses:
        cells = [s.cell for s in analysis.summaries if s.response.name == response.name]
        records.append(
            {
                "response": response.name,
                "label": response.label,
                "unit": response.unit,
                "n": sum(len(cell.run_ids) for cell in cells),
                "n_censored": int(sum(cell.censored.sum() for cell in cells)),
                "better": response.better,
                "shown": response.name in shown,
            }
        )
    rows = [
        [
            Markup("<code>{}</code>").format(one["response"]),
            one["label"],
            one["unit"],
            one["n"],
            one["n_censored"] or "–",
            one["better"] or "not stated",
            "always" if one["shown"] else "on request",
        ]
        for one in records
    ]
    parts = [_responses_table(rows)] if rows else []
    return as_table(records, parts, "No run has a value of a response.")


def _responses_table(rows: Sequence[Sequence[object]]) -> Markup:
    return table(
        ["Name", "Response", "Unit", "Runs", "Bounds", "Better", "Shown"],
        rows,
        caption="Responses that the runs have",
        number_columns=(3, 4),
        note="Runs: included runs with a value. Bounds: runs that give only a bound. On request: "
        'where named, as in summaries("scar_length").',
    )


def traces_table(analysis: Analysis) -> Table:
    """Show what the traces tell."""
    traced = set(analysis.campaign.traces) & set(analysis.included["run_id"])
    records = [
        {name: run[name] for name in ("run_id", "lubricant", "load_N", *BLANK)}
        for run in run_entries(analysis)
        if run["run_id"] in traced
    ]
    parts = [Markup(part) for part in traces_parts(analysis)]
    return as_table(records, parts, "No included run has a trace in the folder traces.")


def recordings_table(analysis: Analysis) -> Table:
    """Show what the recordings tell."""
    heard = analysis.evidence.recordings
    records: list[dict[str, object]] = [
        {
            "run_id": run.run_id,
            "lubricant": run.lubricant,
            "typed_s": run.typed,
            "heard_s": run.heard.quiet_time,
            "low_s": run.heard.low,
            "high_s": run.heard.high,
            "contrast_dB": run.heard.contrast,
            "scrape_share": run.heard.scrape_share,
            "reason": run.heard.reason or None,
        }
        for run in heard
    ]
    parts = [Markup(part) for part in sound_parts(analysis)]
    return as_table(records, parts, "No included run has a recording in the folder sound.")


def micrographs_table(analysis: Analysis) -> Table:
    """Show what is read off the micrographs."""
    seen = analysis.evidence.micrographs
    records = [
        {
            "run_id": one.run_id,
            "typed_length_mm": to_shown(one.typed[0], "mm"),
            "typed_width_mm": to_shown(one.typed[1], "mm"),
        }
        | ({} if one.reading is None else scar_as_dict(one.reading))
        | {"reason": one.why_not or None}
        for one in seen
    ]
    parts = [Markup(micrographs.seen_html(seen))]
    return as_table(records, parts, "No run has a picture in the folder micrographs.")


def cards_table(analysis: Analysis) -> Table:
    """Show what is read off the fling cards."""
    seen = analysis.evidence.cards
    records = [
        {"run_id": one.run_id, "typed_area_mm2": to_shown(one.typed, "mm²")}
        | ({} if one.reading is None else card_as_dict(one.reading))
        | {"reason": one.why_not or None}
        for one in seen
    ]
    parts = [Markup(cards.seen_html(seen))] if seen else []
    return as_table(records, parts, "No run has a card in the folder fling.")


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

    References
    ----------
    Folder format: README.md, section on the campaign folder. The numbers and their sources:
    notebooks/handbook.ipynb.

    Examples
    --------
    >>> open_campaign(demo("reading_03"))
    <campaign reading-03: 10 runs (0 excluded), 4 oils; invented data>
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
        One row per problem: file, row, column, what was found, what is wrong, how to mend it.

    References
    ----------
    Folder format: README.md, section on the campaign folder.

    Examples
    --------
    >>> len(check(demo("reading_03")))
    0
    """
    leave_folder(str(folder))
    found = check_folder(Path(folder))
    return problems_table(found.problems, found.summary)


def demo(name: str = "conveyor_07", into: str | Path | None = None) -> Path:
    """Copy a demo campaign to play with; all of them are invented.

    Parameters
    ----------
    name : str
        Its name; that of a series, such as ``formulation``, gives the folder around its campaigns.
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

    References
    ----------
    Invented data, made by the seeded scripts in data_demo.

    Examples
    --------
    >>> demo("reading_03").name
    'reading_03'
    """
    around = Path(tempfile.mkdtemp(prefix="pinscar-demo-")) if into is None else Path(into)
    copy = around / name
    series = shipped_folder("data_demo") / name
    if any(series.glob("*/campaign.toml")):
        if not copy.exists():
            left = shutil.ignore_patterns("report*", ".*")
            shutil.copytree(series, copy, ignore=left)
        return copy
    if name not in prepare.demo_names() or not (copy / "campaign.toml").is_file():
        prepare.new_campaign(copy, name)
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

    References
    ----------
    The numbers and their sources: notebooks/handbook.ipynb.

    Examples
    --------
    >>> campaign = open_campaign(demo("reading_03"))
    >>> int(campaign.runs["scar_area"].count())
    10
    >>> table = campaign.summaries("scar_area")
    >>> str(table.frame["lubricant"].iloc[0]), int(table.frame["n"].iloc[0])
    ('R-10', 2)
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
            One row per run.

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
            One row per run that has a trace.
        """
        return traces_table(self.every)

    def recordings(self) -> Table:
        """Listen to the recordings: when the noise stopped, as heard beside as typed.

        Returns
        -------
        Table
            One row per run that has a recording.
        """
        return recordings_table(self.every)

    def micrographs(self) -> Table:
        """Read the scars off their pictures, beside the axes typed in.

        Returns
        -------
        Table
            One row per run that has a picture.
        """
        return micrographs_table(self.every)

    def fling_cards(self) -> Table:
        """Read the drops on the fling cards, beside the areas typed in.

        Returns
        -------
        Table
            One row per run that has a card.
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
            One row per oil, load and response.
        """
        chosen = self._chosen(names)
        caption = "Estimates of each oil and load"
        parts = [
            result_tables.summary_table(self.every, part, caption=caption, key=f"summary-{number}")
            for number, part in enumerate(_abreast(chosen))
        ]
        return as_table(
            _of_responses(summary_entries(self.every), chosen), parts, "No run has a value of a response."
        )

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
            One row per oil, load and response.
        """
        compared = {comparison.response.name for comparison in self.every.comparisons}
        chosen = [response for response in self._chosen(names) if response.name in compared]
        parts = (
            [result_tables.comparison_table(self.every, chosen[0])]
            if len(chosen) == 1
            else [result_tables.comparison_matrix(self.every, part) for part in _abreast(chosen)]
        )
        nothing = f"No oil was run beside {self.analysis.reference} at the same load."
        return as_table(_of_responses(comparison_entries(self.every), chosen), parts, nothing)

    def predict_scar(self, duration: Any, load: Any, *lubricants: str) -> Table:
        """Predict the scar of each oil at another duration or load, for planning a run.

        Parameters
        ----------
        duration : text or pint.Quantity
            Duration of the run, such as ``"60 s"``.
        load : text or pint.Quantity
            Load, such as ``"500 N"``.
        *lubricants : str
            Oils; all where none is named. The fit takes a second or more per oil.

        Returns
        -------
        Table
            A row an oil: expected scar length [mm] with its interval, interval of one new scar [mm], film
            pressure of the fit [MPa].

        Raises
        ------
        UsageError
            For a duration or load that cannot be read or is not above zero, or an oil without runs.
        """
        return predictions_table(self.every, duration, load, lubricants)

    def criteria(self) -> Table:
        """Judge the release limits.

        Returns
        -------
        Table
            One row per limit.
        """
        parts = [setting.criteria_table(self.analysis)] if self.analysis.criteria else []
        return as_table(criterion_entries(self.analysis), parts, "The campaign states no release limits.")

    def claims(self) -> Table:
        """Judge the claims.

        Returns
        -------
        Table
            One row per claim, with the strongest wording that the data support.
        """
        parts = [setting.claims_table(self.analysis)] if self.analysis.claims else []
        return as_table(claim_entries(self.analysis), parts, "The campaign states no claims.")

    def audit(self) -> Table:
        """Show what stands against a fair comparison.

        Returns
        -------
        Table
            One row per finding.
        """
        parts = [setting.findings_table(self.analysis)] if self.analysis.audited else []
        return as_table(finding_entries(self.analysis), parts, "The audit found nothing against it.")

    def problems(self) -> Table:
        """List the warnings of the check.

        Returns
        -------
        Table
            One row per warning.
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
            parts.append(paragraph(section.question))
        if self.analysis.verdict is not None:
            parts.append(verdict(str(self.analysis.verdict), openers.verdict_sentence(self.analysis)))
        parts.append(paragraph(" ".join(openers.answer_sentences(self.analysis))))
        parts.append(paragraph(self._counts(), "note"))
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


def _of_responses(records: list[dict[str, Any]], chosen: Sequence[Response]) -> list[dict[str, Any]]:
    wanted = {response.name for response in chosen}
    return [record for record in records if record["response"] in wanted]


def _abreast(chosen: Sequence[Response]) -> list[Sequence[Response]]:
    return [chosen[start : start + ABREAST] for start in range(0, len(chosen), ABREAST)]
