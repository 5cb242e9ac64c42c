"""What is fuzzed: each reader with files that it reads well, and what may come of any other file.

Anything but one of pinscar's own errors is a failure: a traceback, a warning of a computation, a number that
JSON does not have, or more than 20 s of computing.
"""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import signal
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from pinscar.errors import PinscarError, UsageError

ROOT = Path(__file__).resolve().parents[2]
CORPUS = Path(__file__).resolve().parent / "corpus"
DEMO = ROOT / "data_demo" / "conveyor_07"
LONGEST = 20  # s

RUNS = b"""run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,\
quiet_time [s],run_at,excluded,note,ring_id,\
peak_temperature [degC],ambient_temperature [degC],drips,smoke,wear_mass [mg]
h1,R-10,450,60,4.10,2.20,yes,41,2026-03-02T08:10,,,a,71,22,3,none,1.2
h2,C-21,450,60,3.40,1.82,yes,33,2026-03-02T08:30,,,a,66,22,2,none,1.1
h3,R-10,450,60,4.31,2.33,yes,44,2026-03-03T08:05,,,b,72,23,4,light,1.4
h4,C-21,450,60,3.52,1.90,no,,2026-03-03T08:25,,squeal,b,65,23,,none,1.0
h5,C-21,900,60,4.4,2.4,,,2026-03-03T08:45,ring scratched,,b,,,,,
"""
TOML = b"""[campaign]
id = "fuzz-01"
title = "Fuzzed oils"
question = "May C-21 replace R-10?"
reference = "R-10"
confidence = 0.95
block = "run_day"

[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_width = "14 mm"
crossing_angle = "90 deg"
ring_speed = "700 rpm"
lever_ratio = 10.0
hanger_mass = "0.8 kg"
load_uncertainty = "1 %"
reading_uncertainty = "0.03 mm"
[rig.pin]
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "7.5 GPa"
roughness_rq = "0.20 um"

[[lubricants]]
id = "R-10"
role = "reference"
kinematic_viscosity_40 = "68 mm^2/s"
kinematic_viscosity_100 = "9.1 mm^2/s"
density_15 = "872 kg/m^3"
[[lubricants]]
id = "C-21"

[[criteria]]
id = "film-450"
response = "film_pressure"
lubricant = "C-21"
load = "450 N"
rule = "at least"
limit = "60 MPa"
[[criteria]]
id = "ratio"
response = "scar_area"
lubricant = "C-21"
load = "450 N"
rule = "not worse than"
margin = "10 %"

[[claims]]
subject = "C-21"
response = "scar_area"
direction = "lower"
against = "R-10"
load = "450 N"
percentage = "10 %"

[service]
chain_pitch = "12.7 mm"
pin_diameter = "4.45 mm"
bush_length = "11.3 mm"
sprocket_teeth = 19
sprocket_speed = "120 rpm"
chain_tension = "900 N"
"""
READINGS = b"""run_id,reader,reading,scar_length [mm],scar_width [mm],blind_code
h1,A. Reader,1,4.10,2.20,q1
h1,B. Reader,1,4.12,2.22,q1
h2,A. Reader,1,3.40,1.82,q2
h2,B. Reader,1,3.41,1.80,q2
"""
STEPS = b"run_id,start [s],load [N]\nh1,0,300\nh1,30,450\nh2,0,300\nh2,20,400\nh2,40,450\n"
GRATICULE = (
    b"reader,certified [mm],read [mm],uncertainty [mm]\nA,2.0,2.01,0.002\nA,2.0,2.02,0.002\nB,2.0,1.99,\n"
)
OILS = b"""lubricant,role,name,batch,kinematic_viscosity_40 [mm^2/s],density_15 [kg/m^3],price [EUR/kg],\
base oil [%],AW-1 [g/kg]
R-10,reference,Old,b1,68,872,3.9,balance,10
C-21,candidate,New,b2,66,870,4.2,97.5,2.5e1
"""
TYPED = """Oils in spring;;;;;;;
run_id;lubricant;load [N];duration;scar_length [mm];scar_width [mm];wear_stopped;run_at;excluded
h1;R-10;450,0;60 s;4,10;2,20;ja;02.03.2026 8:10;
h2;C-21;450,0;1 min;3,40;1,82;x;02.03.2026 8.30;nein
h3;R-10;450,0;60 s;4,31 mm;2,33;oui;03.03.2026 8:05;
h4;C-21;450,0;60 sek;3,52;1,90;-;03.03.2026 8:25;ring gescheuert µ
""".encode("cp1252")
BOTTLES = b"bottle,lubricant\nA22,R-10\nC34,C-21\n"
TRACE = b"time [s],friction_force [N],motor_power [W],temperature [degC]\n" + b"".join(
    b"%d,%.1f,%.1f,%.1f\n" % (t, 45 - t / 6, 60 - t / 8, 22 + t / 2) for t in range(0, 61, 2)
)


