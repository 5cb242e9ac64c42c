"""The process that makes reports one after another, so that the command survives whatever happens here.

Each report takes the same steps: check, run the template, lay the pages out, record what it was made from.
Steps are told as they begin and counted for a progress bar.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import queue
import resource
import shutil
import signal
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import IO, Any

from pinscar.child import Child, ChildDiedError, answer
from pinscar.errors import InputError, PinscarError, RunError
from pinscar.language import current
from pinscar.language.own_words import speaker_of
from pinscar.language.speaker import Speaker
from pinscar.page.cautions import EXAMPLE
from pinscar.press.files import CHANGED, write_files
from pinscar.press.handover import AHEAD_NAME, Read, hand_over
from pinscar.press.inputs import input_hashes, input_stamps
from pinscar.press.private_folder import remove_private
from pinscar.press.subject import Subject, read_inputs, subject_of


class Steps:
    """Tells how far a report is.

    Attributes
    ----------
    cells : int
        Cells of the template.
    pdf : bool
        Whether a PDF follows the page.
    tell : callable
        Called with ``done`` and ``of`` (counts of steps) and ``text``, in plain JSON types.

    Examples
    --------
    >>> steps = Steps(40, pdf=True, tell=lambda step: print(f"{step['done']}/{step['of']} {step['text']}"))
    >>> steps.cell(11)
    11/42 cell 12 of 40
    >>> steps.pdf()
    41/42 page done, setting the PDF
    """

    def __init__(self, cells: int, *, pdf: bool, tell: Callable[[Mapping[str, Any]], None]) -> None:
        self._cells = cells
        self._all = cells + 1 + int(pdf)
        self._tell = tell

    def cell(self, position: int) -> None:
        """Tell that a cell begins."""
        done = min(position, self._cells - 1)
        self._step(done, f"cell {done + 1} of {self._cells}")

    def reading(self) -> None:
        """Tell that evidence is being read ahead."""
        self._step(0, "reading evidence")

    def page(self) -> None:
        """Tell that the page is being laid out."""
        self._step(self._cells, "laying out the page")

    def pdf(self) -> None:
        """Tell that the page is done, and the PDF is being set; both are put in place together."""
        self._step(self._cells + 1, "page done, setting the PDF")

    def _step(self, done: int, text: str) -> None:
        self._tell({"done": done, "of": self._all, "text": text})


RESULTS = "Every number of the report, machine-readable"
"""What results.json is, which travels inside the PDF beside the subject's own files."""


WANTED_LATER = ("pinscar.page.page", "pinscar.press.results", "openpyxl")
"""What the page and the tables are made with."""


def produce(
    request: Mapping[str, Any],
    read: Read,
    *,
    kernel_parent: Child,
    private: Path,
    tell: Callable[[Mapping[str, Any]], None],
) -> dict[str, Any]:
    """Make a report in a scratch folder."""
    from pinscar.page.pdf import started_writer
    from pinscar.press.execute import run_template
    from pinscar.press.manifest import NAME, make_manifest, manifest_bytes
    from pinscar.press.template import read_notebook

    folder, template = Path(request["folder"]), Path(request["template"])
    notebook = read_notebook(template)
    title = notebook["metadata"].get("title", template.stem)
    subject = subject_of(read, folder, request["parameters"], title)
    speaker = speaker_of(subject.language, read.campaigns.values(), request["parameters"])
    hand_over(read, private, keep=bool(request.get("keep")))
    current.hand_over(speaker, private)
    steps = Steps(len(notebook["cells"]), pdf=request["pdf"], tell=tell)
    with started_writer(wanted=request["pdf"]) as writer:
        for module in WANTED_LATER:  # while the process that kernels come from imports what it needs
            importlib.import_module(module)
        if request.get("cores", 1) > 1 and _has_room():
            steps.reading()
            _read_ahead(request, kernel_parent, private)
        with _second_process(request, notebook, kernel_parent, private):
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
        shutil.rmtree(private / AHEAD_NAME, ignore_errors=True)
        _refuse_changed(folder, request["parameters"], subject, read.stamps)
        manifest = make_manifest(
            campaign=subject.id,
            template=template,
            given=request["given"],
            parameters=request["parameters"],
            inputs=subject.inputs,
            pdf=request["pdf"],
        )
        files, results = _render(executed, request, subject, manifest["digest"], steps, speaker, writer)
    files[NAME] = manifest_bytes(manifest, files)
    write_files(Path(request["scratch"]) / "report", files)
    problems = [problem.as_dict() for problem in subject.problems]
    return {
        "files": sorted(files),
        "overall": results.get("overall"),
        "limits": limits_line(results),
        "problems": problems,
        "untranslated": [] if speaker is None else untranslated(speaker, private),
    }


def untranslated(speaker: Speaker, private: Path) -> list[str]:
    """List the messages of page and charts that stand in English for want of a translation."""
    return list(dict.fromkeys([*speaker.missing, *current.noted(private)]))


