"""The formulation study on a bench of its own: exact recovery, joins, limits, and every kind of lack."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

import pinscar
from pinscar.campaign.campaign import read_campaign
from pinscar.errors import InputError, UsageError
from pinscar.study.formulation import words
from pinscar.study.formulation.blends import weigh_out
from pinscar.study.formulation.results import formulation_results
from pinscar.study.formulation.study import Asked, study_formulation

GRID = [(0, 0), (1, 0), (2, 0), (3, 0), (0, 2), (0, 4), (1, 2), (2, 4), (3, 2), (3, 4)]
SPREAD = (-0.05, 0.05, -0.02, 0.02)


def shares(aw: float, fm: float) -> dict[str, str]:
    return {"base": "balance", "AW": f"{aw} %", "FM": f"{fm} %"}


def name(aw: float, fm: float) -> str:
    return f"B-{aw:g}{fm:g}"


def linear(aw: float, fm: float) -> float:
    return 4.2 + 0.09 * aw + 0.02 * fm


def quadratic(aw: float, fm: float) -> float:
    return linear(aw, fm) - 0.03 * aw * aw + 0.015 * aw * fm


def runs_about(means: dict[str, float], apart: float = 0.0) -> dict[str, list[float]]:
    """Runs whose mean is exact, and whose scatter is not none."""
    return {oil: [mean + apart + s for s in SPREAD] for oil, mean in means.items()}


def study(*folders: Path, **asked: object):
    return study_formulation([read_campaign(one) for one in folders], Asked(**asked))


@pytest.mark.parametrize(("truth", "order"), [(linear, 1), (quadratic, 2)])
def test_held_out_blends_are_predicted_to_a_millionth(bench, truth, order):
    oils = {name(*g): shares(*g) for g in GRID}
    folder = bench("c1", oils, runs_about({name(*g): truth(*g) for g in GRID}), reference="B-00")
    found = study(folder)
    assert found.model.fit.order == order
    for held in [(0.5, 1.0), (2.5, 3.0), (1.5, 0.5)]:
        x = np.array([1 - (held[0] + held[1]) / 100, held[0] / 100, held[1] / 100])
        assert found.model.predict(x).log == pytest.approx(truth(*held), abs=1e-6)
        assert found.model.is_inside(x)
    far = np.array([0.9, 0.06, 0.04])
    assert not found.model.is_inside(far)


def test_two_campaigns_at_different_heights_give_one_truth(bench):
    means = {name(*g): linear(*g) for g in GRID}
    first = [name(*g) for g in GRID[:6]]
    second = [name(*g) for g in (GRID[0], *GRID[6:])]
    oils = {name(*g): shares(*g) for g in GRID}
    folders = [
        bench(
            label, {o: oils[o] for o in own}, runs_about({o: means[o] for o in own}, apart), reference="B-00"
        )
        for label, own, apart in (("a", first, 0.1), ("b", second, -0.1))
    ]
    found = study(*folders)
    assert found.model.fit.campaign_sigma == pytest.approx(0.14, abs=0.03)
    effect = {one.component: one for one in found.model.effects}["AW"]
    along = effect.highest - effect.lowest
    assert math.log(effect.ratio) == pytest.approx(9.0 * along + _others(found, along), abs=0.03)
    (series,) = [one for one in found.series if one.additive == "AW"]
    assert series.fits[0].form == "straight"


@pytest.mark.parametrize("bounds", [(), ("B-10",)])
def test_three_campaigns_are_random_in_a_dose_series_and_two_have_a_fixed_shift(bench, bounds):
    doses = [(0, 0), (1, 0), (2, 0), (3, 0), (4, 0), (0.5, 0), (2.5, 0), (1.5, 0), (3.5, 0)]
    folders = []
    for place, (label, apart) in enumerate((("a", 0.2), ("b", -0.2), ("c", 0.0))):
        own = doses[place::3]
        oils = {"R-1": None} | {name(*g): shares(*g) for g in own}
        logs = runs_about({"R-1": 4.3} | {name(*g): linear(*g) for g in own}, apart)
        running = [one for one in bounds if one in oils]
        folders.append(bench(label, oils, logs, running=running))
    (series,) = study(*folders, limits=("film_pressure at least 75 MPa",)).series
    assert series.joined == "random"
    assert (series.batches, series.campaigns) == (9, 3)
    fit = series.fits[0]
    assert fit.form == "straight"
    assert fit.rise == pytest.approx(0.09, abs=0.005)
    assert fit.campaign_sigma == pytest.approx(0.2, abs=0.05)
    assert series.least[0].df == 6
    told = words.campaigns_sentence(series)
    assert told.startswith("The 3 campaigns are a random effect")
    (series,) = study(*folders[:2]).series
    assert series.joined == "fixed"
    assert series.fits[0].campaign_sigma is None
    assert "two are too few" in words.campaigns_sentence(series)


def _others(found, along: float) -> float:
    """What FM does on Cox's line of AW, where its share shrinks in proportion."""
    centre = found.model.tested.mean(axis=0)
    return -2.0 * along * centre[2] / (1 - centre[1])


