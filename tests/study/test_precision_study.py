"""A campaign folder as a precision study: the glucose study of ASTM E691, and folders with gaps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from pinscar.campaign.campaign import read_campaign
from pinscar.errors import InputError, UsageError
from pinscar.stats.precision import material_precision, repeatability_interval, reproducibility_interval
from pinscar.study.precision.study import flags, study_precision, without_flagged
from pinscar.study.precision.words import precision_results

TOML = """
[campaign]
id = "precision-test"
reference = "A"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
[[lubricants]]
id = "A"
[[lubricants]]
id = "C"
[[lubricants]]
id = "E"
"""

# Glucose in serum, 8 laboratories x 3 results, mg/dL. Data as in R package ILS 0.3, which cites ASTM E691-99.
GLUCOSE = {
    "A": "41.03 41.45 41.37 | 41.17 42.00 41.15 | 41.01 40.68 42.66 | 39.37 42.37 42.63 | 41.88 41.19 41.32"
    " | 43.28 40.50 42.28 | 41.08 41.27 39.02 | 43.36 42.65 41.72",
    "C": "132.66 133.83 133.10 | 132.92 136.90 136.40 | 132.61 135.80 135.36 | 138.50 148.30 135.69"
    " | 131.90 134.14 133.76 | 137.21 135.14 137.50 | 130.97 131.59 134.92 | 135.46 135.14 133.53",
    "E": "292.78 294.09 292.89 | 292.27 309.40 295.08 | 295.53 290.14 292.34 | 295.19 295.44 296.83"
    " | 293.93 292.48 294.28 | 297.74 296.80 290.33 | 287.29 293.76 289.36 | 298.46 295.28 296.12",
}
# Derived from these data with the formulas of E691 by separate code: mean, s_x, s_r, s_R, r, R.
EXPECTED = {
    "A": (41.51833, 0.60613, 1.06322, 1.06322, 2.977, 2.977),
    "C": (135.13875, 2.65669, 2.75088, 3.47892, 7.702, 9.741),
    "E": (294.49208, 2.69314, 3.93497, 4.19233, 11.018, 11.739),
}


def write(folder: Path, header: str, rows: list[str], toml: str = TOML) -> Path:
    """A campaign folder whose runs differ only in what a test is about."""
    folder.mkdir(exist_ok=True)
    (folder / "campaign.toml").write_text(toml, encoding="utf-8")
    numbered = [f"r{number},{row}" for number, row in enumerate(rows, start=1)]
    (folder / "runs.csv").write_text("\n".join([f"run_id,{header}", *numbered, ""]), encoding="utf-8")
    return folder


def glucose_folder(folder: Path, unit: str = "mg/dL", factor: float = 1.0) -> Path:
    rows = [
        f"{material},L{lab},450,60,4.0,,yes,{float(value) * factor!r}"
        for material, text in GLUCOSE.items()
        for lab, cell in enumerate(text.split("|"), start=1)
        for value in cell.split()
    ]
    header = "lubricant,laboratory,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped"
    return write(folder, f"{header},glucose [{unit}]", rows)


SCARS = "lubricant,laboratory,load [N],duration [s],scar_length [mm],scar_width [mm],wear_stopped,excluded"


def scar_rows(cells: dict[str, list[float]]) -> list[str]:
    return [f"A,{lab},450,60,{value},{value / 2},yes," for lab, values in cells.items() for value in values]


@pytest.mark.parametrize("material", list(EXPECTED))
def test_the_glucose_study_as_a_campaign(tmp_path: Path, material: str) -> None:
    study = study_precision(read_campaign(glucose_folder(tmp_path)), None, ["glucose"])
    found = {one["lubricant"]: one for one in precision_results(study)["precision"]}[material]
    assert study.grouping.column == "laboratory"
    assert (found["n_groups"], found["n"], found["s_r_df"]) == (8, 24, 16)
    mean, s_x, s_r, s_reproducibility, r, reproducibility = EXPECTED[material]
    assert found["mean"] == pytest.approx(mean, abs=5.1e-6)
    assert found["sd_of_group_means"] == pytest.approx(s_x, abs=5.1e-6)
    assert found["s_r"] == pytest.approx(s_r, abs=5.1e-6)
    assert found["s_R"] == pytest.approx(s_reproducibility, abs=5.1e-6)
    assert found["r"] == pytest.approx(r, abs=5.1e-4)
    assert found["R"] == pytest.approx(reproducibility, abs=5.1e-4)
    assert found["s_r_percent"] == pytest.approx(100 * s_r / mean, rel=1e-5, abs=0)


def test_the_glucose_study_flags_laboratory_4_and_laboratory_2_by_k(tmp_path: Path) -> None:
    """Critical values 2.06 for k and 2.15 for h at 8 laboratories, from memory of the standard's table."""
    study = study_precision(read_campaign(glucose_folder(tmp_path)), "laboratory", ["glucose"])
    found = {
        (flag.material.lubricant, flag.group, flag.test)
        for material in study.materials
        for flag in flags(material)
        if flag.test in "hk"
    }
    assert found == {("C", "L4", "k"), ("E", "L2", "k")}


