"""A report made from the desk: the same as the command makes, with progress, and a link to open it."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from pinscar.desk_table import styled
from pinscar.errors import InputError, RunError, UsageError
from pinscar.problems import Problem, Severity
from pinscar.report import build, pdf, shipped
from pinscar.report.markup import Markup
from pinscar.report.request import Outcome, make_requests
from pinscar.report.template import read_template

Progress = Callable[[Mapping[str, Any]], None]
TEMPLATE = "campaign_report"


@dataclass(frozen=True, slots=True)
class Report:
    """A report that was made.

    Parameters
    ----------
    folder : pathlib.Path
        Where it lies.
    files : tuple of str
        Its files.
    overall : str or None
        The overall verdict, where there is one.
    """

    folder: Path
    files: tuple[str, ...]
    overall: str | None

    @property
    def page(self) -> Path:
        """The page to open."""
        return self.folder / "report.html"

    def _repr_html_(self) -> str:
        said = "" if self.overall is None else f" Verdict: {self.overall}."
        links = [name for name in ("report.html", "report.pdf") if name in self.files]
        text = Markup(" · ").join(_link(self.folder / name) for name in links)
        return styled(
            Markup(
                '<p class="finding">The report is made.{}</p><p>Open: {}</p><p class="note">{}</p>'
            ).format(said, text, self.folder.resolve())
        )


def make_report(
    folder: Path, *, with_pdf: bool = True, template: str = TEMPLATE, progress: Progress | None = None
) -> Report:
    """Make the report of a campaign folder.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign folder, or for a template on several campaigns one of them.
    with_pdf : bool
        Whether a PDF is made.
    template : str
        Name or path of the template.
    progress : callable, optional
        Called with each step (`pinscar.report.progress`), in another thread.

    Returns
    -------
    Report
        Where it lies.

    Raises
    ------
    InputError
        With every problem, where the folder has errors; nothing is written then.
    RunError
        If the report could not be made; the report before it is left as it was.
    """
    chosen = read_template(shipped.find_template(template))
    if with_pdf:
        pdf.require_pango()
    requests = make_requests([folder], chosen, {}, out=None, pdf=with_pdf, timeout=600.0)
    outcomes: list[Outcome] = []
    told = None if progress is None else (lambda _, step: progress(step))
    build.build_reports(requests, chosen.modules, 1, outcomes.append, told)
    return _checked(outcomes[0])


def _checked(outcome: Outcome) -> Report:
    if outcome.status == InputError.exit_status:
        raise InputError([_problem(record) for record in outcome.problems])
    if outcome.status == UsageError.exit_status:
        raise UsageError("; ".join(outcome.errors))
    if outcome.status:
        raise RunError("; ".join(outcome.errors))
    return Report(Path(outcome.report), outcome.files, outcome.overall)


def _problem(record: Mapping[str, Any]) -> Problem:
    return Problem(**{**record, "severity": Severity(record["severity"])})


def _link(path: Path) -> Markup:
    # A notebook's page may open what lies beside or around the notebook, named from there.
    try:
        address = Path(os.path.relpath(path.resolve())).as_posix()
    except ValueError:  # another drive
        address = path.resolve().as_posix()
    return Markup('<a href="{}" target="_blank" rel="noopener">{}</a>').format(quote(address), path.name)
