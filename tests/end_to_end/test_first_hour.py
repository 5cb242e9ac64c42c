"""The first hour of a new user: from an empty folder to a signed record, with tables typed the German way."""

from __future__ import annotations

import json
import shlex
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from german_tables import Typed, typed_runs, write_csv, write_xlsx

from pinscar.campaign.campaign import check_campaign
from pinscar.cli import main as cli

NEW = ("--reference", "R-10", "--candidates", "H 1; H 2", "--load", "450, 600, 750 N", "--repeats", "4")


@pytest.fixture
def started(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> tuple[Path, list[Typed]]:
    """A campaign folder just made, and the runs that were made after it."""
    folder = tmp_path / "Frühjahr 26"
    assert cli.run(["new", str(folder), *NEW, "--film-pressure", "60 N/mm2", "--yes"]) == 0
    told = capsys.readouterr().out
    assert shlex.split(told.splitlines()[-1].partition("pinscar ")[2]) == ["check", str(folder)]
    assert cli.run(["check", str(folder)]) == 1
    assert capsys.readouterr().out.endswith("36 runs still to be made; nothing else is wrong\n")
    return folder, typed_runs(folder / "runs.csv")


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_what_was_typed_is_read_as_it_was_meant(
    kind: str, started: tuple[Path, list[Typed]], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, runs = started
    (folder / "runs.csv").unlink()
    if kind == "csv":
        write_csv(runs, folder / "runs.csv")
    else:
        write_xlsx(runs, folder / "runs.xlsx")
    assert cli.run(["check", str(folder), "--show"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert "36 runs, 3 lubricants, 3 load levels, 0 excluded; ready to report" in told.out
    assert "day.month.year" in told.out
    campaign, problems = check_campaign(folder)
    assert problems == []
    assert campaign is not None
    frame = campaign.runs
    assert frame["lubricant"].tolist() == [run.lubricant for run in runs]
    assert frame["load"].tolist() == pytest.approx([run.load_n for run in runs], rel=1e-12)
    assert frame["duration"].tolist() == pytest.approx([60.0] * 36, rel=1e-12)
    assert frame["scar_length"].tolist() == pytest.approx([run.length_mm / 1e3 for run in runs], rel=1e-12)
    assert frame["scar_width"].tolist() == pytest.approx([run.width_mm / 1e3 for run in runs], rel=1e-12)
    # 700 turns a minute in rad/s
    assert frame["ring_speed"].tolist() == pytest.approx([700 * 6.283185307179586 / 60] * 36, rel=1e-12)
    assert frame["wear_stopped"].tolist() == [run.stopped for run in runs]
    assert [moment.to_pydatetime() for moment in frame["run_at"]] == [run.at for run in runs]
    assert frame["ambient_temperature"].tolist() == pytest.approx(
        [run.room_c + 273.15 for run in runs], rel=1e-12
    )
    assert frame["smoke"].tolist() == [run.smoke for run in runs]
    assert frame["operator"].tolist() == ["Käte"] * 36
    quiet = [run.quiet_s for run in runs]
    assert [None if one != one else round(one, 6) for one in frame["quiet_time"]] == quiet


def test_a_mistake_in_every_row_is_one_line(
    started: tuple[Path, list[Typed]], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, runs = started
    write_csv(runs, folder / "runs.csv")
    text = (folder / "runs.csv").read_bytes().decode("cp1252")
    text = text.replace(";ja;", ";vielleicht;").replace(";nein;", ";vielleicht;", 3)
    (folder / "runs.csv").write_bytes(text.replace(";1,0;", ";eine Minute;").encode("cp1252"))
    assert cli.run(["check", str(folder)]) == 1
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) <= 3
    assert any("D2:D37, 36 cells, duration [min]" in line for line in lines)


@pytest.mark.pdf
def test_the_whole_chain_ends_in_a_signed_record(
    started: tuple[Path, list[Typed]],
    tmp_path: Path,
    command: Callable[..., subprocess.CompletedProcess[str]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pytest.importorskip("pyhanko")
    folder, runs = started
    planned = command("plan", folder, "--log-sd", "0.08", "--repeats", "4", "--no-pdf")
    assert (planned.returncode, planned.stderr) == (0, "")
    sheet = command("sheet", folder, "--blind")
    assert (sheet.returncode, sheet.stderr) == (0, "")
    runs = typed_runs(folder / "runs.csv")
    (folder / "runs.csv").unlink()
    write_xlsx(runs, folder / "runs.xlsx")
    record = tmp_path / "record"
    words = ("-t", "release_record", "-o", record, "-p", "author=A. B.", "-p", "author_date=2026-03-04")
    made = command("report", folder, *words, "--zip")
    assert (made.returncode, made.stderr) == (0, "")
    results = json.loads((record / "results.json").read_text(encoding="utf-8"))
    assert {one["lubricant"] for one in results["runs"]} == {"R-10", "H 1", "H 2"}
    assert len(results["criteria"]) == 6

    key = tmp_path / "me.p12"
    key.write_bytes(_key())
    monkeypatch.setenv("PINSCAR_KEY_PASSPHRASE", "geheim")
    signed = command("sign", record, "--key", key, "--as", "author")
    assert (signed.returncode, signed.stderr) == (0, "")
    checked = command("verify", record, "--campaign", folder)
    assert (checked.returncode, checked.stderr) == (0, "")
    assert "report.signed.pdf: signed as author by A. B. on" in checked.stdout
    assert "data, files and versions agree" in checked.stdout

    # what was signed is refused when the campaign's data are changed afterwards
    write_xlsx(runs[::-1], folder / "runs.xlsx")
    changed = command("verify", record, "--campaign", folder)
    assert changed.returncode == 3
    assert "the input runs.xlsx differs" in changed.stderr


def _key() -> bytes:
    import datetime as dt

    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import rsa
    from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, pkcs12

    own = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    who = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "A. B.")])
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(own.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(dt.datetime(2020, 1, 1, tzinfo=dt.UTC))
        .not_valid_after(dt.datetime(2100, 1, 1, tzinfo=dt.UTC))
        .add_extension(usage, critical=True)
        .sign(own, hashes.SHA256())
    )
    return pkcs12.serialize_key_and_certificates(
        b"me", own, certificate, None, BestAvailableEncryption(b"geheim")
    )
