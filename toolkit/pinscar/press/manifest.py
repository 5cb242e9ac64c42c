"""manifest.json: what a report was made from and with, so that it can be checked and made again.

Besides the data: versions, libraries, machine, our own code.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import platform
import sys
from collections.abc import Iterable, Mapping
from importlib import metadata
from pathlib import Path
from typing import Any

import pinscar
from pinscar.page.fonts import font_digests
from pinscar.press.files import MANIFEST, SCHEMA
from pinscar.shipped import shipped_folder

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
    "babel",
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
    "av",
    "pypdf",
)
"""Packages that make, or lay out, what a report shows."""

LIBRARIES = {
    "pango": (("libpango-1.0.so.0", "libpango-1.0.dylib", "libpango-1.0-0.dll"), "pango_version_string"),
    "harfbuzz": (("libharfbuzz.so.0", "libharfbuzz.dylib", "libharfbuzz-0.dll"), "hb_version_string"),
}
"""C libraries that set the text of the PDF: file names by system, and the function that tells the version."""


def package_versions() -> dict[str, str]:
    """Return the versions of Python, pinscar and the packages a report is made with."""
    versions = {"python": platform.python_version(), "pinscar": pinscar.__version__}
    for name in PACKAGES:
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            versions[name] = "not installed"
    return versions


def library_versions() -> dict[str, str]:
    """Return the versions of the C libraries that lay out the PDF."""
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
    """Return what kind of machine this is, without anything that names this one."""
    return {
        "system": sys.platform,
        "machine": platform.machine(),
        "implementation": platform.python_implementation(),
    }


def code_digest() -> str:
    """Return one digest over pinscar's source and catalogues, which a version number does not pin down."""
    package = Path(pinscar.__file__).resolve().parent
    whole = hashlib.sha256()
    for path in sorted([*package.rglob("*.py"), *package.rglob("*.po")]):
        whole.update(path.relative_to(package).as_posix().encode() + b"\0")
        whole.update(hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()


NAME = MANIFEST


def sha256(data: bytes) -> str:
    """Return the digest of some bytes.

    Examples
    --------
    The first example of FIPS PUB 180-4's test data, the message "abc":

    >>> sha256(b"abc")
    'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'
    """
    return hashlib.sha256(data).hexdigest()


def page_digests() -> dict[str, str]:
    """Return the digest of each file of the page template and its stylesheet."""
    files = sorted(path for path in (shipped_folder("templates") / "page").rglob("*") if path.is_file())
    return {path.name: sha256(path.read_bytes()) for path in files}


def surroundings(*, pdf: bool) -> dict[str, Any]:
    """Return everything here and now that the bytes of a report depend on besides data and template."""
    return {
        "page": page_digests(),
        "fonts": font_digests(),
        "versions": package_versions(),
        "libraries": library_versions() if pdf else {},
        "platform": machine(),
        "code": code_digest(),
    }


def make_manifest(
    *,
    campaign: str,
    template: Path,
    given: Mapping[str, object],
    parameters: Mapping[str, object],
    inputs: Mapping[str, str],
    pdf: bool,
) -> dict[str, Any]:
    """Make the manifest of a report as far as it is known before its pages are laid out."""
    manifest = {
        "schema": SCHEMA,
        "campaign": campaign,
        "template": {"name": template.stem, "sha256": sha256(template.read_bytes())},
        "given": dict(given),
        "parameters": dict(parameters),
        "seed": parameters.get("seed"),
        "pdf": pdf,
        "inputs": dict(inputs),
        **surroundings(pdf=pdf),
    }
    return {"digest": manifest_digest(manifest), **manifest}


def manifest_digest(manifest: Mapping[str, Any]) -> str:
    """Return the one digest that stands for what a report was made from and with."""
    counted = {key: value for key, value in manifest.items() if key not in ("digest", "outputs")}
    return sha256(json.dumps(counted, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode())


def manifest_bytes(manifest: Mapping[str, Any], outputs: Mapping[str, bytes]) -> bytes:
    """Write manifest.json."""
    whole = {**manifest, "outputs": {name: sha256(data) for name, data in sorted(outputs.items())}}
    return (json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()
