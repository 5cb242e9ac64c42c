"""What a formulation study says in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pinscar.stats.dose import LeastDose
from pinscar.stats.mixture import Effect
from pinscar.study.formulation.model import BlendModel
from pinscar.study.formulation.proposals import Proposals, blend_text, foreseen_text, share_text
from pinscar.study.formulation.series import Series
from pinscar.study.formulation.study import FormulationStudy
from pinscar.study.formulation.thickness import Thickness
from pinscar.study.formulation.tradeoff import Tradeoff
from pinscar.wording import (
    change_range,
    counted,
    fixed,
    listing,
    load_text,
    percent_change,
    percentage,
    significant,
    with_interval,
)

NOT_DETERMINED = "not determined"


def least_text(least: LeastDose) -> str:
    """Write a least dose with its interval."""
    if least.estimate is None:
        return NOT_DETERMINED
    mark = ", extrapolated" if least.extrapolated else ""
    if least.low is not None and least.high is not None:
        return f"{with_interval(least.estimate, least.low, least.high)} %{mark}"
    value = f"{significant(least.estimate, 2)} %{mark}"
    if least.low is None and least.high is None:
        return f"{value}; interval {NOT_DETERMINED}"
    low = NOT_DETERMINED if least.low is None else f"{significant(least.low, 2)} %"
    high = NOT_DETERMINED if least.high is None else f"{significant(least.high, 2)} %"
    return f"{value}; from {low} to {high}"


def series_sentence(study: FormulationStudy, series: Series) -> str:
    """Say how much of an additive is enough."""
    beside = [f"{fixed(v, 2).rstrip('0').rstrip('.')} % {n}" for n, v in series.beside if v > 0.0]
    where = f" beside {listing(beside)}" if beside else ""
    label = study.response.label.lower()
    if series.reason:
        return f"{series.additive}{where}: no curve, since {series.reason}."
    best = series.fits[0]
    first, last = series.doses[0], series.doses[-1]
    ratio = math.exp(float(best.at([last])[0] - best.at([first])[0]))
    change = percent_change(ratio, study.response.smaller, study.response.larger)
    said = (
        f"From {significant(first, 2) if first else '0'} to {significant(last, 2)} % "
        f"{series.additive}{where} "
        "the "
        f"{label} comes out {change} ({best.form} form)"
    )
    limit = study.limit
    if limit is None or not series.least:
        return f"{said}."
    least = series.least[0]
    if least.low is not None and least.high is not None and least.estimate is not None:
        return f"{said}; {limit.text} takes {least_text(least)} of it."
    if least.estimate is None:
        return f"{said}; the least dose for {limit.text} is {NOT_DETERMINED}: {least.reason}."
    return f"{said}; the least dose for {limit.text} is {least_text(least)}."


def no_series_sentence(told: tuple[str, ...]) -> str:
    """Say of which additives there is no dose series, all in one sentence."""
    names = [one.partition(":")[0] for one in told]
    if len(names) == 1:
        return told[0]
    joined = f"{', '.join(names[:-1])} or {names[-1]}"
    return f"No three blends differ in {joined} alone, so there is no dose series of these."


def scatter_sentence(series: Series) -> str:
    """Say how far batches and runs scatter in a series."""
    best = series.fits[0]
    runs = percentage(round(math.expm1(best.sigma), 3))
    if best.batch_sigma is None:
        return (
            f"Runs scatter by {runs} about the curve; no batch was run twice, so batches are not told apart."
        )
    apart = percentage(round(math.expm1(best.batch_sigma), 3))
    batches = apart if best.batch_sigma > 5e-4 else "no more than that explains"
    return (
        f"Runs of one batch scatter by {runs} and batches by {batches} about the curve; the intervals rest "
        f"on {counted(series.batches, 'batch', 'batches')}, not on {counted(series.runs, 'run')}."
    )


def campaigns_sentence(series: Series) -> str:
    """Say how the campaigns of a series are joined; nothing for a single one."""
    if series.joined == "fixed":
        return (
            "The two campaigns have a fixed shift between them, told by the batches that ran in both: "
            "two are too few to tell how campaigns scatter."
        )
    if not series.joined:
        return ""
    spread = series.fits[0].campaign_sigma or 0.0
    apart = (
        f"by {percentage(round(math.expm1(spread), 3))}" if spread > 5e-4 else "no more than that explains"
    )
    return (
        f"The {series.campaigns} campaigns are a random effect, joined by the batches that ran in several; "
        f"they scatter {apart}."
    )


def effect_sentence(model: BlendModel) -> str:
    """Say which component does most; the balance only mirrors what the others do."""
    balance = model.fit.names[0]
    moved = [one for one in model.effects if one.low is not None and one.high is not None]
    sure = [
        one for one in moved if one.low is not None and one.high is not None and not one.low <= 1 <= one.high
    ]
    if not moved:
        best = _largest(model.effects, balance)
        return (
            f"{_effect_text(model, best)}, without an interval: "
            f"{counted(model.fit.batches, 'batch', 'batches')} and {counted(len(model.fit.terms), 'term')} "
            "leave no scatter to judge by."
        )
    if not sure:
        return f"No component moves the {model.runs.response.label.lower()} beyond its scatter."
    best = _largest(sure, balance)
    rest = [one.component for one in moved if one not in sure]
    others = f"; {listing(rest)} cannot be told from no effect" if rest else ""
    return f"{_effect_text(model, best)}{others}."


def _largest(effects: Sequence[Effect], balance: str) -> Effect:
    added = [one for one in effects if one.component != balance]
    return max(added or effects, key=lambda one: abs(math.log(one.ratio)))


def _effect_text(model: BlendModel, effect: Effect) -> str:
    response = model.runs.response
    change = percent_change(effect.ratio, response.smaller, response.larger)
    span = ""
    if effect.low is not None and effect.high is not None:
        span = f" ({change_range(effect.ratio, effect.low, effect.high)})"
    return (
        f"From {share_text(effect.lowest)} to {share_text(effect.highest)} {effect.component} the "
        f"{response.label.lower()} comes out {change}{span}"
    )


def model_sentence(model: BlendModel) -> str:
    """Say which model is used and how well it foretells a blend that it has not seen."""
    kind = "quadratic" if model.fit.order == 2 else "linear"
    said = f"The {kind} model is used"
    if len(model.fits) > 1:
        gap = abs(model.fits[0].aicc - model.fits[1].aicc)
        said += f" (its AICc is {significant(gap, 2)} lower)"
    else:
        q = len(model.fit.names)
        said += f": the quadratic one takes more than {q * (q + 1) // 2} blends"
    error = model.rms_error
    if error is not None:
        n = sum(one.predicted is not None and one.observed is not None for one in model.left_out)
        said += (
            f". Each of {counted(n, 'blend')} predicted by the others is off by "
            f"{percentage(round(math.expm1(error), 3))} (root mean square)"
        )
    return f"{said}."


def fit_sentence(model: BlendModel) -> str:
    """Say whether the blends lie further from the model than they scatter."""
    test = model.test
    if test is None or test.f is None or test.p is None:
        reason = "there is no model" if test is None else test.reason
        return f"Lack of fit was not computed, because {reason}."
    against = "between batches of a blend" if test.against == "batches" else "between runs of a blend"
    word = "lie further from the model than" if test.p < 0.05 else "lie no further from the model than"
    also = (
        ": either the model lacks a term, or batches came out apart"
        if test.p < 0.05 and test.against == "runs"
        else ""
    )
    return (
        f"The blends {word} the scatter {against} explains (F = {significant(test.f)} on {test.df_model} and "
        f"{test.df_scatter} degrees of freedom, p = {significant(test.p, 2)}){also}."
    )


def thickness_sentence(study: FormulationStudy, found: Thickness) -> str:
    """Say how much of the difference is viscosity."""
    label = study.response.label.lower()
    twice = [math.exp(one * math.log(1.1)) for one in (found.slope, found.slope_low, found.slope_high)]
    change = percent_change(twice[0], study.response.smaller, study.response.larger)
    apart = found.slope_low > 0.0 or found.slope_high < 0.0
    word = "" if apart else ", which cannot be told from nothing"
    return (
        f"With 10 % more viscosity at the contact the {label} comes out {change} "
        f"({change_range(*twice)}){word}; viscosity explains {percentage(round(found.explained, 2))} of the "
        "variance between batches. The rest is chemistry and batch."
    )


def tradeoff_sentence(found: Tradeoff) -> str:
    """Say which blends no other beats."""
    best = [name for name, one in zip(found.names, found.unbeaten, strict=True) if one]
    beaten = [name for name, one in zip(found.names, found.unbeaten, strict=True) if not one]
    respects = listing([one.label.lower() for one in found.respects])
    if not beaten:
        return (
            f"In {respects} together each of {counted(len(best), 'blend')} has something that no other beats."
        )
    are = "is" if len(beaten) == 1 else "are"
    if len(best) > 6:
        return (
            f"In {respects} together no blend beats {len(best)} of {counted(len(found.names), 'blend')}; "
            f"{listing(beaten)} {are} beaten in all by another."
        )
    return (
        f"In {respects} together no blend beats {listing(best)}; {listing(beaten)} {are} beaten in all "
        "by another."
    )


def proposal_sentence(study: FormulationStudy, found: Proposals) -> str:
    """Say which blend to make next."""
    first = found.blends[0]
    return (
        f"Make next: {blend_text(study.blends.components, first.shares.tolist())}. {foreseen_text(first)}; "
        f"{first.reason}."
    )


def size_sentence(study: FormulationStudy) -> str:
    """Say what the study rests on."""
    fit_runs = study.model.data.logs.size
    batches = study.runs.present.size
    blends = len(study.model.tested)
    censored = int(study.model.data.left_censored.sum())
    bound = f", {counted(censored, 'run')} a bound only because wear was still running" if censored else ""
    return (
        f"{counted(len(study.runs.names), 'campaign')}, {counted(blends, 'blend')} of "
        f"{counted(len(study.blends.components), 'component')} in {counted(batches, 'batch', 'batches')}, "
        f"{counted(fit_runs, 'run')} at {load_text(study.runs.load_level)}{bound}."
    )
