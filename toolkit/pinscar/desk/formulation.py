"""A formulation study at the desk: ``pinscar.formulation([...])`` gives frame, models, next blends."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pinscar.decision.check import check_all
from pinscar.desk.table import Table, as_table, styled
from pinscar.errors import InputError, UsageError
from pinscar.import_path import leave_folder
from pinscar.page import style
from pinscar.page.markup import Markup, finding, table
from pinscar.study.formulation import charts, proposals, tables, words
from pinscar.study.formulation.limits import limits_of
from pinscar.study.formulation.model import BlendModel
from pinscar.study.formulation.proposals import Aim, Proposal, foresee, propose
from pinscar.study.formulation.results import formulation_results
from pinscar.study.formulation.slices import slices_of
from pinscar.study.formulation.study import Asked, FormulationStudy, study_formulation
from pinscar.wording import with_interval

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def formulation(
    folders: Sequence[str | Path] | str | Path,
    response: str = "film_pressure",
    others: Sequence[str] | None = None,
    limits: Sequence[str] = (),
    reference: str | None = None,
    load: str | None = None,
    contact_temperature: str | None = None,
    aim: Aim = "improvement",
    count: int = 3,
    confidence: float | None = None,
    seed: int = 1,
) -> Formulation:
    """Study what each component does, how much is needed and what to try next.

    Parameters
    ----------
    folders : sequence of str or pathlib.Path
        The campaign folders; one alone may be given as it is.
    response : str
        What is modelled.
    others : sequence of str, optional
        Further responses.
    limits : sequence of str
        Limits, such as ``fling_mass at most 25 mg``, beside the campaigns' criteria.
    reference : str, optional
        The oil that joins the campaigns.
    load : str, optional
        The load, with its unit.
    contact_temperature : str, optional
        Temperature at which viscosities are compared.
    aim : {"improvement", "D", "I"}
        What the next blends are chosen for.
    count : int
        How many next blends.
    confidence : float, optional
        Confidence of each interval.
    seed : int
        Seed of the bootstrap.

    Returns
    -------
    Formulation
        The study.

    Raises
    ------
    InputError
        With every problem, where a folder has errors; a notebook shows them as a table.
    UsageError
        Where something asked for does not fit.

    References
    ----------
    The models and their sources: notebooks/handbook.ipynb, sections I7 to I13.

    Examples
    --------
    >>> formulation("nowhere")
    Traceback (most recent call last):
        ...
    pinscar.errors.InputError: nowhere: there is no such folder; check the path
    """
    names = [folders] if isinstance(folders, str | Path) else list(folders)
    if not names:
        raise UsageError("give the folders of the campaigns")
    campaigns, wrong = [], []
    for name in names:
        leave_folder(str(name))
        campaign, problems = check_all(Path(name))
        if campaign is None:
            wrong += problems
        else:
            campaigns.append(campaign)
    if wrong:
        raise InputError(wrong)
    asked = Asked(
        response=response,
        others=None if others is None else tuple(others),
        reference=reference,
        load=load,
        limits=tuple(limits),
        contact_temperature=contact_temperature,
        aim=aim,
        count=count,
        confidence=confidence,
        seed=seed,
    )
    return Formulation(study_formulation(campaigns, asked))


@dataclass(frozen=True, slots=True)
class Formulation:
    """A formulation study to work with.

    Attributes
    ----------
    study : FormulationStudy
        All that was computed.
    """

    study: FormulationStudy

    @property
    def frame(self) -> pd.DataFrame:
        """The runs that are modelled: oil, shares [%], value and whether it is a bound."""
        runs, blends = self.study.runs, self.study.blends
        keep = runs.batches >= 0
        batches = runs.batches[keep]
        frame = pd.DataFrame(
            {
                "run_id": [name for (_, name), one in zip(runs.run_ids, keep, strict=True) if one],
                "campaign": [runs.names[i] for i in runs.campaigns[keep]],
                "batch": [blends.batches[i].name for i in batches],
            }
        )
        for place, name in enumerate(blends.components):
            frame[f"{name} [%]"] = 100.0 * blends.shares[batches, place]
        frame[f"{runs.response.name} [{runs.response.unit}]"] = runs.values[keep]
        frame["left_censored"] = runs.left_censored[keep]
        return frame

    @property
    def models(self) -> dict[str, BlendModel]:
        """The mixture models by response, the main one first."""
        return {one.runs.response.name: one for one in (self.study.model, *self.study.beside)}

    @property
    def results(self) -> dict[str, Any]:
        """What results.json of the report holds."""
        return formulation_results(self.study)

    @property
    def plot(self) -> FormulationPlots:
        """The charts."""
        return FormulationPlots(self.study)

    def predict(self, blend: Mapping[str, float | str]) -> Table:
        """Predict a blend in every response modelled."""
        shares = self._shares(blend)
        records, rows = [], []
        for model in (one for one in self.models.values() if one.fits):
            ahead, inside = foresee(model, shares, self.study.limits), model.is_inside(shares)
            records.append(
                {
                    "response": ahead.name, "unit": model.runs.response.unit,
                    "value": ahead.value / model.runs.response.shown_factor,
                    "ci_low": _scaled(ahead.low, model), "ci_high": _scaled(ahead.high, model),
                    "chance_of_limit": ahead.chance, "extrapolated": not inside,
                }
            )  # fmt: skip
            rows.append(
                [
                    ahead.label,
                    with_interval(ahead.value, ahead.low, ahead.high),
                    ahead.unit,
                    "no limit" if ahead.chance is None else f"{100.0 * ahead.chance:.0f} %",
                    "among those tested" if inside else "extrapolated",
                ]
            )
        head = ["Response", "Foreseen", "Unit", "Chance of keeping the limit", "Blend"]
        name = proposals.blend_text(self.study.blends.components, shares.tolist())
        shown = [table(head, rows, caption=f"What is foreseen of {name}")] if rows else []
        return as_table(records, shown, "No response has a model.")

    def _shares(self, blend: Mapping[str, float | str]) -> np.ndarray[Any, np.dtype[np.float64]]:
        from pinscar.campaign.codes import nearest
        from pinscar.campaign.quantities import BALANCE, FieldError, composition

        names = self.study.blends.components
        for name in blend:
            if name not in names:
                near = nearest(name, names)
                mend = f"; write {near}" if near else f"; there are {', '.join(names)}"
                raise UsageError(f"no blend has a component {name!r}{mend}")
        written = {n: v if isinstance(v, str) else f"{v:.12g} %" for n, v in blend.items()}
        if names[0] not in written:
            written[names[0]] = BALANCE
        try:
            found = composition(written)
        except FieldError as wrong:
            raise UsageError(f"{wrong.message}; {wrong.mend}") from wrong
        return np.array([found.get(name, 0.0) for name in names])

    def next_blends(
        self, count: int | None = None, aim: Aim | None = None, limits: Sequence[str] = ()
    ) -> Table:
        """List the blends to make next."""
        study = self.study
        kept = study.limits
        if limits:
            every = [*study.asked.limits, *limits]
            kept = limits_of(study.campaigns, study.response, study.runs.load_level, every)
        found, reason = propose(
            study.model, study.beside, study.blends, kept, aim or study.asked.aim, count or study.asked.count
        )
        changed = replace(study, proposals=found, limits=kept)
        records = [] if found is None else [_flat(one, study.blends.components) for one in found.blends]
        return as_table(
            records,
            [tables.proposals_table(changed, found), tables.foreseen_table(found)] if found else [],
            reason,
        )

    def effects(self) -> Table:
        """Show what each component does to the main response."""
        model = self.study.model
        records = formulation_results(self.study)["models"][0].get("effects", [])
        return as_table(
            records, [tables.effects_table(model)] if records else [], f"No model: {model.reason}."
        )

    def doses(self) -> Table:
        """Show the forms of each dose series and the least dose by each."""
        found = [
            {"additive": one["additive"], **form}
            for one in formulation_results(self.study)["series"]
            for form in one["forms"]
        ]
        parts = [
            tables.forms_table(self.study, one, number)
            for number, one in enumerate(self.study.series, 1)
            if one.fits
        ]
        return as_table(found, parts, " ".join(self.study.no_series) or "No dose series was found.")

    def tradeoff(self) -> Table:
        """Show the blends in all respects, with the chance that no other beats them."""
        found = self.study.tradeoff
        records = [] if found is None else formulation_results(self.study)["tradeoff"]["blends"]
        parts = [] if found is None else [tables.tradeoff_table(found)]
        return as_table(records, parts, self.study.no_tradeoff)

    def _repr_html_(self) -> str:
        said = [words.series_sentence(self.study, one) for one in self.study.series]
        head = words.effect_sentence(self.study.model) if self.study.model.fits else self.study.model.reason
        parts = [finding(head), *(Markup("<p>{}</p>").format(one) for one in said)]
        if self.study.proposals:
            parts.append(
                Markup("<p>{}</p>").format(words.proposal_sentence(self.study, self.study.proposals))
            )
        parts.append(Markup('<p class="note">{}</p>').format(words.size_sentence(self.study)))
        return styled("\n".join(parts))

    def __repr__(self) -> str:
        return f"<formulation study: {words.size_sentence(self.study)}>"


def _flat(one: Proposal, names: Sequence[str]) -> dict[str, object]:
    """Give a proposal as one row of plain values."""
    shares = {f"{name} [%]": round(100.0 * float(x), 6) for name, x in zip(names, one.shares, strict=True)}
    seen = {f"{f.name} [{f.unit}]": f.value for f in one.foreseen}
    more = {"price": one.price, "chance_of_limits": one.chance, "extrapolated": not one.inside}
    return {"rank": one.rank, **shares, **seen, **more, "because": one.reason}


def _scaled(value: float | None, model: BlendModel) -> float | None:
    return None if value is None else value / model.runs.response.shown_factor


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart that a notebook shows, whichever backend it has.

    Attributes
    ----------
    figure : matplotlib.figure.Figure
        The figure, to change or save.
    """

    figure: Figure

    def _repr_png_(self) -> bytes:
        buffer = io.BytesIO()
        with style.report_style():
            self.figure.savefig(buffer, format="png", dpi=110, metadata={"Software": None})
        return buffer.getvalue()


