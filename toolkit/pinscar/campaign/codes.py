"""Every code of a campaign folder's problems, the makers of such problems, and how much is read."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TypedDict, Unpack

from pinscar.errors import Problem, Severity

CODES: Mapping[str, str] = MappingProxyType(
    {
        # the folder and its files
        "folder-missing": "there is no such folder, or it is a file",
        "file-missing": "a file that every campaign needs is not there",
        "file-unreadable": "a file cannot be opened",
        "file-not-plain": "a pipe or a device lies where a file should",
        "link-outside": "a link leads out of the campaign folder",
        "file-too-large": "a file, or what is packed in it, is larger than pinscar reads of its kind",
        "file-name": "the name of a file has marks that cannot be seen, or is no UTF-8",
        "hidden-marks": "text has marks that cannot be seen, such as those that reverse the writing",
        "file-twice": "the same table is there as csv and as xlsx",
        "file-near-miss": "a file's name is almost that of a file pinscar reads",
        "file-encoding": "a file is neither UTF-8 nor Windows-1252 text",
        "file-empty": "there is nothing in a table",
        "table-no-rows": "a table has a header and no rows under it",
        "table-quotes": "a quoted cell is never closed",
        "table-separator": "a table is separated by tabs",
        "table-too-many-cells": "a row has more cells than the header",
        "xlsx-unreadable": "a workbook cannot be opened",
        "xlsx-no-value": "a cell of a workbook has a formula without a stored value, or an error value",
        "xlsx-merged": "measured cells of a workbook's table are merged, so all but the first are blank",
        "xlsx-format": "a cell of a workbook is formatted as a percentage or as a time of day",
        "parquet-unreadable": "a parquet file cannot be opened",
        "parquet-type": "a column of a parquet file holds something else than numbers",
        # campaign.toml
        "toml-syntax": "campaign.toml breaks the rules of TOML",
        "toml-key-unknown": "campaign.toml has a key pinscar does not know",
        "toml-key-missing": "campaign.toml lacks a key",
        "toml-not-a-section": "a section of campaign.toml is written as a value, or a list as a section",
        "toml-not-text": "a value that must be text is none, or is empty",
        "toml-not-a-choice": "a word is not one of the choices",
        "toml-not-a-quantity": "a value is neither a number nor a quantity in quotes",
        "toml-quantity-unreadable": "a quantity is not a number with a decimal point followed by a unit",
        "toml-unit-missing": "a quantity has no unit",
        "toml-unit-unknown": "a quantity's unit cannot be read",
        "toml-unit-wrong": "a quantity's unit measures something else",
        "toml-unit-ambiguous": "a rotational speed does not say whether it counts turns or radians",
        "toml-unit-logarithmic": "a quantity has a logarithmic unit",
        "toml-not-a-date": "a value is no date, or can be read as two",
        "toml-too-long": "a text or list is longer than is printed in its place",
        "toml-out-of-range": "a value is outside the range it can have",
        "toml-value-unusual": "a value of the rig is possible but so unusual that its unit may be wrong",
        "id-twice": "two lubricants or two criteria have the same id",
        "role-conflict": "the role of a lubricant does not fit the campaign's reference",
        "reference-without-runs": "no included run is of the reference",
        "block-unknown": "the block names no column of the runs",
        "block-missing": "some runs have no value in the block's column",
        "control-outside": "a folder of reference-oil checks lies outside the campaign folder",
        "control-unreadable": "a folder of reference-oil checks is not there or has errors",
        "control-twice": "a folder of reference-oil checks, or a copy of it, is named twice",
        "history-twice": "an earlier campaign, or a copy of it, is named twice",
        "reference-history-twice": "an earlier campaign, or a copy of it, is named twice",
        "history-itself": "a campaign names itself as an earlier one",
        "history-outside": "a folder of an earlier campaign lies outside the campaign folder",
        "history-unreadable": "a folder of an earlier campaign is not there or has errors",
        "reference-history-itself": "a campaign names itself as an earlier one",
        "reference-history-outside": "a folder of an earlier campaign lies outside the campaign folder",
        "reference-history-unreadable": "a folder of an earlier campaign is not there or has errors",
        "report-date": "a date of [report] or of a sample contradicts the days of the runs or another date",
        "report-replaces": "a revision does not say which report it replaces",
        "logo-outside": "the logo lies outside the campaign folder",
        "logo-unusable": "the logo cannot be read, is too large, or holds more than a drawing",
        "notes-unreadable": "notes.md is no text, or is longer than is printed",
        "picture-unplaced": "a picture has no caption in notes.md, or notes.md names one that is not there",
        "picture-unusable": "a file in pictures/ cannot be read as a picture",
        "ring-speed-missing": "a run has no ring speed and the rig has none either",
        "response-unknown": "a criterion or claim names a response the campaign does not have",
        "response-without-data": "a criterion or claim asks for a response no run has data for",
        "lubricant-unknown": "a lubricant is named that is neither declared nor among the runs",
        "lubricant-without-runs": "a lubricant is named that no included run is of",
        "lubricant-lookalike": "two lubricants' names differ only by case, blanks or hyphens",
        "name-lookalike": "two names look the same and are written with different characters",
        "name-formula": "a name is a formula that a spreadsheet would run",
        "criterion-limit": "a limit or margin does not fit its rule or its response",
        "criterion-direction": "a criterion does not say which way is better",
        "criterion-load": "a criterion or claim has a load its lubricant was not run at, or lacks one",
        "composition-sum": "the shares of an oil do not add up to 100 %",
        "composition-balance": "two components of one oil are the balance",
        "composition-same": "two oils have one composition",
        "component-unknown": "an oil has a component that is not declared",
        "component-near-miss": "two components' names are almost one",
        "price-unreadable": "a price is no amount of money per mass",
        "price-currencies": "prices are in several currencies",
        "lubricant-stated-twice": "an oil's table and campaign.toml say different things of it",
        # headers
        "column-missing": "a required column is not there",
        "column-near-miss": "a column's name or bracket is almost that of a column pinscar reads",
        "column-twice": "two columns have the same name",
        "column-unnamed": "a column holds values but has no name",
        "column-reserved": "a column has a name pinscar computes itself",
        "column-not-a-response": "a column looks numeric but has no unit, so it is kept as text",
        "unit-missing": "a column that needs a unit has none",
        "unit-unwanted": "a column that takes no unit has one",
        "unit-unknown": "a column's unit cannot be read",
        "unit-wrong": "a column's unit measures something else",
        "unit-ambiguous": "a rotational speed does not say whether it counts turns or radians",
        "unit-logarithmic": "a column has a logarithmic unit",
        "load-and-weights": "a table has both loads and weights, or neither",
        # cells
        "value-missing": "a cell that must be filled is blank",
        "value-not-a-number": "a cell in a numeric column is not a number",
        "value-decimal-mark": "a decimal comma in a file separated by commas, or a mark with two meanings",
        "value-out-of-range": "a number is zero, negative or not whole where that cannot be",
        "value-not-a-choice": "a word is not one of the choices",
        "value-not-a-date": "a date or time cannot be read",
        "value-date-two-ways": "a column's dates can be read with the day or the month first",
        "value-unusual": "numbers are possible but so unusual that the column's unit may be wrong",
        "excluded-not-a-reason": "the excluded cell holds a word, such as yes, in place of a reason",
        "run-id-twice": "two runs have the same run_id",
        "run-id-lookalike": "two run_ids differ only by case or by letters that pass for figures",
        "run-id-characters": "a run_id has characters that a file name cannot have",
        "run-day-conflict": "run_day and run_at name different days",
        "quiet-after-end": "the noise stopped after the run's end",
        "quiet-twice": "the noise stopped at a time, and within an interval too",
        "quiet-interval": "the two ends of a quiet time's interval don't fit",
        "quiet-but-wearing": "wear is said not to have stopped although the noise stopped",
        "scar-too-large": "a scar is larger than the bodies allow",
        "scar-swapped": "scars are wider than long, as if the two columns were swapped",
        "temperature-order": "the peak temperature is below the ambient temperature",
        "runs-all-excluded": "every run is excluded",
        "example-rows": "rows of the starter are still among the runs",
        # load steps, readings, traces, other evidence
        "steps-unknown-run": "load_steps.csv names a run that runs.csv does not have",
        "steps-order": "the steps of a run do not start later and later",
        "steps-outside-run": "a step starts before the run or after its end",
        "steps-ambiguous": "the load before the first step is not clear",
        "steps-load-differs": "the run's load is neither the first nor the last step's",
        "readings-unknown-run": "readings.csv names a run that runs.csv does not have",
        "readings-twice": "a reader has two readings of the same number of one run",
        "readings-differ": "readings.csv and runs.csv disagree by more than 5 %",
        "trace-without-readings": "a trace has no column that pinscar reads beside the time",
        "trace-order": "the time of a trace does not rise from row to row",
        "trace-outside-run": "a trace goes on after its run, or hardly covers it",
        "trace-time-unit": "the time of a trace fits its run in another unit than its header names",
        "trace-impossible": "a trace has readings that no run gives, such as a recorder's overflow",
        "trace-friction-unusual": "the friction force of a trace is hardly possible at the run's load",
        "trace-temperature-differs": "a run's peak temperature and its trace disagree by more than 5 K",
        "evidence-unknown-run": "a trace, recording, micrograph or fling card belongs to no run",
        "evidence-twice": "a run has two traces, micrographs or fling cards",
        "fling-card-size-missing": "there are fling cards, and campaign.toml does not tell their size",
        "evidence-unknown-type": "a file in an evidence folder is of a kind pinscar does not read",
    }
)
"""Meaning of each code. Codes are stable: scripts may rely on them."""


class Place(TypedDict, total=False):
    """Where in a file a problem stands, and the value found there."""

    row: int | None
    column: str | None
    value: str | None


def error(code: str, file: str, message: str, mend: str, **place: Unpack[Place]) -> Problem:
    """Make a problem that stops the report.

    Examples
    --------
    >>> print(error("value-missing", "runs.csv", "the cell is blank", "fill it in", row=4, column="load [N]"))
    runs.csv, row 4, column load [N]: the cell is blank; fill it in
    """
    return Problem(code=_known(code), severity=Severity.ERROR, file=file, message=message, mend=mend, **place)


def warning(code: str, file: str, message: str, mend: str, **place: Unpack[Place]) -> Problem:
    """Make a problem that the report prints but that does not stop it.

    Examples
    --------
    >>> warning("scar-swapped", "runs.csv", "m", "n").severity.value
    'warning'
    """
    return Problem(
        code=_known(code), severity=Severity.WARNING, file=file, message=message, mend=mend, **place
    )


def _known(code: str) -> str:
    if code not in CODES:
        raise ValueError(f"code must be a key of CODES, got {code!r}")
    return code


def condense(problems: Iterable[Problem], most: int = 3) -> list[Problem]:
    """Join problems that differ only by row and value, so that one wrong column is one line.

    `check_campaign` does so with warnings and leaves errors one per cell; a terminal may join those too.

    Examples
    --------
    >>> rows = [warning("scar-swapped", "runs.csv", "it is wide", "check it", row=row) for row in range(2, 9)]
    >>> print(condense(rows)[0])
    runs.csv, row 2: it is wide, also in rows 3, 4, 5 and 3 more; check it
    """
    groups: dict[tuple[object, ...], list[Problem]] = {}
    for one in problems:
        groups.setdefault((one.code, one.severity, one.file, one.column, one.message, one.mend), []).append(
            one
        )
    joined: list[Problem] = []
    for group in groups.values():
        joined += group if len(group) <= most else [_join(group)]
    return sorted(joined, key=lambda one: one.severity is not Severity.ERROR)


def _join(group: list[Problem]) -> Problem:
    rows = [str(one.row) for one in group[1:]]
    shown = ", ".join(rows[:3]) + (f" and {len(rows) - 3} more" if len(rows) > 3 else "")
    return replace(group[0], message=f"{group[0].message}, also in rows {shown}")


def nearest(name: str, names: Collection[str], cutoff: float = 0.6) -> str | None:
    """Find the name that another one was probably meant for.

    Examples
    --------
    >>> nearest("r10", ["R-10", "C-21"])
    'R-10'
    """

    def likeness(one: str) -> tuple[float, float]:
        # the plain names decide; if they are equally like, the names as written
        return _ratio(plain(name), plain(one)), _ratio(name, one)

    best = max(sorted(names), key=likeness, default=None)
    return best if best is not None and likeness(best)[0] >= cutoff else None


def _ratio(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one, other).ratio()


def plain(name: str) -> str:
    """Strip a name of what people vary without meaning it: case, blanks, hyphens, underscores and points.

    Examples
    --------
    >>> plain("R-10") == plain("r 10")
    True
    """
    return re.sub(r"[\s_\-.]+", "", name.casefold())


def listed(names: Collection[str]) -> str:
    """List names for a message.

    Examples
    --------
    >>> listed({"R-10", "C-21"})
    'C-21, R-10'
    """
    return ", ".join(sorted(names))


MIB = 1024 * 1024

LARGEST: Mapping[str, int] = MappingProxyType(
    {
        ".toml": MIB // 4,
        ".md": MIB // 16,
        ".csv": 64 * MIB,
        ".xlsx": 32 * MIB,
        ".parquet": 64 * MIB,
        ".wav": 256 * MIB,
        ".png": 256 * MIB,
        ".jpg": 256 * MIB,
        ".jpeg": 256 * MIB,
        ".tif": 256 * MIB,
        ".tiff": 256 * MIB,
        **dict.fromkeys((".mp4", ".mov", ".m4a", ".3gp", ".webm", ".flac", ".ogg", ".mp3"), 512 * MIB),
    }
)
"""Largest file by its ending [bytes]."""

CELLS = 1_000_000
"""Most cells of a table as text: 250,000 readings of a trace in four columns."""

SHEET_CELLS = 300_000
"""Most cells of a sheet of a workbook: 10,000 runs of 30 columns."""

COLUMNS = 2_000
"""Most columns of a table."""

TAGS = 1_500_000
"""Most marks of a workbook's parts: a cell with a number has four."""


SECTIONS = 400
"""Most lubricants, criteria or claims of campaign.toml."""

PROBLEMS = 500
"""Most problems that are told of one column."""

UNPACKED = 48 * MIB
"""Most that a workbook may hold when unpacked [bytes]."""


def too_large(path: Path, name: str) -> list[Problem]:
    """Tell whether a file is larger than pinscar reads of its kind.

    Examples
    --------
    >>> too_large(Path("nowhere.csv"), "nowhere.csv")
    []
    """
    most = LARGEST.get(path.suffix.lower())
    try:
        size = path.stat().st_size
    except OSError:
        return []
    if most is None or size <= most:
        return []
    message = f"the file has {size / MIB:.3g} MiB, and of its kind at most {most / MIB:g} MiB are read"
    return [error("file-too-large", name, message, "put the right file in its place, or take rows out")]


def too_many(what: str, most: int, name: str, mend: str) -> Problem:
    """Say that a file holds more than is read.

    Examples
    --------
    >>> print(too_many("cells", 1000, "runs.csv", "take some out"))
    runs.csv: the file holds more than 1,000 cells, the most that is read; take some out
    """
    return error(
        "file-too-large", name, f"the file holds more than {most:,} {what}, the most that is read", mend
    )
