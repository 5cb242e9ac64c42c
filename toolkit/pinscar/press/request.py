"""What is asked for when a report is asked for, and what came of it.

Parameters are checked against the template's declarations before anything runs. A report on several folders
has its own place and names.
"""

from __future__ import annotations

import ast
import json
import math
import os
import types
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pinscar.errors import UsageError
from pinscar.press.template import Parameter, Template
from pinscar.shipped import nearest


def place_of_several(base: Path, template: str) -> Path:
    """Return where a report on several campaigns lies.

    Examples
    --------
    >>> place_of_several(Path("range"), "product_range").as_posix()
    'range/report-product_range'
    """
    return base / f"report-{template}"


def relative_names(folders: Sequence[Path]) -> tuple[Path, list[str]]:
    """Find the folder around the first campaign, and the way from there to each.

    What an earlier report left among the campaigns is passed over, so that ``range/*`` can be given again.

    Examples
    --------
    >>> base, names = relative_names([Path("range/one"), Path("other/two")])
    >>> base.as_posix(), names
    ('range', ['one', '../other/two'])
    """
    kept = [folder for folder in folders if not _left_by_a_report(folder)]
    if not kept:
        raise UsageError("these are reports; give the folders of campaigns")
    places = [folder.resolve() for folder in kept]
    for place, folder in zip(places, kept, strict=True):
        if places.count(place) > 1:
            raise UsageError(f"{folder} is given twice; give each campaign once")
    names = [Path(os.path.relpath(place, places[0].parent)).as_posix() for place in places]
    plain = kept[0].name not in ("", "..") and places[0].name == kept[0].name
    return (kept[0].parent if plain else places[0].parent), names


def _left_by_a_report(folder: Path) -> bool:
    report = (folder / "manifest.json").is_file() and not (folder / "campaign.toml").is_file()
    return report or folder.name.endswith("-failed.ipynb")


TYPES: Mapping[str, type] = types.MappingProxyType(
    {"str": str, "int": int, "float": float, "bool": bool, "list": list, "dict": dict}
)


def checked_parameters(
    declared: Mapping[str, Parameter], given: Mapping[str, object], name: str
) -> dict[str, object]:
    """Check values against a template's declarations.

    Examples
    --------
    >>> declared = {"confidence": Parameter("confidence", "float", 0.95)}
    >>> checked_parameters(declared, {"confidence": 1}, "t")
    {'confidence': 1.0}
    >>> checked_parameters(declared, {"confidense": 0.9}, "t")
    Traceback (most recent call last):
    ...
    pinscar.errors.UsageError: template t has no parameter 'confidense'; did you mean 'confidence'?...
    """
    checked = {}
    for key, value in given.items():
        if key not in declared:
            hint = nearest(key, list(declared))
            raise UsageError(f"template {name} has no parameter {key!r}{hint}")
        annotation = declared[key].annotation
        if not _is_plain(value):
            raise UsageError(
                f"parameter {key} of template {name} must be plain text or numbers, not {value!r}"
            )
        if not _fits(value, ast.parse(annotation, mode="eval").body):
            raise UsageError(f"parameter {key} of template {name} must be {annotation}, not {value!r}")
        wants_float = annotation == "float" and isinstance(value, int)
        checked[key] = float(str(value)) if wants_float else value
    return checked


def _fits(value: object, annotation: ast.expr) -> bool:
    if isinstance(annotation, ast.BinOp):
        return _fits(value, annotation.left) or _fits(value, annotation.right)
    if isinstance(annotation, ast.Subscript):
        kind = ast.unparse(annotation.value)
        items = _items(value, annotation.slice)
        return isinstance(value, TYPES.get(kind, object)) and all(_fits(*item) for item in items)
    word = ast.unparse(annotation)
    if word in ("None", "NoneType"):
        # A default of None without a type says nothing about what else may be passed.
        return value is None or word == "NoneType"
    if word == "float":
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    if word == "int":
        return isinstance(value, int) and not isinstance(value, bool)
    return isinstance(value, TYPES.get(word, object))


def _items(value: object, inner: ast.expr) -> list[tuple[object, ast.expr]]:
    if isinstance(value, list):
        return [(item, inner) for item in value]
    if isinstance(value, dict) and isinstance(inner, ast.Tuple):
        return [pair for key, item in value.items() for pair in zip((key, item), inner.elts, strict=True)]
    return []


def parse_assignments(texts: Sequence[str], declared: Mapping[str, Parameter]) -> dict[str, object]:
    """Read ``name=value`` words from the command line.

    Examples
    --------
    >>> parse_assignments(["confidence=0.9", "responses=['scar_area']"], {})
    {'confidence': 0.9, 'responses': ['scar_area']}
    """
    values: dict[str, object] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals:
            raise UsageError(f"write a parameter as name=value, not {text!r}")
        known = declared.get(name.strip())
        values[name.strip()] = value if known and known.annotation == "str" else _literal(value)
    return values


def _literal(text: str) -> object:
    for read in (ast.literal_eval, json.loads):
        try:
            value: object = read(text)
        except (ValueError, SyntaxError, RecursionError, MemoryError):
            continue
        return value
    return text


def _is_plain(value: object) -> bool:
    """Tell whether JSON has the value, to be written into the manifest and read back as it was."""
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, (list, tuple)):
        return all(map(_is_plain, value))
    if isinstance(value, dict):
        return all(isinstance(key, str) and _is_plain(item) for key, item in value.items())
    return value is None or isinstance(value, (str, int))


