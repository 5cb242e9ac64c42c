"""Whether a report still agrees with its data, its own files and what is installed, or comes out again."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pinscar.errors import RunError, UsageError
from pinscar.press.build import build_reports
from pinscar.press.files import SCHEMA
from pinscar.press.inputs import input_hashes, reads_of, sources_of
from pinscar.press.json_file import read_json
from pinscar.press.manifest import NAME, manifest_digest, sha256, surroundings
from pinscar.press.page_numbers import unlike_numbers
from pinscar.press.private_folder import PrivateFolder, sweep_private
from pinscar.press.request import Outcome, make_requests
from pinscar.press.signed_files import is_readable, is_signature, original_of
from pinscar.press.template import read_template
from pinscar.shipped import find_template, shipped_folder, template_names

RESULTS = "results.json"

LONGEST_PDF = 128 * 1024 * 1024
"""Largest PDF that is opened [bytes]; one of a campaign with hundreds of pictures has a tenth of it."""

LONGEST_FILES = 256 * 1024 * 1024
"""Most that the files in a PDF may hold together when unpacked [bytes]."""

MOST = 1_000
"""Most files that are looked for in a PDF."""

MOST_PAGES = 20_000
"""Most pages that are looked through for files."""


class UnreadablePdfError(ValueError):
    """A file that cannot be opened as a PDF, or carries more than any report does."""


def expected_attachments(manifest: Mapping[str, Any]) -> dict[str, str]:
    """Return the digest of each file that a PDF of a report carries, by its name there."""
    inputs: Mapping[str, str] = manifest["inputs"]
    found = {name: inputs[path] for name, (path, _) in sources_of(inputs).items()}
    results = manifest["outputs"].get(RESULTS)
    return found if results is None else found | {RESULTS: results}


def attachment_digests(pdf: Path) -> dict[str, str]:
    """Return the digest of each file that a PDF carries; a second one under the same name is told apart."""
    if pdf.stat().st_size > LONGEST_PDF:
        raise UnreadablePdfError("it is larger than any report")
    found: dict[str, str] = {}
    whole = 0
    try:
        for name, data in _files(pdf):
            whole += len(data)
            if len(found) >= MOST or whole > LONGEST_FILES:
                raise UnreadablePdfError("it carries more than any report does")
            digest = sha256(data)
            if found.get(name, digest) != digest:
                name = f"{name} (once more)"
            found[name] = digest
    except UnreadablePdfError:
        raise
    # The library raises many kinds of error on a damaged or hostile file; none is more than "not readable".
    except Exception as error:
        raise UnreadablePdfError("it is damaged") from error
    return found


def _files(pdf: Path) -> Iterator[tuple[str, bytes]]:
    """Give the files of a PDF wherever a viewer shows them: in its list, beside its pages, and on them."""
    import pypdf
    from pypdf.generic import EmbeddedFile

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # what is wrong is told in one line by the caller
    reader = pypdf.PdfReader(pdf, strict=False)
    for one in reader.attachment_list:
        yield str(one.name), bytes(one.content)
    if len(reader.pages) > MOST_PAGES:
        raise UnreadablePdfError("it is larger than any report")
    annotations = (note.get_object() for page in reader.pages for note in page.get("/Annots") or [])
    pinned = [note["/FS"] for note in annotations if note.get("/Subtype") == "/FileAttachment"]
    for given in [*(reader.root_object.get("/AF") or []), *pinned]:
        specification = given.get_object()
        name = str(specification.get("/UF") or specification.get("/F") or "a file without a name")
        yield name, bytes(EmbeddedFile(name, specification).content)


SAYINGS = {
    "output": "the report's file {name}",
    "input": "the input {name}",
    "template": "the template {name}",
    "page": "the page template's file {name}",
    "fonts": "the font {name}",
    "versions": "the version of {name}",
    "libraries": "the library {name}",
    "platform": "the platform's {name}",
    "code": "pinscar's own code",
    "manifest": "the manifest",
    "numbers": "{name}",
    "attachment": "the file {name}",
    "rerun": "the file {name}, made again,",
}
"""How each kind of difference is named in a sentence."""

TABLES = ("inputs", "outputs", "template", "page", "fonts", "versions", "libraries", "platform")
"""Entries of a manifest that hold a digest or a version by name."""

PAGE = "report.html"

LONGEST_PAGE = 256 * 1024 * 1024
"""Largest page whose numbers are compared [bytes]."""

LONGEST = 16 * 1024 * 1024
"""Largest manifest that is read [bytes]: some 100,000 files."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is no longer as the manifest has it.

    Attributes
    ----------
    kind : str
        A key of `SAYINGS`.
    name : str
        File, package or property.
    expected : str or None
        What the manifest has; None if nothing.
    found : str or None
        What there is now; None if nothing.
    """

    kind: str
    name: str
    expected: str | None
    found: str | None

    def __str__(self) -> str:
        what = SAYINGS[self.kind].format(name=self.name)
        if self.kind == "numbers":
            return f"report.html shows {self.found!r} for {what}; results.json has {self.expected!r}"
        if self.kind == "attachment" and self.found is None and self.expected is None:
            return f"{what} cannot be opened as a PDF, so what it carries was not compared"
        if self.found is None:
            return f"{what} is missing"
        if self.expected is None:
            return f"{what} was not there when the report was made"
        if self.kind in ("versions", "libraries", "platform"):
            return f"{what} is {self.found}; the report was made with {self.expected}"
        return f"{what} differs"

    def as_dict(self) -> dict[str, str | None]:
        """Return the record as plain JSON types."""
        fields = {"kind": self.kind, "name": self.name, "expected": self.expected, "found": self.found}
        return {**fields, "message": str(self)}


def read_manifest(report: Path) -> dict[str, Any]:
    """Read the manifest of a report."""
    if not report.is_dir():
        raise UsageError(f"{report} is {'a file' if report.exists() else 'not there'}; give a report folder")
    try:
        manifest = read_json(report / NAME, LONGEST)
        schema = manifest["schema"]
    except FileNotFoundError as error:
        raise UsageError(f"{report} is not a report: it has no {NAME}") from error
    except (OSError, ValueError, KeyError) as error:
        raise UsageError(f"{report / NAME} cannot be read as the manifest of a report") from error
    if schema != SCHEMA:
        said = repr(schema) if len(repr(schema)) < 60 else "that of another program"
        raise UsageError(f"{report / NAME} has the schema {said}; {SCHEMA!r} is known here")
    if not _is_sound(manifest):
        raise UsageError(f"{report / NAME} cannot be read as the manifest of a report")
    return manifest


def _is_sound(manifest: Mapping[str, Any]) -> bool:
    """Tell whether what a manifest has is of the kind that it is in every manifest."""
    return (
        all(_is_table(manifest.get(name, {})) for name in TABLES)
        and all(isinstance(manifest.get(name, ""), str) for name in ("digest", "code"))
        and all(isinstance(manifest.get(name, {}), dict) for name in ("given", "parameters"))
    )


def _is_table(value: object) -> bool:
    return isinstance(value, dict) and all(isinstance(item, str) for item in value.values())


def verify_report(report: Path, campaign: Path) -> list[Difference]:
    """List everything that differs from what the manifest of a report has.

    The number printed at the foot of the PDF is the beginning of the manifest's ``digest``: SHA-256 over the
    digests of all inputs, of template, page, fonts and code, and over parameters and versions. It is computed
    anew from the manifest here. The PDF and the other outputs are compared by their own SHA-256, and the
    numbers that the page shows with those of results.json (`pinscar.press.page_numbers`).

    All this guards against accident. Who rewrites manifest and outputs together is found out by making the
    report again (`pinscar.press.verify`), and who rewrites the inputs too only by a digest that was written
    down or signed elsewhere, such as the one on paper.
    """
    manifest = read_manifest(report)
    several = isinstance(manifest.get("parameters"), dict) and reads_of(manifest["parameters"]) == "campaigns"
    if not several and not (campaign / "campaign.toml").is_file():
        raise UsageError(f"{campaign} holds no campaign.toml; give the campaign folder with --campaign")
    try:
        return list(_differences(manifest, report, campaign))
    except (KeyError, TypeError, AttributeError) as error:
        raise UsageError(f"{report / NAME} cannot be read as the manifest of a report") from error


def _differences(manifest: Mapping[str, Any], report: Path, campaign: Path) -> Iterator[Difference]:
    yield from compare("output", manifest["outputs"], _unsigned(report, manifest["outputs"]))
    yield from page_differences(report)
    yield from attachment_differences(report, manifest)
    if manifest_digest(manifest) != manifest["digest"]:
        yield Difference("manifest", NAME, manifest["digest"], manifest_digest(manifest))
    yield from compare("input", manifest["inputs"], input_hashes(campaign, manifest["parameters"]))
    name = manifest["template"]["name"]
    shipped = shipped_folder("templates") / f"{name}.ipynb"
    # A template that does not ship with pinscar is not known here; the executed notebook shows its cells.
    if shipped.is_file():
        here = {name: sha256(shipped.read_bytes())}
        yield from compare("template", {name: manifest["template"]["sha256"]}, here)
    for kind, here in surroundings(pdf=manifest["pdf"]).items():
        if isinstance(here, dict):
            yield from compare(kind, manifest[kind], here)
        else:
            yield from compare(kind, {kind: manifest[kind]}, {kind: here})


def _unsigned(report: Path, expected: Mapping[str, str]) -> dict[str, str]:
    """Give the digests of the outputs; a PDF signed in its own place counts as the one that was signed."""
    found = output_digests(report, expected)
    for name, digest in expected.items():
        changed = name.endswith(".pdf") and found.get(name, digest) != digest
        if (
            changed
            and is_readable(report / name)
            and original_of((report / name).read_bytes(), {digest}) is not None
        ):
            found[name] = digest
    return found


def page_differences(report: Path) -> Iterator[Difference]:
    """Compare the numbers that the page shows with those of results.json.

    A page that was changed together with its digest in the manifest is found out by the numbers beside it.
    """
    try:
        if not (report / PAGE).is_file() or (report / PAGE).stat().st_size > LONGEST_PAGE:
            return
        html = (report / PAGE).read_text(encoding="utf-8")
        results = read_json(report / "results.json")
    except (OSError, ValueError):
        return
    for one in unlike_numbers(html, results):
        yield Difference("numbers", one.where, one.exact, one.shown)


def attachment_differences(report: Path, manifest: Mapping[str, Any]) -> Iterator[Difference]:
    """Compare what each PDF carries, a signed copy too, with the inputs and results of the manifest."""
    expected = expected_attachments(manifest)
    for path in sorted(report.glob("*.pdf")):
        if not is_readable(path) or not (path.name in manifest["outputs"] or is_signature(path.name)):
            continue  # a file that was added, a link and a file too large are told by their names
        try:
            found = attachment_digests(path)
        except (UnreadablePdfError, OSError):
            yield Difference("attachment", path.name, None, None)
            continue
        inside = f"inside {path.name}"
        for one in compare("attachment", expected, found):
            yield replace(one, name=f"{one.name} {inside}")


NOT_READ = "not read"
"""What stands for the digest of what no report holds: links, pipes, files that are too many bytes."""

MOST_READ = 2 * 1024**3
"""Most bytes of a report that are read: a hundred times those of a large one."""


def output_digests(report: Path, named: Collection[str] | None = None) -> dict[str, str]:
    """Return the digest of every file of a report but its manifest; of one not named, only the name."""
    found: dict[str, str] = {}
    left = MOST_READ
    for path in sorted(report.rglob("*")):
        name = path.relative_to(report).as_posix()
        if name == NAME or is_signature(name) or (path.is_dir() and not path.is_symlink()):
            continue
        found[name] = NOT_READ
        if (named is None or name in named) and path.is_file() and not path.is_symlink():
            left -= path.stat().st_size
            if left >= 0:
                with path.open("rb") as stream:
                    found[name] = hashlib.file_digest(stream, "sha256").hexdigest()
    return found


def compare(kind: str, expected: Mapping[str, str], found: Mapping[str, str]) -> Iterator[Difference]:
    """List what differs between two tables of digests or versions."""
    for name in [*expected, *(name for name in found if name not in expected)]:
        if expected.get(name) != found.get(name):
            yield Difference(kind, name, expected.get(name), found.get(name))


def template_to_rerun(report: Path, typed: str | None = None) -> Path:
    """Choose the template to make a report again with; a mailed report never chooses what is run."""
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
    """Make a report again from its campaign, with the parameters that its manifest has."""
    manifest = read_manifest(report)
    chosen = read_template(template or template_to_rerun(report))
    given, folders = _given(manifest, report)
    outcomes: list[Outcome] = []
    sweep_private()
    with PrivateFolder() as place:
        again = place / "report"
        requests = make_requests(
            [campaign / name for name in folders],
            chosen,
            given,
            out=again,
            pdf=manifest.get("pdf") is True,
            timeout=timeout,
            named=_named(manifest),
            keep=False,  # made from the evidence itself, whatever an earlier report made of it
        )
        if build_reports(requests, chosen.modules, 1, outcomes.append):
            raise RunError(f"the report cannot be reproduced: {'; '.join(outcomes[0].errors)}")
        return list(compare("rerun", output_digests(report), output_digests(again)))


def _named(manifest: Mapping[str, Any]) -> bool:
    """Tell whether the PDF was named by campaign and template."""
    outputs = manifest.get("outputs")
    return isinstance(outputs, dict) and any(
        name.endswith(".pdf") and name != "report.pdf" for name in outputs
    )


def _given(manifest: Mapping[str, Any], report: Path) -> tuple[dict[str, object], list[str]]:
    """Return the parameters passed, and the campaigns."""
    given = manifest.get("given")
    folders = given.get("folders", ["."]) if isinstance(given, dict) else None
    if not (
        isinstance(given, dict) and isinstance(folders, list) and all(isinstance(f, str) for f in folders)
    ):
        raise UsageError(f"{report / 'manifest.json'} cannot be read as the manifest of a report")
    return {name: value for name, value in given.items() if name not in ("folder", "folders")}, folders
