"""The table of a plan's runs, to be filled in at the bench, and the weights that give its loads."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from pinscar.campaign.columns import RUNS
from pinscar.campaign.model import Rig
from pinscar.contact.wear import STANDARD_GRAVITY
from pinscar.stats.run_order import PlannedRun
from pinscar.units import to_unit

FIRST = ("run_id", "planned_day", "planned_place", "lubricant", "load", "duration")
LEFT_OUT = ("weights", "run_day")
"""Columns that say the same as another one in the table: load, and run_at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRun:
    """One planned run.

    Attributes
    ----------
    run_id, lubricant : str
        Its name and oil.
    load : float
        Load [N].
    day, place, of_day : int
        Day, place within it, and runs of that day.
    """

    run_id: str
    lubricant: str
    load: float
    day: int
    place: int
    of_day: int


@dataclass(frozen=True, slots=True)
class Lever:
    """What turns weights to load.

    Attributes
    ----------
    lever_ratio : float
        Arm of the weights over arm of the pin [1].
    hanger_mass : float
        Mass of the hanger that carries them [kg].
    """

    lever_ratio: float
    hanger_mass: float


@dataclass(frozen=True, slots=True)
class Written:
    """How the settings of a run are written in its table.

    Attributes
    ----------
    load_unit : str
        Unit of the load, or of the weights.
    duration_unit : str
        Unit of the duration.
    weights_on : Lever, optional
        The lever whose weights stand in place of the load; None where the load itself is written.
    """

    load_unit: str = "N"
    duration_unit: str = "s"
    weights_on: Lever | None = None


@dataclass(frozen=True, slots=True)
class PreparedTable:
    """A table of runs with what is settled beforehand.

    Attributes
    ----------
    names : tuple of str
        Names of its columns, without units.
    header : tuple of str
        Header cells, with units.
    rows : tuple of tuple of str
        Cells of each run, those to be filled in blank.
    """

    names: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def units(self) -> tuple[str, ...]:
        """Unit of each column, empty where it has none."""
        return tuple(
            head[len(name) + 2 : -1] if head != name else ""
            for name, head in zip(self.names, self.header, strict=True)
        )


def prepared_table(
    order: Sequence[SheetRun], duration: float | None, written: Written | None = None
) -> PreparedTable:
    """Make the table of a plan's runs, every column of a campaign in it, the measured ones blank."""
    how = written or Written()
    known = {column.name: column.header for column in RUNS if column.name not in LEFT_OUT}
    names = [*FIRST, *(name for name in known if name not in FIRST)]
    known |= {"load": f"load [{how.load_unit}]", "duration": f"duration [{how.duration_unit}]"}
    if how.weights_on is not None:
        known["load"] = f"weights [{how.load_unit}]"
    time = "" if duration is None else f"{float(to_unit(duration, how.duration_unit)):.6g}"
    rows = []
    for run in order:
        filled = {
            "run_id": run.run_id,
            # In words: a bare number without a unit would be taken for a response that lacks one.
            "planned_day": f"day {run.day}",
            "planned_place": f"{run.place} of {run.of_day}",
            "lubricant": run.lubricant,
            "load": _load_cell(run.load, how),
            "duration": time,
        }
        rows.append(tuple(filled.get(name, "") for name in names))
    shown = ["weights" if name == "load" and how.weights_on else name for name in names]
    return PreparedTable(tuple(shown), tuple(known.get(name, name) for name in names), tuple(rows))


def _load_cell(load: float, how: Written) -> str:
    if how.weights_on is None:
        return f"{float(to_unit(load, how.load_unit)):.6g}"
    mass = weights_for(how.weights_on, load)
    if mass is None:
        raise ValueError(f"no weights give {load:g} N: the hanger alone gives more")
    return f"{float(to_unit(mass, how.load_unit)):.6g}"


def csv_text(table: PreparedTable) -> str:
    """Write a table as text."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([table.header, *table.rows])
    return text.getvalue()


def weights_for(rig: Rig | Lever, load: float) -> float | None:
    """Compute the weights to hang on for a load.

    Examples
    --------
    >>> lever = Lever(lever_ratio=10.0, hanger_mass=0.8)
    >>> round(weights_for(lever, 450.0), 3)
    3.789
    """
    mass = load / (STANDARD_GRAVITY * rig.lever_ratio) - rig.hanger_mass
    # A bare hanger's load must come back as no weights, whatever the last digit of the division.
    return max(mass, 0.0) if mass > -1e-9 else None


def named_runs(order: Sequence[PlannedRun]) -> tuple[SheetRun, ...]:
    """Name the runs of an order whose treatments are oils at loads."""
    digits = max(2, len(str(len(order))))
    sizes = {run.block: 0 for run in order}
    for run in order:
        sizes[run.block] += 1
    runs = []
    for run in order:
        oil, _, load = run.treatment.rpartition(" at ")
        runs.append(
            SheetRun(
                run_id=f"run-{run.position:0{digits}d}",
                lubricant=oil,
                load=float(load),
                day=run.block,
                place=run.place,
                of_day=sizes[run.block],
            )
        )
    return tuple(runs)
