"""What the bytes of a report depend on besides its data: versions, libraries, machine, our own code."""

from __future__ import annotations

import ctypes
import hashlib
import platform
import sys
from collections.abc import Iterable
from importlib import metadata
from pathlib import Path

import pinscar

PACKAGES = (
    "numpy",
    "scipy",
    "pandas",
    "matplotlib",
    "pint",
    "pydantic",
    "openpyxl",
    "ipykernel",
    "ipython",
    "nbclient",
    "nbconvert",
    "nbformat",
    "papermill",
    "jinja2",
    "markupsafe",
    "mistune",
    "weasyprint",
    "pydyf",
    "fonttools",
    "pillow",
    "scikit-image",
    "soundfile",
    "ruptures",
    "ipywidgets",
    "pyarrow",
)
"""Packages that make, or lay out, what a report shows."""

LIBRARIES = {
    "pango": (("libpango-1.0.so.0", "libpango-1.0.dylib", "libpango-1.0-0.dll"), "pango_version_string"),
    "harfbuzz": (("libharfbuzz.so.0", "libharfbuzz.dylib", "libharfbuzz-0.dll"), "hb_version_string"),
}
"""C libraries that set the text of the PDF: file names by system, and the function that tells the version."""


def package_versions() -> dict[str, str]:
    """Return the versions of Python, pinscar and the packages a report is made with.

    Returns
    -------
    dict
        Version by name; ``"not installed"`` where it is not.
    """
    versions = {"python": platform.python_version(), "pinscar": pinscar.__version__}
    for name in PACKAGES:
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            versions[name] = "not installed"
    return versions


def library_versions() -> dict[str, str]:
    """Return the versions of the C libraries that lay out the PDF.

    Returns
    -------
    dict
        Version by name; ``"not found"`` where the system does not have it.
    """
    return {name: _library_version(*how) for name, how in LIBRARIES.items()}


def _library_version(files: Iterable[str], function: str) -> str:
    for file in files:
        try:
            tell = getattr(ctypes.CDLL(file), function)
        except (OSError, AttributeError):
            continue
        tell.restype = ctypes.c_char_p
        return str(tell().decode())
    return "not found"


def machine() -> dict[str, str]:
    """Return what kind of machine this is, without anything that names this one.

    Returns
    -------
    dict
        System, processor and Python implementation.
    """
    return {
        "system": sys.platform,
        "machine": platform.machine(),
        "implementation": platform.python_implementation(),
    }


def code_digest() -> str:
    """Return one digest over pinscar's own source, which a version number alone does not pin down.

    Returns
    -------
    str
        SHA-256 over names and contents of all its Python files, in hexadecimal.
    """
    package = Path(pinscar.__file__).resolve().parent
    whole = hashlib.sha256()
    for path in sorted(package.rglob("*.py")):
        whole.update(path.relative_to(package).as_posix().encode() + b"\0")
        whole.update(hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()
