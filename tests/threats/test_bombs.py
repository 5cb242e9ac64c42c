"""Small files that unpack to much: each ends in one line, in under 1 GiB and under 20 s of computing.

The bounds of each kind of file stand in `pinscar.campaign.codes`, `pinscar.evidence.sound`,
`pinscar.seen.pictures` and `pinscar.press.json_file`.
"""

from __future__ import annotations

import io
import json
import os
import struct
import zipfile
import zlib
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet
import pytest
import soundfile
from PIL import Image

from pinscar.campaign.campaign import check_campaign
from pinscar.campaign.parquet import unpacked_bytes
from pinscar.decision.recordings import hear_file
from pinscar.errors import InputError, PinscarError, Severity
from pinscar.press.template import read_template
from pinscar.press.verify import read_manifest
from pinscar.seen.pictures import read_picture

GIB = 1024  # MiB
BARE = 150.0
"""Memory of a process that has only loaded the libraries [MiB]."""

SECONDS = 20.0
GOOD = (
    "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped\n"
    "1,R-10,450,60,4.1,2.2,yes\n2,R-10,450,60,4.0,2.1,yes\n"
)
TOML = (
    '[campaign]\nid = "b"\nreference = "R-10"\n[rig]\ngeometry = "crossed-cylinders"\n'
    'pin_diameter = "12 mm"\n'
    'ring_diameter = "40 mm"\nring_speed = "700 rpm"\n'
)


def alone(act):
    """Do something in a process of its own; return what it said, its memory [MiB] and computing time [s]."""
    reading, writing = os.pipe()
    # what this process has already is in the child's too, and is none of its doing
    before = int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1024**2
    pid = os.fork()
    if pid == 0:
        said = "an end without words"
        try:
            said = json.dumps(act())
        except BaseException as error:
            said = json.dumps([f"{type(error).__name__}: {error}"])
        finally:
            os.write(writing, said.encode()[:60_000])
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as stream:
        said = stream.read()
    _, _, used = os.wait4(pid, 0)
    grown = max(0.0, used.ru_maxrss / 1024 - before)
    return json.loads(said), BARE + grown, used.ru_utime + used.ru_stime


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "runs.csv").write_text(GOOD)
    (tmp_path / "campaign.toml").write_text(TOML)
    return tmp_path


def errors(folder):
    """List the lines of the errors of a folder, with the problems' codes."""
    _, problems = check_campaign(folder)
    return [[one.code, str(one)] for one in problems if one.severity is Severity.ERROR]


def refused(folder, codes=("file-too-large",)):
    """Check a folder: one line, of one of these codes, within the bounds."""
    said, memory, time = alone(lambda: errors(folder))
    assert len(said) == 1, said
    code, line = said[0]
    assert code in codes, line
    assert "\n" not in line
    assert len(line) < 500
    assert memory < GIB, f"{memory:.0f} MiB"
    assert time < SECONDS, f"{time:.1f} s"
    return line


def test_a_table_that_is_too_large(folder):
    with (folder / "readings.csv").open("wb") as file:
        file.truncate(65 * 1024 * 1024)
    assert "at most 64 MiB are read" in refused(folder)


def test_a_table_of_too_many_cells(folder):
    (folder / "readings.csv").write_text("run_id,reader,reading,scar_length [mm]\n" + ",,,\n" * 15_000_000)
    assert "more than 1,000,000 cells" in refused(folder)


def test_a_table_of_too_many_columns(folder):
    (folder / "readings.csv").write_text("run_id," + "a," * 5_000_000 + "\n")
    assert "more than 2,000 columns" in refused(folder)


def test_a_cell_without_end(folder):
    (folder / "readings.csv").write_text('run_id,reader\n1,"' + "x" * 60_000_000)
    refused(folder, ("file-too-large", "table-quotes"))


def test_a_settings_file_that_is_too_large(folder):
    (folder / "campaign.toml").write_text(TOML + "# \n" * 100_000)
    assert "at most 0.25 MiB are read" in refused(folder)


