"""`pinscar gather`: blank cells filled from evidence, typed ones left alone, everything told."""

from __future__ import annotations

import csv
import json
import re
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import soundfile
from PIL import Image, ImageDraw

from pinscar.bench.gather import NAME, gather
from pinscar.bench.review import review_readings
from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.decision.analysis import analyse
from pinscar.errors import InputError, UsageError

DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "conveyor_07"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demo without its fling cards, which take a while to read."""
    left_out = shutil.ignore_patterns("report*", "fling")
    return Path(shutil.copytree(DEMO, tmp_path / "demo", ignore=left_out))


@pytest.fixture
def carded(tmp_path: Path) -> Path:
    """The demo with its fling cards and without its recordings."""
    left_out = shutil.ignore_patterns("report*", "sound", "traces")
    return Path(shutil.copytree(DEMO, tmp_path / "carded", ignore=left_out))


def cells(path: Path, separator: str = ",") -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream, delimiter=separator))


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_the_demo_is_gathered(command, demo):
    done = command("gather", demo)
    assert (done.returncode, done.stderr) == (0, "")
    assert "c07-12: quiet_time filled from sound/c07-12.wav" in done.stdout
    assert "c07-31: quiet_time left blank: sound/c07-31.wav" in done.stdout
    before, after = cells(demo / "runs.csv"), cells(demo / NAME)
    for old, new in zip(before, after, strict=True):
        changed = {name for name in old if old[name] != new[name]}
        assert changed == ({"quiet_time [s]"} if old["run_id"] == "c07-12" else set())
    sources = {row["run_id"]: row["quiet_time_from"] for row in after}
    assert sources["c07-12"] == "sound/c07-12.wav"
    assert sources["c07-23"] == "typed"  # the recording disagrees, and doesn't count
    assert sources["c07-02"] == ""


def test_the_gathered_table_is_a_table_of_runs(demo):
    gather(demo)
    assert [one.code for one in check_campaign(demo)[1]] == []  # it disturbs nobody where it lies
    (demo / "runs.csv").write_bytes((demo / NAME).read_bytes())
    (demo / NAME).unlink()
    campaign, problems = check_campaign(demo)
    assert problems == []
    heard = campaign.runs.set_index("run_id").loc["c07-12", "quiet_time"]
    assert heard == pytest.approx(40.6, abs=0.5)  # when the noise stops in the demo's truth


def test_an_older_gathered_table_is_kept_unless_forced(command, demo):
    (demo / NAME).write_text("mine", encoding="utf-8")
    done = command("gather", demo)
    assert (done.returncode, done.stdout) == (2, "")
    assert "--force" in done.stderr
    assert (demo / NAME).read_text(encoding="utf-8") == "mine"
    assert command("gather", demo, "--force").returncode == 0
    assert len(cells(demo / NAME)) == 47


def test_separator_comma_and_units_stay(demo):
    rows = list(csv.reader((demo / "runs.csv").open(encoding="utf-8", newline="")))
    number = rows[0].index("quiet_time [s]")
    rows[0][number] = "quiet_time [min]"
    for row in rows[1:]:
        row[:] = [cell.replace(".", ",") if cell.replace(".", "").isdigit() else cell for cell in row]
        row[number] = f"{int(row[number]) / 60:.3f}".replace(".", ",") if row[number] else ""
    with (demo / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=";", lineterminator="\n").writerows(rows)
    gather(demo)
    after = {row["run_id"]: row for row in cells(demo / NAME, ";")}
    assert re.fullmatch(r"0,6[78]\d\d", after["c07-12"]["quiet_time [min]"])
    assert after["c07-01"]["quiet_time [min]"] == "0,750"
    assert after["c07-01"]["scar_length [mm]"] == "3,78"


def test_a_gathered_table_in_use_can_be_gathered_again(command, demo):
    change(demo / "runs.csv", "3.78,2.03", ",")
    gather(demo)
    (demo / NAME).replace(demo / "runs.csv")
    change(demo / "runs.csv", "6.71,3.65", ",")
    done = command("gather", demo)
    assert done.returncode == 0
    assert done.stdout.endswith("look it over; to use it, rename it to runs.csv\n")
    header = (demo / NAME).read_text(encoding="utf-8").splitlines()[0].split(",")
    assert len(set(header)) == len(header)
    sources = [row["scar_length_from"] for row in cells(demo / NAME)[:3]]
    assert sources == ["micrographs/c07-01.jpg", "micrographs/c07-02.jpg", "typed"]
    (demo / NAME).replace(demo / "runs.csv")
    read_campaign(demo)


def test_the_mark_of_utf_8_stays(demo):
    table = demo / "runs.csv"
    table.write_text(table.read_text(encoding="utf-8"), encoding="utf-8-sig")
    gather(demo)
    assert (demo / NAME).read_bytes()[:3] == table.read_bytes()[:3] == b"\xef\xbb\xbf"


def test_a_trace_is_read_with_the_load_steps_of_its_run(demo):
    """A load that comes on warms the pin at once: by the steps the friction before it is no spike of it."""
    from pinscar.bench.gather_traces import step_starts
    from pinscar.decision.force_readings import with_zero_taken_off
    from pinscar.decision.traces import warming_of

    typed = read_campaign(demo)
    run = typed.runs.set_index("run_id").loc["c07-06"]
    with (demo / "load_steps.csv").open("a", encoding="utf-8") as file:
        file.write("c07-06,0,450.1\nc07-06,25,600.2\n")
    assert step_starts(demo)["c07-06"] == [0.0, 25.0]
    path = demo / "traces" / "c07-06.csv"
    read = pd.read_csv(path)
    time = read.iloc[:, 0]
    force = next(name for name in read if name.startswith("friction_force"))
    read[force] = read[force].where((time < 0) | (time >= 25) | (time > run["duration"]), 0.5 * read[force])
    read.to_csv(path, index=False)
    change(demo / "runs.csv", ",20.9,55,yes,40,none,2,31", ",20.9,,yes,40,none,2,31")
    [peak] = [
        one
        for one in gather(demo, write=False).filled
        if (one.run_id, one.column) == ("c07-06", "peak_temperature")
    ]
    corrected, _ = with_zero_taken_off(read_campaign(demo).traces["c07-06"], 60.0, np.inf, [0.0, 25.0])
    told = warming_of(corrected, 60.0, [0.0, 25.0])
    assert (peak.value, peak.uncertainty) == (told.peak, told.peak_uncertainty)


def test_temperatures_come_from_traces(demo):
    typed = read_campaign(demo).runs.set_index("run_id")["peak_temperature"]["c07-06"]
    change(demo / "runs.csv", ",20.9,55,yes,40,none,2,31", ",20.9,,yes,40,none,2,31")
    found = gather(demo)
    filled = {(one.run_id, one.column): one for one in found.filled}
    one = filled["c07-06", "peak_temperature"]
    assert one.source == "traces/c07-06.csv"
    # A thermometer read by hand and a probe agree to about a degree (common practice).
    assert one.value == pytest.approx(typed, abs=1.5)
    row = {row["run_id"]: row for row in cells(demo / NAME)}["c07-06"]
    # The cell is written to a tenth of a degree.
    assert float(row["peak_temperature [degC]"]) + 273.15 == pytest.approx(one.value, abs=0.06)
    assert row["peak_temperature_from"] == "traces/c07-06.csv"


def test_the_source_of_a_parquet_trace_is_named_as_it_is(demo):
    trace = demo / "traces" / "c07-06.csv"
    pd.read_csv(trace).to_parquet(trace.with_suffix(".parquet"), index=False)
    trace.unlink()
    change(demo / "runs.csv", ",20.9,55,yes,40,none,2,31", ",20.9,,yes,40,none,2,31")
    filled = {(one.run_id, one.column): one.source for one in gather(demo).filled}
    assert filled["c07-06", "peak_temperature"] == "traces/c07-06.parquet"


def test_a_column_that_is_not_there_is_added(demo):
    rows = list(csv.reader((demo / "runs.csv").open(encoding="utf-8", newline="")))
    number = rows[0].index("quiet_time [s]")
    with (demo / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(row[:number] + row[number + 1 :] for row in rows)
    gather(demo)
    after = {row["run_id"]: row for row in cells(demo / NAME)}
    # The recording is made so: half a second is one window of the level.
    assert float(after["c07-01"]["quiet_time [s]"]) == pytest.approx(45.5, abs=0.5)
    assert after["c07-02"]["quiet_time [s]"] == ""


def test_excluded_runs_are_left_alone(demo):
    text = (demo / "runs.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))
    for row in rows:
        if row[0] == "c07-12":
            row[rows[0].index("excluded")] = "timer failed"
    with (demo / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows)
    found = gather(demo)
    assert found.filled == ()
    assert not (demo / NAME).exists()


def test_broken_recordings_are_told_one_by_one(demo, command):
    (demo / "sound" / "c07-12.wav").write_bytes(b"no sound at all")
    soundfile.write(demo / "sound" / "c07-02.wav", np.zeros(60 * 4000), 4000, subtype="PCM_16")
    soundfile.write(demo / "sound" / "c07-03.wav", np.ones(400) * 0.1, 4000, subtype="PCM_16")
    done = command("gather", demo, "--json")
    told = json.loads(done.stdout)
    assert (done.returncode, told["filled"], told["file"]) == (0, [], "")
    reasons = {one["run_id"]: one["reason"] for one in told["left_blank"]}
    assert "not readable" in reasons["c07-12"]
    assert "silent" in reasons["c07-02"]
    assert "too short" in reasons["c07-03"]


def test_a_folder_with_errors_is_refused(demo, tmp_path):
    change(demo / "runs.csv", "quiet_time [s]", "quiet_time")
    with pytest.raises(InputError, match="unit"):
        gather(demo)
    assert not (demo / NAME).exists()
    with pytest.raises(InputError, match="no such folder"):
        gather(tmp_path / "nowhere")


def test_it_does_not_overwrite_by_itself(demo):
    gather(demo)
    with pytest.raises(UsageError, match=r"runs_gathered\.csv already exists; --force replaces it"):
        gather(demo)


def without_scar(demo: Path, run_id: str, scale: str = "") -> None:
    with (demo / "runs.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    for row in rows:
        if row["run_id"] == run_id:
            row |= {"scar_length [mm]": "", "scar_width [mm]": ""}
            row |= {"micrograph_scale [um/px]": scale} if "micrograph_scale [um/px]" in row else {}
    with (demo / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_blank_scars_come_from_micrographs(demo):
    typed = read_campaign(demo).runs.set_index("run_id").loc["c07-06"]
    without_scar(demo, "c07-06", f"{typed['micrograph_scale'] * 1e6:g}")
    assert check_campaign(demo)[0] is None  # a blank scar is an error, but not to gather
    found = {one.column: one for one in gather(demo).filled if one.run_id == "c07-06"}
    # One reading by eye has an error of 0.03 mm.
    assert found["scar_length"].value == pytest.approx(typed["scar_length"], abs=1e-4)
    assert found["scar_width"].value == pytest.approx(typed["scar_width"], abs=1e-4)
    assert found["scar_length"].source == "micrographs/c07-06.jpg"


def test_a_micrograph_without_a_scale_fills_nothing(demo):
    without_scar(demo, "c07-06")
    found = gather(demo)
    left = {one.column: one.reason for one in found.left if one.run_id == "c07-06"}
    assert "no micrograph_scale" in left["scar_length"]


def test_a_campaign_not_yet_run_to_its_end_is_gathered_all_the_same(demo):
    without_scar(demo, "c07-40")  # it has no micrograph
    gathered = gather(demo)
    assert gathered.filled
    row = next(row for row in cells(demo / gathered.file) if row["run_id"] == "c07-40")
    assert row["scar_length [mm]"] == ""


def test_another_blank_cell_is_an_error_to_gather_too(demo):
    put(demo, "c07-40", {"duration [s]": ""})
    with pytest.raises(InputError, match="duration"):
        gather(demo)


def burn_bar(demo: Path, run_id: str, points: int, ink: str = "white") -> None:
    path = demo / "micrographs" / f"{run_id}.jpg"
    picture = Image.open(path).convert("RGB")
    ImageDraw.Draw(picture).rectangle((20, 335, 19 + points, 340), fill=ink)
    picture.save(path, quality=92)


def put(demo: Path, run_id: str, cells_of_run: dict[str, str]) -> None:
    rows = cells(demo / "runs.csv")
    for row in rows:
        row |= {name: "" for name in cells_of_run if name not in row}
        if row["run_id"] == run_id:
            row |= cells_of_run
    with (demo / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_a_blank_scale_comes_from_the_bar_and_the_scar_with_it(demo):
    typed = read_campaign(demo).runs.set_index("run_id").loc["c07-01"]
    without_scar(demo, "c07-01")
    put(demo, "c07-01", {"scale_bar [um]": "2000"})
    burn_bar(demo, "c07-01", 111)  # the demo's pictures have 18 um a point
    found = {one.column: one for one in gather(demo).filled if one.run_id == "c07-01"}
    assert found["micrograph_scale"].value == pytest.approx(18e-6, rel=5e-3)
    assert found["micrograph_scale"].source == "scale bar on micrographs/c07-01.jpg"
    assert found["scar_length"].value == pytest.approx(typed["scar_length"], abs=1e-4)
    row = {row["run_id"]: row for row in cells(demo / NAME)}["c07-01"]
    # A bar of 111 points is read to a third of a point.
    assert float(row["micrograph_scale [um/px]"]) == pytest.approx(18.02, abs=0.05)
    assert row["micrograph_scale_from"] == "scale bar on micrographs/c07-01.jpg"


def test_a_typed_scale_stays_and_a_bar_that_is_not_there_is_told(demo):
    put(demo, "c07-05", {"scale_bar [mm]": "1"})
    put(demo, "c07-06", {"scale_bar [mm]": "2", "micrograph_scale [um/px]": ""})
    burn_bar(demo, "c07-05", 111)
    found = gather(demo)
    assert not [one for one in found.filled if one.column == "micrograph_scale"]
    left = {(one.run_id, one.column): one.reason for one in found.left}
    assert "no scale bar is seen" in left["c07-06", "micrograph_scale"]
    assert ("c07-05", "micrograph_scale") not in left
    assert {row["run_id"]: row for row in cells(demo / NAME)}["c07-05"]["micrograph_scale [um/px]"] == "18.0"


def test_blank_fling_areas_come_from_cards(carded):
    found = gather(carded)
    filled = {one.run_id: one for one in found.filled if one.column == "fling_area"}
    assert set(filled) == {"c07-12", "c07-14"}
    assert filled["c07-12"].source == "fling/c07-12.jpg"
    # A milligram covers 11 mm² in the demo's truth, 4 % more or less between runs; the last drop is cut.
    masses = read_campaign(carded).runs.set_index("run_id")["fling_mass"]
    for run_id, one in filled.items():
        assert one.value == pytest.approx(masses[run_id] * 11.0, rel=0.2)
    after = {row["run_id"]: row for row in cells(carded / NAME)}
    assert after["c07-12"]["fling_area_from"] == "fling/c07-12.jpg"
    assert (after["c07-01"]["fling_area [mm^2]"], after["c07-01"]["fling_area_from"]) == ("248", "typed")


def test_a_refused_card_and_one_of_unknown_size_fill_nothing(carded):
    text = (carded / "runs.csv").read_text(encoding="utf-8")
    (carded / "runs.csv").write_text(re.sub(r"(c07-22,.*),155\b", r"\1,", text), encoding="utf-8")
    left = {one.run_id: one.reason for one in gather(carded).left if one.column == "fling_area"}
    assert left["c07-22"].startswith("measure by hand")
    toml = (carded / "campaign.toml").read_text(encoding="utf-8")
    (carded / "campaign.toml").write_text(re.sub("fling_card = .*", "", toml), encoding="utf-8")
    left = {one.run_id: one.reason for one in gather(carded, force=True).left if one.column == "fling_area"}
    assert set(left) == {"c07-12", "c07-14", "c07-22"}
    assert "campaign.toml has no fling_card" in left["c07-12"]


def test_a_table_stands_before_what_is_written(command, demo):
    change(demo / "runs.csv", "3.78,2.03", ",")
    done = command("gather", demo)
    head, *lines = done.stdout.splitlines()
    assert head.split() == ["run", "column", "typed", "read", "u", "difference", "score"]
    (length,) = [line.split() for line in lines if line.startswith("c07-01  scar_length [mm]")]
    assert float(length[4]) == pytest.approx(3.78, abs=0.1)
    assert length[3] == "-"  # nothing was typed
    assert 0.0 < float(length[5]) < 0.1
    assert 0.5 < float(length[7]) <= 1.0
    # what stands in the table already is compared where it costs nothing
    (peak,) = [line.split() for line in lines if line.startswith("c07-17  peak_temperature")]
    assert float(peak[6]) == pytest.approx(float(peak[4]) - float(peak[3]), abs=0.11)


def test_to_look_writes_nothing(command, demo):
    for path in sorted((demo / "micrographs").iterdir())[2:]:
        path.unlink()
    done = command("gather", demo, "--look")
    assert done.returncode == 0
    assert not (demo / NAME).exists()
    (length,) = [
        one.split() for one in done.stdout.splitlines() if one.startswith("c07-01  scar_length [mm]")
    ]
    assert length[3] == "3.780"
    assert float(length[6]) == pytest.approx(float(length[4]) - 3.78, abs=0.0011)


def test_one_trace_that_cannot_be_read_does_not_stop_the_rest(command, demo):
    path = demo / "traces" / "c07-06.csv"
    path.write_bytes(path.read_bytes().replace(b"\n5", b"\n\xff\xfe5", 1))
    change(demo / "runs.csv", "3.78,2.03", ",")
    done = command("gather", demo)
    assert (done.returncode, done.stderr) == (0, "")
    assert "c07-01: scar_length filled from micrographs/c07-01.jpg" in done.stdout
    assert "c07-06" not in cells(demo / NAME)[0]["scar_length_from"]


def test_the_sheet_to_look_over_shows_the_least_sure_first(command, demo):
    for path in sorted((demo / "micrographs").iterdir())[3:]:
        path.unlink()
    Image.new("L", (400, 300), 90).save(demo / "micrographs" / "c07-05.png")
    assert command("gather", demo, "--review").returncode == 0
    page = (demo / "gather_review.html").read_text(encoding="utf-8")
    titles = re.findall(r"<h2>([^<]*): scar</h2>", page)
    assert titles[0] == "c07-05"
    assert set(titles) == {"c07-01", "c07-02", "c07-03", "c07-05"}
    scores = [float(one) for one in re.findall(r"<dt>Score</dt><dd>([\d.]+)", page)][1:]
    assert scores == sorted(scores)
    assert page.count("<script") == 1
    assert 'data-campaign="conveyor-07"' in page
    assert "http" not in page


def test_the_sheet_shows_recordings_and_traces_beside_what_was_typed(command, demo):
    """A refused one comes first, then a typed value that disagrees with what was recorded."""
    for path in (demo / "micrographs").iterdir():
        path.unlink()
    (demo / "sound" / "c07-01.wav").write_bytes(b"no sound")
    (demo / "traces" / "c07-06.csv").write_bytes(b"time [s],temperature [degC]\n0,\xff\n")
    done = command("gather", demo, "--look", "--review")
    assert "readings to look over" in done.stdout
    page = (demo / "gather_review.html").read_text(encoding="utf-8")
    titles = re.findall(r"<h2>(.*?)</h2>", page)
    refused = ["c07-01: recording", "c07-06: temperature", "c07-31: recording"]
    assert titles[:4] == [*refused, "c07-23: recording"]
    assert "typed 41.0 s, which disagrees" in page
    assert page.count("Not accepted:") >= 2
    assert len(titles) == len(list((demo / "sound").iterdir())) + len(list((demo / "traces").iterdir()))
    assert page.count("data:image/svg+xml") >= len(titles) - 3
    assert not (demo / NAME).exists()


def test_a_typed_peak_far_from_the_trace_stands_early_on_the_sheet(demo):
    for path in (*(demo / "micrographs").iterdir(), *(demo / "sound").iterdir()):
        path.unlink()
    path = demo / "runs.csv"
    rows = path.read_text(encoding="utf-8").splitlines()
    head = rows[0].split(",").index("peak_temperature [degC]")
    cells_of_row = next(row for row in rows if row.startswith("c07-32")).split(",")
    cells_of_row[head] = str(float(cells_of_row[head]) + 8.0)
    rows = [",".join(cells_of_row) if row.startswith("c07-32") else row for row in rows]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    review_readings(demo)
    page = (demo / "gather_review.html").read_text(encoding="utf-8")
    assert re.findall(r"<h2>(.*?)</h2>", page)[0] == "c07-32: temperature"
    assert "(-8.0 K)" in page


def faded(path: Path, low: float, high: float) -> None:
    """Write a minute of noise that falls evenly, in decibels, by 20 dB between two moments."""
    rate, rng = 16000, np.random.default_rng(4)
    time = np.arange(60 * rate) / rate
    fall = np.clip((time - low) / (high - low), 0.0, 1.0)
    noise = 0.1 * rng.normal(size=time.size) * 10.0 ** (-20.0 * fall / 20.0)
    soundfile.write(path, np.clip(noise, -1.0, 1.0), rate)


def test_a_noise_that_fades_goes_as_an_interval_from_the_recording_to_the_numbers(demo):
    """It counts as a lower bound, and the audit says so."""
    faded(demo / "sound" / "c07-12.wav", 20.0, 42.0)
    found = gather(demo)
    ends = {one.column: one.value for one in found.filled if one.run_id == "c07-12"}
    assert set(ends) == {"quiet_after", "quiet_before"}
    assert 15.0 < ends["quiet_after"] < 25.0 < 40.0 < ends["quiet_before"] < 56.0
    row = next(row for row in cells(demo / NAME) if row["run_id"] == "c07-12")
    assert (row["quiet_time [s]"], row["quiet_after_from"]) == ("", "sound/c07-12.wav")
    (demo / "runs.csv").write_bytes((demo / NAME).read_bytes())
    (demo / NAME).unlink()
    shutil.rmtree(demo / "micrographs")
    shutil.rmtree(demo / "sound")
    analysis = analyse(read_campaign(demo), responses=["quiet_time"])
    [cell] = [one for one in analysis.summaries if "c07-12" in one.cell.run_ids]
    place = cell.cell.run_ids.index("c07-12")
    assert bool(cell.cell.censored[place])
    assert cell.cell.values[place] == pytest.approx(ends["quiet_after"], abs=0.05)
    assert cell.estimate.n_censored >= 1
    [told] = [one for one in analysis.findings if one.id == "quiet-interval"]
    assert told.runs == ("c07-12",)
    assert gather(demo).filled == ()  # what stands there is a person's now, and stays
