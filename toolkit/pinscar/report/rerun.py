"""Make a report again, elsewhere, and see whether the same bytes come out."""

from __future__ import annotations

import tempfile
from pathlib import Path

from pinscar.errors import RunError
from pinscar.report.build import build_reports
from pinscar.report.request import Outcome, make_requests
from pinscar.report.shipped import find_template
from pinscar.report.template import read_template
from pinscar.report.verify import Difference, compare, output_digests, read_manifest


def rerun_differences(report: Path, campaign: Path, timeout: float = 600.0) -> list[Difference]:
    """Make a report again from its campaign, with the template and the parameters that its manifest has.

    Parameters
    ----------
    report : pathlib.Path
        The report folder; it is not touched.
    campaign : pathlib.Path
        The campaign folder; for a report on several, the folder around the first.
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
        If its template does not ship with this pinscar.
    """
    manifest = read_manifest(report)
    template = read_template(find_template(manifest["template"]["name"]))
    given = {name: value for name, value in manifest["given"].items() if name not in ("folder", "folders")}
    folders = [campaign / name for name in manifest["given"].get("folders", ["."])]
    outcomes: list[Outcome] = []
    with tempfile.TemporaryDirectory(prefix="pinscar-again-") as place:
        again = Path(place) / "report"
        requests = make_requests(folders, template, given, out=again, pdf=manifest["pdf"], timeout=timeout)
        if build_reports(requests, template.modules, 1, outcomes.append):
            raise RunError(f"the report cannot be reproduced: {'; '.join(outcomes[0].errors)}")
        return list(compare("rerun", output_digests(report), output_digests(again)))
