"""The formulation study: everything that is computed, in one record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pinscar.campaign.model import Campaign
from pinscar.decision.responses import Response, available
from pinscar.errors import InputError, Problem, Severity, UsageError
from pinscar.stats.mixture import LeftOutBlend
from pinscar.study.formulation.blends import Blends, StudyRuns, blends_of
from pinscar.study.formulation.limits import Limit, limits_of, response_named
from pinscar.study.formulation.model import BlendModel, drive_loss_model, model_of
from pinscar.study.formulation.proposals import Aim, Proposals, propose
from pinscar.study.formulation.runs import runs_of
from pinscar.study.formulation.series import Series, find_series, study_series
from pinscar.study.formulation.thickness import Thickness, thickness_of
from pinscar.study.formulation.tradeoff import Tradeoff, tradeoff_of
from pinscar.units import UnitError, parse_quantity
from pinscar.wording import listing

BESIDE = ("fling_mass",)
"""Responses that are looked at beside the main one where none are named and runs have them."""
COLD = 313.15
"""Temperature of viscosities where no run recorded one [K]: the 40 °C of the data sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of a study.

    Attributes
    ----------
    response : str
        The response that is modelled.
    others : tuple of str or None
        Further responses; those in `BESIDE` that runs have where None.
    reference : str or None
        The oil that joins the campaigns; the one that most name where None.
    load : str or None
        The load; the one with most runs where None.
    limits : tuple of str
        Limits, such as ``fling_mass at most 25 mg``.
    contact_temperature : str or None
        Temperature at which viscosities are compared; the median peak temperature where None.
    aim : {"improvement", "D", "I"}
        What the next blends are chosen for.
    count : int
        How many next blends.
    confidence : float or None
        Confidence of each interval; the largest of the campaigns' own where None.
    seed : int
        Seed of the bootstrap.
    """

    response: str = "film_pressure"
    others: tuple[str, ...] | None = None
    reference: str | None = None
    load: str | None = None
    limits: tuple[str, ...] = ()
    contact_temperature: str | None = None
    aim: Aim = "improvement"
    count: int = 3
    confidence: float | None = None
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulationStudy:
    """A formulation study.

    Attributes
    ----------
    campaigns : tuple of Campaign
        The campaigns given.
    asked : Asked
        What was asked.
    reference : str
        The oil that joins them.
    confidence : float
        Confidence of each interval [1].
    blends : Blends
        Batches and components.
    runs : StudyRuns
        Runs of the main response.
    model : BlendModel
        Its mixture models.
    beside : tuple of BlendModel
        Those of further responses.
    series : tuple of Series
        Dose series of the main response.
    no_series : tuple of str
        A sentence for each additive without one.
    thickness : Thickness or None
        The main response against viscosity.
    no_thickness : str
        Why there is none.
    tradeoff : Tradeoff or None
        Blends in all respects.
    no_tradeoff : str
        Why there is none.
    limits : tuple of Limit
        Limits kept in view.
    proposals : Proposals or None
        The blends to make next.
    no_proposals : str
        Why there are none.
    left_out : tuple of str
        A sentence for all that stayed out.
    """

    campaigns: tuple[Campaign, ...]
    asked: Asked
    reference: str
    confidence: float
    blends: Blends
    runs: StudyRuns
    model: BlendModel
    beside: tuple[BlendModel, ...]
    series: tuple[Series, ...]
    no_series: tuple[str, ...]
    thickness: Thickness | None
    no_thickness: str
    tradeoff: Tradeoff | None
    no_tradeoff: str
    limits: tuple[Limit, ...]
    proposals: Proposals | None
    no_proposals: str
    left_out: tuple[str, ...]

    @property
    def response(self) -> Response:
        """The response that is modelled."""
        return self.runs.response

    @property
    def limit(self) -> Limit | None:
        """The limit on it, if there is one."""
        return next((one for one in self.limits if one.name == self.response.name), None)


def study_formulation(campaigns: Sequence[Campaign], asked: Asked | None = None) -> FormulationStudy:
    """Study what each component does, how much is needed and what to try next."""
    wanted = asked or Asked()
    confidence = _confidence(campaigns, wanted)
    reference = wanted.reference or _usual_reference(campaigns)
    blends = blends_of(campaigns)
    response = response_named(campaigns, wanted.response)
    load = None if wanted.load is None else _quantity(wanted.load, "force", "load")
    runs = runs_of(campaigns, blends, response, reference, load)
    limits = limits_of(campaigns, response, runs.load_level, wanted.limits)
    model = model_of(runs, blends, confidence)
    beside, missing = _beside(campaigns, blends, reference, runs, wanted, limits, confidence)
    series, no_series = _all_series(runs, blends, limits, confidence)
    temperature = _contact_temperature(campaigns, wanted)
    thickness, no_thickness = thickness_of(model, blends, temperature)
    tradeoff, no_tradeoff = tradeoff_of([model, *beside], blends, confidence, wanted.seed)
    stated = drive_loss_model(blends, runs.load_level, confidence)
    beside += () if stated is None else (stated,)
    proposals, no_proposals = propose(model, beside, blends, limits, wanted.aim, wanted.count)
    left_out = tuple(dict.fromkeys([*runs.left_out, *missing, *blends.remarks]))
    return FormulationStudy(
        campaigns=tuple(campaigns),
        asked=wanted,
        reference=reference,
        confidence=confidence,
        blends=blends,
        runs=runs,
        model=model,
        beside=beside,
        series=series,
        no_series=no_series,
        thickness=thickness,
        no_thickness=no_thickness,
        tradeoff=tradeoff,
        no_tradeoff=no_tradeoff,
        limits=limits,
        proposals=proposals,
        no_proposals=no_proposals,
        left_out=left_out,
    )


def _confidence(campaigns: Sequence[Campaign], asked: Asked) -> float:
    level = asked.confidence or max(one.file.campaign.confidence for one in campaigns)
    if not 0.5 < level < 1.0:
        raise UsageError(f"confidence must lie between 0.5 and 1, not {level:g}")
    if asked.count < 1:
        raise UsageError(f"count must be 1 or more, not {asked.count}")
    return level


def _usual_reference(campaigns: Sequence[Campaign]) -> str:
    named = Counter(one.file.campaign.reference for one in campaigns).most_common()
    if len(named) > 1 and named[0][1] == named[1][1]:
        message = f"the campaigns have different references: {listing([name for name, _ in named])}"
        mend = f"name the oil that joins them, such as -p reference={named[0][0]}"
        raise InputError(
            [
                Problem(
                    code="reference-not-shared",
                    severity=Severity.ERROR,
                    file="campaign.toml",
                    message=message,
                    mend=mend,
                )
            ]
        )
    return named[0][0]


def _quantity(text: str, dimension: str, name: str) -> float:
    try:
        return parse_quantity(text, dimension)
    except UnitError as wrong:
        raise UsageError(f"{name}: {wrong.message}; {wrong.mend}") from wrong


def _beside(
    campaigns: Sequence[Campaign],
    blends: Blends,
    reference: str,
    runs: StudyRuns,
    asked: Asked,
    limits: Sequence[Limit],
    confidence: float,
) -> tuple[tuple[BlendModel, ...], list[str]]:
    from pinscar.decision.evaluate import evaluate_runs

    names = list(asked.others) if asked.others is not None else []
    if asked.others is None:
        have = {r.name for one in campaigns for r in available(evaluate_runs(one), one.units)}
        names = [name for name in BESIDE if name in have]
    known = {"price", "drive_loss"}
    names += [one.name for one in limits if one.name not in names and one.name not in known]
    found, missing = [], []
    for name in dict.fromkeys(one for one in names if one != runs.response.name):
        response = response_named(campaigns, name)
        try:
            own = runs_of(campaigns, blends, response, reference, runs.load_level)
        except (InputError, UsageError) as wrong:
            missing.append(f"{response.label}: {str(wrong).splitlines()[0]}")
            continue
        found.append(model_of(own, blends, confidence, whole=False))
    return tuple(found), missing


def _all_series(
    runs: StudyRuns, blends: Blends, limits: Sequence[Limit], confidence: float
) -> tuple[tuple[Series, ...], tuple[str, ...]]:
    limit = next((one for one in limits if one.name == runs.response.name), None)
    found = find_series(blends, runs.present.tolist())
    series = tuple(
        study_series(
            runs,
            blends,
            additive,
            members,
            None if limit is None else limit.value,
            "at least" if limit is None else limit.side,
            confidence,
        )
        for additive, members in found
    )
    inside = {additive for additive, _ in found}
    without = tuple(
        f"{name}: no three blends differ in it alone, so there is no dose series."
        for place, name in enumerate(blends.components)
        if place and place not in inside
    )
    return series, without


def _contact_temperature(campaigns: Sequence[Campaign], asked: Asked) -> float:
    if asked.contact_temperature is not None:
        return _quantity(asked.contact_temperature, "temperature", "contact_temperature")
    seen = np.concatenate([one.runs["peak_temperature"].to_numpy(dtype=float) for one in campaigns])
    seen = seen[np.isfinite(seen)]
    return float(np.median(seen)) if seen.size else COLD


def blend_names(one: LeftOutBlend, model: BlendModel, study: FormulationStudy) -> list[str]:
    """Name the batches of a blend that was left out."""
    return [
        study.blends.batches[place].name
        for place, blend in zip(model.runs.present, model.data.blends, strict=True)
        if blend == one.blend
    ]
