"""A report made from the desk: the same as the command makes, with progress and a link to open it.

The panel chooses a campaign, shows its problems, and makes the report with one button.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import ipywidgets

from pinscar import shipped
from pinscar.bench.check import check_folder
from pinscar.desk.table import problems_table, styled
from pinscar.errors import InputError, PinscarError, Problem, RunError, Severity, UsageError
from pinscar.page import pdf
from pinscar.page.markup import Markup, paragraph
from pinscar.press import build
from pinscar.press.request import Outcome, make_requests
from pinscar.press.template import read_template
from pinscar.shipped import find_template, template_names

Progress = Callable[[Mapping[str, Any]], None]
TEMPLATE = "campaign_report"


@dataclass(frozen=True, slots=True)
class Report:
    """A report that was made.

    Attributes
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
    """Make the report of a campaign folder."""
    chosen = read_template(shipped.find_template(template))
    if with_pdf:
        pdf.require_pango()
    requests = make_requests([folder], chosen, {}, out=None, pdf=with_pdf, timeout=600.0)
    outcomes: list[Outcome] = []
    told = None if progress is None else (lambda _, step: progress(step))
    build.build_reports(requests, chosen.modules, None, outcomes.append, told)
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


BUTTON = "Make the report"
USUAL = "campaign_report"
DEEPEST = 3
"""Levels of folders that campaigns are looked for in."""


def campaigns_in(around: str | Path) -> list[Path]:
    """Find the campaign folders in a folder."""
    top = Path(around)
    patterns = ["campaign.toml", *("*/" * depth + "campaign.toml" for depth in range(1, DEEPEST + 1))]
    return sorted({found.parent for pattern in patterns for found in top.glob(pattern)})


def templates_on_one() -> list[str]:
    """List the templates that report on one campaign: the usual one first."""
    found = [read_template(find_template(name)) for name in template_names()]
    one = [chosen.name for chosen in found if "folder" in chosen.declared and "pilot" not in chosen.declared]
    return sorted(one, key=lambda name: (name != USUAL, name))


class Panel:
    """Widgets that make the report of a campaign.

    Attributes
    ----------
    around : str or pathlib.Path
        Folder that campaigns are looked for in.
    """

    def __init__(self, around: str | Path = ".") -> None:
        found = campaigns_in(around)
        if not found:
            raise UsageError(f"no campaign.toml in {around} or the folders in it")
        names = [(path.relative_to(around).as_posix(), path) for path in found]
        wide = ipywidgets.Layout(width="40em")
        self.choice = ipywidgets.Dropdown(options=names, description="Campaign", layout=wide)
        self.template = ipywidgets.Dropdown(
            options=[(name.replace("_", " "), name) for name in templates_on_one()], description="Template"
        )
        self.with_pdf = ipywidgets.Checkbox(value=True, description="with PDF", indent=False)
        self.again = ipywidgets.Button(description="Check again", icon="refresh")
        self.button = ipywidgets.Button(description=BUTTON, button_style="primary", icon="play")
        self.progress = ipywidgets.IntProgress(value=0, max=1, layout=ipywidgets.Layout(width="20em"))
        self.step = ipywidgets.HTML()
        self.problems = ipywidgets.HTML()
        self.outcome = ipywidgets.HTML()
        self.choice.observe(lambda _: self.look(), names="value")
        self.again.on_click(lambda _: self.look())
        self.button.on_click(lambda _: self.make())
        self.look()

    @property
    def folder(self) -> Path:
        """The campaign chosen."""
        return Path(self.choice.value)

    def look(self) -> None:
        """Check the campaign chosen, and show its problems."""
        found = check_folder(self.folder)
        self.problems.value = problems_table(found.problems, found.summary)._repr_html_()
        self.button.disabled = bool(found.status)
        self.outcome.value = self.step.value = ""
        self.progress.value = 0

    def make(self) -> None:
        """Make the report of the campaign chosen, showing each step."""
        self.button.disabled = True
        self.outcome.value = ""
        self._tell({"done": 0, "of": 1, "text": "reading the folder"})
        try:
            report = make_report(
                self.folder,
                with_pdf=self.with_pdf.value,
                template=self.template.value,
                progress=self._tell,
            )
        except InputError as error:
            self.step.value = "stopped"
            self.problems.value = problems_table(error.problems, "nothing was written")._repr_html_()
        except PinscarError as error:
            self.step.value = "stopped"
            self.outcome.value = styled(paragraph(str(error)))
        else:
            self._tell({"done": 1, "of": 1, "text": "done"})
            self.outcome.value = report._repr_html_()
        finally:
            self.button.disabled = False

    def _tell(self, step: Mapping[str, Any]) -> None:
        self.progress.max, self.progress.value = step["of"], step["done"]
        self.step.value = Markup("{}").format(str(step["text"]))

    def _ipython_display_(self) -> None:
        from IPython.display import display

        def row(widgets: list[Any]) -> Any:
            return ipywidgets.HBox(widgets, layout=ipywidgets.Layout(align_items="center"))

        display(
            ipywidgets.VBox(
                [
                    row([self.choice, self.again]),
                    self.problems,
                    row([self.button, self.template, self.with_pdf]),
                    row([self.progress, self.step]),
                    self.outcome,
                ]
            )
        )