def assignments(values: Mapping[str, object]) -> str:
    """Write values as Python source, one assignment a line: the cell that stands in the executed notebook.

    Examples
    --------
    >>> print(assignments({"folder": ".", "confidence": 0.9}))
    # Parameters
    folder = '.'
    confidence = 0.9
    """
    return "\n".join(["# Parameters", *(f"{name} = {value!r}" for name, value in values.items())])


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One report to be made.

    Attributes
    ----------
    folder : pathlib.Path
        The folder that the template runs in, as the person wrote it: the campaign's, or for a report on
        several the one around the first of them.
    out : pathlib.Path
        Where the report shall lie.
    template : pathlib.Path
        The notebook.
    given : mapping
        Parameters passed, checked against the template's declarations.
    defaults : mapping
        The template's own values.
    pdf : bool
        Whether a PDF is made.
    timeout : float
        Longest time for one cell [s].
    named : bool
        Whether the PDF is named by campaign and template, in place of report.pdf.
    keep : bool
        Whether readings of evidence are taken from an earlier report, and kept for a later one.
    cores : int
        Processes that read evidence side by side.
    """

    folder: Path
    out: Path
    template: Path
    given: Mapping[str, object]
    defaults: Mapping[str, object]
    pdf: bool
    timeout: float
    named: bool = False
    keep: bool = True
    cores: int = 1

    def as_question(self) -> dict[str, Any]:
        """Return the question to a worker whether the input is fit to be reported on."""
        return {
            "do": "check",
            "folder": str(self.folder.resolve()),
            "shown": str(self.folder),
            "parameters": {**self.defaults, **self._passed()},
        }

    def _passed(self) -> dict[str, object]:
        # The kernel works in the campaign folder, so "." is true there and the same on every machine.
        return {**self.given, **({} if "folders" in self.given else {"folder": "."})}

    def as_message(self, scratch: Path) -> dict[str, Any]:
        """Return the request as a message to a worker, which has another working folder."""
        return {
            **self.as_question(),
            "do": "make",
            "template": str(self.template.resolve()),
            "given": self._passed(),
            "pdf": self.pdf,
            "timeout": self.timeout,
            "named": self.named,
            "keep": self.keep,
            "cores": self.cores,
            "scratch": str(scratch.resolve()),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of a request.

    Attributes
    ----------
    folder, report : str
        Campaign folder and report folder, as the person wrote them.
    status : int
        Exit status.
    errors : tuple of str
        What went wrong, a line each.
    problems : tuple of dict
        Problems of the input as plain records; warnings too, of a report that was made.
    overall : str or None
        The overall verdict, where the report has one.
    limits : str or None
        The same with the number of release limits that decide it, such as ``"not met (1 of 5)"``.
    files : tuple of str
        Names of the files written.
    untranslated : tuple of str
        Messages of the report that stand in English for want of a translation.
    debug : str
        Traceback and log, for the person who mends pinscar.
    seconds : float
        Time that it took, waiting for others included [s].
    """

    folder: str
    report: str
    status: int
    errors: tuple[str, ...] = ()
    problems: tuple[Mapping[str, Any], ...] = ()
    overall: str | None = None
    limits: str | None = None
    files: tuple[str, ...] = ()
    untranslated: tuple[str, ...] = ()
    debug: str = ""
    seconds: float = 0.0

    @property
    def to_check(self) -> list[str]:
        """What to give to `pinscar check` to see the problems: the folder, or those of several campaigns."""
        inside = {str(one["file"]).partition("/")[0] for one in self.problems if "/" in str(one["file"])}
        named = sorted(name for name in inside if (Path(self.folder) / name / "campaign.toml").is_file())
        return [str(Path(self.folder) / name) for name in named] or [self.folder]

    def as_dict(self) -> dict[str, Any]:
        """Return the record for ``--json``."""
        return {key: value for key, value in asdict(self).items() if key != "debug"}


def make_requests(
    folders: Sequence[Path],
    template: Template,
    given: Mapping[str, object],
    *,
    out: Path | None,
    pdf: bool,
    timeout: float,
    named: bool = False,
    keep: bool = True,
) -> list[Request]:
    """Turn the words of a command into requests, checked before anything is started."""
    if len({"folder", "folders"} & set(template.declared)) != 1:
        raise UsageError(
            f"template {template.name} must declare one parameter 'folder' or 'folders' to read campaigns"
        )
    if "folder" in given or "folders" in given:
        raise UsageError("the folder is given as an argument, not as a parameter")
    checked = checked_parameters(template.declared, given, template.name)
    if "folders" in template.declared:
        base, names = relative_names(folders)
        place = out or place_of_several(base, template.name)
        together = {**checked, "folders": names}
        return [
            Request(
                folder=base,
                out=place,
                template=template.path,
                given=together,
                defaults=template.defaults,
                pdf=pdf,
                timeout=timeout,
                named=named,
                keep=keep,
            )
        ]
    usual = "plan" if template.name == "plan" else "report"
    places = [_place(folder, out, usual, several=len(folders) > 1) for folder in folders]
    if len({place.resolve() for place in places}) < len(places):
        raise UsageError("two of these reports would lie in one place; make them one by one with --out")
    return [
        Request(
            folder=folder,
            out=place,
            template=template.path,
            given=checked,
            defaults=template.defaults,
            pdf=pdf,
            timeout=timeout,
            named=named,
            keep=keep,
        )
        for folder, place in zip(folders, places, strict=True)
    ]


def _place(folder: Path, out: Path | None, usual: str, *, several: bool) -> Path:
    if out is None:
        return folder / usual
    return out / folder.resolve().name if several else out
