"""Make all files of one report: check, run the template, lay the pages out, record what it was made from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pinscar.campaign.campaign import Campaign, read_campaign
from pinscar.campaign.folder import hash_inputs
from pinscar.errors import RunError
from pinscar.report.child import Child

RELATIONS = {
    "runs.csv": ("The runs as entered", "Source"),
    "runs.xlsx": ("The runs as entered", "Source"),
    "campaign.toml": ("What was tested, on which rig, to which limits", "Source"),
    "results.json": ("Every number of the report, machine-readable", "Data"),
}
"""The files that travel inside the PDF: what each is, and its relation to the page (ISO 19005-3)."""


def produce(request: Mapping[str, Any], *, kernel_parent: Child, private: Path) -> dict[str, Any]:
    """Make a report in a scratch folder.

    Parameters
    ----------
    request : mapping
        As from `pinscar.report.request.Request.as_message`.
    kernel_parent : Child
        The process that starts kernels.
    private : pathlib.Path
        Private folder for this run's sockets.

    Returns
    -------
    dict
        ``files``: names written; ``overall``: the overall verdict or None; ``problems``: warnings.

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
    campaign = read_campaign(folder)
    executed = run_template(
        read_notebook(template),
        template.stem,
        request["given"],
        folder=folder,
        kernel_parent=kernel_parent,
        private=private,
        timeout=request["timeout"],
    )
    if hash_inputs(folder) != campaign.inputs:
        raise RunError("a file of the campaign was changed while the report was being made; run it again")
    manifest = make_manifest(
        campaign=campaign.file.campaign.id,
        template=template,
        given=request["given"],
        parameters=request["parameters"],
        inputs=campaign.inputs,
        pdf=request["pdf"],
    )
    files, overall = _render(executed, request, campaign, manifest["digest"])
    files[NAME] = manifest_bytes(manifest, files)
    write_files(Path(request["scratch"]) / "report", files)
    problems = [problem.as_dict() for problem in campaign.problems]
    return {"files": sorted(files), "overall": overall, "problems": problems}


def _render(
    executed: Any, request: Mapping[str, Any], campaign: Campaign, digest: str
) -> tuple[dict[str, bytes], str | None]:
    """Return the report's files from its executed notebook, and the overall verdict."""
    from pinscar.report.clean import clean_notebook, notebook_bytes
    from pinscar.report.execute import TemplateError
    from pinscar.report.page import notebook_to_html
    from pinscar.report.results_file import results_bytes, results_of

    name = Path(request["template"]).stem
    section = campaign.file.campaign
    title = section.title or section.id
    notebook = clean_notebook(executed, request["given"])
    try:
        results = results_of(notebook)
        html = notebook_to_html(notebook, title=title, campaign_id=section.id)
    except (RunError, ValueError) as error:
        raise TemplateError([f"template {name}: {error}"], executed) from error
    files = {
        "report.html": html.encode(),
        "report.ipynb": notebook_bytes(notebook),
        "results.json": results_bytes(results),
    }
    if request["pdf"]:
        sources = {name: campaign.folder / name for name in campaign.inputs if name in RELATIONS}
        carried = {**{name: path.read_bytes() for name, path in sources.items()}, **files}
        files["report.pdf"] = _pdf(html, title, section.id, carried, digest)
    return files, results.get("overall")


def _pdf(html: str, title: str, campaign_id: str, files: Mapping[str, bytes], digest: str) -> bytes:
    from pinscar.report.pdf import Attachment, html_to_pdf

    attachments = [
        Attachment(name=name, data=files[name], description=description, relationship=relation)
        for name, (description, relation) in RELATIONS.items()
        if name in files
    ]
    foot = f"Data and versions: SHA-256 {digest[:16]}"
    return html_to_pdf(html, title=title, campaign_id=campaign_id, attachments=attachments, digest=foot)


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