@dataclass(frozen=True)
class Target:
    """One thing that is fuzzed: its good files, and what reads a file put in its place."""

    name: str
    place: str
    seeds: Callable[[], list[bytes]]
    read: Callable[[Path], None]


def evaluate(folder: Path) -> None:
    """Read a folder, and take what has no errors through the whole evaluation to the bytes of its results."""
    from pinscar.decision.analysis import analyse_all
    from pinscar.decision.check import check_all
    from pinscar.decision.results import results
    from pinscar.press.results import results_bytes

    campaign, problems = check_all(folder)
    for one in problems:
        assert one.message and one.mend
        assert "\n" not in str(one)
    if campaign is None:
        assert any(one.severity == "error" for one in problems)
        return
    json.loads(results_bytes(results(analyse_all(campaign))), parse_constant=_refuse)


def _refuse(word: str) -> None:
    raise AssertionError(f"results hold {word}")


def _xlsx() -> list[bytes]:
    return _book(RUNS)


def _book(table: bytes) -> list[bytes]:
    import csv

    import openpyxl

    book = openpyxl.Workbook()
    for row in csv.reader(io.StringIO(table.decode())):
        book.active.append(
            [float(cell) if cell.replace(".", "", 1).isdigit() else cell or None for cell in row]
        )
    packed = io.BytesIO()
    book.save(packed)
    return [packed.getvalue()]


def _parquet() -> list[bytes]:
    import pandas as pd

    packed = io.BytesIO()
    pd.read_csv(io.BytesIO(TRACE)).to_parquet(packed)
    return [packed.getvalue()]


def _pictures() -> list[bytes]:
    from PIL import Image

    pixels = np.random.default_rng(1).integers(0, 255, (40, 60, 3)).astype(np.uint8)
    found = []
    for kind in ("png", "jpeg", "tiff"):
        packed = io.BytesIO()
        Image.fromarray(pixels).save(packed, kind)
        found.append(packed.getvalue())
    return found


def _sounds() -> list[bytes]:
    import soundfile

    packed = io.BytesIO()
    noise = 0.1 * np.random.default_rng(1).standard_normal(8000)
    soundfile.write(packed, noise, 8000, format="WAV")
    return [packed.getvalue()]


@cache
def _report() -> dict[str, bytes]:
    """Make the files of a small report that `diff` and `verify` read: its numbers and its manifest."""
    import tempfile

    from pinscar.decision.analysis import analyse_all
    from pinscar.decision.check import check_all
    from pinscar.decision.results import results
    from pinscar.press.inputs import input_hashes
    from pinscar.press.manifest import make_manifest, manifest_bytes
    from pinscar.press.results import results_bytes
    from pinscar.shipped import find_template

    with tempfile.TemporaryDirectory() as place:
        folder = base_folder(Path(place) / "c")
        campaign, _ = check_all(folder)
        assert campaign is not None
        files = {"results.json": results_bytes(results(analyse_all(campaign)))}
        manifest = make_manifest(
            campaign="fuzz-01",
            template=find_template("campaign_report"),
            given={"folder": "."},
            parameters={"folder": ".", "confidence": None},
            inputs=input_hashes(folder, {"folder": "."}),
            pdf=False,
        )
        return files | {"manifest.json": manifest_bytes(manifest, files)}