ROOM = 4 << 30
"""Least address space that several readers side by side are started in [bytes]."""


def _has_room() -> bool:
    """Whether memory is not held short: OpenBLAS asks again without an end where it gets none."""
    limit = resource.getrlimit(resource.RLIMIT_AS)[0]
    return limit == resource.RLIM_INFINITY or limit >= ROOM


def _read_ahead(request: Mapping[str, Any], kernel_parent: Child, private: Path) -> None:
    """Have evidence read by as many processes as there are cores for it."""
    (private / AHEAD_NAME).mkdir(exist_ok=True)
    confidence = request["parameters"].get("confidence")
    job = {
        "place": str(private),
        "folder": request["folder"],
        "confidence": confidence,
        "timeout": request["timeout"],
    }
    try:
        kernel_parent.ask({"read": job, "count": request["cores"]})
    except ChildDiedError as error:
        raise RunError(f"the process that reads evidence {error}") from error


@contextlib.contextmanager
def _second_process(
    request: Mapping[str, Any], notebook: Mapping[str, Any], kernel_parent: Child, private: Path
) -> Iterator[None]:
    """Have a second process beside the kernel work out what a template of ours asks for later, as it says."""
    module = str(notebook["metadata"].get("ahead", ""))
    if request.get("cores", 1) < 2 or not module.startswith("pinscar.") or not _has_room():
        yield
        return
    (private / AHEAD_NAME).mkdir(exist_ok=True)
    job = {
        "place": str(private),
        "folder": request["folder"],
        "module": module,
        "parameters": request["parameters"],
        "timeout": request["timeout"],
    }
    try:
        started = kernel_parent.ask({"ahead": job})["pid"]
    except ChildDiedError as error:
        raise RunError(f"the process that starts kernels {error}") from error
    try:
        yield
    finally:
        if started is not None:
            with contextlib.suppress(ChildDiedError):
                kernel_parent.ask({"end": started})


def _refuse_changed(
    folder: Path,
    parameters: Mapping[str, object],
    subject: Subject,
    stamps: Mapping[str, tuple[int, ...]],
) -> None:
    """Make sure that the numbers came from the very bytes whose digests go into the manifest."""
    same = input_stamps(folder, subject.inputs) == stamps
    if not same or input_hashes(folder, parameters) != subject.inputs:
        raise RunError(CHANGED)


def limits_line(results: Mapping[str, Any]) -> str | None:
    """Say how the release limits came out, and how many of them decide it.

    Examples
    --------
    >>> criteria = [{"verdict": "met"}, {"verdict": "not met"}, {"verdict": "undecided"}]
    >>> limits_line({"overall": "not met", "criteria": criteria})
    'not met (1 of 3)'
    >>> limits_line({"overall": "not met", "criteria": criteria, "data_mark": "Example data"})
    'not met (1 of 3), on example data'
    """
    overall, criteria = results.get("overall"), results.get("criteria", [])
    if not overall or not criteria:
        return None
    mark = ", on example data" if results.get("data_mark") == EXAMPLE else ""
    return f"{overall} ({sum(one['verdict'] == overall for one in criteria)} of {len(criteria)}){mark}"


def _render(
    executed: Any,
    request: Mapping[str, Any],
    subject: Subject,
    digest: str,
    steps: Steps,
    speaker: Speaker | None,
    writer: Any,
) -> tuple[dict[str, bytes], dict[str, Any]]:
    """Return the report's files from its executed notebook, and its results."""
    from pinscar.page.page import notebook_to_html
    from pinscar.press.execute import TemplateError
    from pinscar.press.files import file_stem
    from pinscar.press.results import NAME as TABLES
    from pinscar.press.results import clean_notebook, notebook_bytes, results_bytes, results_of, tables_bytes

    name = Path(request["template"]).stem
    steps.page()
    notebook = clean_notebook(executed, request["given"])
    try:
        results = results_of(notebook) | ({"data_mark": subject.mark} if subject.mark else {})
        html = notebook_to_html(
            notebook,
            title=subject.title,
            campaign_id=subject.id,
            mark=subject.mark,
            language=subject.language,
            paper=subject.paper,
            speaker=speaker,
        )
    except (RunError, ValueError) as error:
        raise TemplateError([f"template {name}: {error}"], executed) from error
    files = {"report.html": html.encode(), "results.json": results_bytes(results)}
    with ThreadPoolExecutor(1) as beside:  # written while the PDF is laid out by another process
        tables = beside.submit(tables_bytes, results)
        cells = beside.submit(notebook_bytes, notebook)
        if request["pdf"]:
            steps.pdf()
            pdf = f"{file_stem(subject.id, name)}.pdf" if request.get("named") else "report.pdf"
            folder, numbers = Path(request["folder"]), files["results.json"]
            files[pdf] = _pdf(html, subject, folder, numbers, digest, speaker, writer)
        files["report.ipynb"] = cells.result()
    written = tables.result()
    if written is not None:
        files[TABLES] = written
    return files, results


