"""A campaign folder prepared from a person's answers: campaign.toml, and a table of runs to fill in."""

from __future__ import annotations

import errno
import math
import os
import shutil
import zlib
from dataclasses import dataclass
from pathlib import Path

from pinscar.contact.loads import load_from_weights
from pinscar.decision.plan import Run, named_runs
from pinscar.decision.plan_table import Lever, PreparedTable, Written, csv_text, prepared_table
from pinscar.decision.wording import listing, load_text
from pinscar.report.scratch import cannot_write
from pinscar.report.starter import refuse_folder
from pinscar.report.starter_questions import Answers
from pinscar.report.starter_reading import is_mass
from pinscar.report.starter_toml import toml_text
from pinscar.stats.run_order import randomised_run_order
from pinscar.units import parse_quantity, split_quantity


@dataclass(frozen=True, slots=True)
class Prepared:
    """A campaign before it is written.

    Parameters
    ----------
    settings : str
        Text of campaign.toml.
    table : PreparedTable
        The runs.
    oils : tuple of str
        Ids of the oils, the reference first.
    title : str
        Title of the campaign.
    told : str
        What it is, in one sentence.
    """

    settings: str
    table: PreparedTable
    oils: tuple[str, ...]
    title: str
    told: str


def title_for(folder: Path) -> str:
    """Make a title of a folder's name.

    Parameters
    ----------
    folder : pathlib.Path
        The folder.

    Returns
    -------
    str
        Its name in words.

    Examples
    --------
    >>> title_for(Path("work/chain_oils_8"))
    'Chain oils 8'
    """
    named = " ".join(_name(folder).replace("_", " ").split())
    return named[:1].upper() + named[1:]


def _name(folder: Path) -> str:
    name = folder.resolve().name
    return name if name.isprintable() and name.strip() else "campaign"


def check_place(folder: Path) -> None:
    """Refuse a place that cannot be written, before a person has answered every question.

    Parameters
    ----------
    folder : pathlib.Path
        Folder that will be made.

    Raises
    ------
    RunError
        If the folder that is there, of those that lead to it, cannot be written.
    """
    there = next(place for place in [folder.absolute(), *folder.absolute().parents] if place.exists())
    if not there.is_dir() or not os.access(there, os.W_OK):
        code = errno.EACCES if there.is_dir() else errno.ENOTDIR
        raise cannot_write(folder.parent, OSError(code, os.strerror(code)))


def prepare(folder: Path, answers: Answers) -> Prepared:
    """Prepare a campaign from answers.

    Parameters
    ----------
    folder : pathlib.Path
        Folder that it will lie in; its name becomes the campaign's id, and the seed of the order.
    answers : Answers
        What a person answered.

    Returns
    -------
    Prepared
        Texts and table; nothing is written.
    """
    values = answers.values
    loads, written = _loads(answers)
    seed = zlib.crc32(_name(folder).encode()) % 100_000
    order = _order(answers, loads, seed)
    duration = parse_quantity(values["duration"], "time")
    return Prepared(
        settings=toml_text(_name(folder), answers, loads, seed),
        table=prepared_table(order, duration, written),
        oils=answers.oils,
        title=values["title"],
        told=summary(answers),
    )


def summary(answers: Answers) -> str:
    """Sum the answers up.

    Parameters
    ----------
    answers : Answers
        What a person answered.

    Returns
    -------
    str
        One sentence.
    """
    values = answers.values
    loads, written = _loads(answers)
    runs = len(answers.oils) * len(loads) * values["repeats"]
    shown = [load_text(load) for load in loads]
    if written.weights_on is not None:
        shown = [f"{weight} ({load})" for weight, load in zip(values["load"], shown, strict=True)]
    days = "on one day" if values["days"] == 1 else f"over {values['days']} days"
    each = "once" if values["repeats"] == 1 else f"{values['repeats']} times each"
    return (
        f"{runs} runs {days}, in random order: {listing(answers.oils)}, {each} at {listing(shown)}, "
        f"{values['duration']} per run."
    )


def _loads(answers: Answers) -> tuple[list[float], Written]:
    """Give the loads [N], and how they and the duration stand in the table: as the person wrote them."""
    values = answers.values
    units = {split_quantity(one)[1] for one in values["load"]}
    time = split_quantity(values["duration"])[1]
    if not is_mass(values["load"][0]):
        unit = units.pop() if len(units) == 1 else "N"
        return [parse_quantity(one, "force") for one in values["load"]], Written(unit, time)
    hanger = parse_quantity(values["hanger_mass"], "mass")
    lever = Lever(values["lever_ratio"], hanger)
    masses = [parse_quantity(one, "mass") for one in values["load"]]
    loads = [float(load_from_weights(mass, lever.hanger_mass, lever.lever_ratio)) for mass in masses]
    return loads, Written(units.pop() if len(units) == 1 else "kg", time, lever)


def _order(answers: Answers, loads: list[float], seed: int) -> tuple[Run, ...]:
    values = answers.values
    treatments = [f"{oil} at {load!r}" for oil in answers.oils for load in loads]
    runs = len(treatments) * values["repeats"]
    return named_runs(
        randomised_run_order(treatments, values["repeats"], math.ceil(runs / values["days"]), seed)
    )


def write_campaign(folder: Path, prepared: Prepared, *, xlsx: bool) -> list[str]:
    """Write a prepared campaign; what was begun is removed where it cannot be finished.

    Parameters
    ----------
    folder : pathlib.Path
        The folder: not there yet, or empty.
    prepared : Prepared
        What to write.
    xlsx : bool
        Whether the runs are written as a workbook.

    Returns
    -------
    list of str
        Names of the files made.

    Raises
    ------
    UsageError
        If something lies there already.
    RunError
        If the folder cannot be written.
    """
    refuse_folder(folder)
    name, data = runs_bytes(prepared.table, prepared.oils, prepared.title, xlsx=xlsx)
    files = {"campaign.toml": prepared.settings.encode(), name: data}
    made_before = folder.is_dir()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file, content in files.items():
            (folder / file).write_bytes(content)
    except BaseException as error:
        for file in files:
            (folder / file).unlink(missing_ok=True)
        if not made_before:
            shutil.rmtree(folder, ignore_errors=True)
        if isinstance(error, OSError):
            raise cannot_write(folder.parent, error) from error
        raise
    return list(files)


def runs_bytes(table: PreparedTable, oils: tuple[str, ...], title: str, *, xlsx: bool) -> tuple[str, bytes]:
    """Give the file of a prepared table of runs.

    Parameters
    ----------
    table : PreparedTable
        The table.
    oils : tuple of str
        Ids of the oils that a workbook lets choose from.
    title : str
        Title of the campaign, for a workbook's printed foot.
    xlsx : bool
        Whether it is a workbook.

    Returns
    -------
    tuple of str and bytes
        Name and content.
    """
    if not xlsx:
        return "runs.csv", csv_text(table).encode()
    from pinscar.report.run_sheet import run_sheet

    return "runs.xlsx", run_sheet(table, oils, title)
