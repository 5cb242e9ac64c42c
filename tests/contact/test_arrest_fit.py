"""Inverse problems of wear arrest: parameters back from scars, intervals by definition, what is not known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from arrest_ode import worn_depth_ode
from scipy.special import stdtrit

from pinscar.contact.arrest import scar_growth
from pinscar.contact.arrest_fit import (
    ArrestFit,
    expected_log_lengths,
    film_from_quiet_time,
    fit_interrupted_runs,
    predict_scar,
)
from pinscar.contact.geometry import CrossedCylinders

PAIR = CrossedCylinders(6e-3, 20e-3)
GROWTH = scar_growth(PAIR)
SPEED, WEAR, FILM = 1.466, 3e-14, 60e6
TIMES = np.array([2.0, 5.0, 12.0, 30.0, 60.0, 120.0, 240.0, 400.0])


def made(
    times: np.ndarray, load: float | np.ndarray = 600.0, wear: float = WEAR, film: float = FILM
) -> np.ndarray:
    """Scars that the model expects, by the independent ODE route."""
    loads = np.broadcast_to(load, times.shape)
    depths = [
        float(worn_depth_ode(t, [0], [f], SPEED, wear, film, PAIR)) for t, f in zip(times, loads, strict=True)
    ]
    return PAIR.scar_length(depths)


@pytest.fixture(scope="module")
def scattered() -> tuple[np.ndarray, ArrestFit]:
    """Scars with 3 % scatter, and their fit."""
    lengths = made(TIMES) * np.exp(0.03 * np.random.default_rng(5).standard_normal(TIMES.size))
    return lengths, fit_interrupted_runs(TIMES, lengths, 600.0, SPEED, PAIR)


def test_exact_scars_give_their_parameters_back() -> None:
    """Scars made by the ODE solver, at two loads: both parameters to 1e-6, and no interval is claimed."""
    times, loads = np.tile(TIMES[1:6], 2), np.repeat([450.0, 900.0], 5)
    fit = fit_interrupted_runs(times, made(times, loads), loads, SPEED, PAIR)
    assert fit.wear_coefficient == pytest.approx(WEAR, rel=1e-6, abs=0)
    assert fit.film_pressure == pytest.approx(FILM, rel=1e-6, abs=0)
    assert fit.residual_sd is not None and fit.residual_sd < 1e-8


def test_two_scars_have_no_interval() -> None:
    fit = fit_interrupted_runs(TIMES[[1, 5]], made(TIMES[[1, 5]]), 600.0, SPEED, PAIR)
    assert fit.film_pressure == pytest.approx(FILM, rel=1e-5, abs=0)
    assert fit.film_low is fit.film_high is fit.wear_low is fit.wear_high is fit.log_covariance is None
    assert fit.note is not None and "two scars" in fit.note
    prediction = predict_scar(fit, 60.0, 600.0, SPEED)
    assert prediction.low is prediction.single_high is None
    assert prediction.note is not None and "no interval" in prediction.note


def test_interval_ends_meet_the_ceiling(
    scattered: tuple[np.ndarray, ArrestFit],
) -> None:
    """Independent route: at both ends of the film pressure, the least sum over a fine grid of k."""
    lengths, fit = scattered
    free = TIMES.size - 2
    least = free * fit.residual_sd**2
    ceiling = least * (1 + stdtrit(free, 0.975) ** 2 / free)
    for film in (fit.film_low, fit.film_high):
        grid = np.linspace(math.log(WEAR / 3), math.log(WEAR * 3), 1200)
        sums = [
            np.sum(
                (np.log(lengths) - expected_log_lengths([k, math.log(film)], TIMES, 600.0, SPEED, GROWTH))
                ** 2
            )
            for k in grid
        ]
        assert min(sums) == pytest.approx(ceiling, rel=1e-3, abs=0)
    assert fit.film_low < fit.film_pressure < fit.film_high
    assert fit.wear_low < fit.wear_coefficient < fit.wear_high


def test_rows_reordered_and_a_wider_confidence(scattered: tuple[np.ndarray, ArrestFit]) -> None:
    """The order of the runs changes nothing; more confidence makes the interval wider."""
    lengths, fit = scattered
    other = fit_interrupted_runs(TIMES[::-1], lengths[::-1], 600.0, SPEED, PAIR, confidence=0.99)
    assert other.film_pressure == pytest.approx(fit.film_pressure, rel=1e-6, abs=0)
    assert other.film_low < fit.film_low and other.film_high > fit.film_high


def test_units_rescaled(scattered: tuple[np.ndarray, ArrestFit]) -> None:
    """Lengths times 2, loads times 4 and speed times 2: the same pressure and the same wear coefficient."""
    lengths, fit = scattered
    large = CrossedCylinders(12e-3, 40e-3)
    other = fit_interrupted_runs(TIMES, 2 * lengths, 2400.0, 2 * SPEED, large)
    assert other.film_pressure == pytest.approx(fit.film_pressure, rel=1e-5, abs=0)
    assert other.wear_coefficient == pytest.approx(fit.wear_coefficient, rel=1e-5, abs=0)
    assert other.film_high == pytest.approx(fit.film_high, rel=1e-4, abs=0)


def test_early_scars_bound_the_film_from_above_only() -> None:
    """Scars that still grow a little faster than t^(1/4) say nothing of a film, except that it is weak."""
    times = np.array([1.0, 2.0, 4.0, 8.0])
    lengths = made(times, film=1e6) * np.exp([-0.02, -0.01, 0.01, 0.02])
    fit = fit_interrupted_runs(times, lengths, 600.0, SPEED, PAIR)
    assert fit.film_pressure is None and fit.film_low is None
    assert fit.film_high is not None
    # Volume goes with the fourth power of the length, which scatters by 2 %; the film is not known.
    assert fit.wear_coefficient == pytest.approx(WEAR, rel=0.3, abs=0)
    assert fit.note is not None and "bounded from above" in fit.note


def test_arrested_scars_bound_the_wear_from_below_only() -> None:
    times = np.array([300.0, 500.0, 800.0, 1200.0])
    lengths = made(times, wear=1e-12) * np.exp([0.01, 0.005, -0.005, -0.01])
    fit = fit_interrupted_runs(times, lengths, 600.0, SPEED, PAIR)
    assert fit.wear_coefficient is None and fit.wear_high is None
    assert fit.wear_low is not None
    assert fit.film_low < fit.film_pressure < fit.film_high
    # Scatter of 1 % in length is 2 % in area; four scars.
    assert fit.film_pressure == pytest.approx(FILM, rel=0.05, abs=0)
    assert fit.note is not None and "bounded from below" in fit.note


def test_prediction(scattered: tuple[np.ndarray, ArrestFit]) -> None:
    """Between the data the prediction is the curve; its interval holds the truth; one scar scatters more."""
    _, fit = scattered
    inside = predict_scar(fit, 60.0, 600.0, SPEED)
    truth = float(made(np.array([60.0]))[0])
    assert inside.note is None
    assert inside.low < truth < inside.high
    assert inside.single_low < inside.low < inside.scar_length < inside.high < inside.single_high
    heavier = predict_scar(fit, 60.0, 900.0, SPEED)
    assert heavier.note is not None and "outside those fitted" in heavier.note
    assert heavier.low < float(made(np.array([60.0]), 900.0)[0]) < heavier.high


def test_past_arrest_the_prediction_has_the_interval_of_the_film_pressure() -> None:
    """All scars arrested: nearly L ~ (F/pf)^(1/2), so the interval is that of pf, halved on the log scale."""
    rng = np.random.default_rng(3)
    loads = np.repeat([450.0, 600.0], 6)
    times = np.full(12, 600.0)
    lengths = made(times, loads, wear=1e-12) * np.exp(0.03 * rng.standard_normal(12))
    fit = fit_interrupted_runs(times, lengths, loads, SPEED, PAIR)
    assert fit.log_covariance is None and "bounded from below" in fit.note
    found = predict_scar(fit, 600.0, 500.0, SPEED)
    assert found.low < float(made(np.array([600.0]), 500.0, wear=1e-12)[0]) < found.high
    # A scar of 8 mm is not quite shallow: its length goes with area to a power near 0.5 (to 2 %).
    assert math.log(found.high / found.scar_length) == pytest.approx(
        0.5 * math.log(fit.film_pressure / fit.film_low), rel=0.02, abs=0
    )
    assert found.single_low < found.low and found.high < found.single_high
    assert "at least as wide" in found.method
    # After a short run the scar may have any length below: the wear coefficient is only bounded from below.
    early = predict_scar(fit, 2.0, 500.0, SPEED)
    assert early.low < 0.9 * found.low


@pytest.mark.slow
def test_prediction_against_refitted_scatter(scattered: tuple[np.ndarray, ArrestFit]) -> None:
    """Independent route: the spread of the curve at 60 s over 40 refits of scars scattered anew (seed 8).

    Forty draws know a standard deviation to 11 %, hence the factor 1.4.
    """
    _, fit = scattered
    rng = np.random.default_rng(8)
    middle = expected_log_lengths(fit.log_parameters, TIMES, 600.0, SPEED, GROWTH)
    found = []
    for _ in range(40):
        lengths = np.exp(middle + fit.residual_sd * rng.standard_normal(TIMES.size))
        again = fit_interrupted_runs(TIMES, lengths, 600.0, SPEED, PAIR)
        found.append(math.log(predict_scar(again, 60.0, 600.0, SPEED).scar_length))
    prediction = predict_scar(fit, 60.0, 600.0, SPEED)
    claimed = math.log(prediction.high / prediction.low) / (2 * float(stdtrit(6, 0.975)))
    assert 1 / 1.4 < np.std(found, ddof=1) / claimed < 1.4


@pytest.mark.slow
def test_coverage_of_the_profile_intervals() -> None:
    """Nominal 95 %, n = 6, 4 % scatter, 300 data sets (seed 11): within four standard errors, 5 %."""
    rng = np.random.default_rng(11)
    times = np.array([2.0, 8.0, 20.0, 60.0, 120.0, 300.0])
    middle, hits = np.log(made(times)), np.zeros(2)
    for _ in range(300):
        lengths = np.exp(middle + 0.04 * rng.standard_normal(times.size))
        fit = fit_interrupted_runs(times, lengths, 600.0, SPEED, PAIR)
        ends = [(fit.wear_low, fit.wear_high, WEAR), (fit.film_low, fit.film_high, FILM)]
        hits += [(low or 0.0) <= true <= (high or math.inf) for low, high, true in ends]
    assert (np.abs(hits / 300 - 0.95) < 0.05).all()


class TestQuietTime:
    """Both parameters from one scar and the time at which the noise stopped."""

    @pytest.mark.parametrize("excess", [0.01, 0.05, 0.2])
    def test_back_and_forth(self, excess: float) -> None:
        """A run made by the ODE solver gives its own parameters back, for a scar of 5 mm."""
        wear, film, load = 2e-13, 45e6, 600.0
        times = np.linspace(0.1, 60.0, 4000)
        depths = worn_depth_ode(times, [0], [load], SPEED, wear, film, PAIR)
        pressure = load / PAIR.area_at_depth(depths)
        quiet = float(np.interp(-film * (1 + excess), -pressure, times))
        length = float(PAIR.scar_length(depths[-1]))
        k, found = film_from_quiet_time(length, quiet, 60.0, load, SPEED, PAIR, excess)
        assert float(found) == pytest.approx(film, rel=1e-5, abs=0)
        assert float(k) == pytest.approx(wear, rel=1e-3, abs=0)

    def test_the_film_hardly_depends_on_the_excess(self) -> None:
        one, other = (film_from_quiet_time(4e-3, 15, 60, 600, SPEED, PAIR, e)[1] for e in (0.01, 0.05))
        assert float(one) == pytest.approx(float(other), rel=1e-3, abs=0)

    def test_shapes_and_missing(self) -> None:
        """A missing scar or quiet time leaves that run's answers missing, and only those."""
        k, film = film_from_quiet_time([3e-3, np.nan, 4e-3], [20, 20, np.nan], 60, 600, SPEED, PAIR)
        assert np.isnan(k).tolist() == [False, True, True]
        assert np.isnan(film).tolist() == [False, True, True]

    def test_quiet_after_the_end_is_refused(self) -> None:
        with pytest.raises(ValueError, match="quiet_time"):
            film_from_quiet_time(3e-3, 61, 60, 600, SPEED, PAIR)


@pytest.mark.parametrize(
    ("times", "lengths", "word"),
    [
        ([10.0], [2e-3], "at least two"),
        ([10.0, 10.0], [2e-3, 2.1e-3], "at least two"),
        ([10.0, np.nan], [2e-3, 2.1e-3], "missing"),
        ([10.0, 0.0], [2e-3, 2.1e-3], "duration"),
        ([10.0, 20.0], [2e-3, 27e-3], "deeper"),
    ],
)
def test_impossible_data_are_refused(times: list[float], lengths: list[float], word: str) -> None:
    with pytest.raises(ValueError, match=word):
        fit_interrupted_runs(times, lengths, 600.0, SPEED, PAIR)