@pytest.mark.parametrize(
    "text", ["[" * 100_000, "a = " + "[" * 200_000, "a." * 100_000 + "b = 1", 'a = """' + "x" * 250_000]
)
def test_a_settings_file_that_nests_without_end(folder, text):
    (folder / "campaign.toml").write_text(text)
    refused(folder, ("toml-syntax", "toml-key-unknown", "toml-key-missing"))


def test_a_table_in_which_every_cell_is_wrong(folder):
    (folder / "readings.csv").write_text(
        "run_id,reader,reading,scar_length [mm],scar_width [mm]\n" + "9,a,x,=,-1\n" * 190_000
    )
    said, memory, time = alone(lambda: [len(errors(folder))])
    assert isinstance(said[0], int), said
    assert said[0] < 10_000
    assert memory < GIB
    assert time < SECONDS


def workbook(folder, sheet, **others):
    """Write a workbook with this sheet."""
    import openpyxl

    packed = io.BytesIO()
    book = openpyxl.Workbook()
    book.active.append(["run_id"])
    book.save(packed)
    (folder / "runs.csv").unlink(missing_ok=True)
    with (
        zipfile.ZipFile(packed) as old,
        zipfile.ZipFile(folder / "runs.xlsx", "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for one in old.namelist():
            if one != "xl/worksheets/sheet1.xml":
                new.writestr(one, old.read(one))
        with new.open("xl/worksheets/sheet1.xml", "w") as stream:
            for part in sheet:
                stream.write(part)


SHEET = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'


def test_a_workbook_that_unpacks_to_much(folder):
    workbook(folder, [SHEET, *[b" " * (1 << 20)] * 200])
    assert "more than 48 MiB when unpacked" in refused(folder)


def test_a_workbook_of_millions_of_cells(folder):
    workbook(folder, [SHEET, b"<row>", *[b"<c/>" * 10_000] * 500, b"</row></sheetData></worksheet>"])
    assert "more than 300,000 cells in a sheet" in refused(folder)


def test_a_workbook_of_as_many_cells_as_pass(folder):
    workbook(folder, [SHEET, b"<row>", *[b"<c/>" * 10_000] * 29, b"</row></sheetData></worksheet>"])
    refused(folder, ("file-too-large", "xlsx-unreadable", "file-empty", "column-missing"))


def test_a_workbook_whose_one_cell_is_far_away(folder):
    cell = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>'
    workbook(folder, [SHEET, cell])
    assert "more than 300,000 cells in the sheet" in refused(folder)


@pytest.mark.parametrize("part", ["mergeCells", "hyperlinks"])
def test_a_workbook_with_one_mark_over_all_its_cells(folder, part):
    mark = b'<%s><%s ref="A1:XFD1048576"/></%s>' % (part.encode(), part[:-1].encode(), part.encode())
    cell = b'<row><c t="str"><v>run_id</v></c></row></sheetData>'
    workbook(folder, [SHEET, cell, mark, b"</worksheet>"])
    assert "more than 300,000 cells in a sheet" in refused(folder)


def test_a_workbook_with_entities_in_entities(folder):
    entities = b"".join(
        b'<!ENTITY l%d "%s">' % (n, b"&l%d;" % (n - 1) * 10 if n else b"lol") for n in range(12)
    )
    head = b'<?xml version="1.0"?><!DOCTYPE worksheet [' + entities + b"]>"
    workbook(folder, [head, SHEET, b'<row><c t="str"><v>&l11;</v></c></row></sheetData></worksheet>'])
    assert "defines entities" in refused(folder, ("xlsx-unreadable",))


def test_a_workbook_that_reads_a_file_of_the_person(folder):
    secret = folder / "secret.txt"
    secret.write_text("kept")
    head = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY s SYSTEM "' + secret.as_uri().encode() + b'">]>'
    workbook(folder, [head, SHEET, b'<row><c t="str"><v>&s;</v></c></row></sheetData></worksheet>'])
    assert "kept" not in refused(folder, ("xlsx-unreadable",))


def trace(folder, table, **options):
    """Write a trace of run 1."""
    (folder / "traces").mkdir()
    pyarrow.parquet.write_table(table, folder / "traces" / "1.parquet", **options)
    return folder / "traces" / "1.parquet"


def test_a_parquet_file_of_many_equal_numbers(folder):
    numbers = pa.array(np.zeros(30_000_000))
    path = trace(folder, pa.table({"time [s]": numbers, "friction_force [N]": numbers}), compression="zstd")
    assert path.stat().st_size < 1_000_000
    assert "more than 1,000,000 cells" in refused(folder)


def test_a_parquet_file_with_a_long_text(folder):
    path = trace(
        folder, pa.table({"time [s]": ["x" * 100_000_000]}), compression="zstd", use_dictionary=False
    )
    assert path.stat().st_size < 1_000_000
    assert "more than 48 MiB when unpacked" in refused(folder)


def test_a_parquet_file_that_says_less_of_itself_than_it_holds(folder):
    # The foot is believed for nothing that takes memory: the pages are asked themselves.
    numbers = pa.table({"time [s]": np.arange(5.0), "friction_force [N]": np.arange(5.0)})
    path = trace(folder, numbers, compression="zstd", use_dictionary=False)
    chunk = pyarrow.parquet.ParquetFile(path).metadata.row_group(0).column(0)
    data = bytearray(path.read_bytes())
    start = chunk.data_page_offset
    head = bytes(data[start : start + 4])
    with path.open("rb") as file:
        assert unpacked_bytes(file, start, chunk.total_compressed_size) < 1000
    assert head[:3] == b"\x15\x00\x15", "the type of the page, then its size unpacked"
    # a varint of one byte becomes one of five: the page says 1 GiB
    data[start + 3 : start + 4] = b"\x80\x80\x80\x80\x08"
    path.write_bytes(bytes(data))
    refused(folder, ("parquet-unreadable",))


def wav_head(samples, channels=1, rate=48_000):
    size = samples * channels * 2
    return (
        b"RIFF" + struct.pack("<I", min(size + 36, 0xFFFFFFFF)) + b"WAVEfmt "
        + struct.pack("<IHHIIHH", 16, 1, channels, rate, rate * channels * 2, channels * 2, 16)
        + b"data" + struct.pack("<I", min(size, 0xFFFFFFFF))
    )  # fmt: skip


def heard(path, words):
    """Listen to a recording: it is refused with these words, within the bounds."""
    said, memory, time = alone(lambda: [hear_file(path, 60.0).reason])
    assert len(said) == 1
    assert any(word in said[0] for word in words), said
    assert memory < GIB
    assert time < SECONDS


def test_a_recording_that_is_too_long(tmp_path):
    path = tmp_path / "1.wav"
    with path.open("wb") as file:
        file.write(wav_head(100_000_000))
        file.truncate(200_000_044)  # zeros that take no room on the disk
    heard(path, ["more than 16,000,000 samples"])


def test_a_recording_that_says_more_than_it_holds(tmp_path):
    path = tmp_path / "1.wav"
    path.write_bytes(wav_head(2_000_000_000) + b"\0\0" * 1000)
    heard(path, ["more than 16,000,000 samples", "silence", "no sound", "short", "quiet", "recording"])


def test_another_kind_of_sound_under_the_name_of_a_wav_file(tmp_path):
    soundfile.write(tmp_path / "1.wav", np.zeros(5_000_000), 48_000, format="FLAC")
    heard(tmp_path / "1.wav", ["this is a FLAC file"])


def png(width, height, rows=b""):
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows, 9))
        + chunk(b"IEND", b"")
    )


