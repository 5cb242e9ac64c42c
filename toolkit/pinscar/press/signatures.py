"""Signatures: PAdES in a field on the signature line of a record's PDF, CMS or OpenSSH in a file beside."""

from __future__ import annotations

import base64
import hashlib
import io
import struct
import tempfile
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pinscar.errors import UsageError
from pinscar.page.fonts import STYLES

HEADS = ("Signature", "Unterschrift")
ROLES = {"author": ("Author", "Verfasser", "Autor"), "approver": ("Approver", "Freigabe", "Genehmigt")}
RIGHT_MARGIN, LEAST_WIDTH = 48.0, 90.0
BELOW, ABOVE = 6.0, 15.0
"""Distance from the line of text to the lower and the upper side of the field [pt]."""


@dataclass(frozen=True, slots=True)
class Place:
    """A rectangle on a page.

    Attributes
    ----------
    page : int
        The page, from 0 on.
    box : tuple of int
        Left, lower, right and upper side [pt].
    on_line : bool
        Whether it is the signature line; False where none was found and the foot of the last page is used.
    """

    page: int
    box: tuple[int, int, int, int]
    on_line: bool


def signature_place(pdf: bytes, role: str) -> Place:
    """Find the line that a role signs on."""
    import pypdf

    reader = pypdf.PdfReader(io.BytesIO(pdf))
    for number in reversed(range(len(reader.pages))):
        page = reader.pages[number]
        words = _words(page)
        heads = [(x, y) for text, x, y in words if text in HEADS]
        lines = [(x, y) for text, x, y in words if text in ROLES[role]]
        for left, top in heads:
            below = [y for _, y in lines if y < top]
            if below:
                right = max(float(page.mediabox.width) - RIGHT_MARGIN, left + LEAST_WIDTH)
                line = max(below)
                return Place(number, _whole(left - 2, line - BELOW, right, line + ABOVE), True)
    width = float(reader.pages[-1].mediabox.width)
    left = width - 230.0 if role == "approver" else 60.0
    return Place(len(reader.pages) - 1, _whole(left, 52.0, left + 170.0, 80.0), False)


def _words(page: Any) -> list[tuple[str, float, float]]:
    found: list[tuple[str, float, float]] = []

    def see(text: str, outer: Any, inner: Any, *_: Any) -> None:
        if text.strip():
            x = outer[0] * inner[4] + outer[2] * inner[5] + outer[4]
            y = outer[1] * inner[4] + outer[3] * inner[5] + outer[5]
            found.append((text.strip(), float(x), float(y)))

    page.extract_text(visitor_text=see)
    return found


def _whole(*sides: float) -> tuple[int, int, int, int]:
    left, lower, right, upper = (round(side) for side in sides)
    return left, lower, right, upper


SUFFIX = ".signed.pdf"
"""How the name of a signed record ends; the record itself stays as its manifest has it."""


def signed_name(record: Path) -> Path:
    """Give the usual name of a signed record."""
    if record.name.endswith(SUFFIX):
        return record
    return record.with_name(record.name.removesuffix(".pdf") + SUFFIX)


def sign_pdf(pdf: bytes, signer: Any, role: str, reason: str | None = None) -> tuple[bytes, bool]:
    """Sign a PDF; its own bytes stay, the signature follows behind them.

    Nothing is fetched from anywhere: no time stamp of others, no list of revoked certificates.
    """
    from pyhanko.pdf_utils.font.opentype import GlyphAccumulatorFactory
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.pdf_utils.layout import AxisAlignment, Margins, SimpleBoxLayoutRule
    from pyhanko.pdf_utils.text import TextBoxStyle
    from pyhanko.sign import fields, signers
    from pyhanko.stamp import TextStampStyle

    try:
        writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
        place = signature_place(pdf, role)
    except Exception:  # both libraries raise many kinds of error on a file that is no PDF
        raise UsageError("this file cannot be read as a PDF; give the record's PDF") from None
    name = f"signature-{role}"
    if name in {field for field, _, _ in fields.enumerate_sig_fields(writer)}:
        raise UsageError(f"the {role} has signed this record already; sign as another: --as")
    spec = fields.SigFieldSpec(
        name, on_page=place.page, box=place.box, readable_field_name=f"Signature of the {role}"
    )
    about = signers.PdfSignatureMetadata(
        field_name=name, md_algorithm="sha256", subfilter=fields.SigSeedSubFilter.PADES, reason=reason
    )
    out = io.BytesIO()
    with tempfile.TemporaryDirectory(prefix="pinscar-") as folder:
        face = Path(folder) / "face.ttf"
        write_face(face)
        look = TextStampStyle(
            border_width=0,
            background=None,
            inner_content_layout=SimpleBoxLayoutRule(
                AxisAlignment.ALIGN_MIN, AxisAlignment.ALIGN_MID, Margins(2, 2, 1, 1)
            ),
            stamp_text="Signed digitally: %(signer)s\n%(ts)s",
            text_box_style=TextBoxStyle(font=GlyphAccumulatorFactory(str(face)), font_size=7),
        )
        signers.PdfSigner(about, signer, stamp_style=look, new_field_spec=spec).sign_pdf(writer, output=out)
    return out.getvalue(), place.on_line


def write_face(path: Path) -> None:
    """Write the report's face with a thousand units to the em, as the signing library takes widths to be."""
    from fontTools.ttLib import TTFont
    from fontTools.ttLib.scaleUpem import scale_upem

    face = TTFont(STYLES[0].file("ttf"))
    scale_upem(face, 1000)
    face.save(path)


