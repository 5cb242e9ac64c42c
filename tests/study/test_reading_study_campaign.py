"""A campaign folder as a reading study: the crossed example of MSA (4th ed., 2010), a graticule, and gaps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.errors import InputError, UsageError
from pinscar.stats.reading_study import reading_bias
from pinscar.study.reading.study import read_graticule, study_readings
from pinscar.study.reading.words import reading_results

TOML = """
[campaign]
id = "reading-test"
reference = "A"
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_speed = "700 rpm"
[[lubricants]]
id = "A"
"""
# Measurement Systems Analysis, reference manual, 4th ed., 2010: rows trials 1 to 3, columns parts 1 to 10.
READINGS = {
    "A": ".29 -.56 1.34 .47 -.80 .02 .59 -.31 2.26 -1.36 .41 -.68 1.17 .50 -.92 -.11 .75 -.20 1.99 -1.25 "
    ".64 -.58 1.27 .64 -.84 -.21 .66 -.17 2.01 -1.31",
    "B": ".08 -.47 1.19 .01 -.56 -.20 .47 -.63 1.80 -1.68 .25 -1.22 .94 1.03 -1.20 .22 .55 .08 2.12 -1.62 "
    ".07 -.68 1.34 .20 -1.28 .06 .83 -.34 2.19 -1.50",
    "C": ".04 -1.38 .88 .14 -1.46 -.29 .02 -.46 1.77 -1.49 -.11 -1.13 1.09 .20 -1.07 -.67 .01 -.56 1.45 "
    "-1.77 -.15 -.96 .67 .11 -1.45 -.49 .21 -.49 1.87 -2.16",
}
SHIFT = 8.0
"""A length can't be negative; the variances don't depend on the zero."""


def write(folder: Path, readings: list[str], excluded: tuple[int, ...] = (), graticule: str = "") -> Path:
    """A campaign folder with ten runs and the readings given."""
    folder.mkdir(exist_ok=True)
    (folder / "campaign.toml").write_text(TOML, encoding="utf-8")
    header = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm],excluded"
    runs = [f"S{n},A,{400 + 20 * n},60,8.0,4.0,{'pin broke' * (n in excluded)}" for n in range(1, 11)]
    (folder / "runs.csv").write_text("\n".join([header, *runs, ""]), encoding="utf-8")
    head = "run_id,reader,reading,scar_length [mm],scar_width [mm]"
    (folder / "readings.csv").write_text("\n".join([head, *readings, ""]), encoding="utf-8")
    if graticule:
        (folder / "graticule.csv").write_text(graticule, encoding="utf-8")
    return folder


def example() -> list[str]:
    rows = []
    for reader, text in READINGS.items():
        for place, value in enumerate(float(word) for word in text.split()):
            length = value + SHIFT
            rows.append(f"S{place % 10 + 1},{reader},{place // 10 + 1},{length:.2f},{length / 2:.3f}")
    return rows


def test_the_crossed_example_as_a_campaign(tmp_path: Path) -> None:
    """Interaction pooled; printed digits of the sums of squares and components of the published example."""
    found = reading_results(study_readings(read_campaign(write(tmp_path, example()))))
    squares = {row["source"]: (row["sum_of_squares"], row["df"]) for row in found["anova"]}
    expected = {"reader": (3.167262, 2), "scar": (88.361934, 9), "interaction": (0.358982, 18)}
    expected |= {"repeats": (2.758933, 60), "total": (94.647112, 89)}
    for source, (value, df) in expected.items():
        assert squares[source][1] == df
        assert squares[source][0] == pytest.approx(value, abs=5.1e-7)
    variances = {row["source"]: row for row in found["components"]}
    for source, value in {
        "repeats": 0.0399733,
        "reader": 0.0514553,
        "reading": 0.0914285,
        "scar": 1.0864466,
        "total": 1.1778751,
    }.items():
        assert variances[source]["variance"] == pytest.approx(value, abs=6e-8)
    assert 100 * variances["reading"]["share_of_variance"] == pytest.approx(7.7622, abs=5.1e-5)
    assert 100 * variances["reading"]["share_of_sd"] == pytest.approx(27.8607, abs=5.1e-5)
    assert found["study"]["pooled"] is True
    assert found["category_ratio"] == pytest.approx(4.8605, abs=5.1e-5)
    assert found["distinct_categories"] == 4


def test_the_interaction_is_kept_where_it_must_not_be_pooled(tmp_path: Path) -> None:
    campaign = read_campaign(write(tmp_path, example()))
    found = reading_results(study_readings(campaign, pool_above=1.0))
    variances = {row["source"]: row["variance"] for row in found["components"]}
    assert variances["repeats"] == pytest.approx(0.0459822, abs=6e-8)
    assert variances["interaction"] == 0.0
    assert variances["reader"] == pytest.approx(0.0521229, abs=6e-8)
    assert variances["scar"] == pytest.approx(1.0886721, abs=6e-8)


def test_the_error_of_a_mean_of_readings_follows_from_the_components(tmp_path: Path) -> None:
    study = study_readings(read_campaign(write(tmp_path, example())))
    assert study.reading_sd() == pytest.approx(np.sqrt(0.0914285), abs=1e-7)
    assert study.reading_sd(same_reader=True) == pytest.approx(np.sqrt(0.0399733), abs=1e-7)
    assert study.reading_sd(3, 2) == pytest.approx(np.sqrt(0.0514553 / 3 + 0.0399733 / 6), abs=1e-7)


def test_the_area_is_that_of_the_ellipse_of_each_reading(tmp_path: Path) -> None:
    study = study_readings(read_campaign(write(tmp_path, example())), "scar_area")
    length = float(READINGS["B"].split()[12]) + SHIFT
    place = study.layout.readers.index("B"), study.layout.scars.index("S3"), 1
    assert study.layout.values[place] == pytest.approx(
        np.pi / 4 * length * round(length / 2, 3), rel=1e-12, abs=0
    )
    assert study.axis.unit == "mm^2"


def test_the_bias_on_a_graticule_is_the_one_of_the_statistics(tmp_path: Path) -> None:
    text = "reader,reading,certified [mm],read [um]\nA,1,5.000,5010\nA,2,5.000,5020\nA,3,5.000,5015\n"
    text += "B,1,5.000,4995\nB,2,5.000,5005\nB,3,5.000,4990\n"
    study = study_readings(read_campaign(write(tmp_path, example(), graticule=text)))
    direct = reading_bias([5.010e-3, 5.020e-3, 5.015e-3], 5e-3)
    by_reader = {bias.reader: bias.result for bias in study.biases}
    assert list(by_reader) == ["A", "B", None]
    assert by_reader["A"].bias == pytest.approx(direct.bias, rel=1e-9, abs=0)
    assert (by_reader["A"].low, by_reader["A"].high) == pytest.approx(
        (direct.low, direct.high), rel=1e-9, abs=0
    )
    assert by_reader["A"].shown
    # All readers: two means, 15 um and -3.33 um off.
    assert by_reader[None].n == 2
    assert by_reader[None].bias == pytest.approx(5.8333e-6, rel=1e-4, abs=0)
    assert "graticule.csv" in study.analysis.campaign.inputs


def test_a_certificates_uncertainty_widens_the_bias(tmp_path: Path) -> None:
    text = "reader,certified [mm],read [mm],uncertainty [um]\nA,5.000,5.010,20\nA,5.000,5.020,20\n"
    study = study_readings(read_campaign(write(tmp_path, example(), graticule=text)))
    (own,) = study.biases
    direct = reading_bias([5.010e-3, 5.020e-3], 5e-3, certificate_uncertainty=20e-6)
    assert own.result.high == pytest.approx(direct.high, rel=1e-9, abs=0)


def test_a_graticule_without_units_is_an_input_error_and_none_is_none(tmp_path: Path) -> None:
    folder = write(tmp_path, example(), graticule="reader,certified,read [mm]\nA,5,5.01\n")
    with pytest.raises(InputError) as error:
        study_readings(read_campaign(folder))
    assert {problem.file for problem in error.value.problems} == {"graticule.csv"}
    assert read_graticule(tmp_path / "nowhere") is None


def test_missing_cells_and_surplus_readings_stay_out_with_a_word(tmp_path: Path) -> None:
    rows = [row for row in example() if not row.startswith(("S4,B,", "S7,C,3"))]
    study = study_readings(read_campaign(write(tmp_path, rows)))
    assert "S4" not in study.layout.scars
    assert study.layout.values.shape == (3, 9, 2)
    assert "Scar S4 was not read by B." in study.left_out
    assert any("beyond the first 2" in sentence for sentence in study.left_out)


def test_readings_of_excluded_runs_stay_out(tmp_path: Path) -> None:
    study = study_readings(read_campaign(write(tmp_path, example(), excluded=(5,))))
    assert "S5" not in study.layout.scars
    assert "9 readings of excluded runs (S5)." in study.left_out


@pytest.mark.parametrize(
    ("keep", "words"),
    [
        (lambda row: False, "there is no reading"),
        (lambda row: ",A," in row, "only A read the scars"),
        (lambda row: row.startswith("S1,"), "fewer than two of 1 scar"),
    ],
)
def test_too_little_for_a_study_is_an_input_error(tmp_path: Path, keep: object, words: str) -> None:
    rows = [row for row in example() if keep(row)]  # type: ignore[operator]
    campaign = read_campaign(write(tmp_path, rows))
    with pytest.raises(InputError, match=words) as error:
        study_readings(campaign)
    assert [problem.code for problem in error.value.problems] == ["study-without-readings"]


def test_repeats_that_were_copied_show_no_reading_error_and_are_refused(tmp_path: Path) -> None:
    rows = [
        f"S{s},{who},{k},{4 + 0.3 * s + shift:.2f},"
        for s in (1, 2, 3)
        for who, shift in (("A", 0), ("B", 0.1))
        for k in (1, 2, 3)
    ]
    campaign = read_campaign(write(tmp_path, rows))
    with pytest.raises(InputError, match="never differ"):
        study_readings(campaign)


def test_an_unknown_axis_is_wrong_usage(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="scar_area"):
        study_readings(read_campaign(write(tmp_path, example())), "scar_depth")


def test_the_spread_between_runs_is_pooled_over_oils_and_loads(tmp_path: Path) -> None:
    folder = write(tmp_path, example())
    header = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm]"
    lengths = [4.0, 4.4, 4.2, 6.0, 6.5, 5.0, 7.0, 7.1, 7.3, 8.0]
    loads = [450, 450, 450, 600, 600, 700, 800, 800, 800, 900]
    rows = [
        f"S{n},A,{load},60,{x},{x / 2}" for n, (load, x) in enumerate(zip(loads, lengths, strict=True), 1)
    ]
    (folder / "runs.csv").write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    found = study_readings(read_campaign(folder)).between_runs
    assert found is not None
    logs = np.log(lengths)
    squares = sum(
        np.sum((logs[part] - logs[part].mean()) ** 2) for part in (slice(3), slice(3, 5), slice(6, 9))
    )
    assert (found.df, found.n_cells) == (5, 3)
    assert found.spread == pytest.approx(np.sqrt(np.expm1(squares / 5)), rel=1e-9, abs=0)


def test_without_repeats_the_spread_between_runs_is_not_known(tmp_path: Path) -> None:
    assert study_readings(read_campaign(write(tmp_path, example()))).between_runs is None