@dataclass(frozen=True, slots=True)
class FormulationPlots:
    """The charts of a formulation study; each method gives a drawing, which a notebook shows.

    Attributes
    ----------
    study : FormulationStudy
        The study.
    """

    study: FormulationStudy

    def dose(self, additive: str | None = None) -> Drawing:
        """Draw a dose series."""
        series = [one for one in self.study.series if additive in (None, one.additive)]
        if not series:
            named = ", ".join(one.additive for one in self.study.series) or "none"
            raise UsageError(f"no dose series of {additive}; there are: {named}")
        return Drawing(
            charts.dose_chart(series[0], self.study.response, self.study.limit, style.PRINT_WIDTH_MM)
        )

    def effects(self) -> Drawing:
        """Draw what each component does."""
        return Drawing(charts.effects_chart(self._model(), style.PRINT_WIDTH_MM))

    def triangle(self, number: int = 1) -> Drawing:
        """Draw the prediction over three components with the blends tested; of more, one of the slices."""
        model = self._model()
        cuts = slices_of(model, self.study.blends)
        if not cuts:
            raise UsageError(f"triangles are drawn of 3 to 6 components; there are {len(model.data.names)}")
        if not 1 <= number <= len(cuts):
            raise UsageError(f"there is no slice {number}; there are 1 to {len(cuts)}")
        return Drawing(charts.ternary_chart(model, cuts[number - 1], style.PRINT_WIDTH_MM))

    def tradeoff(self) -> Drawing:
        """Draw the blends in all respects."""
        if self.study.tradeoff is None:
            raise UsageError(self.study.no_tradeoff)
        return Drawing(charts.tradeoff_chart(self.study.tradeoff, style.PRINT_WIDTH_MM))

    def viscosity(self) -> Drawing:
        """Draw the main response against viscosity."""
        if self.study.thickness is None:
            raise UsageError(self.study.no_thickness)
        return Drawing(charts.thickness_chart(self._model(), self.study.thickness, style.PRINT_WIDTH_MM))

    def _model(self) -> BlendModel:
        if not self.study.model.fits:
            raise UsageError(f"there is no model: {self.study.model.reason}")
        return self.study.model
