"""Tables at the desk: a frame to work with, shown as the report shows it, in units that people write."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
from markupsafe import Markup

from pinscar.campaign.columns import RUNS
from pinscar.decision.responses import STANDARD
from pinscar.errors import Problem, UsageError
from pinscar.page.markup import finding, table, tag
from pinscar.shipped import nearest
from pinscar.units import DIMENSIONS, Q_, UnitError, is_offset_unit, parse_unit, registry, to_unit
from pinscar.wording import sentence

COMPUTED: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "load_level": ("N", "N"),
        "scar_width_used": ("m", "mm"),
        "width_ratio": ("1", "1"),
        "scar_depth": ("m", "um"),
        "scar_area": ("m^2", "mm^2"),
        "scar_pressure": ("Pa", "MPa"),
        "film_pressure": ("Pa", "MPa"),
        "wear_volume": ("m^3", "mm^3"),
        "sliding_speed": ("m/s", "m/s"),
        "sliding_distance": ("m", "m"),
        "load_distance": ("N m", "N m"),
        "wear_coefficient": ("m^2/N", "mm^3/(N m)"),
        "hertz_peak_pressure": ("Pa", "MPa"),
        "temperature_rise": ("K", "K"),
        "friction_coefficient": ("1", "1"),
        "friction_energy": ("J", "J"),
        "heating_rate": ("K/s", "K/s"),
        "last_step_start": ("s", "s"),
    }
)
"""Columns that the evaluation adds: SI unit, and the unit it is usually told in."""


def si_units(runs: pd.DataFrame, written: Mapping[str, str]) -> dict[str, str]:
    """Tell the SI unit of every numeric column."""
    known = {column.name: DIMENSIONS[column.dimension] for column in RUNS if column.dimension}
    known |= {name: units[0] for name, units in COMPUTED.items()}
    own = {name: _base(unit) for name, unit in written.items() if name not in known and unit}
    return {name: unit for name, unit in {**known, **own}.items() if name in runs.columns}


def shown_units(runs: pd.DataFrame, written: Mapping[str, str]) -> dict[str, str]:
    """Tell the unit that each numeric column is usually told in."""
    usual = {column.name: column.unit for column in RUNS if column.unit}
    usual |= {name: units[1] for name, units in COMPUTED.items()}
    usual |= {response.name: response.unit for response in STANDARD if response.name in COMPUTED}
    usual |= {name: unit for name, unit in written.items() if unit}
    return {name: usual.get(name, unit) for name, unit in si_units(runs, written).items()}


def in_units(runs: pd.DataFrame, units: Mapping[str, str]) -> pd.DataFrame:
    """Give the runs in chosen units, each told in the column's head as in runs.csv."""
    shown = runs.copy()
    for name, unit in units.items():
        shown[name] = to_unit(runs[name].to_numpy(dtype=float), unit)
    heads = {name: f"{name} [{unit}]" for name, unit in units.items() if unit != "1"}
    shown = shown.rename(columns=heads)
    shown.attrs["units"] = {heads.get(name, name): unit for name, unit in units.items()}
    return shown


def as_quantities(runs: pd.DataFrame, units: Mapping[str, str]) -> pd.DataFrame:
    """Give the runs with a pint quantity in every numeric cell."""
    shown = runs.copy()
    for name in units:
        column = quantity(runs, name, units)
        cells = np.empty(len(runs), dtype=object)
        for row, value in enumerate(column.magnitude):
            cells[row] = registry().Quantity(float(value), column.units)
        shown[name] = pd.Series(cells, index=runs.index, dtype=object)
    return shown


def quantity(runs: pd.DataFrame, name: str, units: Mapping[str, str]) -> Any:
    """Give one column as a pint array."""
    if name not in units:
        raise UsageError(f"no column with a unit is called {name!r}{nearest(name, list(units))}")
    return Q_(to_unit(runs[name].to_numpy(dtype=float), units[name]), units[name])


def checked_units(units: Mapping[str, str], si: Mapping[str, str]) -> dict[str, str]:
    """Check units that a person chose."""
    for name, unit in units.items():
        if name not in si:
            raise UsageError(f"no column with a unit is called {name!r}{nearest(name, list(si))}")
        try:
            fits = parse_unit(unit).is_compatible_with(parse_unit(si[name]))
        except UnitError as error:
            raise UsageError(f"{name}: {error}") from error
        if not fits:
            raise UsageError(f"{name} is in {si[name]}, which can't be told in {unit}")
    return dict(units)


def _base(unit: str) -> str:
    if is_offset_unit(unit):
        return "K"
    base = registry().get_base_units(parse_unit(unit))[1]
    return "1" if base.dimensionless else f"{base:~C}".replace("**", "^")


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