def test_the_unit_of_the_column_changes_no_percentage(tmp_path: Path) -> None:
    plain = study_precision(read_campaign(glucose_folder(tmp_path / "a")), None, ["glucose"])
    scaled = study_precision(read_campaign(glucose_folder(tmp_path / "b", "ug/dL", 1e3)), None, ["glucose"])
    for one, other in zip(
        precision_results(plain)["precision"], precision_results(scaled)["precision"], strict=True
    ):
        assert other["s_R"] == pytest.approx(1e3 * one["s_R"], rel=1e-9, abs=0)
        assert other["R_percent"] == pytest.approx(one["R_percent"], rel=1e-9, abs=0)


def test_only_scar_area_and_own_columns_are_evaluated_unless_others_are_named(tmp_path: Path) -> None:
    campaign = read_campaign(glucose_folder(tmp_path))
    assert [r.name for r in study_precision(campaign).responses] == ["scar_area", "glucose"]
    assert [r.name for r in study_precision(campaign, None, ["wear_volume"]).responses] == ["wear_volume"]


def test_the_scar_area_agrees_with_the_statistics_on_the_areas(tmp_path: Path) -> None:
    lengths = {"L1": [4.0, 4.1, 4.05], "L2": [4.3, 4.2], "L3": [3.9, 4.0, 4.2]}
    study = study_precision(read_campaign(write(tmp_path, SCARS, scar_rows(lengths))))
    areas = {lab: [np.pi / 8 * value**2 for value in values] for lab, values in lengths.items()}
    direct = material_precision("A at 450 N", areas)
    (found,) = study.of(study.responses[0])
    assert found.precision.repeatability_sd == pytest.approx(direct.repeatability_sd, rel=1e-9, abs=0)
    assert found.precision.reproducibility_sd == pytest.approx(direct.reproducibility_sd, rel=1e-9, abs=0)


def test_excluded_runs_and_runs_without_a_laboratory_stay_out_and_are_named(tmp_path: Path) -> None:
    rows = scar_rows({"L1": [4.0, 4.1], "L2": [4.3, 4.2], "": [9.0]})
    rows.append("A,L1,450,60,9.0,4.5,yes,pin cracked")
    study = study_precision(read_campaign(write(tmp_path, SCARS, rows)))
    assert {name: values.size for name, values in study.materials[0].values.items()} == {"L1": 2, "L2": 2}
    assert any("r5" in sentence for sentence in study.left_out)
    assert any("1 run marked as excluded" in sentence for sentence in study.left_out)


def test_runs_that_give_only_a_bound_stay_out_of_the_film_pressure(tmp_path: Path) -> None:
    rows = scar_rows({"L1": [4.0, 4.1, 4.05], "L2": [4.3, 4.2, 4.25]})
    rows[2] = rows[2].replace("yes", "no")
    study = study_precision(read_campaign(write(tmp_path, SCARS, rows)), None, ["film_pressure"])
    assert study.materials[0].n == 5
    assert "1 run that gave only a bound" in " ".join(study.left_out)


def test_a_load_that_cannot_be_evaluated_is_named_and_the_others_are(tmp_path: Path) -> None:
    rows = scar_rows({"L1": [4.0, 4.1], "L2": [4.3, 4.2]})
    rows += [row.replace(",450,", ",600,") for row in scar_rows({"L1": [4.6], "L2": [4.8]})]
    study = study_precision(read_campaign(write(tmp_path, SCARS, rows)))
    assert [material.load_level for material in study.materials] == [450.0]
    assert "Scar area of A at 600 N was not evaluated: no laboratory has two values." in study.left_out


