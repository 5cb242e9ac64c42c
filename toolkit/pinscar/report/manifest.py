"""manifest.json: what a report was made from and with, so that it can be checked and made again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pinscar.report.fonts import font_digests
from pinscar.report.platform import code_digest, library_versions, machine, package_versions
from pinscar.report.replace import MANIFEST, SCHEMA
from pinscar.report.shipped import shipped_folder

NAME = MANIFEST


def sha256(data: bytes) -> str:
    """Return the digest of some bytes.

    Parameters
    ----------
    data : bytes
        The bytes.

    Returns
    -------
    str
        SHA-256 (FIPS PUB 180-4) in hexadecimal.

    Examples
    --------
    The first example of FIPS PUB 180-4's test data, the message "abc":

    >>> sha256(b"abc")
    'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'
    """
    return hashlib.sha256(data).hexdigest()


def page_digests() -> dict[str, str]:
    """Return the digest of each file of the page template and its stylesheet.

    Returns
    -------
    dict
        SHA-256 by file name.
    """
    files = sorted(path for path in (shipped_folder("templates") / "page").rglob("*") if path.is_file())
    return {path.name: sha256(path.read_bytes()) for path in files}


def surroundings(*, pdf: bool) -> dict[str, Any]:
    """Return everything here and now that the bytes of a report depend on besides data and template.

    Parameters
    ----------
    pdf : bool
        Whether a PDF is made: only then do its C libraries count.

    Returns
    -------
    dict
        The manifest's entries ``page``, ``fonts``, ``versions``, ``libraries``, ``platform`` and ``code``.
    """
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
    """Make the manifest of a report as far as it is known before its pages are laid out.

    Parameters
    ----------
    campaign : str
        The campaign's id.
    template : pathlib.Path
        The notebook.
    given : mapping
        Values passed to it.
    parameters : mapping
        The values it ran with, defaults included.
    inputs : mapping
        As from `pinscar.campaign.folder.hash_inputs`.
    pdf : bool
        Whether a PDF is made.

    Returns
    -------
    dict
        The manifest without its outputs; ``digest`` stands for all of it.
    """
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
    """Return the one digest that stands for what a report was made from and with.

    Parameters
    ----------
    manifest : mapping
        A manifest; its own ``digest`` and its ``outputs`` do not count, so that it can be printed in them.

    Returns
    -------
    str
        SHA-256 over the rest as JSON with sorted keys and no spaces, in hexadecimal.
    """
    counted = {key: value for key, value in manifest.items() if key not in ("digest", "outputs")}
    return sha256(json.dumps(counted, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode())


def manifest_bytes(manifest: Mapping[str, Any], outputs: Mapping[str, bytes]) -> bytes:
    """Write manifest.json.

    Parameters
    ----------
    manifest : mapping
        As from `make_manifest`.
    outputs : mapping
        Content of each other file of the report by name.

    Returns
    -------
    bytes
        UTF-8, indented by two, a line feed at the end.
    """
    whole = {**manifest, "outputs": {name: sha256(data) for name, data in sorted(outputs.items())}}
    return (json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()
