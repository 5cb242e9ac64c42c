"""A campaign folder to begin with, made from a person's answers.

It holds campaign.toml, with examples marked as such where nothing was answered, and a table of runs to fill
in.
"""

from __future__ import annotations

import errno
import math
import os
import shutil
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from pinscar.bench.answers import is_mass
from pinscar.bench.questions import Answers
from pinscar.campaign.toml_file import toml_string
from pinscar.contact.wear import load_from_weights
from pinscar.errors import UsageError
from pinscar.press.files import cannot_write
from pinscar.shipped import nearest, shipped_folder
from pinscar.stats.run_order import randomised_run_order
from pinscar.study.plan.table import (
    Lever,
    PreparedTable,
    SheetRun,
    Written,
    csv_text,
    named_runs,
    prepared_table,
)
from pinscar.units import parse_quantity, split_quantity
from pinscar.wording import listing, load_text

STARTER = "new_campaign"


def demo_names() -> list[str]:
    """Return the names of the demo campaigns."""
    return sorted(path.parent.name for path in shipped_folder("data_demo").glob("*/campaign.toml"))


def refuse_folder(folder: Path) -> None:
    """Refuse a folder that a campaign cannot be made in."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(f"{folder} already exists and is not empty; choose another name")


def new_campaign(folder: Path, demo: str | None = None) -> list[str]:
    """Make a campaign folder."""
    refuse_folder(folder)
    if demo is not None and demo not in demo_names():
        raise UsageError(f"no demo campaign called {demo!r}{nearest(demo, demo_names())}")
    source = shipped_folder("templates") / STARTER if demo is None else shipped_folder("data_demo") / demo
    leave_out = shutil.ignore_patterns("report", "report-failed.ipynb", ".*")
    try:
        shutil.copytree(source, folder, ignore=leave_out, dirs_exist_ok=True)
    except (OSError, shutil.Error) as error:
        raise cannot_write(
            folder.parent, error if isinstance(error, OSError) else OSError(str(error))
        ) from error
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


EXAMPLE = "# example: put your own in its place"
HEAD = """\
# What was tested, on which rig, to which limits. Every quantity is written with its unit, in any unit you
# like: "12 mm", "0.47 in", "450 N", "46 kgf". Lines that begin with # are notes; take the mark away to use
# them. What is marked "example" was not asked, or is a default: put your own value there, as results
# rest on it."""
DEFAULTS = MappingProxyType(
    {
        "rig.pin_diameter": '"12 mm"',
        "rig.ring_diameter": '"40 mm"',
        "rig.ring_width": '"8 mm"',
        "rig.ring_groove_depth": '"0.02 mm"',
        "rig.ring_speed": '"700 rpm"',
        "rig.lever_ratio": "10",
        "rig.hanger_mass": '"0.8 kg"',
        "rig.crossing_angle": '"90 deg"',
        "rig.load_uncertainty": '"1 %"',
        "rig.reading_uncertainty": '"0.03 mm"',
        **{f"rig.{body}.elastic_modulus": '"210 GPa"' for body in ("pin", "ring")},
        **{f"rig.{body}.poisson_ratio": "0.3" for body in ("pin", "ring")},
        "rig.pin.hardness": '"7.5 GPa"',
        "rig.ring.hardness": '"8.0 GPa"',
        "rig.pin.roughness_rq": '"0.20 um"',
        "rig.ring.roughness_rq": '"0.15 um"',
    }
)
"""Values written where no answer was given, as they stand in the file: `pinscar check` names those left."""
VISCOSITY = """\
# kinematic_viscosity_40 = "68 mm^2/s"   # examples: put the oil's own values, and take the first mark away
# kinematic_viscosity_100 = "9.1 mm^2/s"
# density_15 = "872 kg/m^3\""""
TAIL = """\
# [service]                        # the chain duty that the bench is meant to stand for
# chain_pitch = "12.7 mm"
# pin_diameter = "4.45 mm"
# bush_length = "11.3 mm"
# sprocket_teeth = 19
# sprocket_speed = "120 rpm"
# chain_tension = "900 N"

# Files you may add beside the table of runs:
#   load_steps.csv      run_id, start [s], load [N]: for runs whose load was raised while running
#   traces/<run_id>.csv time [s] and any of friction_force [N], motor_power [W], temperature [degC]
#   sound/<run_id>.wav, micrographs/<run_id>.png
"""


def toml_text(campaign_id: str, answers: Answers, loads: Sequence[float], seed: int) -> str:
    """Write the file."""
    parts = [
        HEAD,
        _campaign(campaign_id, answers, seed),
        _rig(answers),
        *_bodies(),
        *_lubricants(answers),
        *_criteria(answers, loads),
        TAIL,
    ]
    return "\n\n".join(parts)


def _line(key: str, value: str | float, note: str = "") -> str:
    shown = toml_string(value) if isinstance(value, str) else f"{value:.12g}"
    return f"{key} = {shown}".ljust(35 if note else 0) + (f" {note}" if note else "")


