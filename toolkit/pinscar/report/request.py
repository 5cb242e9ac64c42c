"""What is asked for when a report is asked for, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from pinscar.errors import UsageError
from pinscar.report.parameters import checked_parameters
from pinscar.report.several import place_of_several, relative_names
from pinscar.report.template import Template


@dataclass(frozen=True, slots=True)
class Request:
    """One report to be made.

    Parameters
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
    """

    folder: Path
    out: Path
    template: Path
    given: Mapping[str, object]
    defaults: Mapping[str, object]
    pdf: bool
    timeout: float

    def as_question(self) -> dict[str, Any]:
        """Return the question to a worker whether the input is fit to be reported on.

        Returns
        -------
        dict
            Plain JSON types, paths absolute.
        """
        return {
            "do": "check",
            "folder": str(self.folder.resolve()),
            "parameters": {**self.defaults, **self._passed()},
        }

    def _passed(self) -> dict[str, object]:
        # The kernel works in the campaign folder, so "." is true there and the same on every machine.
        return {**self.given, **({} if "folders" in self.given else {"folder": "."})}

    def as_message(self, scratch: Path) -> dict[str, Any]:
        """Return the request as a message to a worker, which has another working folder.

        Parameters
        ----------
        scratch : pathlib.Path
            The folder to write into.

        Returns
        -------
        dict
            Plain JSON types, paths absolute.
        """
        return {
            **self.as_question(),
            "do": "make",
            "template": str(self.template.resolve()),
            "given": self._passed(),
            "pdf": self.pdf,
            "timeout": self.timeout,
            "scratch": str(scratch.resolve()),
        }


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a request.

    Parameters
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
    debug : str
        Traceback and log, for whoever mends pinscar.
    """

    folder: str
    report: str
    status: int
    errors: tuple[str, ...] = ()
    problems: tuple[Mapping[str, Any], ...] = ()
    overall: str | None = None
    limits: str | None = None
    files: tuple[str, ...] = ()
    debug: str = ""

    @property
    def to_check(self) -> str:
        """What to give to `pinscar check` to see the problems: the folder, or those of several campaigns."""
        inside = {str(one["file"]).partition("/")[0] for one in self.problems if "/" in str(one["file"])}
        named = sorted(name for name in inside if (Path(self.folder) / name / "campaign.toml").is_file())
        return ", ".join(str(Path(self.folder) / name) for name in named) or self.folder

    def as_dict(self) -> dict[str, Any]:
        """Return the record for ``--json``.

        Returns
        -------
        dict
            All fields but the one for debugging.
        """
        return {key: value for key, value in asdict(self).items() if key != "debug"}


def make_requests(
    folders: Sequence[Path],
    template: Template,
    given: Mapping[str, object],
    *,
    out: Path | None,
    pdf: bool,
    timeout: float,
) -> list[Request]:
    """Turn the words of a command into requests, checked before anything is started.

    Parameters
    ----------
    folders : sequence of pathlib.Path
        Campaign folders.
    template : Template
        The template.
    given : mapping
        Parameters to pass to it.
    out : pathlib.Path or None
        Where the report shall lie, of several campaigns each in a folder of its name; None for ``report`` in
        the campaign folder (``plan`` for the template of that name). One report on several campaigns lies
        in ``report-<template>`` beside the first of them.
    pdf : bool
        Whether a PDF is made.
    timeout : float
        Longest time for one cell [s].

    Returns
    -------
    list of Request
        One a folder; one for all of them where the template takes ``folders``.

    Raises
    ------
    UsageError
        For an unknown or wrongly typed parameter, a template without a folder, two reports in one place.
    """
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
        return [Request(base, place, template.path, together, template.defaults, pdf, timeout)]
    usual = "plan" if template.name == "plan" else "report"
    places = [_place(folder, out, usual, several=len(folders) > 1) for folder in folders]
    if len({place.resolve() for place in places}) < len(places):
        raise UsageError("two of these reports would lie in one place; make them one by one with --out")
    return [
        Request(folder, place, template.path, checked, template.defaults, pdf, timeout)
        for folder, place in zip(folders, places, strict=True)
    ]


def _place(folder: Path, out: Path | None, usual: str, *, several: bool) -> Path:
    if out is None:
        return folder / usual
    return out / folder.resolve().name if several else out
