"""[report], samples and the logo: what is read, what is refused, and what an issued report lacks."""

from __future__ import annotations

import datetime as dt
import struct
import zlib
from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.folder import hash_inputs
from pinscar.campaign.report_checks import LogoError, missing_for_issue, read_logo
from pinscar.campaign.toml_file import read_toml

SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:x="urn:x" viewBox="0 0 {box}">{inside}</svg>'
REPORT = """
[report]
laboratory = "Example Bench Laboratory"
address = ["12 Mill Lane", "Exampletown"]
place = "bench 2"
customer = ["Example Conveyors", "3 Oven Road"]
number = "2026-014"
issued = 24.4.2026
""".replace("24.4.2026", '"24.4.2026"')


def drawn(folder: Path, inside: str, box: str = "60 20", name: str = "logo.svg") -> Path:
    path = folder / name
    path.write_text(SVG.format(box=box, inside=inside), encoding="utf-8")
    return path


def png(width: int, height: int, rows: bytes | None = None) -> bytes:
    """A grey PNG, written by the parts that its specification names (ISO/IEC 15948)."""

    def part(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    raw = rows if rows is not None else (b"\0" + b"\x80" * width) * height
    return (
        b"\x89PNG\r\n\x1a\n"
        + part(b"IHDR", head)
        + part(b"tEXt", b"Comment\0<script>")
        + part(b"IDAT", zlib.compress(raw))
        + part(b"IEND", b"")
    )


def test_a_logo_is_written_anew_from_what_only_draws(tmp_path: Path) -> None:
    inside = '<title>t</title><x:note on="1"/><g id="a"><path d="M0 0L9 9" style="fill:url(#a)" x:y="1"/></g>'
    logo = read_logo(drawn(tmp_path, inside))
    assert logo.shape == 3.0
    assert b"path" in logo.data
    assert b"url(#a)" in logo.data
    assert [word for word in (b"note", b"urn:x", b"<title") if word in logo.data] == []


@pytest.mark.parametrize(
    "inside",
    [
        "<script>1</script>",
        '<g onload="1"/>',
        '<path d="M0 0" style="fill:url(http://203.0.113.1/x)"/>',
        '<path d="M0 0" fill="url(data:image/png;base64,AA)"/>',
        '<path style="fill:\\75rl(x)"/>',
        '<image href="http://203.0.113.1/x.png"/>',
        '<use href="http://203.0.113.1/x#y"/>',
        '<g><a href="javascript:1"><path d="M0 0"/></a></g>',
        "<foreignObject/>",
        "<animate/>",
        "<style>*{}</style>",
        "<text>A</text>",
        "<g>" * 60 + "</g>" * 60,
        "<g/>" * 6000,
    ],
)
def test_a_drawing_that_could_act_or_fetch_is_refused(tmp_path: Path, inside: str) -> None:
    with pytest.raises(LogoError):
        read_logo(drawn(tmp_path, inside))


@pytest.mark.parametrize("box", ["0 9", "nan 9", "1e9 9", "900 9", "9 900", "9"])
def test_a_drawing_of_no_size_is_refused(tmp_path: Path, box: str) -> None:
    with pytest.raises(LogoError):
        read_logo(drawn(tmp_path, "<g/>", box))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<svg",
        b"\xff\xfe<\x00s\x00v\x00g\x00",
        b'<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"/>',
        b'<!-- <svg --><!DOCTYPE s [<!ENTITY a "b">]>'
        b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"/>',
        b'<html xmlns="http://www.w3.org/1999/xhtml"/>',
        b'<svg viewBox="0 0 9 9"/>' + b" " * 300_000,
    ],
)
def test_what_is_no_plain_drawing_is_refused(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "logo.svg").write_bytes(data)
    with pytest.raises(LogoError):
        read_logo(tmp_path / "logo.svg")


def test_a_picture_loses_what_its_file_holds_beside_its_points(tmp_path: Path) -> None:
    (tmp_path / "logo.png").write_bytes(png(90, 30))
    logo = read_logo(tmp_path / "logo.png")
    assert logo.shape == 3.0
    assert b"script" not in logo.data


@pytest.mark.parametrize(
    "data",
    [b"GIF89a", png(8, 8), png(9000, 9000, b""), png(90, 30, b"\0"), png(90, 30)[:60], b"\0" * 5_000_000],
)
def test_a_picture_that_is_none_too_small_or_too_large_is_refused(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "logo.png").write_bytes(data)
    with pytest.raises(LogoError):
        read_logo(tmp_path / "logo.png")


def test_a_logo_of_another_kind_and_one_that_is_not_there_are_refused(tmp_path: Path) -> None:
    for name in ("logo.gif", "logo.png"):
        with pytest.raises(LogoError):
            read_logo(tmp_path / name)