def seen(path, words):
    """Read a picture: it is refused with these words, within the bounds."""

    def act():
        try:
            return [str(read_picture(path).shape)]
        except InputError as error:
            return [str(one) for one in error.problems]

    said, memory, time = alone(act)
    assert len(said) == 1
    assert any(word in said[0] for word in words), said
    assert memory < GIB
    assert time < SECONDS


@pytest.mark.parametrize("size", [(6001, 4000), (20_000, 20_000), (2**31 - 1, 2**31 - 1), (1, 30_000_000)])
def test_a_picture_of_too_many_points(tmp_path, size):
    (tmp_path / "1.png").write_bytes(png(*size))
    seen(tmp_path / "1.png", ["at most 24,000,000 are read", "can't be read as a picture"])


def test_a_picture_of_as_many_points_as_pass(tmp_path):
    (tmp_path / "1.png").write_bytes(png(6000, 4000, (b"\0" + bytes(18_000)) * 4000))
    seen(tmp_path / "1.png", ["(4000, 6000, 3)"])


def test_a_picture_with_a_text_that_unpacks_to_much(tmp_path):
    data = b"k\0\0" + zlib.compress(b"x" * 50_000_000, 9)
    text = struct.pack(">I", len(data)) + b"zTXt" + data + struct.pack(">I", zlib.crc32(b"zTXt" + data))
    whole = png(10, 10, (b"\0" + bytes(30)) * 10)
    (tmp_path / "1.png").write_bytes(whole[:33] + text + whole[33:])
    seen(tmp_path / "1.png", ["can't be read as a picture", "(10, 10, 3)"])


