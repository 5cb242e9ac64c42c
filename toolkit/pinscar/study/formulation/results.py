"""The machine-readable results of a formulation study."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.special import stdtrit

from pinscar.decision.responses import number
from pinscar.decision.results_context import SCHEMA
from pinscar.stats.mixture import LeftOutBlend, MixtureFit
from pinscar.study.formulation.blends import WeighOut
from pinscar.study.formulation.model import BlendModel
from pinscar.study.formulation.proposals import Proposal, Proposals
from pinscar.study.formulation.series import Series
from pinscar.study.formulation.study import FormulationStudy, blend_names
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
                "shares_percent": _percents(names, one.shares.tolist()),
                "n": int((study.runs.batches == place).sum()),
                "n_censored": int(((study.runs.batches == place) & study.runs.left_censored).sum()),
                "price_per_kg": one.price,
                "drive_loss_W": one.drive_loss,
            }
            for place, one in enumerate(study.blends.batches)
        ],
        "currency": study.blends.currency or None,
        "series": [_series(one, study) for one in study.series],
        "models": [_model(one, study) for one in (study.model, *study.beside)],
        "viscosity": None if study.thickness is None else _thickness(study.thickness, study),
        "tradeoff": None if study.tradeoff is None else _tradeoff(study.tradeoff),
        "next_blends": []
        if study.proposals is None
        else [_proposal(one, names) for one in study.proposals.blends],
        "looked_at": None if study.proposals is None else _looked_at(study.proposals),
        "not_told": [
            one
            for one in (*study.no_series, study.no_thickness, study.no_tradeoff, study.no_proposals)
            if one
        ],
    }


def _percents(names: Sequence[str], shares: Sequence[float]) -> dict[str, float]:
    return {name: 100.0 * share for name, share in zip(names, shares, strict=True)}


def _looked_at(found: Proposals) -> dict[str, Any]:
    return {
        "aim": found.aim,
        "candidates": found.candidates,
        "bounds": [
            {
                "component": name,
                "lowest_percent": 100.0 * low,
                "highest_percent": 100.0 * high,
                "step_percent": None if step is None else 100.0 * step,
            }
            for name, low, high, step in found.bounds
        ],
        "remarks": list(found.remarks),
    }


def weigh_out_results(sheets: Sequence[WeighOut]) -> list[dict[str, Any]]:
    """Give what goes on the balance."""
    return [
        {
            "rank": rank,
            "masses_g": {name: 1e3 * mass for name, mass in zip(one.names, one.masses, strict=True)},
            "shares_percent": _percents(one.names, one.shares),
            "coarse": list(one.coarse),
        }
        for rank, one in enumerate(sheets, 1)
    ]


def _series(series: Series, study: FormulationStudy) -> dict[str, Any]:
    lowest, highest = series.doses[0], series.doses[-1]
    least = series.least or (None,) * len(series.fits)
    return {
        "additive": series.additive,
        "unit": study.response.unit,
        "beside_percent": dict(series.beside),
        "batches": series.batches,
        "n": series.runs,
        "n_censored": series.censored,
        "campaigns": series.campaigns,
        "campaigns_are": series.joined or None,
        "forms": [
            {
                "form": fit.form,
                "start": fit.start,
                "rise": fit.rise,
                "bend_percent": fit.bend,
                "sigma": fit.sigma,
                "batch_sigma": fit.batch_sigma,
                "campaign_sigma": fit.campaign_sigma,
                "aicc": number(fit.aicc),
                "weight": fit.weight,
                "weight_percent": 100.0 * fit.weight,
                "at_lowest_dose": math.exp(float(fit.at([lowest])[0])),
                "at_highest_dose": math.exp(float(fit.at([highest])[0])),
                "least_dose_percent": None if one is None else one.estimate,
                "least_dose_low": None if one is None else one.low,
                "least_dose_high": None if one is None else one.high,
                "least_dose_ci_percent": [] if one is None else [one.low, one.high],
                "extrapolated": None if one is None else one.extrapolated,
                "because": None if one is None else one.reason or None,
            }
            for fit, one in zip(series.fits, least, strict=True)
        ],
        "points": [
            {
                "batch": dot.name,
                "campaign": dot.campaign,
                "dose_percent": dot.dose,
                "values": list(dot.values),
                "left_censored": list(dot.left_censored),
                "estimate": dot.median.estimate,
                "ci_low": dot.median.low,
                "ci_high": dot.median.high,
            }
            for dot in series.dots
        ],
        "band": [{"dose_percent": dose, "ci_low": low, "ci_high": high} for dose, low, high in series.band],
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
    for place, fit in enumerate(model.fits):
        made["fits"].append(
            {
                "order": fit.order,
                "used": place == model.chosen,
                "aicc": number(fit.aicc),
                "terms": [[fit.names[i] for i in term] for term in fit.terms],
                "coefficients": fit.coefficients.tolist(),
                "coefficient_intervals": _intervals(model, fit),
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
            "from_percent": 100.0 * one.lowest,
            "to_percent": 100.0 * one.highest,
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
    made["left_out"] = [_left_out(one, model, study) for one in model.left_out]
    return made


def _intervals(model: BlendModel, fit: MixtureFit) -> list[list[float]]:
    if fit.df < 1:
        return []
    factor = float(stdtrit(fit.df, 0.5 + model.confidence / 2))
    halves = factor * np.sqrt(np.maximum(np.diag(fit.covariance), 0.0))
    return [[float(b - h), float(b + h)] for b, h in zip(fit.coefficients, halves, strict=True)]


def _left_out(one: LeftOutBlend, model: BlendModel, study: FormulationStudy) -> dict[str, Any]:
    off = None
    if one.observed is not None and one.predicted is not None:
        off = 100.0 * math.expm1(one.predicted - one.observed)
    return {
        "blend": blend_names(one, model, study),
        "observed": None if one.observed is None else math.exp(one.observed),
        "predicted": None if one.predicted is None else math.exp(one.predicted),
        "off_percent": off,
        "inside": one.inside,
    }


def _thickness(found: Thickness, study: FormulationStudy) -> dict[str, Any]:
    return {
        "unit": study.response.unit,
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
                "estimate": None if one.log is None else math.exp(one.log),
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
        "by_respect": [
            {
                "response": one.name,
                "unit": one.unit,
                "better": "higher" if one.higher_is_better else "lower",
                "blends": [
                    {"name": name, "estimate": value, "ci_low": low, "ci_high": high}
                    for name, value, low, high in zip(
                        found.names, one.estimates, one.lows, one.highs, strict=True
                    )
                ],
            }
            for one in found.respects
        ],
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
                "chance_unbeaten_percent": 100.0 * found.chances[i],
            }
            for i, name in enumerate(found.names)
        ],
        "left_out": list(found.left_out),
    }


def _proposal(one: Proposal, names: Sequence[str]) -> dict[str, Any]:
    return {
        "rank": one.rank,
        "shares": one.shares.tolist(),
        "shares_percent": _percents(names, one.shares.tolist()),
        "foreseen": [
            {
                "response": f.name,
                "unit": f.unit,
                "value": f.value,
                "ci_low": f.low,
                "ci_high": f.high,
                "chance_of_limit": f.chance,
            }
            for f in one.foreseen
        ],
        "price_per_kg": one.price,
        "chance_of_limits": one.chance,
        "chance_of_limits_percent": 100.0 * one.chance,
        "gain": one.gain,
        "gain_percent": 100.0 * one.gain,
        "extrapolated": not one.inside,
        "because": one.reason,
    }