def _campaign(campaign_id: str, answers: Answers, seed: int) -> str:
    values = answers.values
    block = '# block = "run_day"                # runs of one day are compared among themselves'
    if values["days"] > 1:
        block = _line("block", "run_day", "# compares runs of one day among themselves; run_at tells the day")
    lines = [
        "[campaign]",
        _line("id", campaign_id),
        _line("title", values["title"]),
        _line("question", values["question"]),
        _line("reference", values["reference"], "# the lubricant that every other one is compared with"),
        "confidence = 0.95",
        block,
        '# control = ["checks/2026-03"]  # folders of reference-oil checks on this rig',
        '# history = ["earlier/conveyor-05"]  # earlier campaigns whose scatter between repeats counts in',
        f"# The runs are in random order (seed {seed}), each day with all oils as evenly as possible.",
    ]
    return "\n".join(lines)


def _rig(answers: Answers) -> str:
    values, given = answers.values, answers.given
    rename = {"groove_depth": "ring_groove_depth"}
    ball = "# of the wear track" if values["geometry"] == "ball-on-disc" else ""
    keys = (
        "pin_diameter",
        "ring_diameter",
        "ring_width",
        "groove_depth",
        "ring_speed",
        "lever_ratio",
        "hanger_mass",
    )
    notes = {"pin_diameter": "# of the ball" if ball else "", "ring_diameter": ball}
    lines = ["[rig]", _line("geometry", values["geometry"])]
    for key in keys:
        if key in values:
            note = notes.get(key, "") if key in given else EXAMPLE
            lines.append(_line(rename.get(key, key), values[key], note))
    if values["geometry"] == "crossed-cylinders":
        lines.append(_line("crossing_angle", "90 deg", EXAMPLE))
    lines += [
        _line("load_uncertainty", "1 %", f"{EXAMPLE}; standard uncertainty of the load"),
        _line("reading_uncertainty", "0.03 mm", f"{EXAMPLE}; of one scar length or width"),
    ]
    return "\n".join(lines)


def _bodies() -> list[str]:
    pin: list[tuple[str, str | float]] = [
        ("elastic_modulus", "210 GPa"),
        ("poisson_ratio", 0.3),
        ("hardness", "7.5 GPa"),
        ("roughness_rq", "0.20 um"),
    ]
    ring = [*pin[:2], ("hardness", "8.0 GPa"), ("roughness_rq", "0.15 um")]
    return [
        "\n".join([f"[rig.{name}]", *(_line(key, value, EXAMPLE) for key, value in body)])
        for name, body in (("pin", pin), ("ring", ring))
    ]


def _lubricants(answers: Answers) -> list[str]:
    values = answers.values
    roles = dict.fromkeys(values["candidates"], "candidate")
    roles |= dict.fromkeys(values["benchmarks"], "benchmark")
    found = []
    for place, oil in enumerate(answers.oils):
        key = "reference" if place == 0 else f"{roles[oil]}s"
        note = "" if key in answers.given else EXAMPLE
        lines = [
            "[[lubricants]]",
            _line("id", oil, note),
            _line("role", roles.get(oil, "reference")),
            VISCOSITY,
        ]
        found.append("\n".join(lines))
    return found


def _criteria(answers: Answers, loads: Sequence[float]) -> list[str]:
    values, limit = answers.values, answers.values["film_pressure"]
    if limit is None:
        lines = _criterion("film", values["candidates"][0], loads[0], "100 MPa")
        told = "# A release limit, if there is one: a copy for each oil and load. Rules: at least, at most,\n"
        told += "# ratio at least, ratio at most, not worse than.\n"
        return [told + "\n".join(f"# {line}" for line in lines)]
    found = []
    pairs = [(oil, load) for oil in values["candidates"] for load in loads]
    for number, (oil, load) in enumerate(pairs, 1):
        name = "film" if len(pairs) == 1 else f"film-{number}"
        found.append("\n".join(_criterion(name, oil, load, limit)))
    return found


def _criterion(name: str, oil: str, load: float, limit: str) -> list[str]:
    return [
        "[[criteria]]",
        _line("id", name),
        _line("response", "film_pressure"),
        _line("lubricant", oil),
        _line("load", f"{load:.6g} N"),
        _line("rule", "at least"),
        _line("limit", limit),
    ]


@dataclass(frozen=True, slots=True)
class Prepared:
    """A campaign before it is written.

    Attributes
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
    """Refuse a place that cannot be written, before a person has answered every question."""
    there = next(place for place in [folder.absolute(), *folder.absolute().parents] if place.exists())
    if not there.is_dir() or not os.access(there, os.W_OK):
        code = errno.EACCES if there.is_dir() else errno.ENOTDIR
        raise cannot_write(folder.parent, OSError(code, os.strerror(code)))


def prepare(folder: Path, answers: Answers) -> Prepared:
    """Prepare a campaign from answers."""
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
    """Sum the answers up."""
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


def _order(answers: Answers, loads: list[float], seed: int) -> tuple[SheetRun, ...]:
    values = answers.values
    treatments = [f"{oil} at {load!r}" for oil in answers.oils for load in loads]
    runs = len(treatments) * values["repeats"]
    return named_runs(
        randomised_run_order(treatments, values["repeats"], math.ceil(runs / values["days"]), seed)
    )


def write_campaign(folder: Path, prepared: Prepared, *, xlsx: bool) -> list[str]:
    """Write a prepared campaign; what was begun is removed where it cannot be finished."""
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
    """Give the file of a prepared table of runs."""
    if not xlsx:
        return "runs.csv", csv_text(table).encode()
    from pinscar.bench.run_sheet import run_sheet

    return "runs.xlsx", run_sheet(table, oils, title)
