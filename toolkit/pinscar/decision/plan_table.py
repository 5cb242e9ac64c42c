"""The runs.csv of a plan, to be filled in at the bench, and the weights that give its loads."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from pinscar.campaign.columns import RUNS
from pinscar.campaign.model import Rig
from pinscar.contact.loads import STANDARD_GRAVITY
from pinscar.decision.plan import Run

FIRST = ("run_id", "planned_day", "planned_place", "lubricant", "load", "duration")
LEFT_OUT = ("weights", "run_day")
"""Columns that say the same as another one in the table: load, and run_at."""


def runs_csv(order: Sequence[Run], duration: float | None) -> str:
    """Write the table of a plan's runs, every column of a campaign in it, the measured ones blank.

    Parameters
    ----------
    order : sequence of Run
        The runs in order.
    duration : float or None
        Duration of a run [s]; blank where it is None.

    Returns
    -------
    str
        The text of runs.csv.
    """
    known = {column.name: column.header for column in RUNS if column.name not in LEFT_OUT}
    names = [*FIRST, *(name for name in known if name not in FIRST)]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([known.get(name, name) for name in names])
    for run in order:
        filled = {
            "run_id": run.run_id,
            # In words: a bare number without a unit would be taken for a response that lacks one.
            "planned_day": f"day {run.day}",
            "planned_place": f"{run.place} of {run.of_day}",
            "lubricant": run.lubricant,
            "load": f"{run.load:.6g}",
            "duration": "" if duration is None else f"{duration:.6g}",
        }
        writer.writerow([filled.get(name, "") for name in names])
    return text.getvalue()


def weights_for(rig: Rig, load: float) -> float | None:
    """Compute the weights to hang on for a load.

    Parameters
    ----------
    rig : Rig
        The rig, SI units.
    load : float
        Load [N].

    Returns
    -------
    float or None
        Mass of the weights without the hanger [kg]; None where the hanger alone gives more.

    Examples
    --------
    >>> from pinscar.campaign.model import Rig
    >>> rig = Rig(geometry="crossed-cylinders", pin_diameter="12 mm", ring_diameter="40 mm", lever_ratio=10.0,
    ...           hanger_mass="0.8 kg")
    >>> round(weights_for(rig, 450.0), 3)
    3.789
    """
    mass = load / (STANDARD_GRAVITY * rig.lever_ratio) - rig.hanger_mass
    return mass if mass >= 0.0 else None
