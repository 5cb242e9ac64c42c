"""Signatures that lie beside a report: whose they are, and whether they are over the report's own bytes."""

from __future__ import annotations

import hashlib
import io
import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from pinscar.press.manifest import NAME, sha256
from pinscar.press.signatures import CMS_SUFFIX, SSH_SUFFIX, SUFFIX, read_ssh

END_OF_FILE = re.compile(rb"%%EOF(?:\r\n|\n|\r)?")
MOST_ENDS = 10_000
"""Most ends of a file that are looked for in a PDF; each signature adds one."""
LARGEST_PDF, LARGEST_SIGNATURE = 128 * 1024 * 1024, 1024 * 1024
"""Largest signed PDF, and largest signature in a file of its own, that are read [bytes]."""
INSTALL = "its signature was not checked: pip install 'pinscar[sign]'"
NOT_OURS = (
    "whether the certificate is the signer's is for you to know; --trust CA.pem checks who vouches for it"
)


@dataclass(frozen=True, slots=True)
class Signed:
    """What a signature beside a report says.

    Attributes
    ----------
    file : str
        The file that carries it.
    good : bool
        Whether nothing speaks against it.
    said : str
        What was found, in one sentence.
    """

    file: str
    good: bool
    said: str

    def __str__(self) -> str:
        return f"{self.file}: {self.said}"


def signatures_beside(report: Path, manifest: Mapping[str, Any], trust: Path | None = None) -> list[Signed]:
    """Find the signatures in a report's folder and check each."""
    outputs = {digest: name for name, digest in manifest["outputs"].items()}
    found: list[Signed] = []
    for path in sorted(report.iterdir()):
        name = path.name
        if not is_readable(path):
            if is_signature(name):
                found.append(Signed(name, False, "it is a link, no file, or too large, and was not read"))
        elif name.endswith(SUFFIX) or (name.endswith(".pdf") and _is_signed_copy(path, manifest)):
            found += _pdf(path, outputs, trust)
        elif name == NAME + CMS_SUFFIX:
            found.append(_cms(path, (report / NAME).read_bytes(), trust))
        elif name == NAME + SSH_SUFFIX:
            found.append(_ssh(path, (report / NAME).read_bytes()))
    return found


def is_signature(name: str) -> bool:
    """Tell whether a file of a report's folder is a signature, or a signed copy, by its name.

    Examples
    --------
    >>> is_signature("report.signed.pdf"), is_signature("report.pdf")
    (True, False)
    """
    return name.endswith(SUFFIX) or name in (NAME + CMS_SUFFIX, NAME + SSH_SUFFIX)


def is_readable(path: Path) -> bool:
    """Tell whether something in a report's folder is a file of its own, and none too large for what it is."""
    most = LARGEST_PDF if path.name.endswith(".pdf") else LARGEST_SIGNATURE
    wanted = path.name.endswith(".pdf") or is_signature(path.name)
    return path.is_file() and not path.is_symlink() and (not wanted or path.stat().st_size <= most)


def _is_signed_copy(path: Path, manifest: Mapping[str, Any]) -> bool:
    """Tell whether a PDF of the report was replaced by its own signed copy."""
    data = path.read_bytes()
    expected = manifest["outputs"].get(path.name)
    return expected is not None and sha256(data) != expected and original_of(data, {expected}) is not None


def original_of(data: bytes, digests: set[str]) -> int | None:
    """Find the part of a signed PDF that is a report as it was made."""
    so_far, begin = hashlib.sha256(), 0
    for found in itertools.islice(END_OF_FILE.finditer(data), MOST_ENDS):
        so_far.update(memoryview(data)[begin : found.end()])
        begin = found.end()
        if so_far.hexdigest() in digests:
            return begin
    return None


def _pdf(path: Path, outputs: Mapping[str, str], trust: Path | None) -> list[Signed]:
    data = path.read_bytes()
    length = original_of(data, set(outputs))
    if length is None:
        return [Signed(path.name, False, "it is not a signed copy of a file of this report")]
    of = outputs[sha256(data[:length])]
    if find_spec("pyhanko") is None:
        return [Signed(path.name, True, f"it holds {of} unchanged; {INSTALL}")]
    return _pdf_signatures(path.name, data, of, trust)