def test_a_reference_without_a_composition_only_joins(bench):
    means = {name(*g): linear(*g) for g in GRID}
    oils = {name(*g): shares(*g) for g in GRID}
    parts = []
    for label, own, apart in (("a", GRID[:5], 0.2), ("b", GRID[5:], -0.2)):
        some = {name(*g): means[name(*g)] for g in own} | {"R-1": 4.0}
        parts.append(
            bench(label, {"R-1": None} | {name(*g): oils[name(*g)] for g in own}, runs_about(some, apart))
        )
    found = study(*parts)
    assert "no composition" in found.model.joined
    x = np.array([0.965, 0.025, 0.01])
    assert found.model.predict(x).log == pytest.approx(linear(2.5, 1.0), abs=1e-6)


def test_the_least_dose_by_hand(bench):
    doses = (0.0, 1.0, 2.0, 3.0, 4.0)
    wiggle = (0.01, -0.02, 0.015, -0.01, 0.005)
    oils = {f"D{i}": shares(d, 0) for i, d in enumerate(doses)}
    means = {f"D{i}": 4.0 + 0.1 * d + w for i, (d, w) in enumerate(zip(doses, wiggle, strict=True))}
    found = study(
        bench("c", oils, runs_about(means), reference="D0"), limits=("film_pressure at least 70 MPa",)
    )
    (series,) = found.series
    place = [fit.form for fit in series.fits].index("straight")
    slope, start = np.polyfit(doses, [means[f"D{i}"] for i in range(5)], 1)
    assert series.least[place].estimate == pytest.approx((math.log(70) - start) / slope, abs=1e-6)
    assert series.least[place].low < series.least[place].estimate < series.least[place].high
    assert found.no_series == ()


def test_what_cannot_be_told_is_said(bench):
    oils = {"R-1": {"base": "100 %"}, "C-1": {"base": "balance", "AW": "1 %"}}
    found = study(bench("c", oils, runs_about({"R-1": 4.0, "C-1": 4.1})))
    assert any("AW is in C-1 only" in one for one in found.left_out)
    assert found.no_series == ("AW: no three blends differ in it alone, so there is no dose series.",)
    assert found.model.fit.df == 0
    assert all(one.low is None for one in found.model.effects)
    assert "without an interval" in words.effect_sentence(found.model)
    assert "viscosities" in found.no_thickness
    results = formulation_results(found)
    assert json.loads(json.dumps(results, allow_nan=False))["not_told"]


def test_all_censored_gives_bounds_and_no_model(bench):
    oils = {name(*g): shares(*g) for g in GRID[:4]}
    means = {name(*g): linear(*g) for g in GRID[:4]}
    found = study(bench("c", oils, runs_about(means), reference="B-00", running=list(oils)))
    assert "all runs are censored" in found.model.reason
    assert found.proposals is None
    assert "no curve, since all runs are censored" in words.series_sentence(found, found.series[0])
    assert found.series[0].dots[0].median.estimate is None
    assert formulation_results(found)["models"][0]["because"]


def test_two_additives_that_move_together_are_named(bench):
    oils = {f"B{i}": shares(i, 2 * i) for i in range(5)}
    means = {f"B{i}": 4.0 + 0.1 * i + 0.01 * (-1) ** i for i in range(5)}
    found = study(bench("c", oils, runs_about(means), reference="B0"))
    assert any("FM moves with" in one or "FM is a mix of" in one for one in found.model.fit.inestimable)
    assert found.no_series  # neither changes alone


@pytest.mark.parametrize(
    ("asked", "words_"),
    [
        ({"response": "torque"}, "no campaign has the response"),
        ({"response": "quiet_time"}, "cannot be modelled"),
        ({"limits": ("film_pressure over 3",)}, "is not a limit"),
        ({"limits": ("film_pressure at least 3 mg",)}, "write the limit in MPa"),
        ({"limits": ("price at most 3",)}, "price per mass"),
        ({"load": "450"}, "load"),
        ({"load": "450 N"}, "no blend was run at 450 N"),
        ({"confidence": 1.2}, "confidence"),
        ({"aim": "best"}, "aim"),
        ({"count": 0}, "count"),
        ({"contact_temperature": "60 N"}, "contact_temperature"),
    ],
)
def test_what_is_asked_wrongly_says_so(bench, asked, words_):
    oils = {name(*g): shares(*g) for g in GRID}
    folder = bench("c", oils, runs_about({name(*g): linear(*g) for g in GRID}), reference="B-00")
    with pytest.raises(UsageError, match=words_):
        study(folder, **asked)