MAGIC, NAMESPACE, HASH = b"SSHSIG", b"file", b"sha512"
BEGIN, END = "-----BEGIN SSH SIGNATURE-----", "-----END SSH SIGNATURE-----"
CMS_SUFFIX, SSH_SUFFIX = ".p7s", ".sig"
"""How the names of both kinds end, after the whole name of what is signed."""


def sign_cms(data: bytes, signer: Any) -> bytes:
    """Sign bytes by a PKCS#12 key."""
    import asyncio

    signed = asyncio.run(signer.async_sign_general_data(data, "sha256", detached=True))
    return bytes(signed.dump())


def sign_ssh(data: bytes, key: Any) -> str:
    """Sign bytes by an OpenSSH key."""
    public = _public_blob(key)
    signature = _raw_signature(key, _to_sign(data, NAMESPACE, HASH))
    body = b"".join(map(_string, (public, NAMESPACE, b"", HASH, signature)))
    text = base64.b64encode(MAGIC + struct.pack(">I", 1) + body).decode()
    return "\n".join([BEGIN, *textwrap.wrap(text, 70), END, ""])


def read_ssh(text: str, data: bytes) -> tuple[str, bool]:
    """Check an OpenSSH signature against what was signed."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.serialization import load_ssh_public_key

    inner = text.strip().removeprefix(BEGIN).removesuffix(END)
    blob = base64.b64decode("".join(inner.split()), validate=True)
    if blob[:10] != MAGIC + struct.pack(">I", 1):
        raise ValueError("not an OpenSSH signature of version 1")
    public, namespace, _, hash_name, signature = _strings(blob[10:], 5)
    kind = _strings(public, 1)[0].decode("ascii")
    key = load_ssh_public_key(f"{kind} {base64.b64encode(public).decode()}".encode())
    printed = base64.b64encode(hashlib.sha256(public).digest()).decode().rstrip("=")
    try:
        _check_raw(key, signature, _to_sign(data, namespace, hash_name))
    except InvalidSignature:
        return f"SHA256:{printed}", False
    return f"SHA256:{printed}", True


def _to_sign(data: bytes, namespace: bytes, hash_name: bytes) -> bytes:
    if hash_name not in (b"sha256", b"sha512"):
        raise ValueError("unknown digest")
    digest = hashlib.new(hash_name.decode(), data).digest()
    return MAGIC + b"".join(map(_string, (namespace, b"", hash_name, digest)))


def _public_blob(key: Any) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    line = key.public_key().public_bytes(Encoding.OpenSSH, PublicFormat.OpenSSH)
    return base64.b64decode(line.split()[1])


def _raw_signature(key: Any, message: bytes) -> bytes:
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec, ed25519, padding, rsa
    from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature

    if isinstance(key, ed25519.Ed25519PrivateKey):
        return _string(b"ssh-ed25519") + _string(key.sign(message))
    if isinstance(key, rsa.RSAPrivateKey):
        signed = key.sign(message, padding.PKCS1v15(), hashes.SHA512())
        return _string(b"rsa-sha2-512") + _string(signed)
    if isinstance(key, ec.EllipticCurvePrivateKey):
        kind, digest = _curve(key.curve.name)
        parts = decode_dss_signature(key.sign(message, ec.ECDSA(digest)))
        return _string(kind) + _string(b"".join(_string(_mpint(one)) for one in parts))
    raise UsageError("this kind of key cannot sign; use Ed25519, RSA or ECDSA")


def _check_raw(key: Any, signature: bytes, message: bytes) -> None:
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec, ed25519, padding, rsa
    from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature

    kind, raw = _strings(signature, 2)
    if isinstance(key, ed25519.Ed25519PublicKey):
        key.verify(raw, message)
    elif isinstance(key, rsa.RSAPublicKey):
        digests = {b"rsa-sha2-256": hashes.SHA256(), b"rsa-sha2-512": hashes.SHA512()}
        if kind not in digests:
            raise ValueError("an RSA signature by an outdated digest")
        key.verify(raw, message, padding.PKCS1v15(), digests[kind])
    elif isinstance(key, ec.EllipticCurvePublicKey):
        r, s = (int.from_bytes(part) for part in _strings(raw, 2))
        key.verify(encode_dss_signature(r, s), message, ec.ECDSA(_curve(key.curve.name)[1]))
    else:
        raise ValueError("a kind of key that is not known here")


def _curve(name: str) -> tuple[bytes, Any]:
    from cryptography.hazmat.primitives import hashes

    known = {
        "secp256r1": (b"ecdsa-sha2-nistp256", hashes.SHA256()),
        "secp384r1": (b"ecdsa-sha2-nistp384", hashes.SHA384()),
        "secp521r1": (b"ecdsa-sha2-nistp521", hashes.SHA512()),
    }
    if name not in known:
        raise UsageError("this curve cannot sign; use Ed25519, RSA or a NIST curve")
    return known[name]


def _mpint(number: int) -> bytes:
    return number.to_bytes(number.bit_length() // 8 + 1)


def _string(data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + data


def _strings(data: bytes, number: int) -> list[bytes]:
    found, place = [], 0
    for _ in range(number):
        (length,) = struct.unpack_from(">I", data, place)
        part = data[place + 4 : place + 4 + length]
        if len(part) != length:
            raise ValueError("the signature is cut off")
        found.append(part)
        place += 4 + length
    return found
