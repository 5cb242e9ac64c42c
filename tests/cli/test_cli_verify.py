"""`pinscar verify` names what differs, and only that."""

from __future__ import annotations

import json

import pytest

from pinscar.bench.prepare import new_campaign
from pinscar.press.build import build_reports
from pinscar.press.request import make_requests
from pinscar.press.template import read_template


@pytest.fixture(scope="module")
def made(templates, tmp_path_factory):
    folder = tmp_path_factory.mktemp("verify") / "campaign"
    new_campaign(folder)
    template = read_template(templates / "plain.ipynb")
    requests = make_requests([folder], template, {}, out=None, pdf=False, timeout=60)
    told = []
    assert build_reports(requests, template.modules, 1, told.append) == 0, told
    return folder


@pytest.fixture
def copy(made, tmp_path):
    import shutil

    shutil.copytree(made, tmp_path / "campaign")
    return tmp_path / "campaign"


def change_byte(path):
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))


def change_manifest(folder, **changes):
    path = folder / "report" / "manifest.json"
    manifest = json.loads(path.read_text())
    for key, value in changes.items():
        manifest[key] = {**manifest[key], **value} if isinstance(value, dict) else value
    path.write_text(json.dumps(manifest))


def verified(command, folder, *words):
    done = command("verify", folder / "report", *words)
    return done.returncode, done.stderr.splitlines()


def test_an_untouched_report_agrees(command, made):
    assert verified(command, made) == (0, [])


@pytest.mark.parametrize("name", ["report.html", "report.ipynb", "results.json"])
def test_a_changed_output_is_named(command, copy, name):
    change_byte(copy / "report" / name)
    assert verified(command, copy) == (3, [f"the report's file {name} differs"])


@pytest.mark.parametrize("name", ["runs.csv", "campaign.toml"])
def test_a_changed_input_is_named(command, copy, name):
    change_byte(copy / name)
    assert verified(command, copy) == (3, [f"the input {name} differs"])


def test_missing_and_added_files_are_named(command, copy):
    (copy / "report" / "results.json").unlink()
    (copy / "report" / "note.txt").write_text("mine")
    (copy / "load_steps.csv").write_text("run_id,start [s],load [N]\n")
    assert verified(command, copy) == (
        3,
        [
            "the report's file results.json is missing",
            "the report's file note.txt was not there when the report was made",
            "the input load_steps.csv was not there when the report was made",
        ],
    )


def test_another_version_is_named_with_both(command, copy):
    change_manifest(copy, versions={"numpy": "1.0.0"}, platform={"machine": "m68k"})
    status, lines = verified(command, copy)
    assert status == 3
    assert lines[0] == "the manifest differs"
    assert any(
        line.startswith("the version of numpy is ") and line.endswith("made with 1.0.0") for line in lines
    )
    assert any(
        line.startswith("the platform's machine is ") and line.endswith("made with m68k") for line in lines
    )
    assert len(lines) == 3


def test_a_changed_manifest_does_not_pass(command, copy):
    change_manifest(copy, parameters={"confidence": 0.5})
    assert verified(command, copy) == (3, ["the manifest differs"])


def test_json_names_kind_and_both_values(command, copy):
    change_byte(copy / "runs.csv")
    done = command("verify", copy / "report", "--json")
    assert (done.returncode, done.stderr) == (3, "")
    (difference,) = json.loads(done.stdout)["differences"]
    assert (difference["kind"], difference["name"], len(difference["expected"])) == ("input", "runs.csv", 64)
    assert difference["found"] != difference["expected"]


def test_a_report_elsewhere_needs_its_campaign(command, copy, tmp_path):
    (copy / "report").rename(tmp_path / "moved")
    done = command("verify", tmp_path / "moved")
    assert done.returncode == 2
    assert done.stderr.splitlines() == [
        f"{tmp_path} holds no campaign.toml; give the campaign folder with --campaign"
    ]
    assert command("verify", tmp_path / "moved", "--campaign", copy).returncode == 0


@pytest.mark.parametrize(
    "text", [None, "not json", '{"schema": "other/1"}', '{"schema": "pinscar.manifest/1"}']
)
def test_what_is_no_report_is_refused(command, copy, text):
    manifest = copy / "report" / "manifest.json"
    manifest.unlink()
    if text is not None:
        manifest.write_text(text)
    status, lines = verified(command, copy)
    assert (status, len(lines)) == (2, 1)