def _pdf(
    html: str,
    subject: Subject,
    folder: Path,
    results: bytes,
    digest: str,
    speaker: Speaker | None,
    writer: Any,
) -> bytes:
    from pinscar.page.pdf import Attachment, html_to_pdf

    def said(text: str) -> str:
        return text if speaker is None else speaker.say(text)

    # The relation of each file to the page is that of ISO 19005-3.
    attachments = [
        Attachment(name, _as_hashed(folder, path, subject), said(description), "Source")
        for name, (path, description) in subject.sources.items()
    ]
    attachments.append(Attachment("results.json", results, said(RESULTS), "Data"))
    return html_to_pdf(
        html,
        title=said(subject.title),
        campaign_id=subject.id,
        attachments=attachments,
        digest=f"{said('Data and versions')}: SHA-256 {digest[:16]}",
        campaign_word=said("Campaign"),
        writer=writer,
    )


def _as_hashed(folder: Path, path: str, subject: Subject) -> bytes:
    """Read an input that travels in the PDF, the bytes that the manifest names and no later ones."""
    from pinscar.press.manifest import sha256

    try:
        data = (folder / path).read_bytes()
    except OSError as error:
        raise RunError(CHANGED) from error
    if sha256(data) != subject.inputs[path]:
        raise RunError(CHANGED)
    return data


Messages = queue.SimpleQueue[dict[str, Any]]


def serve(
    incoming: IO[str], outgoing: IO[str], private: Path, kernel_parent: Child, start: Callable[[], Child]
) -> None:
    """Answer requests until the command hangs up or ends us."""
    requests: Messages = queue.SimpleQueue()
    checked: dict[str, Read] = {}
    threading.Thread(target=_listen, args=(incoming, requests, private), daemon=True).start()
    while True:
        request = requests.get()
        if not kernel_parent.alive:
            kernel_parent = start()
        answer(outgoing, _serve(request, checked, kernel_parent, private, outgoing))


def _listen(incoming: IO[str], requests: Messages, private: Path) -> None:
    """Hear requests; if the command was killed, end at once, kernels and layout with us."""
    for line in incoming:
        requests.put(json.loads(line))
    remove_private(private)
    os.killpg(os.getpgrp(), signal.SIGKILL)


def _serve(
    request: Mapping[str, Any],
    checked: dict[str, Read],
    kernel_parent: Child,
    private: Path,
    outgoing: IO[str],
) -> dict[str, Any]:
    # What a check has read is kept for the report that is asked for next, and for no other.
    question = json.dumps([request["folder"], request.get("parameters", {})])
    read = checked.pop(question, None)
    checked.clear()
    try:
        read = read or read_inputs(Path(request["folder"]), request.get("parameters", {}))
        if request["do"] == "check":
            checked[question] = read
            return {"status": 0}
        sockets = Path(tempfile.mkdtemp(dir=private))
        made = produce(
            request,
            read,
            kernel_parent=kernel_parent,
            private=sockets,
            tell=lambda step: answer(outgoing, {"progress": step}),
        )
        return {"status": 0, **made}
    except PinscarError as error:
        return _failure(error, request)
    except Exception as error:
        said = f"internal error: {type(error).__name__}: {' '.join(str(error).split())}; please report it"
        return {"status": 4, "errors": [said], "debug": traceback.format_exc()}


def _failure(error: PinscarError, request: Mapping[str, Any]) -> dict[str, Any]:
    from pinscar.campaign.to_fill import gathered
    from pinscar.campaign.typed_table import column_letters
    from pinscar.errors import Severity, grouped, shortened
    from pinscar.terminal import command

    reply: dict[str, Any] = {"status": error.exit_status, "errors": [str(error)]}
    if isinstance(error, InputError):
        grave = [problem for problem in error.problems if problem.severity is Severity.ERROR]
        lines = grouped(gathered(grave), lambda file: column_letters(Path(request["folder"]), file))
        check = command("pinscar", "check", request.get("shown", request["folder"]), "--all")
        reply["errors"] = shortened([str(problem) for problem in lines], check)
        reply["problems"] = [problem.as_dict() for problem in error.problems]
    if hasattr(error, "notebook"):
        reply["errors"] = error.errors  # type: ignore[attr-defined]  # TemplateError: its module is slow to import
        reply["problems"] = error.problems  # type: ignore[attr-defined]
        reply["failed"] = _save_failed(error, request)
    return reply


def _save_failed(error: Any, request: Mapping[str, Any]) -> str | None:
    """Write the failed notebook into the scratch folder; an error in that must not hide the first one."""
    if error.notebook is None or error.exit_status != RunError.exit_status:
        return None
    from pinscar.press.results import mark_failed, notebook_bytes

    with contextlib.suppress(OSError):
        path = Path(request["scratch"]) / "report-failed.ipynb"
        path.write_bytes(notebook_bytes(mark_failed(error.notebook, request["given"], str(error))))
        return str(path)
    return None