def base_folder(folder: Path) -> Path:
    """Write the campaign that one file is put wrong in."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "runs.csv").write_bytes(RUNS)
    (folder / "campaign.toml").write_bytes(TOML)
    return folder


def _units(folder: Path) -> None:
    from pinscar.units import DIMENSIONS, UnitError, check_dimension, parse_quantity, split_quantity, to_si

    for line in (folder / "units.txt").read_text("utf-8", "replace").split("\n")[:6]:
        for dimension in (None, "length", "temperature", "rotational speed"):
            with contextlib.suppress(UnitError):
                float(parse_quantity(line, dimension))
        with contextlib.suppress(UnitError):
            to_si([0.0, 1.0], split_quantity(line)[1])
        for dimension in list(DIMENSIONS)[::5]:
            with contextlib.suppress(UnitError):
                check_dimension(line, dimension)


def _saved(folder: Path) -> None:
    from pinscar.bench.readings_file import save_reading, saved_readings
    from pinscar.campaign.scar_readings import Reading

    saved_readings(folder, ["h1", "h2"])
    save_reading(folder, Reading("h1", "C. Reader", 0.0041, 0.0022), ["h1", "h2"])
    saved_readings(folder, ["h1", "h2"])


def _graticule(folder: Path) -> None:
    from pinscar.study.reading.study import biases, read_graticule

    found = read_graticule(folder)
    assert found is not None
    list(biases(found, 0.95))


def _gather(folder: Path) -> None:
    from pinscar.bench.gather import gather

    gather(folder, force=True)


def _picture(folder: Path) -> None:
    from pinscar.decision.media import read_picture

    assert read_picture(folder / "micrographs" / "h1.png").ndim in (2, 3)


def _sound(folder: Path) -> None:
    from pinscar.decision.recordings import hear_file

    hear_file(folder / "sound" / "h1.wav", 60.0)


def _bottles(folder: Path) -> None:
    from pinscar.bench.bench_sheet import codes_of

    codes_of(folder, ["R-10", "C-21", "B-3"], 7)


def _signature(name: str) -> Callable[[Path], None]:
    """Make what checks a signature that lies beside a report."""

    def read(folder: Path) -> None:
        from pinscar.press.signed_files import signatures_beside
        from pinscar.press.verify import read_manifest, verify_report

        report = _report_folder(folder, name)
        for one in signatures_beside(report, read_manifest(report)):
            assert str(one)
        list(verify_report(report, folder))

    return read


def _pdf(folder: Path) -> None:
    from pinscar.press.verify import UnreadablePdfError, attachment_digests

    with contextlib.suppress(UnreadablePdfError):
        attachment_digests(folder / "report" / "report.pdf")


@cache
def _pdfs() -> list[bytes]:
    import pypdf

    writer, packed = pypdf.PdfWriter(), io.BytesIO()
    writer.add_blank_page(595, 842)
    writer.add_attachment("runs.csv", RUNS)
    writer.add_attachment("campaign.toml", TOML)
    writer.write(packed)
    return [packed.getvalue()]


@cache
def _signatures() -> dict[str, list[bytes]]:
    """Sign the small report's manifest in both ways, and its page as a PDF."""
    import datetime as dt

    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec, ed25519
    from cryptography.x509.oid import NameOID
    from pyhanko.sign import signers

    from pinscar.press.signatures import sign_cms, sign_ssh

    manifest = _report()["manifest.json"]
    key, name = (
        ec.generate_private_key(ec.SECP256R1()),
        x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "A. Fuzzer")]),
    )
    day = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
    cert = x509.CertificateBuilder(name, name, key.public_key(), 1, day, day.replace(year=2036)).sign(
        key, hashes.SHA256()
    )
    packed = serialization.pkcs12.serialize_key_and_certificates(
        b"f", key, cert, None, serialization.NoEncryption()
    )
    signer = signers.SimpleSigner.load_pkcs12_data(packed, other_certs=[])
    ssh = sign_ssh(manifest, ed25519.Ed25519PrivateKey.generate()).encode()
    return {"p7s": [sign_cms(manifest, signer)], "sig": [ssh]}


def _report_folder(folder: Path, name: str) -> Path:
    report = folder / "report"
    for other, data in _report().items():
        if other != name:
            (report / other).write_bytes(data)
    return report


def _diff(folder: Path) -> None:
    from pinscar.press.difference import report_changes, told

    report = _report_folder(folder, "results.json")
    whole = folder / "whole"
    whole.mkdir(exist_ok=True)
    for name, data in _report().items():
        (whole / name).write_bytes(data)
    list(told(report_changes(report, whole)))
    list(told(report_changes(whole, report)))


def _manifest(folder: Path) -> None:
    from pinscar.press.difference import report_changes
    from pinscar.press.files import check_place
    from pinscar.press.verify import template_to_rerun, verify_report

    report = _report_folder(folder, "manifest.json")
    for one in verify_report(report, folder):
        assert str(one)
        assert one.as_dict()
    for act in (check_place, template_to_rerun, lambda place: report_changes(place, place)):
        with contextlib.suppress(PinscarError):
            act(report)


def _template(folder: Path) -> None:
    from pinscar.press.template import read_template

    read_template(folder / "t.ipynb")


def _plan(folder: Path) -> None:
    from pinscar.campaign.campaign import read_settings

    read_settings(folder)


