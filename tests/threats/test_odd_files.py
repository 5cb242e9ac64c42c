"""Folders, pipes, sockets and dead links where files should be; parameters and paths of templates."""

from __future__ import annotations

import os
import shutil
import socket
from pathlib import Path

import pytest

from pinscar.bench.bench_sheet import codes_of
from pinscar.bench.check import as_read
from pinscar.campaign.campaign import check_campaign, read_settings
from pinscar.campaign.folder import hash_inputs
from pinscar.errors import InputError, Severity, UsageError
from pinscar.press.request import checked_parameters, parse_assignments
from pinscar.press.template import Parameter, read_template
from pinscar.shipped import find_template

NAMES = ("campaign.toml", "runs.csv", "readings.csv", "load_steps.csv", "traces/a.csv", "micrographs/a.png")


def put_folder(path):
    path.mkdir()


def put_dead_link(path):
    path.symlink_to("nothing-here")


def put_pipe(path):
    os.mkfifo(path)


def put_socket(path):
    here = Path.cwd()
    os.chdir(path.parent)  # the path of a socket may have about 100 characters
    try:
        socket.socket(socket.AF_UNIX).bind(path.name)
    finally:
        os.chdir(here)


def put_link_out(path):
    outside = path.parent.parent / "elsewhere" / path.name
    outside.parent.mkdir(exist_ok=True)
    outside.write_text("lubricant,role\noutside-only,candidate\n")
    path.symlink_to(outside)


def put_unreadable(path):
    path.write_bytes(b"")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("put", [put_folder, put_dead_link, put_pipe, put_socket, put_unreadable])
def test_what_is_no_file_ends_in_lines_and_is_not_waited_for(campaign, name, put):
    place = campaign / name
    place.parent.mkdir(exist_ok=True)
    place.unlink(missing_ok=True)
    put(place)
    found, problems = check_campaign(campaign)
    # evidence that is not there is none, and so is an optional table; an empty file has its own words
    optional = "/" in name or name in ("readings.csv", "load_steps.csv")
    if not (optional and put in (put_dead_link, put_folder)) and put is not put_unreadable:
        assert found is None
        assert [one for one in problems if one.severity is Severity.ERROR]
    for one in problems:
        assert "\n" not in str(one)


@pytest.mark.parametrize("name", ["report", "report/manifest.json", ".pinscar-report.lock"])
@pytest.mark.parametrize("put", [put_folder, put_pipe])
def test_what_is_no_file_in_the_place_of_a_report_loses_nothing(reported, name, put, command, templates):
    place = reported / name
    if place.is_dir():
        shutil.rmtree(place)
    place.unlink(missing_ok=True)
    put(place)
    done = command("report", reported, "-t", templates / "plain.ipynb", "--no-pdf")
    assert done.returncode in (0, 2, 4), done.stderr
    assert "Traceback" not in done.stderr
    if done.returncode:
        assert len(done.stderr.splitlines()) == 1
        assert os.path.lexists(place) or name.startswith(".pinscar")


@pytest.mark.parametrize(
    "word",
    ["x=" + "[" * 5000, "x=" + "(" * 5000, "x=9e999", "x=NaN", "x=" + "9" * 5000, "x={1: 2}", "x=b'y'", "y"],
)
def test_a_parameter_that_json_has_no_word_for_is_refused_in_one_line(word):
    declared = {"x": Parameter("x", "NoneType", None)}
    try:
        given = checked_parameters(declared, parse_assignments([word], declared), "t")
    except UsageError as error:
        assert "\n" not in str(error)
    else:
        assert isinstance(given["x"], (str, int))


def test_a_parameter_is_never_run(tmp_path):
    declared = {"x": Parameter("x", "NoneType", None)}
    word = f"__import__('pathlib').Path({str(tmp_path / 'ran')!r}).touch()"
    assert parse_assignments([f"x={word}"], declared) == {"x": word}
    assert not (tmp_path / "ran").exists()


@pytest.mark.parametrize(
    "name", ["../../../etc/passwd", "/etc/passwd", ".", "", "\0", "a" * 5000, "page/base.css"]
)
def test_a_template_that_is_none_is_refused_in_one_line(name):
    with pytest.raises(UsageError) as error:
        read_template(find_template(name))
    assert "\n" not in str(error.value)


def test_a_template_that_is_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "t.ipynb")
    with pytest.raises(UsageError):
        read_template(find_template(str(tmp_path / "t.ipynb")))


@pytest.mark.parametrize("name", ["campaign.toml", "lubricants.csv", "lubricants.xlsx", "blind_key.csv"])
@pytest.mark.parametrize("put", [put_pipe, put_link_out])
def test_what_a_plan_and_a_blind_sheet_read_is_not_waited_for_or_followed_out(campaign, name, put):
    place = campaign / name
    place.unlink(missing_ok=True)
    put(place)
    read = (lambda: codes_of(campaign, ["R-10"], 7)) if name == "blind_key.csv" else None
    with pytest.raises(InputError) as told:
        (read or (lambda: read_settings(campaign)))()
    (problem,) = told.value.problems
    assert problem.code == ("file-not-plain" if put is put_pipe else "link-outside")
    assert "outside-only" not in str(problem)
    if read is None:
        hash_inputs(campaign)
        as_read(campaign)
