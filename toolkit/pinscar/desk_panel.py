"""The panel at the desk: choose a campaign, see its problems, press one button for the report, open it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import ipywidgets

from pinscar.desk_report import make_report
from pinscar.desk_table import problems_table, styled
from pinscar.errors import InputError, PinscarError, UsageError
from pinscar.report.checking import check_folder
from pinscar.report.markup import Markup

BUTTON = "Make the report"
DEEPEST = 3
"""Levels of folders that campaigns are looked for in."""


def campaigns_in(around: str | Path) -> list[Path]:
    """Find the campaign folders in a folder.

    Parameters
    ----------
    around : str or pathlib.Path
        The folder; it may be a campaign itself.

    Returns
    -------
    list of pathlib.Path
        The folders that hold a campaign.toml, sorted.
    """
    top = Path(around)
    patterns = ["campaign.toml", *("*/" * depth + "campaign.toml" for depth in range(1, DEEPEST + 1))]
    return sorted({found.parent for pattern in patterns for found in top.glob(pattern)})


class Panel:
    """Widgets that make the report of a campaign.

    Parameters
    ----------
    around : str or pathlib.Path
        Folder that campaigns are looked for in.

    Raises
    ------
    UsageError
        If there is no campaign in it.
    """

    def __init__(self, around: str | Path = ".") -> None:
        found = campaigns_in(around)
        if not found:
            raise UsageError(f"no campaign.toml in {around} or the folders in it")
        names = [(path.relative_to(around).as_posix(), path) for path in found]
        wide = ipywidgets.Layout(width="40em")
        self.choice = ipywidgets.Dropdown(options=names, description="Campaign", layout=wide)
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
            report = make_report(self.folder, with_pdf=self.with_pdf.value, progress=self._tell)
        except InputError as error:
            self.step.value = "stopped"
            self.problems.value = problems_table(error.problems, "nothing was written")._repr_html_()
        except PinscarError as error:
            self.step.value = "stopped"
            self.outcome.value = styled(Markup("<p>{}</p>").format(str(error)))
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
                    row([self.button, self.with_pdf]),
                    row([self.progress, self.step]),
                    self.outcome,
                ]
            )
        )