def _pdf_signatures(name: str, data: bytes, of: str, trust: Path | None) -> list[Signed]:
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.diff_analysis import ModificationLevel
    from pyhanko.sign.validation import validate_pdf_signature

    try:
        embedded = PdfFileReader(io.BytesIO(data)).embedded_signatures
    except Exception:  # the library raises many kinds of error on a damaged file
        return [Signed(name, False, f"it holds {of}, and what was added behind it is damaged")]
    if not embedded:
        return [Signed(name, False, f"it holds {of}, with something added that is no signature")]
    found = []
    for one in embedded:
        try:
            status = validate_pdf_signature(one, _context(trust))
        except Exception as error:  # the library raises many kinds of error on what is no valid signature
            found.append(Signed(name, False, f"its signature cannot be checked ({type(error).__name__})"))
            continue
        changed = status.modification_level is ModificationLevel.OTHER
        good = bool(status.intact and status.valid and not changed)
        role = one.field_name.removeprefix("signature-")
        when = f" on {one.self_reported_timestamp:%Y-%m-%d %H:%M %Z}" if one.self_reported_timestamp else ""
        who = f"signed as {role} by {_name(one.signer_cert)}{when}"
        said = (
            f"{who}, over {of} as it was made" if good else f"{who}, but the signature does not fit the file"
        )
        found.append(Signed(name, good and _vouched(status, trust), said + _trust_words(status, trust, good)))
    return found


def _cms(path: Path, data: bytes, trust: Path | None) -> Signed:
    if find_spec("pyhanko") is None:
        return Signed(path.name, True, INSTALL)
    import asyncio

    from asn1crypto import cms
    from pyhanko.sign.validation.generic_cms import async_validate_detached_cms

    try:
        content = cms.ContentInfo.load(path.read_bytes())["content"]
        status = asyncio.run(async_validate_detached_cms(data, content, _context(trust)))
    except Exception as error:  # the library raises many kinds of error on what is no valid signature
        return Signed(path.name, False, f"it cannot be checked as a signature ({type(error).__name__})")
    good = bool(status.intact and status.valid)
    said = f"{NAME} signed by {_name(status.signing_cert)}"
    if not good:
        said += ", but the signature does not fit the manifest"
    return Signed(path.name, good and _vouched(status, trust), said + _trust_words(status, trust, good))


def _ssh(path: Path, data: bytes) -> Signed:
    if find_spec("cryptography") is None:
        return Signed(path.name, True, INSTALL)
    try:
        printed, good = read_ssh(path.read_text(encoding="ascii"), data)
    except Exception as error:
        return Signed(path.name, False, f"it cannot be checked as a signature ({type(error).__name__})")
    if not good:
        return Signed(path.name, False, f"the signature by the key {printed} does not fit the manifest")
    return Signed(path.name, True, f"{NAME} signed by the key {printed}; whose key it is, is for you to know")


def _context(trust: Path | None) -> Any:
    import logging

    from pyhanko.keys import load_certs_from_pemder
    from pyhanko_certvalidator import ValidationContext

    for name in ("pyhanko", "pyhanko_certvalidator"):
        logging.getLogger(name).setLevel(
            logging.CRITICAL
        )  # that nobody vouches for a signer is told in words
    load: Any = load_certs_from_pemder
    roots = list(load([str(trust)])) if trust else []
    return ValidationContext(trust_roots=roots, allow_fetching=False)


def _vouched(status: Any, trust: Path | None) -> bool:
    return trust is None or bool(status.trusted)


def _trust_words(status: Any, trust: Path | None, good: bool) -> str:
    if not good:
        return ""
    if trust is None:
        return f"; {NOT_OURS}"
    return f"; vouched for by {trust}" if status.trusted else f"; {trust} does not vouch for the signer"


def _name(cert: Any) -> str:
    subject = cert.subject.native
    return str(subject.get("common_name") or cert.subject.human_friendly)
