"""Tables at the desk: a pandas frame to work with, shown in a notebook as the report shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from pinscar.page.markup import Markup, finding, table, tag
from pinscar.problems import Problem
from pinscar.wording import sentence

STYLE = """
.pinscar { line-height: 1.4; max-width: 62em; overflow-x: auto; }
.pinscar table { border-collapse: collapse; margin: 0.6em 0; font-size: 0.95em; }
.pinscar caption { text-align: left; padding: 0.3em 0; color: inherit; }
.pinscar tr { background: none; }
.pinscar th, .pinscar td { text-align: left; padding: 0.2em 1em 0.2em 0; vertical-align: baseline;
  background: none; border: 0; font-weight: 400; white-space: normal; }
.pinscar thead th { font-weight: 600; border-top: 1px solid; border-bottom: 1px solid;
  vertical-align: bottom; }
.pinscar tbody tr:last-child > * { border-bottom: 1px solid; }
.pinscar .unit { display: block; font-weight: 400; opacity: 0.75; }
.pinscar .number, .pinscar .interval { font-variant-numeric: tabular-nums; white-space: nowrap; }
.pinscar td.number { text-align: right; }
.pinscar tr.excluded > * { font-style: italic; opacity: 0.75; }
.pinscar .tag, .pinscar tbody th { white-space: nowrap; }
.pinscar .note, .pinscar .method { font-size: 0.9em; opacity: 0.8; max-width: 50em; }
.pinscar .finding { font-weight: 600; }
.pinscar a { text-decoration: underline; color: var(--jp-content-link-color, LinkText); }
.pinscar .verdict { display: flex; gap: 0.5em; align-items: baseline; font-size: 1.1em; margin: 0.6em 0; }
.pinscar .verdict p { margin: 0; }
.pinscar:has(.beside) { max-width: 86em; }
.pinscar:has(.beside) > p { max-width: 62em; }
.pinscar .beside { display: flex; flex-wrap: wrap; gap: 0 2.5em; align-items: flex-start; }
.pinscar .beside > .table:last-child { max-width: 30em; }
.pinscar figure { margin: 0.6em 0; }
.pinscar .beside figure { max-width: 27em; }
.pinscar figcaption { font-size: 0.9em; opacity: 0.8; max-width: 50em; }
.pinscar figure .card, .pinscar picture img { background: #ffffff; }
.pinscar picture img, .pinscar .card img { max-width: 100%; height: auto; }
""".replace(".pinscar", ".pinscar.pinscar.pinscar")  # outranks what JupyterLab says of tables
"""The look of a table in a notebook: the notebook's own face and colours, so that it fits light and dark."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of results.

    Attributes
    ----------
    frame : DataFrame
        The numbers, named as in results.json; units stand in its columns or in its ``unit`` column.
    html : str
        The same as the report prints it.
    """

    frame: pd.DataFrame
    html: str

    def __len__(self) -> int:
        return len(self.frame)

    def __repr__(self) -> str:
        return self.frame.to_string() if len(self.frame) else "(no rows)"

    def _repr_html_(self) -> str:
        return styled(self.html)


def styled(html: str) -> str:
    """Wrap parts of a report for a notebook.

    Examples
    --------
    >>> styled("<p>met</p>").endswith("<p>met</p></div>")
    True
    """
    return f'<div class="pinscar"><style>{STYLE}</style>{html}</div>'


def as_table(records: Sequence[dict[str, object]], parts: Sequence[Markup], otherwise: str) -> Table:
    """Make a table from records and the report's rendering of them."""
    html = "\n".join(parts) if records else str(finding(otherwise))
    return Table(pd.DataFrame(list(records)), html)


def problems_table(problems: Sequence[Problem], summary: str) -> Table:
    """Tabulate what is wrong with a folder: where, what, and how to mend it."""
    if not problems:
        return as_table([], [], f"No problem found: {summary}.")
    rows = [
        [
            tag("blocks" if problem.severity == "error" else "caution", str(problem.severity).capitalize()),
            problem.file,
            "–" if problem.row is None else str(problem.row),
            problem.column or "–",
            problem.value or "–",
            sentence(problem.message),
            sentence(problem.mend),
        ]
        for problem in problems
    ]
    shown = table(
        ["Weight", "File", "Row", "Column", "Found", "What is wrong", "How to mend it"],
        rows,
        caption=f"Problems of this folder: {summary}",
        row_heads=False,
        long=True,
    )
    return as_table([problem.as_dict() for problem in problems], [shown], "")  # type: ignore[misc]
