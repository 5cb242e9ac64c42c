"""Scratch folder, lock, replacement: whatever is cut short, the report is the older or the newer, whole."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

from pinscar.errors import UsageError
from pinscar.press import files as replace
from pinscar.press.files import check_place, locked, replace_folder, scratch_folder, sweep

TOOLKIT = Path(replace.__file__).resolve().parents[2]
KILLED = """
import os, sys
from pathlib import Path
sys.path.insert(0, {toolkit!r})
from pinscar.press import files as replace
replace.exchange = lambda one, other: False
rename, calls = Path.rename, []
def stop_at(self, target):
    calls.append(target)
    if len(calls) > {renames}:
        os._exit(9)
    return rename(self, target)
Path.rename = stop_at
replace.replace_folder(Path({new!r}), Path({out!r}))
"""


def folder_with(path: Path, text: str) -> Path:
    path.mkdir(parents=True)
    (path / "report.html").write_text(text)
    (path / "results.json").write_text(text)
    return path


def texts(path: Path) -> list[str]:
    return [file.read_text() for file in sorted(path.iterdir())]


@pytest.mark.parametrize("exchange", [True, False], ids=["exchange", "two-renames"])
def test_a_replacement_is_whole_and_leaves_nothing(tmp_path, monkeypatch, exchange):
    if not exchange:
        monkeypatch.setattr(replace, "exchange", lambda one, other: False)
    out = folder_with(tmp_path / "report", "old")
    with scratch_folder(out) as scratch:
        replace_folder(folder_with(scratch / "report", "new"), out)
    assert texts(out) == ["new", "new"]
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


@pytest.mark.skipif(sys.platform != "linux", reason="renameat2 is Linux's")
def test_linux_exchanges_in_one_step(tmp_path):
    one, other = folder_with(tmp_path / "one", "1"), folder_with(tmp_path / "other", "2")
    assert replace.exchange(one, other)
    assert (texts(one), texts(other)) == (["2", "2"], ["1", "1"])


@pytest.mark.parametrize(("renames", "expected"), [(0, "old"), (1, "old"), (2, "new")])
def test_a_run_killed_between_renames_is_mended(tmp_path, renames, expected):
    out = folder_with(tmp_path / "report", "old")
    new = folder_with(tmp_path / ".pinscar-report-abcdefgh" / "report", "new")
    code = KILLED.format(toolkit=str(TOOLKIT), renames=renames, new=str(new), out=str(out))
    done = subprocess.run([sys.executable, "-c", code], check=False)
    assert done.returncode == (0 if renames == 2 else 9)
    assert out.exists() == (renames != 1)
    sweep(out)
    assert texts(out) == [expected, expected]
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


def test_a_sweep_touches_nothing_else(tmp_path):
    kept = [
        ".pinscar-report-2-abcdefgh",
        ".pinscar-other-abcdefgh",
        ".pinscar-report.lock",
        "pinscar-report-abcdefgh",
    ]
    for name in [*kept, ".pinscar-report-abcdefgh"]:
        (tmp_path / name).mkdir()
    sweep(tmp_path / "report")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(kept)


def test_a_scratch_folder_goes_with_an_error(tmp_path):
    with pytest.raises(KeyError), scratch_folder(tmp_path / "report") as scratch:
        (scratch / "half").write_text("")
        raise KeyError
    assert list(tmp_path.iterdir()) == []


def test_a_lock_is_free_again_and_its_file_gone(tmp_path):
    for _ in range(2):
        with locked(tmp_path / "report"):
            assert [path.name for path in tmp_path.iterdir()] == [".pinscar-report.lock"]
    assert list(tmp_path.iterdir()) == []


def test_two_reports_in_one_parent_do_not_block_each_other(tmp_path):
    with locked(tmp_path / "one"), locked(tmp_path / "other"):
        pass


def test_a_link_in_the_place_of_a_report_is_refused(tmp_path):
    folder_with(tmp_path / "real", "mine")
    (tmp_path / "report").symlink_to(tmp_path / "real")
    with pytest.raises(UsageError, match="is a link"):
        check_place(tmp_path / "report")


def test_an_empty_folder_may_become_a_report(tmp_path):
    check_place(tmp_path)


def report_in(folder, **others):
    """A report as pinscar leaves it, and other files."""
    page = b"<p>Met.</p>"
    outputs = {"report.html": hashlib.sha256(page).hexdigest()}
    manifest = {"schema": "pinscar.manifest/1", "outputs": outputs}
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "report.html").write_bytes(page)
    (folder / "manifest.json").write_text(json.dumps(manifest))
    for name, data in others.items():
        (folder / name).write_text(data)
    return folder


def test_a_report_of_ours_may_be_replaced_with_what_an_editor_left_in_it(tmp_path):
    report = report_in(tmp_path / "report")
    check_place(report)
    (report / ".DS_Store").write_bytes(b"\0")
    (report / ".ipynb_checkpoints").mkdir()
    check_place(report)


FOREIGN = {
    "a web project": {"manifest.json": '{"name": "shop", "start_url": "/"}', "index.html": "mine"},
    "a manifest of ours alone": {"manifest.json": '{"schema": "pinscar.manifest/1"}', "notes.txt": "mine"},
    "no JSON": {"manifest.json": "mine", "notes.txt": "mine"},
    "deep JSON": {"manifest.json": "[" * 100_000, "notes.txt": "mine"},
    "no manifest": {"notes.txt": "mine"},
}


@pytest.mark.parametrize("files", FOREIGN.values(), ids=list(FOREIGN))
def test_a_folder_that_is_no_report_of_ours_is_never_replaced(tmp_path, files):
    for name, data in files.items():
        (tmp_path / name).write_text(data)
    with pytest.raises(UsageError, match="holds no report"):
        check_place(tmp_path)


def test_a_file_that_a_person_put_into_a_report_is_never_lost(tmp_path):
    report = report_in(tmp_path / "report", **{"signed.pdf": "scan"})
    with pytest.raises(UsageError, match=r"signed\.pdf is no part of the report and would be lost"):
        check_place(report)


def test_a_page_that_a_person_changed_is_never_lost(tmp_path):
    report = report_in(tmp_path / "report", **{"report.html": "<p>Met, I think.</p>"})
    with pytest.raises(UsageError, match=r"report\.html is not as the report left it"):
        check_place(report)


@pytest.mark.parametrize("place", ["micrographs", "traces/report", "sound/a/b"])
def test_an_evidence_folder_is_no_place_for_a_report(tmp_path, place):
    (tmp_path / "campaign.toml").write_text("")
    with pytest.raises(UsageError, match="holds the evidence of a campaign"):
        check_place(tmp_path / place)
