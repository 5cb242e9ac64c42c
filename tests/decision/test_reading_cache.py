"""Readings of evidence that are kept: the same, by content; nothing of a stranger's is believed."""

from __future__ import annotations

import dataclasses
import os
import pickle
import shutil
from pathlib import Path

import numpy as np
import pytest

from pinscar.decision import evidence, reading_cache, recordings
from pinscar.decision.evidence import see_card, see_scar
from pinscar.decision.reading_cache import FOLDER, PLACE, WANTED, from_plain, kept, to_plain
from pinscar.evidence.sound import QuietHeard
from pinscar.press.handover import KEEP, announce
from pinscar.shipped import shipped_folder

DEMO = shipped_folder("data_demo") / "conveyor_07"
HEARD = QuietHeard(
    accepted=True,
    reason="",
    quiet_time=41.0,
    low=40.5,
    high=41.5,
    confidence=0.95,
    contrast=9.0,
    noise_level=-20.0,
    quiet_level=-31.0,
    scrape_share=0.4,
    level=None,
)


@pytest.fixture(autouse=True)
def person(tmp_path, monkeypatch):
    """A person with a key of their own, in a process of a report."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv(WANTED, "1")
    monkeypatch.delenv(PLACE, raising=False)
    reading_cache.own_key.cache_clear()
    yield
    reading_cache.own_key.cache_clear()


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "c" / "sound").mkdir(parents=True)
    (tmp_path / "c" / "sound" / "1.wav").write_bytes(b"RIFF")
    return tmp_path / "c"


def heard(folder, reading=HEARD, settings=(("duration", 60.0),)):
    """Ask for the recording, and tell what came and whether it was read."""
    read = []

    def look():
        read.append(1)
        return reading

    return kept(folder, folder / "sound" / "1.wav", "sound", dict(settings), look), bool(read)


def entries(folder):
    return sorted(path for path in (folder / FOLDER).iterdir() if path.name != ".gitignore")


def same(one, other):
    if dataclasses.is_dataclass(one):
        assert type(one) is type(other)
        for part in dataclasses.fields(one):
            same(getattr(one, part.name), getattr(other, part.name))
    elif isinstance(one, np.ndarray):
        assert (one.dtype, one.shape) == (other.dtype, other.shape)
        assert one.tobytes() == other.tobytes()
    elif isinstance(one, tuple | list):
        assert len(one) == len(other)
        for pair in zip(one, other, strict=True):
            same(*pair)
    else:
        assert type(one) is type(other)
        assert one == other or (one != one and other != other)


def test_it_is_read_once_per_content_and_settings(folder):
    assert heard(folder) == (HEARD, True)
    assert heard(folder) == (HEARD, False)
    assert heard(folder, settings=(("duration", 61.0),)) == (HEARD, True)
    (folder / "sound" / "1.wav").write_bytes(b"RIFX")
    assert heard(folder) == (HEARD, True)
    assert len(entries(folder)) == 3


def test_other_code_reads_anew(folder, monkeypatch):
    heard(folder)
    monkeypatch.setattr(reading_cache, "version", lambda: "another")
    assert heard(folder) == (HEARD, True)


def test_readings_of_real_evidence_come_back_to_the_last_bit(tmp_path, monkeypatch):
    folder = tmp_path / "c"
    names = [next(iter(sorted((DEMO / kind).iterdir()))) for kind in ("micrographs", "fling", "sound")]
    for path in names:
        (folder / path.parent.name).mkdir(parents=True)
        shutil.copy(path, folder / path.parent.name)
    scar, card, sound = (folder / path.parent.name / path.name for path in names)
    run = {"run_id": "1", "scar_length": 0.004, "scar_width": 0.002, "micrograph_scale": 1e-5}

    def all_three():
        return (
            see_scar(scar, run, keep=True, folder=folder),
            see_card(card, run, (0.15, 0.1), folder=folder),
            kept(folder, sound, "sound", {}, lambda: recordings.hear_file(sound, 60.0)),
        )

    first = all_three()
    assert len(entries(folder)) == 3
    assert max(path.stat().st_size for path in entries(folder)) < 2_000_000
    for module, name in (
        (evidence, "measure_scar"), (evidence, "read_fling_card"), (recordings, "hear_quiet")
    ):  # fmt: skip
        monkeypatch.setattr(module, name, None)
    again = all_three()
    same(first, again)
    assert first[0].pixels is not None


@pytest.mark.parametrize("harm", ["byte", "head", "short", "empty", "swapped"])
def test_a_damaged_entry_is_read_anew_and_rebuilt(folder, harm):
    heard(folder)
    (place,) = entries(folder)
    data = bytearray(place.read_bytes())
    if harm == "swapped":
        heard(folder, dataclasses.replace(HEARD, quiet_time=7.0), settings=(("duration", 9.0),))
        (other,) = (path for path in entries(folder) if path != place)
        data = bytearray(other.read_bytes())
    else:
        data[{"byte": -30, "head": 0}.get(harm, 0)] ^= 1
        data = data[: {"short": 40, "empty": 0}.get(harm, len(data))]
    place.write_bytes(bytes(data))
    assert heard(folder) == (HEARD, True)
    assert heard(folder) == (HEARD, False)


class Hostile:
    """Writes a file when it is unpickled."""

    def __init__(self, place: Path) -> None:
        self.place = place

    def __reduce__(self):
        return (Path.touch, (self.place,))


def test_an_entry_of_a_stranger_is_neither_believed_nor_taken_apart(folder, tmp_path, monkeypatch):
    # a mailed folder with a whole cache in it, made with the stranger's key
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "stranger"))
    reading_cache.own_key.cache_clear()
    heard(folder, dataclasses.replace(HEARD, quiet_time=3.0))
    (place,) = entries(folder)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    reading_cache.own_key.cache_clear()
    assert heard(folder) == (HEARD, True)
    ran = tmp_path / "ran"
    place.write_bytes(pickle.dumps(Hostile(ran)))
    assert heard(folder) == (HEARD, True)
    assert not ran.exists()


def test_a_poisoned_entry_of_ones_own_changes_no_report_made_again(folder, monkeypatch, tmp_path):
    # whoever has the key can write a false number: a report made again reads the evidence itself
    false = dataclasses.replace(HEARD, quiet_time=3.0)
    heard(folder, false)
    assert heard(folder)[0] == false
    monkeypatch.delenv(WANTED)
    assert heard(folder) == (HEARD, True)
    (tmp_path / KEEP).touch()
    announce(tmp_path)
    assert os.environ[WANTED] == "1"
    (tmp_path / KEEP).unlink()
    announce(tmp_path)
    assert WANTED not in os.environ


def test_a_file_that_is_changed_and_put_back_while_it_is_read_is_not_kept(folder):
    file = folder / "sound" / "1.wav"

    def look():
        before = file.read_bytes()
        file.write_bytes(b"other")
        file.write_bytes(before)
        return HEARD

    kept(folder, file, "sound", {}, look)
    assert not (folder / FOLDER).exists()


def test_links_are_not_followed_and_a_folder_that_cannot_be_written_keeps_nothing(folder, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (folder / FOLDER).symlink_to(tmp_path / "elsewhere")
    assert heard(folder) == (HEARD, True)
    assert not list((tmp_path / "elsewhere").iterdir())
    (folder / FOLDER).unlink()
    (folder / FOLDER).write_text("a file")
    assert heard(folder) == (HEARD, True)


def test_another_place_and_no_place_for_a_key(folder, tmp_path, monkeypatch):
    monkeypatch.setenv(PLACE, str(tmp_path / "mine"))
    heard(folder)
    assert heard(folder) == (HEARD, False)
    assert not (folder / FOLDER).exists()
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "file"))
    reading_cache.own_key.cache_clear()
    assert heard(folder) == (HEARD, True)


def test_the_key_is_its_owners_alone_and_halves_of_killed_writers_go(folder, tmp_path):
    heard(folder)
    key = tmp_path / "data" / "pinscar" / "cache.key"
    assert key.stat().st_mode & 0o077 == 0
    assert [path.name for path in key.parent.iterdir()] == ["cache.key"]
    half = folder / FOLDER / "x.half"
    half.write_bytes(b"half")
    os.utime(half, (1e9, 1e9))
    heard(folder, settings=(("duration", 2.0),))
    assert not half.exists()


@pytest.mark.parametrize("name", ["os:system", "pinscar.decision.evidence:Path", "pinscar.decision.no:X", ""])
def test_only_records_of_readings_are_made(name):
    with pytest.raises(ValueError, match="no record"):
        from_plain({"record": name, "parts": {}})
    with pytest.raises(ValueError, match="no record"):
        from_plain({"other": 1})


def test_plain_forms_keep_types():
    value = [True, 1, 0.1, "x", None, (np.float64(0.1), np.int64(3), np.bool_(True)), {"a": np.arange(3.0)}]
    same(value[:6], from_plain(to_plain(value))[:6])
    with pytest.raises(TypeError):
        to_plain(object())