def _page(folder: Path) -> None:
    """Make all parts of the page that the shipped template makes, in this process."""
    import matplotlib

    matplotlib.use("Agg")
    from pinscar.campaign_report import sections

    analysis = sections.load(str(folder))
    for part in (
        *(sections.front, sections.limits, sections.tested, sections.fairness, sections.film_and_scar),
        *(sections.against_reference, sections.claims, sections.observations, sections.runs),
        *(sections.contact, sections.growth, sections.sound, sections.film_and_heat, sections.service),
        *(sections.spread, sections.micrographs, sections.fling_cards),
    ):
        part(analysis)


_TEXTS = (
    Target("runs", "runs.csv", lambda: [RUNS, RUNS.replace(b",", b";")], evaluate),
    Target("toml", "campaign.toml", lambda: [TOML], evaluate),
    Target("readings", "readings.csv", lambda: [READINGS], evaluate),
    Target("steps", "load_steps.csv", lambda: [STEPS], evaluate),
    Target("trace", "traces/h1.csv", lambda: [TRACE], evaluate),
    Target("xlsx", "runs.xlsx", _xlsx, evaluate),
    Target("parquet", "traces/h1.parquet", _parquet, evaluate),
    Target("saved", "readings.csv", lambda: [READINGS, READINGS.replace(b",", b";")], _saved),
    Target("graticule", "graticule.csv", lambda: [GRATICULE], _graticule),
    Target("gather", "runs.csv", lambda: [RUNS], _gather),
    Target(
        "units",
        "units.txt",
        lambda: [
            b"12 mm\n700 rpm\n9.1 mm^2/s\n25 degC\n0.5 W/(m K)\n10 %",
            b"5 um/px\n-3 1/GPa\n2.5e-6 mm^3/(N m)",
        ],
        _units,
    ),
    Target("typed", "runs.csv", lambda: [TYPED, TYPED.decode("cp1252").encode()], evaluate),
    Target("oils", "lubricants.csv", lambda: [OILS, OILS.replace(b",", b";")], evaluate),
    Target("oils_plan", "lubricants.csv", lambda: [OILS], _plan),
    Target("oils_xlsx", "lubricants.xlsx", lambda: _book(OILS), evaluate),
    Target("bottles", "blind_key.csv", lambda: [BOTTLES], _bottles),
    Target("pdf", "report/report.pdf", _pdfs, _pdf),
    Target("p7s", "report/manifest.json.p7s", lambda: _signatures()["p7s"], _signature("manifest.json.p7s")),
    Target("sig", "report/manifest.json.sig", lambda: _signatures()["sig"], _signature("manifest.json.sig")),
    Target("signed", "report/report.signed.pdf", _pdfs, _signature("report.signed.pdf")),
    Target("picture", "micrographs/h1.png", _pictures, _picture),
    Target("sound", "sound/h1.wav", _sounds, _sound),
    Target("results", "report/results.json", lambda: [_report()["results.json"]], _diff),
    Target("manifest", "report/manifest.json", lambda: [_report()["manifest.json"]], _manifest),
    Target(
        "template", "t.ipynb", lambda: [(ROOT / "templates" / "rig_control.ipynb").read_bytes()], _template
    ),
    Target("plan", "campaign.toml", lambda: [TOML], _plan),
    Target("page", "runs.csv", lambda: [RUNS], _page),
    Target("page_toml", "campaign.toml", lambda: [TOML], _page),
)
TARGETS = {one.name: one for one in _TEXTS}


@contextlib.contextmanager
def _alarm() -> Iterator[None]:
    def ring(number: int, frame: object) -> None:
        raise TimeoutError(f"took more than {LONGEST} s")

    # time of this process, since a machine that does other things too is no failure
    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, LONGEST)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def attempt(target: Target, data: bytes, folder: Path) -> None:
    """Put a file into the base campaign and have it read; raise what is none of pinscar's own errors."""
    shutil.rmtree(folder, ignore_errors=True)
    base_folder(folder)
    place = folder / target.place
    place.parent.mkdir(exist_ok=True)
    if target.place == "runs.xlsx":
        (folder / "runs.csv").unlink()
    place.write_bytes(data)
    with warnings.catch_warnings(), _alarm():
        warnings.filterwarnings("error", category=RuntimeWarning, module="pinscar")
        try:
            target.read(folder)
        except PinscarError as error:
            said = str(error)
            assert said.strip(), "an error without words"
            assert isinstance(error, UsageError) or len(said) < 1_000_000
