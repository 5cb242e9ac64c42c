"""The table of friction coefficients that the traces tell."""

from __future__ import annotations

from pinscar.decision.friction import FrictionPhase
from pinscar.decision.wording import load_text
from pinscar.report.markup import Markup, table


def friction_table(phases: tuple[FrictionPhase, ...]) -> Markup:
    """Tabulate the friction coefficient of each phase of each run that has a trace.

    Parameters
    ----------
    phases : tuple of FrictionPhase
        At least one.

    Returns
    -------
    Markup
        The table.
    """
    quiet = {one.run_id: one.start for one in phases if one.after_noise}
    rows = [
        [
            one.run_id,
            f"{one.lubricant} at {load_text(one.load)}",
            f"{one.start:.4g} to {one.end:.4g}",
            _words(one, quiet),
            f"{one.friction.mean:.3f}",
            f"{one.friction.low:.3f} to {one.friction.high:.3f}",
        ]
        for one in phases
    ]
    note = (
        "Friction force over load, mean over time; load steps are separate phases. The range is what the "
        "friction moved in, not an uncertainty of the mean."
    )
    if any(one.friction.low <= 0.0 for one in phases):
        note += (
            " A range that reaches zero shows a wrong sign or zero of the force: no heat is computed from it."
        )
    return table(
        ["Run", "Oil and load", ("Time", "s"), "Phase", "Friction coefficient", "5 to 95 % of the time"],
        rows,
        caption="Friction coefficient from the traces of the friction force",
        key="friction",
        number_columns=[2, 4, 5],
        note=note,
    )


def _words(one: FrictionPhase, quiet: dict[str, float]) -> str:
    if one.after_noise:
        return "after the noise stopped"
    if quiet.get(one.run_id) == one.end:
        return "until the noise stopped"
    return "end of the noise not noted" if one.is_last else "until the load was raised"
