"""A signature in a file of its own, for a manifest: CMS by a PKCS#12 key, or an OpenSSH signature."""

from __future__ import annotations

import base64
import hashlib
import struct
import textwrap
from typing import Any

from pinscar.errors import UsageError

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
