"""Where a report comes from: its files, versions and methods.

Digests of the inputs are told in few lines: one per file, and one for each folder of evidence.
"""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping
from importlib.metadata import version

from pinscar import __version__
from pinscar.decision.record import Analysis
from pinscar.page.markup import Markup, finding, key_value, table
from pinscar.wording import counted

FITS = 24
"""Most files whose table is kept whole on a printed page."""
PACKAGES = (
    "numpy",
    "scipy",
    "pandas",
    "matplotlib",
    "pint",
    "papermill",
    "nbconvert",
    "weasyprint",
)


def provenance_html(analysis: Analysis) -> Markup:
    """Show the hashes of the inputs and the versions of what made the report."""
    return inputs_html(analysis.campaign.inputs)


def short_provenance_html(inputs: Mapping[str, str]) -> Markup:
    """Show the hash of each input of the folder, one for each folder of evidence, and the versions."""
    rows = [
        [name, Markup('<code class="hash">{}<wbr>{}</code>').format(digest[:32], digest[32:])]
        for name, digest in inputs_by_folder(inputs).items()
    ]
    note = (
        "The digest of a folder is that of its files' digests: sha256sum FOLDER/* | sha256sum. manifest.json "
        "has each file."
    )
    files = table(["File", "SHA-256"], rows, caption="Input files", key="inputs", note=note)
    return Markup("\n").join([_opener(inputs), files, _versions()])


def one_line(analysis: Analysis) -> str:
    """Say in one line what the report rests on."""
    return (
        f"Made by pinscar {__version__} from {counted(len(analysis.campaign.inputs), 'input file')}; "
        "manifest.json has their digests."
    )


def inputs_html(inputs: Mapping[str, str]) -> Markup:
    """Show the hashes of some inputs and the versions of what made the report."""
    rows = [
        # A long file name leaves no room for the whole hash on one line of a printed page.
        [name, Markup('<code class="hash">{}<wbr>{}</code>').format(digest[:32], digest[32:])]
        for name, digest in sorted(inputs.items())
    ]
    files = table(["File", "SHA-256"], rows, caption="Input files", key="inputs", long=len(rows) > FITS)
    return Markup("\n").join([_opener(inputs), files, _versions()])


def _versions() -> Markup:
    versions = {
        "pinscar": __version__,
        "Python": platform.python_version(),
        **{name: version(name) for name in PACKAGES},
    }
    return key_value({"Versions": ", ".join(f"{k} {v}" for k, v in versions.items())})


def _opener(inputs: Mapping[str, str]) -> Markup:
    return finding(
        f"The report rests on {len(inputs)} input files; the same files and versions give the same "
        "report, byte for byte."
    )


def inputs_by_folder(inputs: Mapping[str, str]) -> dict[str, str]:
    """Give the digest of each file of the campaign folder, and one for the files of each folder in it.

    The digest of a folder is the SHA-256 of what the command ``sha256sum`` writes of its files in the order
    of their names, run in the campaign folder: ``sha256sum traces/* | sha256sum``.

    Examples
    --------
    >>> list(inputs_by_folder({"traces/b.csv": "2" * 64, "runs.csv": "1" * 64, "traces/a.csv": "3" * 64}))
    ['runs.csv', 'traces/ (2 files)']
    """
    files = {name: digest for name, digest in sorted(inputs.items()) if "/" not in name}
    lists: dict[str, list[str]] = {}
    for name, digest in sorted(inputs.items()):
        if "/" in name:
            lists.setdefault(name.rsplit("/", 1)[0], []).append(f"{digest}  {name}\n")
    return files | {
        f"{folder}/ ({counted(len(lines), 'file')})": hashlib.sha256("".join(lines).encode()).hexdigest()
        for folder, lines in lists.items()
    }
