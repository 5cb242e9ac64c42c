"""The campaign.toml of a prepared campaign: a person's answers, and examples marked as such."""

from __future__ import annotations

import json
from collections.abc import Sequence

from pinscar.report.starter_questions import Answers

EXAMPLE = "# example: put your own in its place"
HEAD = """\
# What was tested, on which rig, to which limits. Every quantity is written with its unit, in any unit you
# like: "12 mm", "0.47 in", "450 N", "46 kgf". Lines that begin with # are notes; take the mark away to use
# them. What is marked "example" was not asked, or is a default: put your own value there, as results
# rest on it."""
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
    """Write the file.

    Parameters
    ----------
    campaign_id : str
        Id of the campaign.
    answers : Answers
        What a person answered.
    loads : sequence of float
        Loads of the runs [N], for the limits.
    seed : int
        Seed that the order of the runs was drawn with.

    Returns
    -------
    str
        The text of campaign.toml.
    """
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


def toml_string(text: str) -> str:
    r"""Write text as a TOML basic string.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        The text in quotes, with its quotes, backslashes and control characters escaped.

    References
    ----------
    TOML 1.0.0, section "String": JSON's escapes are valid, and U+007F must be escaped too.

    Examples
    --------
    >>> print(toml_string('R-10 "old" #3'))
    "R-10 \"old\" #3"
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


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
