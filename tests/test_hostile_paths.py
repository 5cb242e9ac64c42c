"""Nothing in a campaign folder leads out of it: no link, no path, neither reading nor writing."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from pinscar.bench.gather import gather
from pinscar.bench.prepare import new_campaign
from pinscar.bench.readings_file import save_reading
from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.folder import hash_inputs
from pinscar.campaign.scar_readings import Reading
from pinscar.errors import PinscarError, RunError, Severity
from pinscar.press.files import locked, put_file


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    """Another campaign of the person's, which the mailed one is after."""
    new_campaign(tmp_path / "secret", "conveyor_07")
    return tmp_path / "secret"


def codes(folder: Path) -> list[tuple[str, str]]:
    campaign, problems = check_campaign(folder)
    assert campaign is None
    return [(one.code, one.file) for one in problems if one.severity is Severity.ERROR]


TABLES = ("runs.csv", "campaign.toml", "readings.csv", "load_steps.csv", "graticule.csv")


@pytest.mark.parametrize("name", TABLES)
def test_a_table_that_is_a_link_to_elsewhere_is_not_read(campaign, secret, name):
    (campaign / name).unlink(missing_ok=True)
    (campaign / name).symlink_to(secret / "runs.csv")
    assert codes(campaign) == [("link-outside", name)]
    assert name not in hash_inputs(campaign)


@pytest.mark.parametrize("whole_folder", [True, False])
@pytest.mark.parametrize("kind", ["traces", "sound", "micrographs", "fling"])
def test_evidence_that_is_a_link_to_elsewhere_is_not_read(campaign, secret, kind, whole_folder):
    if whole_folder:
        (campaign / kind).symlink_to(secret / kind)
    else:
        (campaign / kind).mkdir()
        for path in (secret / kind).iterdir():
            (campaign / kind / path.name).symlink_to(path)
    found = codes(campaign)
    assert {code for code, _ in found} == {"link-outside"}
    assert len(found) == (1 if whole_folder else len(list((secret / kind).iterdir())))
    assert set(hash_inputs(campaign)) == {"campaign.toml", "runs.csv"}


def test_a_link_that_stays_in_the_folder_is_followed(campaign):
    (campaign / "kept.csv").write_bytes((campaign / "runs.csv").read_bytes())
    (campaign / "runs.csv").unlink()
    (campaign / "runs.csv").symlink_to("kept.csv")
    assert len(read_campaign(campaign).runs) > 0


@pytest.mark.parametrize("name", ["runs.csv", "campaign.toml", "micrographs/a.png", "traces/a.csv"])
def test_a_pipe_or_a_device_is_named_and_not_waited_for(campaign, name):
    (campaign / name).unlink(missing_ok=True)
    (campaign / name).parent.mkdir(exist_ok=True)
    os.mkfifo(campaign / name)
    assert codes(campaign) == [("file-not-plain", name)]


def test_a_link_in_a_circle_leads_nowhere(campaign):
    (campaign / "runs.csv").unlink()
    (campaign / "runs.csv").symlink_to("runs.csv")
    assert codes(campaign) == [("link-outside", "runs.csv")]


@pytest.mark.parametrize("place", ["{secret}", "../secret", "inner/../../secret", "linked", "C:\\\\secret"])
def test_another_campaign_is_not_read_as_control(campaign, secret, place):
    (campaign / "inner").mkdir()
    (campaign / "linked").symlink_to(secret)
    toml = campaign / "campaign.toml"
    line = f'[campaign]\ncontrol = ["{place.format(secret=secret)}"]'
    toml.write_text(toml.read_text().replace("[campaign]", line, 1))
    assert codes(campaign) == [("control-outside", "campaign.toml")]
    assert set(hash_inputs(campaign)) == {"campaign.toml", "runs.csv"}


def test_a_root_that_the_person_names_is_the_limit(campaign, secret, command, templates, tmp_path):
    toml = campaign / "campaign.toml"
    toml.write_text(toml.read_text().replace("[campaign]", '[campaign]\ncontrol = ["../secret"]', 1))
    assert command("check", campaign).returncode == 1
    assert command("check", campaign, "--root", campaign / "inner").returncode == 1
    assert command("check", campaign, "--root", tmp_path).returncode == 0
    words = ("--template", templates / "plain.ipynb", "--no-pdf", "--root", tmp_path)
    done = command("report", campaign, *words)
    assert (done.returncode, done.stderr) == (0, "")
    assert command("verify", campaign / "report", "--root", tmp_path).returncode == 0
    for path in (campaign / "report").iterdir():
        assert str(tmp_path).encode() not in path.read_bytes(), path.name


def test_nothing_is_written_through_a_link(campaign, secret):
    precious = secret / "runs.csv"
    before = precious.read_bytes()
    for name in ("readings.csv", ".pinscar-report.lock", "runs_gathered.csv", ".pinscar-runs.csv"):
        (campaign / name).symlink_to(precious)
    with pytest.raises(RunError, match="is a link"), locked(campaign / "report"):
        pass
    (campaign / ".pinscar-report.lock").unlink()
    reading = Reading("a-01", "A. Reader", 0.003, 0.002)
    with pytest.raises(RunError, match="leads out of the campaign folder"):
        save_reading(campaign, reading, ["a-01"])
    with pytest.raises(PinscarError):
        gather(campaign)
    put_file(campaign / "runs_gathered.csv", b"mine")
    assert (campaign / "runs_gathered.csv").read_bytes() == b"mine"
    assert precious.read_bytes() == before
    assert not (campaign / "runs_gathered.csv").is_symlink()


def test_the_report_embeds_no_picture_from_elsewhere(secret, command, tmp_path):
    folder = tmp_path / "mailed"
    shutil.copytree(secret, folder)
    picture = next((folder / "micrographs").iterdir())
    picture.unlink()
    picture.symlink_to(next((secret / "micrographs").iterdir()))
    done = command("report", folder, "--no-pdf")
    assert done.returncode == 1
    assert done.stderr.splitlines() == [
        f"{folder}: micrographs/{picture.name}: this is a link that leads out of the campaign folder, and it "
        "is not followed; copy what it leads to into the folder, or name a folder around both: --root"
    ]
    assert not (folder / "report").exists()
