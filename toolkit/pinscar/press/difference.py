"""What two reports differ in: data, numbers, verdicts, claims, audit, and what they were made with.

Two values are told in as few digits as tell them apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pinscar.errors import UsageError
from pinscar.press.json_file import read_json
from pinscar.press.verify import read_manifest

Field = tuple[str, object, object]
DIGEST = 64
"""Length of a SHA-256 in hexadecimal, which is shown by its beginning."""
INTERVAL = ("estimate", "ci_low", "ci_high")


def field_text(name: str, before: object, after: object) -> str:
    """Say how one field changed.

    Examples
    --------
    >>> field_text("scar_length_mm", 3.05, 3.5), field_text("verdict", "met", "undecided")
    ('scar_length_mm 3.05 -> 3.5', "verdict 'met' -> 'undecided'")
    """
    if isinstance(before, list) and isinstance(after, list):
        lost = [str(item) for item in before if item not in after]
        gained = [str(item) for item in after if item not in before]
        told = [f"without {', '.join(lost)}"] * bool(lost) + [f"with {', '.join(gained)}"] * bool(gained)
        return f"{name} {' and '.join(told) or 'in another order'}"
    old, new = value_texts(before, after)
    return f"{name} {old} -> {new}"


def interval_text(fields: Sequence[Field]) -> list[str]:
    """Say how an entry changed whose estimate and interval moved together, in one phrase.

    Examples
    --------
    >>> interval_text((("estimate", 3.83, 4.02), ("ci_low", 3.53, 3.61), ("ci_high", 4.16, 4.47)))
    ['3.83 (3.53 to 4.16) -> 4.02 (3.61 to 4.47)']
    """
    by_name = {name: (before, after) for name, before, after in fields}
    middle = next((name for name in ("estimate", "ratio", "mean") if name in by_name), None)
    wanted = (middle, *INTERVAL[1:])
    if middle is None or not all(name in by_name for name in wanted):
        return []
    numbers = [value_texts(*by_name[name]) for name in wanted if name is not None]
    old, new = (f"{a} ({b} to {c})" for a, b, c in zip(*numbers, strict=True))
    rest = [field_text(*field) for field in fields if field[0] not in wanted]
    return [f"{old} -> {new}", *rest]


def value_texts(before: object, after: object) -> tuple[str, str]:
    """Write two values so that they read differently where they differ.

    Examples
    --------
    >>> value_texts(0.123456789, 0.123459), value_texts(None, 2.0)
    (('0.123457', '0.123459'), ('none', '2'))
    """
    for digits in range(4, 18):
        old, new = (_text(value, digits) for value in (before, after))
        if old != new:
            break
    return old, new


def _text(value: object, digits: int) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value:.{digits}g}"
    if isinstance(value, str):
        # Two digests differ in their first digits all but surely; the loop shows more if they do not.
        return f"{value[: 2 * digits]}..." if len(value) == DIGEST else repr(value)
    return repr(value)


SECTIONS = (
    "data",
    "verdicts",
    "claims",
    "numbers",
    "audit",
    "other results",
    "made with",
)
"""The sections of a difference, in the order in which they are told."""

LISTS = MappingProxyType(
    {
        "runs": ("data", ("run_id",)),
        "summaries": ("numbers", ("response", "lubricant", "load_N")),
        "comparisons": ("numbers", ("response", "lubricant", "reference", "load_N")),
        "criteria": ("verdicts", ("id",)),
        "claims": ("claims", ("claimed",)),
        "audit": ("audit", ("id",)),
        "problems": ("data", ("code", "file", "row", "column")),
        "observations": ("numbers", ("observation", "lubricant", "load_N")),
        "lubricants": ("data", ("lubricant",)),
        "contact": ("numbers", ("lubricant", "load_N")),
        "growth": ("numbers", ("lubricant", "load_N")),
        "film": ("numbers", ("lubricant", "load_N", "occasion")),
        "heat": ("numbers", ("lubricant", "load_N")),
        "friction": ("numbers", ("run_id", "start_s")),
        "traces": ("numbers", ("run_id",)),
        "recordings": ("numbers", ("run_id",)),
        "micrographs": ("numbers", ("run_id",)),
        "fling_cards": ("numbers", ("run_id",)),
    }
)
"""Lists of results.json: their section, and the fields by which an entry is known again."""

SENTENCES = ("conclusion", "because", "reason", "method", "note", "effect", "values")
"""Fields of results.json that say in words, or by a code, what an entry's numbers say."""

MADE_WITH = ("versions", "libraries", "platform", "page", "fonts", "parameters")
"""Tables of the manifest that tell what a report was made with."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing in which two reports differ.

    Attributes
    ----------
    section : str
        One of `SECTIONS`.
    item : str
        What it is about, such as ``run 07-12``.
    kind : {"added", "removed", "changed"}
        Whether only the second report has it, only the first, or both.
    fields : tuple of (str, object, object)
        For a changed item: name, value in the first report, value in the second.
    """

    section: str
    item: str
    kind: str
    fields: tuple[tuple[str, object, object], ...] = ()

    def __str__(self) -> str:
        if self.kind != "changed":
            return f"{self.item}: {self.kind}"
        # The sentences repeat what the numbers say; they are told where nothing else has changed.
        fields = [field for field in self.fields if field[0] not in SENTENCES] or list(self.fields)
        told = interval_text(fields) or [field_text(*field) for field in fields]
        return f"{self.item}: {'; '.join(told)}"

    def as_dict(self) -> dict[str, Any]:
        """Give the record as plain JSON types."""
        fields = [{"field": name, "before": old, "after": new} for name, old, new in self.fields]
        return {
            "section": self.section,
            "item": self.item,
            "kind": self.kind,
            "fields": fields,
            "message": str(self),
        }