def test_no_composition_and_two_compositions_are_refused(bench):
    bare = bench("bare", {"R-1": None, "C-1": None}, runs_about({"R-1": 4.0, "C-1": 4.1}))
    with pytest.raises(InputError, match="no oil of these campaigns has a composition"):
        study(bare)
    one = bench("one", {"R-1": shares(1, 0)}, runs_about({"R-1": 4.0}))
    two = bench("two", {"R-1": shares(2, 0)}, runs_about({"R-1": 4.0}))
    with pytest.raises(InputError, match="another composition"):
        study(one, two)


def test_limits_bounds_and_prices_steer_the_next_blends(bench):
    oils = {name(*g): shares(*g) for g in GRID}
    more = (
        '[[components]]\nid = "base"\nprice = "2 EUR/kg"\n\n[[components]]\nid = "AW"\nprice = "20 EUR/kg"\n'
        'highest = "4 %"\nstep = "1 %"\n\n[[components]]\nid = "FM"\nprice = "10 EUR/kg"\nstep = "1 %"\n\n'
    )
    rng = np.random.default_rng(1)
    means = {name(*g): linear(*g) + 0.01 * rng.standard_normal() for g in GRID}
    fling = {name(*g): 20.0 + 3 * g[0] for g in GRID}
    folder = bench("c", oils, runs_about(means), reference="B-00", more=more, fling=fling)
    free = study(folder)
    assert free.proposals.blends[0].shares[1] == pytest.approx(0.04)
    assert not free.proposals.blends[0].inside
    cheap = study(folder, limits=("price at most 2.5 EUR/kg",))
    assert all(one.price <= 2.5 for one in cheap.proposals.blends)
    calm = study(folder, limits=("fling_mass at most 22 mg",))
    assert calm.proposals.blends[0].shares[1] < 0.02
    assert [one.rank for one in free.proposals.blends] == [1, 2, 3]
    for aim in ("D", "I"):
        made = study(folder, aim=aim).proposals
        tested = {tuple(np.round(x, 6)) for x in free.model.tested}
        assert not tested & {tuple(np.round(one.shares, 6)) for one in made.blends}
        assert all(one.gain > 0 for one in made.blends)


def test_a_weigh_out_adds_up_and_warns_of_what_is_coarse():
    sheet = weigh_out(["base", "AW", "dye"], np.array([0.9879, 0.012, 0.0001]), 0.5, 1e-7)
    assert sum(sheet.masses) == pytest.approx(0.5, abs=1e-12)
    assert sheet.masses[1] == pytest.approx(0.006)
    assert sheet.coarse == ()
    rough = weigh_out(["base", "dye"], np.array([0.9999, 0.0001]), 0.5, 1e-4)
    assert rough.coarse == ("dye",)
    with pytest.raises(ValueError, match="hundred steps"):
        weigh_out(["a"], np.array([1.0]), 0.5, 0.1)


def test_the_desk_predicts_and_lists(bench):
    oils = {name(*g): shares(*g) for g in GRID}
    folder = bench("c", oils, runs_about({name(*g): linear(*g) for g in GRID}), reference="B-00")
    found = pinscar.formulation([folder], limits=["film_pressure at least 80 MPa"])
    row = found.predict({"AW": "2.5 %", "FM": 1}).frame.iloc[0]
    assert row["value"] == pytest.approx(math.exp(linear(2.5, 1.0)), rel=1e-6)
    assert row["ci_low"] < row["value"] < row["ci_high"]
    assert list(found.models) == ["film_pressure", "fling_mass"]
    assert len(found.frame) == 40
    assert found.next_blends(2).frame["rank"].tolist() == [1, 2]
    assert len(found.effects()) == 3
    assert {"straight"} <= set(found.doses().frame["form"])
    for draw in (found.plot.dose, found.plot.effects, found.plot.triangle, found.plot.tradeoff):
        assert draw().figure.axes
    with pytest.raises(UsageError, match="write AW"):
        found.predict({"AW1": 1})
    with pytest.raises(UsageError, match="viscosities"):
        found.plot.viscosity()
    assert "AW" in found._repr_html_()


def test_prices_of_oils_tell_those_of_components_or_the_limit_is_said_to_be_out_of_view(bench):
    oils = {name(*g): shares(*g) for g in GRID}
    prices = {name(*g): 2.0 * (1 - sum(g) / 100) + 0.2 * g[0] + 0.1 * g[1] for g in GRID}
    logs = runs_about({name(*g): linear(*g) + 0.01 * (-1) ** i for i, g in enumerate(GRID)})
    stated = {oil: f'price = "{value:.6f} EUR/kg"\n' for oil, value in prices.items()}
    limit = ("price at most 2.4 EUR/kg",)
    known = study(bench("c", oils, logs, reference="B-00", extra=stated), limits=limit)
    assert known.blends.unit_prices == pytest.approx((2.0, 20.0, 10.0), rel=1e-4)
    assert all(one.price <= 2.4 for one in known.proposals.blends)
    assert known.proposals.remarks == ()
    bare = study(bench("d", oils, logs, reference="B-00"), limits=limit)
    assert "not every component has a price" in bare.proposals.remarks[0]
    assert all(one.price is None for one in bare.proposals.blends)
