"""campaign.toml: text to checked records, and every misfit to a problem in plain words with its line."""

from __future__ import annotations

import difflib
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from pinscar.campaign import model
from pinscar.campaign.codes import SECTIONS, error, too_many, warning
from pinscar.campaign.quantities import FieldError
from pinscar.campaign.report_section import ReportSection, Sample, TestMethod, TomlSection
from pinscar.campaign.typed_dates import DOTS
from pinscar.errors import Problem, visible


def hidden_marks(text: str) -> list[Problem]:
    r"""Warn of lines with marks that cannot be seen.

    Examples
    --------
    >>> hidden_marks('[campaign]\nid = "a\u200b"')[0].row
    2
    """
    message = "the line has marks that cannot be seen, which are shown as codes"
    return [
        warning("hidden-marks", "campaign.toml", message, "write the line again", row=row, value=line.strip())
        for row, line in enumerate(text.splitlines(), start=1)
        if visible(line) != line
    ]


def locate(problem: Problem, text: str) -> Problem:
    r"""Add the line to a problem of campaign.toml that was found after it was read.

    Examples
    --------
    >>> from pinscar.campaign.codes import error
    >>> problem = error("block-unknown", "campaign.toml", "m", "n", column="campaign.block")
    >>> locate(problem, '[campaign]\nblock = "x"').row
    2
    """
    if problem.file != "campaign.toml" or problem.row is not None or problem.column is None:
        return problem
    parts = re.findall(r"([^.\[\]]+)(?:\[(\d+)\])?", problem.column)
    place = [part for name, number in parts for part in ((name, int(number) - 1) if number else (name,))]
    return replace(problem, row=line_of(place, text))


def line_of(place: Sequence[str | int], text: str) -> int | None:
    r"""Find the line of a key, or of its section where the key isn't there.

    Examples
    --------
    >>> line_of(("rig", "pin_diameter"), '[rig]\nring_width = "14 mm"\npin_diameter = "12 mm"')
    3
    """
    names = [str(part) for part in place if isinstance(part, str)]
    index = next((part for part in place if isinstance(part, int)), 0)
    lines = [(number, _section_of(line), line) for number, line in enumerate(text.splitlines(), start=1)]
    section = ".".join(names)
    known = {name for _, name, _ in lines}
    for keep in range(len(names) - 1, -1, -1):
        if section not in known:
            section = ".".join(names[:keep])
    # a section below one of a list, such as lubricants.composition, counts with the one it belongs to
    counted = names[0] if any(isinstance(part, int) for part in place) else section
    seen, inside, found = -1, section == "", None
    for number, name, line in lines:
        if name is not None:
            seen += name == counted
            inside = name == section and seen == index
            found = number if inside else found
        elif inside and names and re.match(rf"\s*\"?{re.escape(names[-1])}\"?\s*=", line):
            return number
        elif inside and len(names) > 2 and re.match(rf"\s*{re.escape(names[-2])}\s*=", line):
            found = number  # a section written on one line, in braces
    return found


def _section_of(line: str) -> str | None:
    header = re.match(r"\s*\[\[?([\w.\"\s-]+)\]", line)
    return header.group(1).strip() or None if header else None


FILE = "campaign.toml"
LONGEST = 200
"""Most letters of a value that a message repeats."""

PROBLEMS = 50
"""Most problems of the file that are told at once."""

_SECTIONS: Mapping[tuple[str, ...], type[TomlSection]] = MappingProxyType(
    {
        (): model.CampaignFile,
        ("campaign",): model.CampaignSection,
        ("rig",): model.Rig,
        ("rig", "pin"): model.Body,
        ("rig", "ring"): model.Body,
        ("lubricants",): model.Lubricant,
        ("lubricants", "sample"): Sample,
        ("components",): model.Component,
        ("criteria",): model.Criterion,
        ("service",): model.Service,
        ("claims",): model.Claim,
        ("report",): ReportSection,
        ("report", "method"): TestMethod,
    }
)
_LISTS = ("lubricants", "components", "criteria", "claims")