def report_changes(first: Path, second: Path) -> list[Change]:
    """List what changed from one report to another.

    The numbers are compared as results.json has them, to its last digit; files by their SHA-256.
    """
    folders = [path if (path / "manifest.json").is_file() else path / "report" for path in (first, second)]
    for given, folder in zip((first, second), folders, strict=True):
        if not folder.is_dir():
            raise UsageError(f"{given} holds no report; give a report folder")
    manifests = [read_manifest(folder) for folder in folders]
    results = [_read_results(folder) for folder in folders]
    found = [*_results_changes(results[0], results[1]), *_manifest_changes(manifests[0], manifests[1])]
    return sorted(found, key=lambda change: SECTIONS.index(change.section))


def told(changes: Sequence[Change]) -> Iterator[str]:
    """Tell changes a line each, under the name of their section."""
    for section in SECTIONS:
        own = [change for change in changes if change.section == section]
        if own:
            yield section
            yield from (f"  {change}" for change in own)


def _read_results(folder: Path) -> dict[str, Any]:
    try:
        return read_json(folder / "results.json")
    except (OSError, ValueError) as error:
        raise UsageError(f"{folder / 'results.json'} cannot be read as the results of a report") from error


def _results_changes(first: Mapping[str, Any], second: Mapping[str, Any]) -> Iterator[Change]:
    for name in dict.fromkeys([*first, *second]):
        old, new = first.get(name), second.get(name)
        if old == new:
            continue
        if name in LISTS and _are_entries(old) and _are_entries(new):
            section, keys = LISTS[name]
            yield from _entry_changes(section, name, keys, old or [], new or [])
        elif name == "campaign" and isinstance(old, dict) and isinstance(new, dict):
            yield from _table_changes("data", "campaign", old, new)
        else:
            section = "verdicts" if name == "overall" else "other results"
            yield from _whole(section, name, old, new)


def _are_entries(value: object) -> bool:
    return value is None or (isinstance(value, list) and all(isinstance(entry, dict) for entry in value))


def _whole(section: str, name: str, old: object, new: object) -> Iterator[Change]:
    if isinstance(old, (dict, list)) or isinstance(new, (dict, list)):
        flat_old, flat_new = dict(_leaves(old)), dict(_leaves(new))
        yield from _table_changes(section, name, flat_old, flat_new)
    else:
        yield Change(section, name, "changed", ((name, old, new),))


def _leaves(value: object, path: str = "") -> Iterator[tuple[str, object]]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _leaves(item, f"{path}.{key}".lstrip("."))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _leaves(item, f"{path}[{index}]")
    else:
        yield path or "value", value


def _table_changes(
    section: str, item: str, old: Mapping[str, object], new: Mapping[str, object]
) -> Iterator[Change]:
    fields = tuple(
        (key, old.get(key), new.get(key))
        for key in dict.fromkeys([*old, *new])
        if old.get(key) != new.get(key)
    )
    if fields:
        yield Change(section, item, "changed", fields)


def _entry_changes(
    section: str,
    name: str,
    keys: Sequence[str],
    old: Sequence[Mapping[str, Any]],
    new: Sequence[Mapping[str, Any]],
) -> Iterator[Change]:
    before, after = (_by_name(name, keys, entries) for entries in (old, new))
    for item in dict.fromkeys([*before, *after]):
        if item not in after:
            yield Change(section, item, "removed")
        elif item not in before:
            yield Change(section, item, "added")
        else:
            yield from _table_changes(section, item, before[item], after[item])


def _by_name(
    name: str, keys: Sequence[str], entries: Sequence[Mapping[str, Any]]
) -> dict[str, Mapping[str, Any]]:
    found: dict[str, Mapping[str, Any]] = {}
    for entry in entries:
        item = _item(name, keys, entry)
        # Findings of one kind can stand at several loads; they are known by their order.
        count = sum(known == item or known.startswith(f"{item} #") for known in found)
        found[f"{item} #{count + 1}" if count else item] = entry
    return found


def _item(name: str, keys: Sequence[str], entry: Mapping[str, Any]) -> str:
    words = {"runs": "run", "criteria": "limit", "claims": "claim", "audit": "finding", "problems": "warning"}
    if name in words:
        return " ".join([words[name], *(str(entry[key]) for key in keys if entry.get(key) is not None)])
    subject = f"{entry.get(keys[0])} of {entry.get('lubricant')}"
    against = f" against {entry.get('reference')}" if name == "comparisons" else ""
    load = entry.get("load_N")
    # The level is a median of the loads, so it may move a little when a run is added.
    return f"{subject}{against}" + (f" at {load:.3g} N" if isinstance(load, (int, float)) else "")


def _manifest_changes(first: Mapping[str, Any], second: Mapping[str, Any]) -> Iterator[Change]:
    yield from _files("data", "input", first.get("inputs", {}), second.get("inputs", {}))
    for table in MADE_WITH:
        yield from _table_changes("made with", table, first.get(table) or {}, second.get(table) or {})
    yield from _table_changes("made with", "template", first.get("template", {}), second.get("template", {}))
    if first.get("code") != second.get("code"):
        fields = (("sha256", first.get("code"), second.get("code")),)
        yield Change("made with", "pinscar's own code", "changed", fields)


def _files(section: str, word: str, old: Mapping[str, str], new: Mapping[str, str]) -> Iterator[Change]:
    for name in dict.fromkeys([*old, *new]):
        if name not in new:
            yield Change(section, f"{word} {name}", "removed")
        elif name not in old:
            yield Change(section, f"{word} {name}", "added")
        else:
            yield from _table_changes(section, f"{word} {name}", {"sha256": old[name]}, {"sha256": new[name]})
