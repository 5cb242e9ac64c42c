"""Make all files of one report: check, run the template, lay the pages out, record what it was made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pinscar.errors import RunError
from pinscar.report.child import Child
from pinscar.report.progress import Steps
from pinscar.report.subject import Subject, input_hashes, read_subject

RESULTS = "Every number of the report, machine-readable"
"""What results.json is, which travels inside the PDF beside the subject's own files."""


def produce(
    request: Mapping[str, Any],
    *,
    kernel_parent: Child,
    private: Path,
    tell: Callable[[Mapping[str, Any]], None],
) -> dict[str, Any]:
    """Make a report in a scratch folder.

    Parameters
    ----------
    request : mapping
        As from `pinscar.report.request.Request.as_message`.
    kernel_parent : Child
        The process that starts kernels.
    private : pathlib.Path
        Private folder for this run's sockets.
    tell : callable
        Called with each step of the work, as from `pinscar.report.progress`.

    Returns
    -------
    dict
        ``files``: names written; ``overall``: the overall verdict or None; ``limits``: the same with the
        number of release limits that decide it; ``problems``: warnings.

    Raises
    ------
    InputError
        If the campaign has errors.
    RunError
        If the template fails, the pages cannot be laid out, or the input changes meanwhile.
    """
    from pinscar.report.execute import run_template
    from pinscar.report.manifest import NAME, make_manifest, manifest_bytes
    from pinscar.report.template import read_notebook

    folder, template = Path(request["folder"]), Path(request["template"])
    notebook = read_notebook(template)
    title = notebook["metadata"].get("title", template.stem)
    subject = read_subject(folder, request["parameters"], title)
    steps = Steps(len(notebook["cells"]), pdf=request["pdf"], tell=tell)
    executed = run_template(
        notebook,
        template.stem,
        request["given"],
        folder=folder,
        kernel_parent=kernel_parent,
        private=private,
        timeout=request["timeout"],
        at_cell=steps.cell,
    )
    if input_hashes(folder, request["parameters"]) != subject.inputs:
        raise RunError("a file of the campaign was changed while the report was being made; run it again")
    manifest = make_manifest(
        campaign=subject.id,
        template=template,
        given=request["given"],
        parameters=request["parameters"],
        inputs=subject.inputs,
        pdf=request["pdf"],
    )
    files, results = _render(executed, request, subject, manifest["digest"], steps)
    files[NAME] = manifest_bytes(manifest, files)
    write_files(Path(request["scratch"]) / "report", files)
    problems = [problem.as_dict() for problem in subject.problems]
    return {
        "files": sorted(files),
        "overall": results.get("overall"),
        "limits": limits_line(results),
        "problems": problems,
    }


def limits_line(results: Mapping[str, Any]) -> str | None:
    """Say how the release limits came out, and how many of them decide it.

    Parameters
    ----------
    results : mapping
        Content of results.json.

    Returns
    -------
    str or None
        A few words; None where no limit was judged.

    Examples
    --------
    >>> criteria = [{"verdict": "met"}, {"verdict": "not met"}, {"verdict": "undecided"}]
    >>> limits_line({"overall": "not met", "criteria": criteria})
    'not met (1 of 3)'
    """
    overall, criteria = results.get("overall"), results.get("criteria", [])
    if not overall or not criteria:
        return None
    return f"{overall} ({sum(one['verdict'] == overall for one in criteria)} of {len(criteria)})"


def _render(
    executed: Any, request: Mapping[str, Any], subject: Subject, digest: str, steps: Steps
) -> tuple[dict[str, bytes], dict[str, Any]]:
    """Return the report's files from its executed notebook, and its results."""
    from pinscar.report.clean import clean_notebook, notebook_bytes
    from pinscar.report.execute import TemplateError
    from pinscar.report.page import notebook_to_html
    from pinscar.report.results_file import results_bytes, results_of

    name = Path(request["template"]).stem
    steps.page()
    notebook = clean_notebook(executed, request["given"])
    try:
        results = results_of(notebook) | ({"data_mark": subject.mark} if subject.mark else {})
        html = notebook_to_html(notebook, title=subject.title, campaign_id=subject.id, mark=subject.mark)
    except (RunError, ValueError) as error:
        raise TemplateError([f"template {name}: {error}"], executed) from error
    files = {
        "report.html": html.encode(),
        "report.ipynb": notebook_bytes(notebook),
        "results.json": results_bytes(results),
    }
    if request["pdf"]:
        steps.pdf()
        files["report.pdf"] = _pdf(html, subject, Path(request["folder"]), files["results.json"], digest)
    return files, results


def _pdf(html: str, subject: Subject, folder: Path, results: bytes, digest: str) -> bytes:
    from pinscar.report.pdf import Attachment, html_to_pdf

    # The relation of each file to the page is that of ISO 19005-3.
    attachments = [
        Attachment(name, (folder / path).read_bytes(), description, "Source")
        for name, (path, description) in subject.sources.items()
    ]
    attachments.append(Attachment("results.json", results, RESULTS, "Data"))
    foot = f"Data and versions: SHA-256 {digest[:16]}"
    return html_to_pdf(
        html, title=subject.title, campaign_id=subject.id, attachments=attachments, digest=foot
    )


def write_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a new folder.

    Parameters
    ----------
    folder : pathlib.Path
        The folder, not there yet.
    files : mapping
        Content by name.

    Raises
    ------
    RunError
        If the disk is full, or the folder cannot be written.
    """
    from pinscar.report.scratch import cannot_write

    try:
        folder.mkdir()
        for name, data in files.items():
            (folder / name).write_bytes(data)
    except OSError as error:
        raise cannot_write(folder.parent.parent, error) from error