def test_a_program_under_the_name_of_a_picture(tmp_path):
    # Some readers hand this kind to an interpreter, which runs it.
    told = tmp_path / "ran"
    (tmp_path / "1.png").write_text(
        f"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n({told}) (w) file closefile\n"
    )
    seen(tmp_path / "1.png", ["can't be read as a picture"])
    assert not told.exists()


def test_a_picture_of_many_pictures(tmp_path):
    frames = [Image.new("L", (50, 50), n) for n in range(200)]
    frames[0].save(tmp_path / "1.tif", save_all=True, append_images=frames[1:])
    seen(tmp_path / "1.tif", ["the file holds 200 pictures"])


@pytest.mark.parametrize(
    "text", ["[" * 3_000_000, '{"a":' * 1_000_000, '{"schema": ' + "9" * 5_000_000 + "}"]
)
def test_a_manifest_or_a_notebook_that_nests_without_end(tmp_path, text):
    (tmp_path / "manifest.json").write_text(text)
    (tmp_path / "t.ipynb").write_text(text)

    def act():
        found = []
        for read in (lambda: read_manifest(tmp_path), lambda: read_template(tmp_path / "t.ipynb")):
            try:
                read()
            except PinscarError as error:
                found.append(str(error))
        return found

    said, memory, time = alone(act)
    assert len(said) == 2
    assert max(map(len, said)) < 500
    assert memory < GIB
    assert time < SECONDS


def test_a_manifest_that_is_too_large(tmp_path):
    with (tmp_path / "manifest.json").open("wb") as file:
        file.truncate(17 * 1024 * 1024)
    with pytest.raises(PinscarError, match="cannot be read as the manifest"):
        read_manifest(tmp_path)


def test_a_film_that_unpacks_to_hours_of_sound(tmp_path):
    import av

    with av.open(str(tmp_path / "1.flac"), "w") as box:
        stream = box.add_stream("flac", rate=48_000, layout="stereo")
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 2 * 48_000), np.int16), format="s16", layout="stereo")
        frame.sample_rate = 48_000
        for second in range(600):  # silence: 57.6 million samples in some hundred kilobytes
            frame.pts = second * 48_000
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))
    heard(tmp_path / "1.flac", ["more than 16,000,000 samples"])


def test_a_list_of_other_files_under_the_name_of_a_film(tmp_path):
    (tmp_path / "1.mp4").write_text("ffconcat version 1.0\nfile /etc/hostname\n")
    heard(tmp_path / "1.mp4", ["not readable as mp4"])
