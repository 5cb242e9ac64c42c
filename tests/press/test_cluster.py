"""Reports made on a cluster: whole, the same bytes, made again once where a worker is lost."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from pinscar.bench.prepare import new_campaign
from pinscar.child import ChildDiedError
from pinscar.press import cluster as clusters
from pinscar.press.cluster import Maker, pack, unpack
from pinscar.press.request import make_requests
from pinscar.press.template import read_template

TOOLKIT = Path(clusters.__file__).resolve().parents[2]


def digests(report):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(report.iterdir())}


def message(folder, templates, scratch):
    template = read_template(templates / "plain.ipynb")
    (one,) = make_requests([folder], template, {}, out=None, pdf=False, timeout=60)
    return one.as_message(scratch)


def test_a_parcel_holds_all_that_is_read_and_names_what_is_told_of(campaign, templates, tmp_path):
    shutil.copytree(campaign, tmp_path / "earlier")
    settings = (campaign / "campaign.toml").read_text()
    (campaign / "campaign.toml").write_text(
        settings.replace("[campaign]", '[campaign]\nhistory = ["../earlier"]')
    )
    (campaign / "sound").mkdir()
    (campaign / "sound" / "1.txt").write_text("no recording")
    (campaign / "run.csv").write_text("nearly a table")
    os.environ["PINSCAR_ROOT"] = str(tmp_path)
    try:
        parcel = pack(message(campaign, templates, tmp_path), [])
    finally:
        del os.environ["PINSCAR_ROOT"]
    assert {"campaign.toml", "runs.csv", "../earlier/runs.csv"} <= set(parcel.inputs)
    assert parcel.files["sound/1.txt"] == parcel.files["run.csv"] == b""
    assert parcel.rooted
    (tmp_path / "there").mkdir()
    folder, template = unpack(parcel, tmp_path / "there")
    assert (folder / "runs.csv").read_bytes() == (campaign / "runs.csv").read_bytes()
    assert (folder / ".." / "earlier" / "campaign.toml").read_text() == settings
    assert template.read_bytes() == (templates / "plain.ipynb").read_bytes()


def test_a_parcel_writes_nothing_outside_its_folder(campaign, templates, tmp_path):
    parcel = pack(message(campaign, templates, tmp_path), [])
    parcel.files["../../../../outside"] = b"x"
    (tmp_path / "there").mkdir()
    with pytest.raises(ValueError, match="leads out"):
        unpack(parcel, tmp_path / "there")


class OneByOne:
    """A cluster whose workers are lost as often as it is told."""

    stopped = False

    def __init__(self, lost):
        self.lost, self.asked = lost, []

    def place(self):
        import contextlib

        return contextlib.nullcontext(f"worker {len(self.asked)}")

    def make(self, address, parcel):
        self.asked.append(address)
        return None if len(self.asked) <= self.lost else {"reply": {"status": 2, "errors": ["said"]}}


@pytest.mark.parametrize("lost", [0, 1, 2])
def test_a_campaign_of_a_lost_worker_is_made_again_once(campaign, templates, tmp_path, lost):
    away = OneByOne(lost)
    ask = lambda: Maker(away, []).ask(message(campaign, templates, tmp_path))  # noqa: E731
    if lost == 2:
        with pytest.raises(ChildDiedError, match="lost with its worker"):
            ask()
    else:
        assert ask()["errors"] == ["said"]
    assert len(away.asked) == min(lost + 1, 2)


def test_a_report_that_is_not_whole_is_not_put_in_place(campaign, templates, tmp_path):
    asked = message(campaign, templates, tmp_path)
    parcel = pack(asked, [])
    files = {"report.html": b"page", "manifest.json": json.dumps({"outputs": {"report.html": "0"}}).encode()}
    with pytest.raises(clusters.RunError, match="not whole"):
        clusters._received({"reply": {"status": 0}, "files": files, "failed": None}, asked, parcel)
    assert not (tmp_path / "report").exists()


def test_no_cluster_is_one_line(command, campaign):
    done = command("report", campaign, "--cluster", "tcp://127.0.0.1:1", "--no-pdf")
    assert (done.returncode, done.stderr) == (4, "no cluster answers at tcp://127.0.0.1:1\n")
    assert command("report", campaign, "--cluster", "x", "--jobs", 2).returncode == 2


@pytest.fixture
def started(tmp_path):
    """Start processes of a cluster on loopback, each the leader of a group, and end them all."""
    running = []
    place = tmp_path / "scheduler.json"
    short = Path(tempfile.mkdtemp(dir="/tmp"))  # the names of sockets may not be long

    def start(kind, name, *words, **env):
        folder = short / name
        folder.mkdir()
        with (folder / "log").open("wb") as log:
            running.append(
                subprocess.Popen(
                    [sys.executable, "-m", f"distributed.cli.dask_{kind}", "--scheduler-file", place,
                     "--no-dashboard", *words],
                    cwd=folder, stdout=log, stderr=log, start_new_session=True,
                    env={**os.environ, "TMPDIR": str(folder), **env},
                )
            )  # fmt: skip
        return running[-1], folder

    def scheduler():
        start("scheduler", "scheduler", "--host", "127.0.0.1", "--port", "0")
        for _ in range(600):
            if place.exists():
                return json.loads(place.read_text())["address"]
            time.sleep(0.1)
        raise AssertionError((short / "scheduler" / "log").read_text())

    def worker(name, **env):
        return start(
            "worker",
            name,
            "--host",
            "127.0.0.1",
            "--nthreads",
            "1",
            "--no-nanny",
            "--local-directory",
            ".",
            **env,
        )

    yield scheduler, worker
    for process in running:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    shutil.rmtree(short)


def many(tmp_path, count):
    folders = [tmp_path / f"c{number}" for number in range(count)]
    for folder in folders:
        new_campaign(folder)
    return folders


def at_work(folder, wait=120.0):
    """Wait until a worker of the cluster has begun a report."""
    end = time.monotonic() + wait
    while time.monotonic() < end:
        if list(folder.glob("pinscar-*/owner.lock")):
            return
        time.sleep(0.05)
    raise AssertionError("the worker has begun nothing")


@pytest.mark.slow
def test_two_workers_one_killed_half_way(command, started, templates, tmp_path):
    scheduler, worker = started
    address = scheduler()
    (first, at_first), (_, at_second) = worker("first"), worker("second")
    folders = many(tmp_path, 4)
    (folders[2] / "runs.csv").unlink()  # one that fails, and stops no other
    words = ("report", *folders, "--no-pdf", "-t", templates / "plain.ipynb")
    process = command.start(*words, "--cluster", address)
    at_work(at_first)
    os.kill(first.pid, signal.SIGKILL)
    out, err = process.communicate(timeout=600)
    assert process.returncode == 1, err
    assert "runs.csv" in err
    lines = out.splitlines()
    assert lines[-1] == "4 campaigns, 1 failed"
    assert [line.split()[0] for line in lines[-5:-1]] == [str(folder) for folder in folders]
    there = [digests(folder / "report") for number, folder in enumerate(folders) if number != 2]
    here = command("report", folders[0], "--no-pdf", "-q", "-t", templates / "plain.ipynb")
    assert (here.returncode, here.stderr) == (0, "")
    assert there == [digests(folders[0] / "report")] * 3
    assert not (folders[2] / "report").exists()
    for folder in folders:
        assert not list(folder.glob(".pinscar*"))
    assert not list(at_second.glob("pinscar-*"))
    for _ in range(100):  # what the killed worker had started has ended with it
        if not subprocess.run(["pgrep", "-f", str(at_first)], capture_output=True, check=False).stdout:
            break
        time.sleep(0.1)
    else:
        raise AssertionError("the killed worker left processes")


@pytest.mark.slow
def test_a_worker_of_other_code_is_refused(command, started, campaign, templates, tmp_path):
    scheduler, worker = started
    address = scheduler()
    shutil.copytree(TOOLKIT / "pinscar", tmp_path / "other" / "pinscar")
    for name in ("templates", "data_demo"):
        (tmp_path / name).symlink_to(TOOLKIT.parent / name)
    with (tmp_path / "other" / "pinscar" / "wording.py").open("a") as stream:
        stream.write("# another\n")
    worker("first", PYTHONPATH=str(tmp_path / "other"))
    words = ("report", campaign, "--no-pdf", "-t", templates / "plain.ipynb", "--cluster", address)
    done = command(*words)
    assert done.returncode == 4
    assert "no worker that can be used" in done.stderr
    assert "its code of pinscar is another" in done.stderr
    assert not (campaign / "report").exists()
    worker("second")
    done = command(*words)
    assert done.returncode == 0, done.stderr
    assert "was not used: its code of pinscar is another" in done.stderr
    assert (campaign / "report" / "manifest.json").exists()