_SYNTAX = (
    (
        "Expected '='",
        "a line is neither a comment nor key = value",
        'write key = "value", and put # before comments',
    ),
    (
        "Expected newline",
        "something follows the value on its line",
        'put a quantity in quotes, such as "12 mm"',
    ),
    ("Invalid value", "the value cannot be read", 'put text and quantities in quotes, such as "12 mm"'),
    ("Illegal character '\\n'", "a quoted text does not end on its line", "close the quotes"),
    ("Unterminated", "a quoted text is never closed", "close the quotes"),
    ("Expected '\"'", "a quoted text is never closed", "close the quotes"),
    (
        "Unescaped '\\'",
        "a backslash stands in double quotes",
        "write the text in single quotes, or double the backslash",
    ),
    ("Cannot overwrite", "the key stands twice in its section", "keep one of the two lines"),
    (
        "Cannot declare",
        "the section stands twice",
        "join the two sections, or use [[ ]] where a list is meant",
    ),
    ("Expected ']'", "the section's bracket is not closed", "write it as [rig] or [[lubricants]]"),
)


def read_toml(text: str) -> tuple[model.CampaignFile | None, list[Problem]]:
    r"""Read the text of campaign.toml.

    Examples
    --------
    >>> content, problems = read_toml("[campaign\n")
    >>> problems[0].code
    'toml-syntax'
    """
    deep = next((row for row, line in enumerate(text.splitlines(), 1) if line.count(".") > DOTS), None)
    if deep is not None:
        return None, [
            error(
                "toml-syntax",
                FILE,
                f"a line has more than {DOTS} points",
                "write sections flat, and a long list over several lines",
                row=deep,
            )
        ]
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as failure:
        return None, [_syntax_problem(str(failure), text)]
    except ValueError:  # Python does not read whole numbers of more than 4,300 digits
        message, mend = "a number has thousands of digits", "write it as people do, such as 1e6"
        return None, [error("toml-syntax", FILE, message, mend)]
    except RecursionError:
        return None, [
            error("toml-syntax", FILE, "brackets are nested too deep", "write lists and tables flat")
        ]
    misplaced = _misplaced_sections(raw) or _too_many(raw)
    if misplaced:
        return None, misplaced
    try:
        return model.CampaignFile.model_validate(raw), []
    except ValidationError as failure:
        found = [_problem(one, text) for one in failure.errors(include_url=False)[:PROBLEMS]]
        return None, sorted(found, key=lambda one: one.row or 0)


def _syntax_problem(message: str, text: str) -> Problem:
    place = re.search(r"\(at line (\d+), column \d+\)", message)
    lines = text.splitlines()
    row = int(place.group(1)) if place else max(1, len(lines))
    plain, mend = next(
        ((plain, mend) for start, plain, mend in _SYNTAX if message.startswith(start)),
        ("the line cannot be read as TOML", 'write key = "value", one per line'),
    )
    shown = lines[row - 1].strip() if row <= len(lines) else None
    return error("toml-syntax", FILE, plain, mend, row=row, value=shown or None)


def _misplaced_sections(raw: Mapping[str, Any]) -> list[Problem]:
    found = []
    for key in _LISTS:
        if key in raw and not (isinstance(raw[key], list) and all(isinstance(one, dict) for one in raw[key])):
            mend = f"write [[{key}]] in double brackets above each of them"
            found.append(
                error("toml-not-a-section", FILE, f"{key} must be a list of sections", mend, column=key)
            )
    for key in ("campaign", "rig", "service", "report"):
        if key in raw and not isinstance(raw[key], dict):
            mend = f"write [{key}] on a line of its own and its keys below it"
            found.append(error("toml-not-a-section", FILE, f"{key} must be a section", mend, column=key))
    rig = raw.get("rig")
    for key in ("pin", "ring"):
        if isinstance(rig, dict) and key in rig and not isinstance(rig[key], dict):
            mend = f"write [rig.{key}] on a line of its own and its keys below it"
            found.append(
                error("toml-not-a-section", FILE, f"rig.{key} must be a section", mend, column=f"rig.{key}")
            )
    return found


