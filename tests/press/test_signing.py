"""Signatures: on the signature line, over the report's own bytes, checked by programs that are not ours."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pypdf
import pytest

pytest.importorskip("pyhanko")
pytest.importorskip("cryptography")

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    pkcs12,
)

from pinscar.cli import main as cli
from pinscar.page.pdf import html_to_pdf
from pinscar.press.manifest import sha256
from pinscar.press.signatures import read_ssh, sign_ssh, signature_place
from pinscar.press.signed_files import signatures_beside
from pinscar.press.signing import ASK_FOR
from pinscar.press.verify import is_signature

PAGE = """<html lang='en'><title>Record</title><h1>Release record</h1><p>Author of all this: nobody.</p>
<table><thead><tr><th>Role</th><th>Name</th><th>Signature</th></tr></thead>
<tbody><tr><th>Author</th><td>A. B.</td><td></td></tr>
<tr><th>Approver</th><td>C. D.</td><td></td></tr></tbody>
</table>"""


def certificate(name: str, key: Any) -> x509.Certificate:
    who = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    return (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(dt.datetime(2020, 1, 1, tzinfo=dt.UTC))
        .not_valid_after(dt.datetime(2100, 1, 1, tzinfo=dt.UTC))
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )


@pytest.fixture
def key(tmp_path: Path) -> Path:
    own = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    cert = certificate("A. Bench", own)
    (tmp_path / "ca.pem").write_bytes(cert.public_bytes(Encoding.PEM))
    path = tmp_path / "me.p12"
    path.write_bytes(
        pkcs12.serialize_key_and_certificates(b"me", own, cert, None, BestAvailableEncryption(b"geheim"))
    )
    return path


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that looks like a record to the signatures: a PDF and a manifest that has its digest."""
    monkeypatch.setenv(ASK_FOR, "geheim")
    folder = tmp_path / "record"
    folder.mkdir()
    pdf = html_to_pdf(PAGE, title="Record", campaign_id="c-1")
    (folder / "report.pdf").write_bytes(pdf)
    (folder / "manifest.json").write_text(
        json.dumps({"outputs": {"report.pdf": sha256(pdf)}}), encoding="utf-8"
    )
    return folder


def found(record: Path, trust: Path | None = None) -> list[tuple[bool, str]]:
    manifest = json.loads((record / "manifest.json").read_text(encoding="utf-8"))
    return [(one.good, one.said) for one in signatures_beside(record, manifest, trust)]


@pytest.mark.pdf
def test_two_people_sign_on_their_lines_and_the_record_stays_as_it_was(record: Path, key: Path) -> None:
    before = (record / "report.pdf").read_bytes()
    assert cli.run(["sign", str(record / "report.pdf"), "--key", str(key), "--as", "author"]) == 0
    assert cli.run(["sign", str(record), "--key", str(key), "--as", "approver"]) == 0
    signed = (record / "report.signed.pdf").read_bytes()
    assert (record / "report.pdf").read_bytes() == before
    assert signed.startswith(before)
    both = found(record)
    assert [good for good, _ in both] == [True, True]
    assert both[0][1].startswith("signed as author by A. Bench on 20")
    assert "over report.pdf as it was made" in both[1][1]
    # the fields stand to the right of the names, each on its line, below the word Signature
    fields = {
        one["/T"]: [float(side) for side in one["/Rect"]]
        for page in pypdf.PdfReader(record / "report.signed.pdf").pages
        for one in page.get("/Annots", [])
        if one.get_object().get("/FT") == "/Sig"
    }
    author, approver = fields["signature-author"], fields["signature-approver"]
    assert author[1] > approver[1]
    assert author[0] == approver[0] > 60
    for role, box in (("author", author), ("approver", approver)):
        assert signature_place(before, role).on_line
        assert list(signature_place(before, role).box) == box


@pytest.mark.pdf
def test_another_program_finds_the_signature_valid(record: Path, key: Path) -> None:
    if shutil.which("pdfsig") is None:
        pytest.skip("pdfsig of poppler is not installed")
    assert cli.run(["sign", str(record), "--key", str(key)]) == 0
    told = subprocess.run(
        ["pdfsig", record / "report.signed.pdf"], capture_output=True, text=True, check=False
    )
    assert "Signature is Valid" in told.stdout
    assert "ETSI.CAdES.detached" in told.stdout
    assert "Total document signed" in told.stdout


