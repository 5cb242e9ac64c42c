"""A report that came by mail chooses nothing that is run: its manifest names a template, and that is all."""

from __future__ import annotations

import json
import shutil

import pytest

from pinscar.bench.prepare import new_campaign
from pinscar.press.build import build_reports
from pinscar.press.manifest import manifest_digest
from pinscar.press.request import make_requests
from pinscar.press.template import read_template


@pytest.fixture(scope="module")
def mailed(templates, tmp_path_factory):
    """A campaign with its report, and beside it a notebook that leaves a mark where it is run."""
    folder = tmp_path_factory.mktemp("mail") / "campaign"
    new_campaign(folder)
    notebook = json.loads((templates / "plain.ipynb").read_text())
    notebook["cells"][1]["source"] = ["open(folder + '/ran', 'w').close()\n", *notebook["cells"][1]["source"]]
    (folder / "evil.ipynb").write_text(json.dumps(notebook))
    template = read_template(folder / "evil.ipynb")
    assert (
        build_reports(
            make_requests([folder], template, {}, out=None, pdf=False, timeout=60), [], 1, lambda _: None
        )
        == 0
    )
    (folder / "ran").unlink()
    return folder


def name_template(folder, **template):
    """Write a template into the manifest and make it agree with itself again."""
    path = folder / "report" / "manifest.json"
    manifest = json.loads(path.read_text())
    manifest["template"] |= template
    manifest["digest"] = manifest_digest(manifest)
    path.write_text(json.dumps(manifest))


@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize(
    "name", ["{folder}/evil.ipynb", "evil.ipynb", "./evil", "../campaign/evil.ipynb", "evil"]
)
def test_no_notebook_that_the_manifest_names_is_run(command, mailed, tmp_path, name, inside):
    folder = tmp_path / "campaign"
    shutil.copytree(mailed, folder)
    name_template(folder, name=name.format(folder=folder))
    done = command("verify", folder / "report", "--rerun", cwd=folder if inside else tmp_path)
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert "does not come with pinscar and is not run; look at the notebook that you trust" in line
    assert not (folder / "ran").exists()


def test_a_template_of_pinscar_with_another_digest_is_not_run(command, mailed, tmp_path):
    folder = tmp_path / "campaign"
    shutil.copytree(mailed, folder)
    name_template(folder, name="campaign_report", sha256="0" * 64)
    done = command("verify", folder / "report", "--rerun")
    assert done.returncode == 3
    assert done.stderr.splitlines()[0] == (
        "the template campaign_report of this pinscar is not the one that the report was made with, so it "
        "was not made again; look at the notebook that you trust, and give it with --template"
    )
    assert "the template campaign_report differs" in done.stderr


def test_the_person_may_name_the_notebook_and_is_told_what_runs(command, mailed, tmp_path):
    folder = tmp_path / "campaign"
    shutil.copytree(mailed, folder)
    done = command("verify", folder / "report", "--rerun", "--template", folder / "evil.ipynb")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[0] == f"running {folder / 'evil.ipynb'}"
    assert (folder / "ran").exists()


@pytest.mark.parametrize(
    "given", [{"folders": 3}, {"folders": [3]}, [], {"confidence": "high"}, {"no_such": 1}]
)
def test_parameters_of_a_manifest_are_checked_like_those_typed(command, mailed, tmp_path, given):
    folder = tmp_path / "campaign"
    shutil.copytree(mailed, folder)
    path = folder / "report" / "manifest.json"
    manifest = json.loads(path.read_text()) | {"given": given}
    manifest["digest"] = manifest_digest(manifest)
    path.write_text(json.dumps(manifest))
    done = command("verify", folder / "report", "--rerun", "--template", folder / "evil.ipynb")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert not (folder / "ran").exists()
