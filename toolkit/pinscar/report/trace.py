"""The trace: which files, which versions, which methods."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from importlib.metadata import version

from pinscar import __version__
from pinscar.decision.analysis import Analysis
from pinscar.report.markup import Markup, finding, key_value, table

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


def trace_html(analysis: Analysis) -> Markup:
    """Show the hashes of the inputs and the versions of what made the report.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Markup
        A sentence, a table of files and a list of versions.
    """
    return trace_of(analysis.campaign.inputs)


def trace_of(inputs: Mapping[str, str]) -> Markup:
    """Show the hashes of some inputs and the versions of what made the report.

    Parameters
    ----------
    inputs : mapping of str to str
        SHA-256 of each file, by its path.

    Returns
    -------
    Markup
        A sentence, a table of files and a list of versions.
    """
    rows = [
        # A long file name leaves no room for the whole hash on one line of a printed page.
        [name, Markup('<code class="hash">{}<wbr>{}</code>').format(digest[:32], digest[32:])]
        for name, digest in sorted(inputs.items())
    ]
    files = table(["File", "SHA-256"], rows, caption="Input files", key="inputs")
    versions = {
        "pinscar": __version__,
        "Python": platform.python_version(),
        **{name: version(name) for name in PACKAGES},
    }
    opener = finding(
        f"The report rests on {len(inputs)} input files; the same files and versions give the same "
        "report, byte for byte."
    )
    return Markup("\n").join(
        [opener, files, key_value({"Versions": ", ".join(f"{k} {v}" for k, v in versions.items())})]
    )