@pytest.mark.pdf
def test_a_changed_byte_and_a_foreign_pdf_are_told(record: Path, key: Path) -> None:
    assert cli.run(["sign", str(record), "--key", str(key)]) == 0
    path = record / "report.signed.pdf"
    whole = path.read_bytes()
    (date,) = [match.end() for match in re.finditer(rb"/M \(D(?::|\\072)20\d{11}", whole)]
    for place in (date, len(whole) - 60):  # the time of signing, and the file's structure
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        assert [good for good, _ in found(record)] == [False]
    path.write_bytes(html_to_pdf(PAGE.replace("nobody", "somebody"), title="R", campaign_id="c-1"))
    assert found(record) == [(False, "it is not a signed copy of a file of this report")]


@pytest.mark.pdf
def test_who_vouches_for_the_signer_is_checked_where_it_is_asked(
    record: Path, key: Path, tmp_path: Path
) -> None:
    assert cli.run(["sign", str(record), "--key", str(key)]) == 0
    assert found(record, tmp_path / "ca.pem")[0][0]
    other = certificate("Somebody else", rsa.generate_private_key(public_exponent=65537, key_size=2048))
    (tmp_path / "other.pem").write_bytes(other.public_bytes(Encoding.PEM))
    good, said = found(record, tmp_path / "other.pem")[0]
    assert not good
    assert "does not vouch" in said


@pytest.mark.pdf
def test_a_manifest_signed_by_pkcs12_is_checked_by_openssl_too(
    record: Path, key: Path, tmp_path: Path
) -> None:
    assert cli.run(["sign", str(record), "--key", str(key), "--detached"]) == 0
    assert found(record)[0][0]
    if shutil.which("openssl"):
        words = [
            "openssl",
            "cms",
            "-verify",
            "-binary",
            "-inform",
            "DER",
            "-in",
            record / "manifest.json.p7s",
        ]
        words += ["-content", record / "manifest.json", "-CAfile", tmp_path / "ca.pem", "-purpose", "any"]
        done = subprocess.run(words, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
    text = (record / "manifest.json").read_text(encoding="utf-8")
    (record / "manifest.json").write_text(text + " ", encoding="utf-8")
    assert not found(record)[0][0]


@pytest.mark.parametrize("kind", ["ed25519", "rsa", "ecdsa"])
def test_an_openssh_signature_is_checked_by_ssh_keygen_too(kind: str, tmp_path: Path) -> None:
    own: Any = {
        "ed25519": ed25519.Ed25519PrivateKey.generate,
        "rsa": lambda: rsa.generate_private_key(public_exponent=65537, key_size=2048),
        "ecdsa": lambda: ec.generate_private_key(ec.SECP256R1()),
    }[kind]()
    data = b'{"schema": "a manifest"}\n'
    text = sign_ssh(data, own)
    assert read_ssh(text, data)[1]
    assert not read_ssh(text, data + b" ")[1]
    if shutil.which("ssh-keygen") is None:
        pytest.skip("ssh-keygen is not installed")
    public = own.public_key().public_bytes(Encoding.OpenSSH, PublicFormat.OpenSSH).decode()
    (tmp_path / "allowed").write_text(f"me {public}\n", encoding="ascii")
    (tmp_path / "data.sig").write_text(text, encoding="ascii")
    words = ["ssh-keygen", "-Y", "verify", "-f", tmp_path / "allowed", "-I", "me", "-n", "file"]
    done = subprocess.run([*words, "-s", tmp_path / "data.sig"], input=data, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert read_ssh(text, data)[0].encode() in done.stdout


def test_an_openssh_key_signs_the_manifest_and_not_the_pdf(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = ed25519.Ed25519PrivateKey.generate()
    path = tmp_path / "id"
    path.write_bytes(own.private_bytes(Encoding.PEM, PrivateFormat.OpenSSH, NoEncryption()))
    assert cli.run(["sign", str(record), "--key", str(path)]) == 2
    assert "an OpenSSH key signs with --detached" in capsys.readouterr().err
    assert cli.run(["sign", str(record), "--key", str(path), "--detached"]) == 0
    assert found(record)[0][0]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--key", "nowhere.p12"), "the key nowhere.p12 cannot be read"),
        (("--key", "record/manifest.json"), "cannot be opened as a PKCS#12 key"),
        (("--key", "me.p12", "--as", "owner"), "is no role"),
    ],
)
def test_what_cannot_be_signed_is_one_line(
    words: tuple[str, ...], said: str, record: Path, key: Path, monkeypatch: Any, capsys: Any
) -> None:
    monkeypatch.chdir(record.parent)
    assert cli.run(["sign", "record", *words]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert len(told.splitlines()) == 1
    assert sorted(path.name for path in record.iterdir()) == ["manifest.json", "report.pdf"]


def test_signatures_are_told_from_files_that_do_not_belong() -> None:
    assert is_signature("manifest.json.sig")
    assert not is_signature("notes.txt")