def with_report(good: Path, text: str = REPORT) -> Path:
    path = good / "campaign.toml"
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")
    return good


def test_what_is_typed_is_read_and_nothing_is_guessed(good: Path) -> None:
    report = read_campaign(with_report(good)).file.report
    assert report is not None
    assert report.issued == dt.date(2026, 4, 24)
    assert report.address == ("12 Mill Lane", "Exampletown")
    assert (report.author, report.approver, report.deviations, report.paper) == (None, None, None, None)


def test_a_logo_of_the_folder_counts_among_its_inputs(good: Path) -> None:
    drawn(good, "<g/>")
    with_report(good, '\n[report]\nlogo = "logo.svg"\n')
    assert "logo.svg" in read_campaign(good).inputs
    assert "logo.svg" in hash_inputs(good)


@pytest.mark.parametrize("name", ["/etc/logo.png", "C:logo.png", "../logo.svg", "link.svg"])
def test_a_logo_outside_is_neither_read_nor_hashed(good: Path, name: str) -> None:
    drawn(good.parent, "<g/>")
    (good / "link.svg").symlink_to(good.parent / "logo.svg")
    with_report(good, f'\n[report]\nlogo = "{name}"\n')
    assert [one.code for one in check_campaign(good)[1]] == ["logo-outside"]
    assert [one for one in hash_inputs(good) if "logo" in one or "link" in one] == []


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("report = 1", "toml-not-a-section"),
        ('[report]\nmethod = "BI-12"', "toml-not-a-section"),
        ("[report]\nissued = 2026-04-24T10:00:00", "toml-not-a-date"),
        ('[report]\nissued = "2026-02-30"', "toml-not-a-date"),
        ("[report]\naddress = []", "toml-not-text"),
        ("[report]\naddress = [1]", "toml-not-text"),
        ('[report]\naddress = ["a", "a", "a", "a", "a", "a", "a", "a", "a"]', "toml-too-long"),
        ('[report]\nlaboratory = ""', "toml-not-text"),
        ("[report]\nrevision = 2.5", "toml-not-text"),
        ('[report]\npaper = "A3"', "toml-not-a-choice"),
        ("[report]\nopinions = [" + '"a", ' * 21 + "]", "toml-too-long"),
        ('[report]\nnumbers = "1"', "toml-key-unknown"),
    ],
)
def test_each_misfit_is_one_line_with_its_place(line: str, code: str) -> None:
    head = '[campaign]\nid = "c"\nreference = "R-10"\n[rig]\ngeometry = "crossed-cylinders"\n'
    sides = 'pin_diameter = "12 mm"\nring_diameter = "40 mm"\n'
    text = f"{line}\n{head}{sides}" if line.startswith("report =") else f"{head}{sides}{line}\n"
    file, problems = read_toml(text)
    assert file is None
    assert [one.code for one in problems] == [code]


def test_a_sample_in_braces_is_named_by_its_line(good: Path) -> None:
    path = good / "campaign.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('id = "C-21"\n', 'id = "C-21"\nsample = { received = "soon" }\n', 1))
    row = path.read_text().splitlines().index('sample = { received = "soon" }') + 1
    (problem,) = check_campaign(good)[1]
    assert (problem.code, problem.row, problem.column) == (
        "toml-not-a-date",
        row,
        "lubricants[2].sample.received",
    )


def test_a_sample_received_after_its_first_run_is_refused(good: Path) -> None:
    path = good / "campaign.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('id = "C-21"\n', 'id = "C-21"\nsample = { received = 2026-03-03 }\n', 1))
    (problem,) = check_campaign(good)[1]
    assert problem.code == "report-date"
    assert "2026-03-02" in problem.message


def test_what_an_issued_report_lacks_is_named_with_its_clause_and_only_that(good: Path) -> None:
    before = missing_for_issue(read_campaign(good))
    after = missing_for_issue(read_campaign(with_report(good)))
    gone = {one.clause for one in before} - {one.clause for one in after}
    assert gone == {"2.1 b", "2.1 c", "2.1 d", "2.1 e", "2.1 j"}
    assert {"2.1 f", "2.1 n", "2.1 o", "2.2", "2.1 g", "2.1 h", "3.1 c"} <= {one.clause for one in after}
    assert all(one.mend for one in after)


def test_a_later_revision_must_name_what_it_replaces_and_why(good: Path) -> None:
    with_report(good, "\n[report]\nrevision = 2\n")
    assert "8.3" in {one.clause for one in missing_for_issue(read_campaign(good))}
    path = good / "campaign.toml"
    path.write_text(path.read_text().replace("revision = 2", 'revision = 2\nreplaces = "7, revision 1"'))
    clauses = {one.clause for one in missing_for_issue(read_campaign(good))}
    assert "8.3" not in clauses
    assert "8.1" in clauses
