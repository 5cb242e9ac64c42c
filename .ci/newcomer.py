"""A newcomer's first hour on an empty machine, with the README alone: from a checkout to a release record.

Every command is taken from README.md as it stands there. The newcomer answers the questions of `pinscar new`
in a terminal, types the runs into the table, and the author's name into the record; what comes out is
looked at after each step.
"""

from __future__ import annotations

import csv
import json
import os
import pty
import re
import select
import shlex
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ANSWERS = {
    "Title of the campaign": "Hoist-chain oils, first look (invented)",
    "Reference oil": "R-1",
    "Candidate oils": "C-1",
    "Load in N": "450 N",
    "Film pressure that": "80 MPa",
}
"""What the newcomer types where the question begins so; Enter everywhere else."""

KEY = """
import datetime as dt
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import NoEncryption, pkcs12
own = rsa.generate_private_key(public_exponent=65537, key_size=2048)
who = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "A. B.")])
usage = x509.KeyUsage(True, True, *[False] * 7)
made = x509.CertificateBuilder(who, who, own.public_key(), x509.random_serial_number())
made = made.not_valid_before(dt.datetime(2020, 1, 1)).not_valid_after(dt.datetime(2100, 1, 1))
made = made.add_extension(usage, critical=True).sign(own, hashes.SHA256())
data = pkcs12.serialize_key_and_certificates(b"me", own, made, None, NoEncryption())
open("me.p12", "wb").write(data)
"""
"""Makes the key that the newcomer signs with."""

SCARS_MM = {"R-1": (3.34, 1.82), "C-1": (2.86, 1.56)}
SPREAD = (0.012, -0.008, 0.004, -0.015, 0.009, -0.002)


def blocks(heading: str) -> list[str]:
    """Return the command blocks under a heading of the README."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = re.split(r"^## ", text.split(f"\n## {heading}\n")[1], flags=re.MULTILINE)[0]
    return re.findall(r"^```\n(.*?)^```", section, flags=re.MULTILINE | re.DOTALL)


def commands(block: str) -> list[str]:
    """Return the commands of a block, a line each, without what is said about them."""
    return [re.sub(r"\s+#.*", "", line) for line in block.splitlines() if line.strip()]


def run(command: str, folder: Path, env: dict[str, str], status: int = 0) -> str:
    """Run a line in a shell and expect its exit status."""
    print(f"$ {command}", flush=True)
    done = subprocess.run(
        ["bash", "-c", command], cwd=folder, env=env, capture_output=True, text=True, check=False
    )
    print(done.stdout[-1500:] + done.stderr[-1500:], end="", flush=True)
    if done.returncode != status:
        raise SystemExit(f"{command}: ended with {done.returncode}, not {status}")
    return done.stdout + done.stderr


def answer(command: str, folder: Path, env: dict[str, str]) -> None:
    """Run a command that asks questions, in a terminal, and answer them."""
    print(f"$ {command}", flush=True)
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(folder)
        os.execvpe("bash", ["bash", "-c", command], env)
    said = ""
    while True:
        if not select.select([terminal], [], [], 60)[0]:
            os.kill(child, signal.SIGKILL)
            raise SystemExit(f"{command}: waits for something that was not foreseen:\n{said}")
        try:
            piece = os.read(terminal, 4096).decode(errors="replace")
        except OSError:
            break
        if not piece:
            break
        said += piece
        if said.endswith("]: "):
            asked = said.rsplit("\n", 1)[-1].strip()
            typed = next((text for start, text in ANSWERS.items() if asked.startswith(start)), "")
            os.write(terminal, f"{typed}\n".encode())
    print(said, flush=True)
    if os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]):
        raise SystemExit(f"{command}: did not end well")


def type_runs(table: Path) -> None:
    """Fill in the table of runs as a person does after each run."""
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for number, row in enumerate(rows):
        factor = 1 + SPREAD[number % len(SPREAD)]
        length, width = SCARS_MM[row["lubricant"]]
        day, hour = divmod(number, 4)
        row |= {
            "scar_length [mm]": f"{length * factor:.2f}",
            "scar_width [mm]": f"{width * factor:.2f}",
            "wear_stopped": "yes",
            "quiet_time [s]": f"{38 * factor:.0f}",
            "run_at": f"2026-03-{day + 2:02d}T{9 + hour:02d}:10",
            "operator": "AB",
            "ring_id": "G-1",
            "pin_state": "new",
        }
    with table.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def main() -> None:
    """Walk the README's way."""
    work = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp(prefix="pinscar-newcomer-"))
    checkout = work / "pinscar"
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(checkout)], check=True)
    subprocess.run([sys.executable, "-m", "venv", str(work / "venv")], check=True)
    env = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "PINSCAR"))}
    env |= {"PATH": f"{work / 'venv' / 'bin'}:{env['PATH']}", "VIRTUAL_ENV": str(work / "venv")}
    env |= {"PIP_QUIET": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1"}

    (install,) = commands(blocks("Two commands")[0])
    run(install, checkout, env)
    first, *rest = commands(blocks("From nothing to a release record")[0])
    answer(first, work, env)
    folder = work / shlex.split(first)[-1]
    sheet, check, *rest = rest
    run(sheet, work, env)
    told = run(check, work, env, status=1)
    if "8 runs still to be made; nothing else is wrong" not in told:
        raise SystemExit(f"{check}: doesn't say that the runs are still to be made")
    type_runs(folder / "runs.csv")
    for command in (check, *rest):
        if command.startswith("pinscar sign"):
            run("pip install '.[sign]'", checkout, env)
            run(f"python -c {shlex.quote(KEY)}", work, env)
        told = run(command, work, env)
    if "signed as author by A. B." not in told:
        raise SystemExit("verify doesn't tell of the signature")
    record = work / "my_record"
    results = json.loads((record / "results.json").read_text(encoding="utf-8"))
    html = (record / "report.html").read_text(encoding="utf-8")
    if len(results["runs"]) != 8 or results["overall"] is None:
        raise SystemExit("the record doesn't rest on the eight runs that were typed in")
    if "A. B." not in html or not (record / "report.pdf").read_bytes().startswith(b"%PDF-"):
        raise SystemExit("the record lacks the author's name, or has no PDF")
    print(f"newcomer: a release record, release limits {results['overall']}")


if __name__ == "__main__":
    main()