def _too_many(raw: Mapping[str, Any]) -> list[Problem]:
    return [
        too_many(f"sections [[{key}]]", SECTIONS, FILE, "make two campaigns of it")
        for key in _LISTS
        if len(raw.get(key, [])) > SECTIONS
    ]


def _problem(detail: Mapping[str, Any], text: str) -> Problem:
    place: tuple[str | int, ...] = tuple(detail["loc"])
    kind = detail["type"]
    if kind == "extra_forbidden":
        return _unknown_key(place, text)
    if kind == "missing":
        mend = f"add {_example(place)}"
        return error(
            "toml-key-missing",
            FILE,
            "a key is missing",
            mend,
            row=line_of(place[:-1], text),
            column=_dotted(place),
        )
    failure = detail.get("ctx", {}).get("error")
    if not isinstance(failure, FieldError):
        raise TypeError(f"no plain words for {kind} at {place}")
    if failure.key:
        place = (*place, failure.key)
    value = None if failure.key and failure.code == "toml-key-missing" else _shown(detail["input"])
    row = line_of(place, text)
    return error(
        failure.code, FILE, failure.message, failure.mend, row=row, column=_dotted(place), value=value
    )


def _shown(value: Any) -> str | None:
    if isinstance(value, dict | list):
        return None
    text = str(value).lower() if isinstance(value, bool) else _written(value)
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"


def _written(value: Any) -> str:
    try:
        return str(value)
    except ValueError:  # a whole number with more digits than Python prints
        return "a whole number with thousands of digits"


def _unknown_key(place: Sequence[str | int], text: str) -> Problem:
    section = tuple(part for part in place[:-1] if isinstance(part, str))
    key = str(place[-1])
    known = [field.alias or name for name, field in _SECTIONS[section].model_fields.items()]
    near = difflib.get_close_matches(key.lower().replace("-", "_"), known, n=1, cutoff=0.6)
    elsewhere = [
        path for path, kind in _SECTIONS.items() if path and path != section and key in kind.model_fields
    ]
    if near:
        mend = f"write {near[0]}"
    elif elsewhere:
        mend = f"move it to [{'.'.join(elsewhere[0])}]"
    else:
        mend = f"take it out; known here are {', '.join(known)}"
    return error(
        "toml-key-unknown",
        FILE,
        "pinscar does not know this key",
        mend,
        row=line_of(place, text),
        column=_dotted(place),
    )


def _example(place: Sequence[str | int]) -> str:
    section = tuple(part for part in place if isinstance(part, str))
    if section in _SECTIONS:
        return f"a section [{'.'.join(section)}]"
    examples = {
        "id": '"conveyor-07"' if section[0] == "campaign" else '"C-21"',
        "reference": '"R-10"',
        "geometry": '"crossed-cylinders"',
        "rule": '"at least"',
        "response": '"film_pressure"',
        "direction": '"lower"',
        "load": '"450 N"',
        "sprocket_teeth": "19",
        "sprocket_speed": '"120 rpm"',
        "chain_tension": '"900 N"',
    }
    value = examples.get(
        str(place[-1]), '"C-21"' if place[-1] in ("lubricant", "subject", "against") else '"12.7 mm"'
    )
    return f"a line such as {place[-1]} = {value}"


def _dotted(place: Sequence[str | int]) -> str:
    parts = [f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in place]
    return "".join(parts).lstrip(".")


def toml_string(text: str) -> str:
    r"""Write text as a TOML basic string.

    Examples
    --------
    >>> print(toml_string('R-10 "old" #3'))
    "R-10 \"old\" #3"
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