def test_without_groups_or_repeats_every_reason_is_an_input_error(tmp_path: Path) -> None:
    one = write(tmp_path / "one", SCARS, scar_rows({"L1": [4.0, 4.1, 4.2]}))
    with pytest.raises(InputError) as error:
        study_precision(read_campaign(one))
    assert [problem.code for problem in error.value.problems] == ["study-without-groups"]
    with pytest.raises(InputError, match="holds only L1"):
        study_precision(read_campaign(one), "laboratory")
    single = write(tmp_path / "single", SCARS, scar_rows({"L1": [4.0], "L2": [4.1]}))
    with pytest.raises(InputError) as error:
        study_precision(read_campaign(single))
    assert {problem.code for problem in error.value.problems} == {"study-without-repeats"}


@pytest.mark.parametrize("group", ["labratory", "lubricant", "load", "scar_area"])
def test_a_group_that_is_no_column_of_names_is_wrong_usage(tmp_path: Path, group: str) -> None:
    campaign = read_campaign(write(tmp_path, SCARS, scar_rows({"L1": [4.0, 4.1], "L2": [4.3, 4.2]})))
    with pytest.raises(UsageError, match="laboratory"):
        study_precision(campaign, group)


def test_what_stands_out_is_flagged_kept_and_left_out_only_for_comparison(tmp_path: Path) -> None:
    cells = {f"L{n}": [4.0 + 0.01 * n, 4.02, 4.01 + 0.005 * n] for n in range(1, 8)} | {"L8": [3.2, 4.0, 4.9]}
    study = study_precision(read_campaign(write(tmp_path, SCARS, scar_rows(cells))))
    (material,) = study.materials
    assert {flag.group for flag in flags(material)} == {"L8"}
    assert material.n == 24
    rest = without_flagged(material)
    assert rest is not None
    assert rest.repeatability_sd < 0.1 * material.precision.repeatability_sd


def test_the_interval_of_the_repeatability_is_the_chi_square_one() -> None:
    found = material_precision("oil", {"A": [1.0, 1.2, 1.1], "B": [1.4, 1.3, 1.6], "C": [0.9, 1.0, 1.2]})
    low, high = repeatability_interval(found, 0.9)
    ends = found.repeatability_sd * np.sqrt(6 / stats.chi2.ppf([0.95, 0.05], 6))
    assert (low, high) == pytest.approx(tuple(ends), rel=1e-9, abs=0)


def test_the_interval_of_the_reproducibility_follows_its_source() -> None:
    """The sum of mean squares written out: (MS_L + (n - 1) MS_e) / n with p - 1 and p (n - 1) degrees."""
    cells = {"A": [1.0, 1.2, 1.1], "B": [1.4, 1.3, 1.6], "C": [0.9, 1.0, 1.2], "D": [1.3, 1.1, 1.0]}
    found = material_precision("oil", cells)
    table = np.array(list(cells.values()))
    between, within = 3 * np.var(table.mean(axis=1), ddof=1), np.mean(np.var(table, axis=1, ddof=1))
    squares, degrees = np.array([between / 3, 2 / 3 * within]), np.array([3, 8])
    g = 1 - degrees / stats.chi2.ppf(0.975, degrees)
    h = degrees / stats.chi2.ppf(0.025, degrees) - 1
    total = squares.sum()
    expected = (
        total - np.sqrt(np.sum((g * squares) ** 2)),
        total + np.sqrt(np.sum((h * squares) ** 2)),
    )
    assert reproducibility_interval(found) == pytest.approx(tuple(np.sqrt(expected)), rel=1e-9, abs=0)


def test_the_reproducibility_interval_covers_the_truth_about_as_often_as_it_says() -> None:
    rng = np.random.default_rng(11)
    truth, hits, trials = np.hypot(1.0, 0.7), 0, 400
    for _ in range(trials):
        labs = 0.7 * rng.standard_normal(8)
        cells = {f"L{i}": shift + rng.standard_normal(3) for i, shift in enumerate(labs)}
        low, high = reproducibility_interval(material_precision("oil", cells), 0.9)
        hits += low <= truth <= high
    # Binomial standard error of the share is 1.5 %.
    assert 0.855 < hits / trials < 0.945
