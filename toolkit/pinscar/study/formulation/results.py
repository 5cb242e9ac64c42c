"""The machine-readable results of a formulation study."""

from __future__ import annotations

import math
from typing import Any

from pinscar.decision.responses import number
from pinscar.decision.results import SCHEMA
from pinscar.study.formulation.model import BlendModel
from pinscar.study.formulation.proposals import Proposal
from pinscar.study.formulation.series import Series
from pinscar.study.formulation.study import FormulationStudy
from pinscar.study.formulation.thickness import Thickness
from pinscar.study.formulation.tradeoff import Tradeoff


def formulation_results(study: FormulationStudy) -> dict[str, Any]:
    """Collect a formulation study into the dictionary that results.json holds."""
    names = study.blends.components
    return {
        "schema": SCHEMA,
        "campaigns": [
            {"id": one.file.campaign.id, "title": one.file.campaign.title} for one in study.campaigns
        ],
        "overall": None,
        "study": {
            "kind": "formulation study",
            "reference": study.reference,
            "response": study.response.name,
            "unit": study.response.unit,
            "load_N": study.runs.load_level,
            "confidence": study.confidence,
            "limits": [{"response": one.name, "side": one.side, "value": one.value} for one in study.limits],
            "left_out": list(study.left_out),
        },
        "components": list(names),
        "batches": [
            {
                "name": one.name,
                "lubricant": one.lubricant,
                "batch": one.batch or None,
                "campaigns": list(one.campaigns),
                "shares": one.shares.tolist(),
                "price_per_kg": one.price,
                "drive_loss_W": one.drive_loss,
            }
            for one in study.blends.batches
        ],
        "series": [_series(one) for one in study.series],
        "models": [_model(one, study) for one in (study.model, *study.beside)],
        "viscosity": None if study.thickness is None else _thickness(study.thickness),
        "tradeoff": None if study.tradeoff is None else _tradeoff(study.tradeoff),
        "next_blends": [] if study.proposals is None else [_proposal(one) for one in study.proposals.blends],
        "not_told": [
            one
            for one in (*study.no_series, study.no_thickness, study.no_tradeoff, study.no_proposals)
            if one
        ],
    }


def _series(series: Series) -> dict[str, Any]:
    least = series.least or (None,) * len(series.fits)
    return {
        "additive": series.additive,
        "beside_percent": dict(series.beside),
        "batches": series.batches,
        "n": series.runs,
        "n_censored": series.censored,
        "forms": [
            {
                "form": fit.form,
                "start": fit.start,
                "rise": fit.rise,
                "bend_percent": fit.bend,
                "sigma": fit.sigma,
                "batch_sigma": fit.batch_sigma,
                "aicc": number(fit.aicc),
                "weight": fit.weight,
                "least_dose_percent": None if one is None else one.estimate,
                "least_dose_low": None if one is None else one.low,
                "least_dose_high": None if one is None else one.high,
                "extrapolated": None if one is None else one.extrapolated,
                "because": None if one is None else one.reason or None,
            }
            for fit, one in zip(series.fits, least, strict=True)
        ],
        "not_fitted": list(series.not_fitted),
        "because": series.reason or None,
    }


def _model(model: BlendModel, study: FormulationStudy) -> dict[str, Any]:
    made: dict[str, Any] = {
        "response": model.runs.response.name,
        "unit": model.runs.response.unit,
        "n": int(model.data.logs.size),
        "n_censored": int(model.data.left_censored.sum()),
        "because": model.reason or None,
        "fits": [],
    }
    del study
    for place, fit in enumerate(model.fits):
        made["fits"].append(
            {
                "order": fit.order,
                "used": place == model.chosen,
                "aicc": number(fit.aicc),
                "terms": [[fit.names[i] for i in term] for term in fit.terms],
                "coefficients": fit.coefficients.tolist(),
                "standard_errors": [math.sqrt(max(v, 0.0)) for v in fit.covariance.diagonal().tolist()],
                "lowest_shares": fit.lowest.tolist(),
                "df": fit.df,
                "sigma": fit.sigma,
                "batch_sigma": fit.batch_sigma,
                "campaign_sigma": fit.campaign_sigma,
                "inestimable": list(fit.inestimable),
                "method": fit.method,
            }
        )
    if not model.fits:
        return made
    test = model.test
    made["effects"] = [
        {
            "component": one.component,
            "from": float(one.lowest),
            "to": float(one.highest),
            "ratio": one.ratio,
            "ci_low": one.low,
            "ci_high": one.high,
        }
        for one in model.effects
    ]
    made["lack_of_fit"] = (
        None
        if test is None
        else {
            "f": test.f,
            "df_model": test.df_model,
            "df_scatter": test.df_scatter,
            "p": test.p,
            "against": test.against,
            "because": test.reason or None,
        }
    )
    made["left_out_rms_log"] = model.rms_error
    return made


def _thickness(found: Thickness) -> dict[str, Any]:
    return {
        "temperature_K": found.temperature,
        "start": found.start,
        "slope": found.slope,
        "slope_low": found.slope_low,
        "slope_high": found.slope_high,
        "explained": found.explained,
        "df": found.df,
        "note": found.tied or None,
        "batches": [
            {
                "name": one.name,
                "viscosity_mm2_per_s": one.viscosity * 1e6,
                "ratio": one.ratio,
                "ci_low": one.low,
                "ci_high": one.high,
            }
            for one in found.lines
        ],
    }


def _tradeoff(found: Tradeoff) -> dict[str, Any]:
    return {
        "respects": [one.name for one in found.respects],
        "draws": found.draws,
        "blends": [
            {
                "name": name,
                "shares": found.shares[i].tolist(),
                "values": [one.estimates[i] for one in found.respects],
                "lows": [one.lows[i] for one in found.respects],
                "highs": [one.highs[i] for one in found.respects],
                "unbeaten": found.unbeaten[i],
                "chance_unbeaten": found.chances[i],
            }
            for i, name in enumerate(found.names)
        ],
        "left_out": list(found.left_out),
    }


def _proposal(one: Proposal) -> dict[str, Any]:
    return {
        "rank": one.rank,
        "shares": one.shares.tolist(),
        "foreseen": [
            {
                "response": f.name,
                "value": f.value,
                "ci_low": f.low,
                "ci_high": f.high,
                "chance_of_limit": f.chance,
            }
            for f in one.foreseen
        ],
        "price_per_kg": one.price,
        "chance_of_limits": one.chance,
        "gain": one.gain,
        "extrapolated": not one.inside,
        "because": one.reason,
    }
