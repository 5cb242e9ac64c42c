"""`pinscar sign`: a record or its manifest, a key, and what is written."""

from __future__ import annotations

from pathlib import Path

from pinscar.errors import UsageError
from pinscar.press.files import cannot_write, put_file
from pinscar.press.manifest import NAME
from pinscar.press.sign_detached import CMS_SUFFIX, SSH_SUFFIX, sign_cms, sign_ssh
from pinscar.press.sign_key import is_openssh, key_bytes, load_openssh, load_signer, require_extra
from pinscar.press.sign_pdf import sign_pdf, signed_name

ROLES = ("author", "approver")


def sign(
    record: Path, key: Path, *, detached: bool, role: str, out: Path | None = None, reason: str | None = None
) -> tuple[Path, str]:
    """Sign a record's PDF, or its manifest in a file of its own."""
    require_extra()
    if role not in ROLES:
        raise UsageError(f"{role!r} is no role; sign as author or as approver")
    if detached:
        return _detached(_manifest(record), key, out)
    pdf = _pdf(record)
    if is_openssh(key_bytes(key)):
        raise UsageError(
            "a PDF is signed by a PKCS#12 key (.p12, .pfx); an OpenSSH key signs with --detached"
        )
    data, on_line = sign_pdf(_bytes(pdf), load_signer(key), role, reason)
    place = out or signed_name(pdf)
    _write(place, data)
    return place, "" if on_line else "no signature line was found; the field is at the foot of the last page"


def _detached(manifest: Path, key: Path, out: Path | None) -> tuple[Path, str]:
    data = _bytes(manifest)
    if is_openssh(key_bytes(key)):
        place = out or manifest.with_name(manifest.name + SSH_SUFFIX)
        _write(place, sign_ssh(data, load_openssh(key)).encode())
    else:
        place = out or manifest.with_name(manifest.name + CMS_SUFFIX)
        _write(place, sign_cms(data, load_signer(key)))
    return place, ""


def _pdf(record: Path) -> Path:
    if not record.is_dir():
        return record
    found = sorted(path for path in record.glob("*.pdf") if not path.name.endswith(".signed.pdf"))
    signed = sorted(record.glob("*.signed.pdf"))
    if len(found) != 1:
        raise UsageError(
            f"{record} holds {'no' if not found else 'more than one'} PDF; name the record's PDF"
        )
    return signed[0] if signed else found[0]


def _manifest(record: Path) -> Path:
    if record.is_dir():
        return record / NAME
    return record if record.name == NAME else record.with_name(NAME)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise UsageError(f"{path} cannot be read ({(error.strerror or 'unknown').lower()})") from None


def _write(path: Path, data: bytes) -> None:
    try:
        put_file(path, data)
    except OSError as error:
        raise cannot_write(path.parent, error) from error
