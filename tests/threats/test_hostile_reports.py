"""A mailed report with more in it than a report has: verify names it, and reads little of it."""

from __future__ import annotations

import json
import os

import pypdf
import pytest
from fuzz_targets import _report, base_folder
from test_bombs import GIB, SECONDS, alone

from pinscar.press.manifest import sha256
from pinscar.press.signed_files import signatures_beside
from pinscar.press.verify import UnreadablePdfError, attachment_digests, read_manifest, verify_report


@pytest.fixture
def report(tmp_path):
    """The report of a small campaign."""
    folder = base_folder(tmp_path / "campaign") / "report"
    folder.mkdir()
    for name, data in _report().items():
        (folder / name).write_bytes(data)
    return folder


def said_of(report):
    """What verify says, within the bounds of memory and time."""

    def act():
        signed = signatures_beside(report, read_manifest(report))
        return [str(one) for one in [*verify_report(report, report.parent), *signed]]

    said, memory, time = alone(act)
    assert memory < GIB, f"{memory:.0f} MiB"
    assert time < SECONDS, f"{time:.1f} s"
    return said


def large(path, size):
    with path.open("wb") as file:
        file.truncate(size)


@pytest.mark.parametrize("size", [8 * 1024**3, 1024**4])
def test_files_of_any_size_are_named_and_not_read(report, size):
    for name in ("more.bin", "results.json", "manifest.json.sig", "manifest.json.p7s", "report.signed.pdf"):
        large(report / name, size)
    said = said_of(report)
    assert "the report's file more.bin was not there when the report was made" in said
    assert "the report's file results.json differs" in said
    assert sum("too large, and was not read" in line for line in said) == 3


def test_links_and_pipes_are_named_and_not_read(report, tmp_path):
    (tmp_path / "outside").write_bytes((report / "results.json").read_bytes())
    (report / "results.json").unlink()
    for name in ("results.json", "linked.txt", "manifest.json.p7s"):
        (report / name).symlink_to(tmp_path / "outside")
    (report / "around").symlink_to(".")
    os.mkfifo(report / "pipe.txt")
    os.mkfifo(report / "manifest.json.sig")
    said = said_of(report)
    assert "the report's file results.json differs" in said
    for name in ("linked.txt", "around", "pipe.txt"):
        assert f"the report's file {name} was not there when the report was made" in said
    assert sum("was not read" in line for line in said) == 2


def test_a_signed_pdf_of_many_ends(report):
    (report / "report.signed.pdf").write_bytes(b"%%EOF\n" * 3_000_000)
    assert "report.signed.pdf: it is not a signed copy of a file of this report" in said_of(report)


def test_a_signature_that_nests_without_end(report):
    (report / "manifest.json.p7s").write_bytes(b"\x30\x80" * 200_000)
    assert any("cannot be checked as a signature" in line for line in said_of(report))


def test_a_pdf_that_unpacks_to_much(tmp_path):
    writer = pypdf.PdfWriter()
    writer.add_blank_page(10, 10)
    one = writer.add_attachment("runs.csv", b"0" * 70_000_000)
    one._embedded_file._data = one._embedded_file.flate_encode(9)._data
    one._embedded_file[pypdf.generic.NameObject("/Filter")] = pypdf.generic.NameObject("/FlateDecode")
    names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]
    for number in range(50):
        names.append(pypdf.generic.TextStringObject(f"{number}.csv"))
        names.append(names[1])
    writer.write(tmp_path / "a.pdf")
    assert (tmp_path / "a.pdf").stat().st_size < 1_000_000

    def act():
        with pytest.raises(UnreadablePdfError):
            attachment_digests(tmp_path / "a.pdf")
        return ["refused"]

    said, memory, time = alone(act)
    assert said == ["refused"]
    assert memory < GIB
    assert time < SECONDS


def test_a_digest_in_the_manifest_does_not_make_a_link_a_file(report, tmp_path):
    (tmp_path / "outside").write_bytes(b"{}")
    (report / "extra.json").symlink_to(tmp_path / "outside")
    manifest = json.loads((report / "manifest.json").read_text())
    manifest["outputs"]["extra.json"] = sha256(b"{}")
    (report / "manifest.json").write_text(json.dumps(manifest))
    assert "the report's file extra.json differs" in said_of(report)
