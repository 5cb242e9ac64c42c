"""Tables of a campaign's responses and evidence at the desk: traces, recordings, pictures, fling cards."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pinscar.decision.analysis import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.results import results
from pinscar.decision.trace_results import BLANK
from pinscar.desk_table import Table, as_table
from pinscar.report import fling_cards, micrographs, recordings
from pinscar.report.markup import Markup, table
from pinscar.report.reading_card import card_as_dict
from pinscar.report.reading_image import scar_as_dict
from pinscar.report.sound_section import sound_parts
from pinscar.report.traces_section import traces_parts


def responses_table(analysis: Analysis, usual: Sequence[Response]) -> Table:
    """List the responses that the runs have.

    Parameters
    ----------
    analysis : Analysis
        The evaluation, with every response.
    usual : sequence of Response
        Those that are shown where none is named.

    Returns
    -------
    Table
        A row a response.
    """
    shown = {response.name for response in usual}
    records: list[dict[str, Any]] = []
    for response in analysis.responses:
        cells = [s.cell for s in analysis.summaries if s.response.name == response.name]
        records.append(
            {
                "response": response.name,
                "label": response.label,
                "unit": response.unit,
                "n": sum(len(cell.run_ids) for cell in cells),
                "n_censored": int(sum(cell.censored.sum() for cell in cells)),
                "better": response.better,
                "shown": response.name in shown,
            }
        )
    rows = [
        [
            Markup("<code>{}</code>").format(one["response"]),
            one["label"],
            one["unit"],
            one["n"],
            one["n_censored"] or "–",
            one["better"] or "not stated",
            "always" if one["shown"] else "on request",
        ]
        for one in records
    ]
    parts = [_responses_table(rows)] if rows else []
    return as_table(records, parts, "No run has a value of a response.")


def _responses_table(rows: Sequence[Sequence[object]]) -> Markup:
    return table(
        ["Name", "Response", "Unit", "Runs", "Bounds", "Better", "Shown"],
        rows,
        caption="Responses that the runs have",
        number_columns=(3, 4),
        note="Runs: included runs with a value. Bounds: runs that give only a bound. On request: "
        'where named, as in summaries("scar_length").',
    )


def traces_table(analysis: Analysis) -> Table:
    """Show what the traces tell.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Table
        A row a run that counts and has a trace.
    """
    traced = set(analysis.campaign.traces) & set(analysis.included["run_id"])
    records = [
        {name: run[name] for name in ("run_id", "lubricant", "load_N", *BLANK)}
        for run in results(analysis)["runs"]
        if run["run_id"] in traced
    ]
    parts = [Markup(part) for part in traces_parts(analysis)]
    return as_table(records, parts, "No included run has a trace in the folder traces.")


def recordings_table(analysis: Analysis) -> Table:
    """Show what the recordings tell.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Table
        A row a run that counts and has a recording.
    """
    heard = recordings.listen(analysis.campaign, analysis.confidence)
    records: list[dict[str, object]] = [
        {
            "run_id": run.run_id,
            "lubricant": run.lubricant,
            "typed_s": run.typed,
            "heard_s": run.heard.quiet_time,
            "low_s": run.heard.low,
            "high_s": run.heard.high,
            "contrast_dB": run.heard.contrast,
            "scrape_share": run.heard.scrape_share,
            "reason": run.heard.reason or None,
        }
        for run in heard
    ]
    parts = [Markup(part) for part in sound_parts(analysis, heard)]
    return as_table(records, parts, "No included run has a recording in the folder sound.")


def micrographs_table(analysis: Analysis) -> Table:
    """Show what is read off the micrographs.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Table
        A row a run that has a picture.
    """
    seen = micrographs.runs_seen(analysis.campaign.folder, analysis.runs)
    records = [
        {"run_id": one.run_id, "typed_length_mm": one.typed[0] * 1e3, "typed_width_mm": one.typed[1] * 1e3}
        | ({} if one.reading is None else scar_as_dict(one.reading))
        | {"reason": one.why_not or None}
        for one in seen
    ]
    parts = [Markup(micrographs.seen_html(seen))]
    return as_table(records, parts, "No run has a picture in the folder micrographs.")


def cards_table(analysis: Analysis) -> Table:
    """Show what is read off the fling cards.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    Table
        A row a run that has a card.
    """
    campaign = analysis.campaign
    seen = fling_cards.cards_seen(campaign.folder, analysis.runs, campaign.file.rig.fling_card)
    records = [
        {"run_id": one.run_id, "typed_area_mm2": one.typed * 1e6}
        | ({} if one.reading is None else card_as_dict(one.reading))
        | {"reason": one.why_not or None}
        for one in seen
    ]
    parts = [Markup(fling_cards.seen_html(seen))] if seen else []
    return as_table(records, parts, "No run has a card in the folder fling.")
