"""Reports on disk as records: what each concluded, what it measured, and what is stale of it.

Manifest and results may come from a stranger: whatever is wrong with them ends in a line of the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pinscar.errors import PinscarError, UsageError
from pinscar.press.json_file import read_json
from pinscar.press.manifest import NAME
from pinscar.press.verify import Difference, read_manifest, verify_report
from pinscar.wording import counted

MOST_NAMED = 3
"""Files that are named as changed; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One release limit of a report.

    Attributes
    ----------
    requirement, verdict, unit : str
        The limit in words, how it came out, and its unit.
    estimate, low, high : float or None
        What was found [unit].
    """

    requirement: str
    verdict: str
    unit: str
    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Film:
    """The film pressure of an oil at a load.

    Attributes
    ----------
    oil, role : str
        The oil and what it is in its campaign.
    load : float
        Load [N].
    runs, censored : int
        Runs, and those whose wear had not stopped.
    estimate, low, high : float or None
        Film pressure and its interval [MPa]; without an estimate the upper end is a bound.
    """

    oil: str
    role: str
    load: float
    runs: int
    censored: int
    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Report:
    """What the page shows of one report.

    Attributes
    ----------
    folder : pathlib.Path
        The report folder.
    campaign, template : str
        What it is about, and the template that made it.
    days : tuple of str
        Days of its runs, in order.
    overall, mark : str
        The overall verdict, and the mark of data that are not real; blank for none.
    limits : tuple of Limit
        Its release limits.
    films : tuple of Film
        Film pressures.
    stale : str
        What differs from its data, its files or this pinscar; blank where all agree.
    unread : str
        Why it cannot be read; blank where it was.
    """

    folder: Path
    campaign: str = ""
    template: str = ""
    days: tuple[str, ...] = ()
    overall: str = ""
    mark: str = ""
    limits: tuple[Limit, ...] = ()
    films: tuple[Film, ...] = ()
    stale: str = ""
    unread: str = ""


def find_reports(folders: Sequence[Path]) -> list[Path]:
    """Find the reports in and below folders: a report, a campaign with reports, or a folder of campaigns."""
    found: dict[Path, Path] = {}
    for folder in folders:
        if not folder.is_dir():
            raise UsageError(f"{folder} is {'a file' if folder.exists() else 'not there'}; give a folder")
        for place in _below(folder):
            found.setdefault(place.resolve(), place)
    if not found:
        said = ", ".join(map(str, folders))
        raise UsageError(f"there is no report in {said}; make one with pinscar report")
    return list(found.values())


def _below(folder: Path) -> Iterator[Path]:
    for place in (folder, *_inside(folder), *(two for one in _inside(folder) for two in _inside(one))):
        if (place / NAME).is_file():
            yield place


def _inside(folder: Path) -> list[Path]:
    return [
        path
        for path in sorted(folder.iterdir())
        if path.is_dir() and not path.is_symlink() and not path.name.startswith(".")
    ]


def read_report(folder: Path) -> Report:
    """Read one report, and compare it with its data and this pinscar."""
    try:
        manifest = read_manifest(folder)
        results = read_json(folder / "results.json")
        return Report(
            folder,
            _text(results["campaign"].get("id")) or _text(manifest.get("campaign")) or folder.parent.name,
            _text(manifest["template"].get("name")),
            tuple(sorted({_text(run.get("run_day")) for run in results.get("runs", [])} - {""})),
            _text(results.get("overall")),
            _text(results.get("data_mark")),
            tuple(map(_limit, results.get("criteria", []))),
            tuple(_films(results)),
            _stale(folder),
        )
    except PinscarError as error:
        return Report(folder, folder.parent.name, unread=str(error))
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return Report(folder, folder.parent.name, unread="its results.json cannot be read")


def _stale(folder: Path) -> str:
    try:
        return told(verify_report(folder, folder.resolve().parent))
    except PinscarError:
        return "its campaign folder is not around it"


def told(differences: Sequence[Difference]) -> str:
    """Say in a few words what is stale.

    Examples
    --------
    >>> told([Difference("input", "runs.csv", "1a", "2b"), Difference("code", "code", "1", "2")])
    'data changed: runs.csv; made by another pinscar'
    """
    kinds: dict[str, list[str]] = {}
    for one in differences:
        kinds.setdefault(one.kind, []).append(one.name)
    words = {"input": "data changed", "output": "files changed", "attachment": "files changed inside the PDF"}
    parts = [f"{words[kind]}: {_named(names)}" for kind, names in kinds.items() if kind in words]
    if kinds.keys() & {"manifest", "numbers"}:
        parts.append("edited by hand")
    if kinds.keys() & {"code", "template", "page", "fonts"}:
        parts.append("made by another pinscar")
    if kinds.keys() & {"versions", "libraries", "platform"}:
        parts.append("made with other versions or on another machine")
    return "; ".join(parts) or ("" if not differences else "differs")


def _named(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {counted(more, 'more', 'more')}" if more > 0 else "")


def _limit(one: dict[str, Any]) -> Limit:
    return Limit(
        _text(one["requirement"]),
        _text(one["verdict"]),
        _text(one.get("unit")),
        _number(one.get("estimate")),
        _number(one.get("ci_low")),
        _number(one.get("ci_high")),
    )


def _films(results: dict[str, Any]) -> Iterator[Film]:
    roles = {_text(one["lubricant"]): _text(one.get("role")) for one in results.get("lubricants", [])}
    for one in results.get("summaries", []):
        load = _number(one.get("load_N"))
        if one.get("response") == "film_pressure" and one.get("unit") == "MPa" and load is not None:
            oil = _text(one["lubricant"])
            ends = (_number(one.get(name)) for name in ("estimate", "ci_low", "ci_high"))
            yield Film(oil, roles.get(oil, ""), load, int(one["n"]), int(one["n_censored"]), *ends)


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def _number(value: object) -> float | None:
    good = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
    return float(value) if good else None  # type: ignore[arg-type]  # a number, as the line above says
