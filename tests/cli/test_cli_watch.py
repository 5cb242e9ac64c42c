"""`report --watch`, `--quiet`, `doctor`, completion and the examples of each help."""

from __future__ import annotations

import json
import os
import select
import shlex
import signal

import pytest
import typer

from pinscar.bench import doctor
from pinscar.cli import main as cli
from pinscar.cli.options import EXAMPLES
from pinscar.errors import RunError
from pinscar.press import watch
from pinscar.press.request import make_requests
from pinscar.press.template import read_template
from pinscar.shipped import find_template


def next_line(stream, seconds=120):
    """The next line that a process prints; a process that prints nothing fails the test."""
    ready, _, _ = select.select([stream], [], [], seconds)
    assert ready, "nothing was printed"
    return stream.readline()


def test_watch_makes_the_report_again_when_a_file_changes(command, campaign, templates):
    process = command.start("report", campaign, "-t", templates / "plain.ipynb", "--no-pdf", "--watch")
    try:
        assert next_line(process.stdout) == f"{campaign}/report: made, 1 warning\n"
        runs = campaign / "runs.csv"
        runs.write_text(runs.read_text() + "\n")
        assert next_line(process.stdout) == f"{campaign}/report: made again (runs.csv changed), 1 warning\n"
        runs.unlink()
        assert "runs.csv" in next_line(process.stderr)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    finally:
        process.kill()
    assert (process.returncode, out) == (130, "")
    assert err.splitlines()[-1] == "interrupted"
    assert (campaign / "report" / "report.html").is_file()
    assert [path.name for path in campaign.iterdir() if path.name.startswith(".pinscar-")] == []


def test_watch_has_no_json(command, campaign):
    done = command("report", campaign, "--no-pdf", "--watch", "--json")
    assert (done.returncode, done.stdout) == (2, "")


@pytest.fixture
def watched(campaign):
    template = read_template(find_template("campaign_report"))
    requests = make_requests([campaign], template, {}, out=None, pdf=False, timeout=60)
    return watch.Watched(requests, [campaign])


def test_a_touched_file_is_no_change(watched, campaign):
    os.utime(campaign / "runs.csv", (1, 1))
    assert watched.changed(0.01) == []


def test_changes_are_named_once(watched, campaign):
    (campaign / "runs.csv").write_bytes((campaign / "runs.csv").read_bytes() + b"\n")
    assert watched.changed(0.01) == [f"{campaign.as_posix()}/runs.csv"]
    assert watched.changed(0.01) == []


def test_the_report_itself_is_no_input(watched, campaign):
    (campaign / "report").mkdir()
    (campaign / "report" / "report.html").write_text("new")
    assert watched.changed(0.01) == []


def test_new_and_lost_files_count(watched, campaign):
    (campaign / "readings.csv").write_text("run_id,reader,scar_length [mm]\n")
    assert [name.rpartition("/")[2] for name in watched.changed(0.01)] == ["readings.csv"]
    (campaign / "readings.csv").unlink()
    assert [name.rpartition("/")[2] for name in watched.changed(0.01)] == ["readings.csv"]


def test_watching_makes_it_first_and_then_only_after_a_change(watched, campaign):
    made = []

    def make(names):
        made.append(len(names))
        if len(made) == 1:
            (campaign / "runs.csv").write_bytes((campaign / "runs.csv").read_bytes() + b"\n")

    watch.watch(watched, make, pause=0.01, looks=4)
    assert made == [0, 1]


def test_quiet_prints_nothing_but_errors(command, campaign, templates):
    done = command("report", campaign, "-t", templates / "plain.ipynb", "--no-pdf", "--quiet")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (campaign / "report" / "report.html").is_file()
    (campaign / "runs.csv").unlink()
    done = command("report", campaign, "-t", templates / "plain.ipynb", "--no-pdf", "-q")
    assert (done.returncode, done.stdout) == (1, "")
    assert "runs.csv" in done.stderr


def test_doctor_looks_at_everything_and_starts_a_kernel(command, tmp_path):
    done = command("doctor", "--json", cwd=tmp_path)
    record = json.loads(done.stdout)
    checks = {one["name"]: one for one in record["checks"]}
    assert {"python", "numpy", "weasyprint", "fonts", "Pango", "kernel", "shipped files"} <= checks.keys()
    assert checks["kernel"]["ok"], checks["kernel"]
    assert checks["fonts"]["found"] == "Pinscar Text"
    assert f"room in {tmp_path}" in checks
    assert record["status"] == done.returncode == (0 if all(c["ok"] for c in checks.values()) else 4)
    assert list(tmp_path.iterdir()) == []


def test_doctor_says_what_is_missing_and_how_to_mend_it(monkeypatch, capsys):
    def lacking():
        raise RunError("the PDF needs Pango; install it")

    def dead(private):
        raise RunError("the kernel was killed by SIGKILL")

    monkeypatch.setattr("pinscar.page.pdf.require_pango", lacking)
    monkeypatch.setattr("pinscar.press.manifest.PACKAGES", ("numpy", "no-such-package"))
    monkeypatch.setattr(doctor, "run_probe", dead)
    assert cli.run(["doctor"]) == 4
    told = capsys.readouterr()
    missing = told.err.splitlines()
    assert [line.split(": ")[1] for line in missing] == ["no-such-package", "Pango", "kernel"]
    assert missing[0] == "missing: no-such-package: not installed; pip install no-such-package"
    assert "killed by SIGKILL" in missing[2]
    assert any(line.startswith("ok: numpy: ") for line in told.out.splitlines())


def test_doctor_finds_a_lost_font(monkeypatch, tmp_path):
    monkeypatch.setattr("pinscar.page.fonts.FontStyle.file", lambda self, suffix: tmp_path / f"lost.{suffix}")
    found = doctor.fonts()
    assert not found.ok
    assert "lost.ttf" in found.found


def test_doctor_finds_a_full_disk(monkeypatch, tmp_path):
    monkeypatch.setattr("pinscar.press.files.ROOM", 1 << 62)
    assert not doctor.room(tmp_path).ok
    monkeypatch.undo()
    assert doctor.room(tmp_path).ok
    assert not doctor.room(tmp_path / "absent").ok


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_the_shell_completes_commands(command, shell):
    words = {"_PINSCAR_COMPLETE": f"complete_{shell}", "COMP_WORDS": "pinscar re", "COMP_CWORD": "1"}
    done = command(env={**words, "_TYPER_COMPLETE_ARGS": "pinscar re"})
    assert done.returncode == 0
    assert "report" in done.stdout
    assert "verify" not in done.stdout


def commands():
    return typer.main.get_command(cli.app).commands


def test_every_command_has_examples():
    assert set(EXAMPLES) == set(commands())


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_help_shows_examples_that_the_command_understands(name, capsys):
    assert cli.run([name, "--help"]) == 0
    said = capsys.readouterr().out
    for line in EXAMPLES[name]:
        assert f"  {line}\n" in said
        program, called, *words = shlex.split(line)
        assert (program, called) == ("pinscar", name)
        found = commands()[name].make_context(name, words)
        assert found.params
