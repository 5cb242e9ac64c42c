"""Make a report again, elsewhere, and see whether the same bytes come out."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pinscar.errors import RunError, UsageError
from pinscar.report.build import build_reports
from pinscar.report.manifest import sha256
from pinscar.report.request import Outcome, make_requests
from pinscar.report.shipped import find_template, template_names
from pinscar.report.template import read_template
from pinscar.report.verify import Difference, compare, output_digests, read_manifest


def template_to_rerun(report: Path, typed: str | None = None) -> Path:
    """Choose the template to make a report again with; a report that came by mail never chooses what is run.

    Parameters
    ----------
    report : pathlib.Path
        The report folder.
    typed : str, optional
        Name or path that the person typed.

    Returns
    -------
    pathlib.Path
        The notebook: the person's, or the one that came with pinscar under the name and with the digest that
        the manifest has.

    Raises
    ------
    UsageError
        If nothing was typed and no template of this pinscar is the one that the manifest has.
    """
    if typed is not None:
        return find_template(typed)
    recorded = _recorded(read_manifest(report), report)
    mend = "look at the notebook that you trust, and give it with --template"
    if recorded["name"] not in template_names():
        raise UsageError(
            f"the report says it was made with a template {recorded['name']!r}, which does not come with "
            f"pinscar and is not run; {mend}"
        )
    path = find_template(str(recorded["name"]))
    if sha256(path.read_bytes()) != recorded["sha256"]:
        raise UsageError(
            f"the template {recorded['name']} of this pinscar is not the one that the report was made with, "
            f"so it was not made again; {mend}"
        )
    return path


def _recorded(manifest: Mapping[str, Any], report: Path) -> Mapping[str, Any]:
    recorded = manifest.get("template")
    if not isinstance(recorded, dict) or not {"name", "sha256"} <= set(recorded):
        raise UsageError(f"{report / 'manifest.json'} cannot be read as the manifest of a report")
    return recorded


def rerun_differences(
    report: Path, campaign: Path, template: Path | None = None, timeout: float = 600.0
) -> list[Difference]:
    """Make a report again from its campaign, with the parameters that its manifest has.

    Parameters
    ----------
    report : pathlib.Path
        The report folder; it is not touched.
    campaign : pathlib.Path
        The campaign folder; for a report on several, the folder around the first.
    template : pathlib.Path, optional
        As from `template_to_rerun`, which chooses one where none is given.
    timeout : float
        Longest time for one cell [s].

    Returns
    -------
    list of Difference
        Files whose bytes differ from those in the report folder.

    Raises
    ------
    RunError
        If it cannot be made again.
    UsageError
        If its template does not ship with this pinscar, or its manifest does not fit the template.
    """
    manifest = read_manifest(report)
    chosen = read_template(template or template_to_rerun(report))
    given, folders = _given(manifest, report)
    outcomes: list[Outcome] = []
    with tempfile.TemporaryDirectory(prefix="pinscar-again-") as place:
        again = Path(place) / "report"
        requests = make_requests(
            [campaign / name for name in folders],
            chosen,
            given,
            out=again,
            pdf=manifest.get("pdf") is True,
            timeout=timeout,
        )
        if build_reports(requests, chosen.modules, 1, outcomes.append):
            raise RunError(f"the report cannot be reproduced: {'; '.join(outcomes[0].errors)}")
        return list(compare("rerun", output_digests(report), output_digests(again)))


def _given(manifest: Mapping[str, Any], report: Path) -> tuple[dict[str, object], list[str]]:
    """Return the parameters passed, and the campaigns."""
    given = manifest.get("given")
    folders = given.get("folders", ["."]) if isinstance(given, dict) else None
    if not (
        isinstance(given, dict) and isinstance(folders, list) and all(isinstance(f, str) for f in folders)
    ):
        raise UsageError(f"{report / 'manifest.json'} cannot be read as the manifest of a report")
    return {name: value for name, value in given.items() if name not in ("folder", "folders")}, folders
