"""Where a key of campaign.toml stands."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from pinscar.problems import Problem


def locate(problem: Problem, text: str) -> Problem:
    r"""Add the line to a problem of campaign.toml that was found after it was read.

    Parameters
    ----------
    problem : Problem
        A problem with a dotted key, such as ``criteria[1].limit``, or of another file.
    text : str
        The file's text.

    Returns
    -------
    Problem
        The problem with its row where the key stands on a line of its own.

    References
    ----------
    Own definition.

    Examples
    --------
    >>> from pinscar.campaign.codes import error
    >>> problem = error("block-unknown", "campaign.toml", "m", "n", column="campaign.block")
    >>> locate(problem, '[campaign]\nblock = "x"').row
    2
    """
    if problem.file != "campaign.toml" or problem.row is not None or problem.column is None:
        return problem
    parts = re.findall(r"(\w+)(?:\[(\d+)\])?", problem.column)
    place = [part for name, number in parts for part in ((name, int(number) - 1) if number else (name,))]
    return replace(problem, row=line_of(place, text))


def line_of(place: Sequence[str | int], text: str) -> int | None:
    r"""Find the line of a key, or of its section where the key isn't there.

    Parameters
    ----------
    place : sequence of str and int
        Section names, position in a list of sections from 0 on, and key.
    text : str
        The file's text.

    Returns
    -------
    int or None
        The line, from 1 on; None where sections are written inline.

    References
    ----------
    TOML 1.0.0.

    Examples
    --------
    >>> line_of(("rig", "pin_diameter"), '[rig]\nring_width = "14 mm"\npin_diameter = "12 mm"')
    3
    """
    names = [str(part) for part in place if isinstance(part, str)]
    index = next((part for part in place if isinstance(part, int)), 0)
    lines = [(number, _section_of(line), line) for number, line in enumerate(text.splitlines(), start=1)]
    section = ".".join(names)
    if section not in {name for _, name, _ in lines}:
        section = ".".join(names[:-1])
    seen, inside, found = -1, section == "", None
    for number, name, line in lines:
        if name is not None:
            seen += name == section
            inside = name == section and seen == index
            found = number if inside else found
        elif inside and names and re.match(rf"\s*\"?{re.escape(names[-1])}\"?\s*=", line):
            return number
    return found


def _section_of(line: str) -> str | None:
    header = re.match(r"\s*\[\[?\s*([\w.\" -]+?)\s*\]", line)
    return header.group(1) if header else None
