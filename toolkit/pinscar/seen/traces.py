"""The part of the report on traces: finding, figure, tables and method, where a campaign has any."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

from pinscar.decision.record import Analysis
from pinscar.decision.traces import RunTrace
from pinscar.evidence.friction_stop import CLOCKS
from pinscar.evidence.recorder import GAP_SHARE, MOST_BRIDGED, SPIKE, Gap
from pinscar.evidence.warming import LEAST_SPIKE, WINDOW
from pinscar.page.markup import Markup, finding, method_note, table
from pinscar.seen.trace_chart import MOST_RUNS, TraceDrawn, trace_figure
from pinscar.shown import to_shown
from pinscar.wording import counted, fixed, listing, load_text, significant, with_uncertainty

_SCATTER = (
    "±: standard uncertainty from the scatter and the spacing of the readings; scatter biases the steepest "
    "line upwards. Calibration is not included."
)
_SPACING = (
    "±: standard uncertainty from the scatter and spacing of the readings, from bridged gaps, from the zero "
    "of the force where it was checked, and from the reading of the scar where its uncertainty is stated; "
    "calibration is not included."
)


def trace_sentence(runs: Sequence[TraceDrawn]) -> str:
    """Say what the traces tell."""
    whole = [one.told.energy for one in runs if one.told.energy and not one.told.energy.missing]
    energies = [to_shown(energy.energy, "kJ") for energy in whole]
    torn = sum(bool(one.told.energy and one.told.energy.missing) for one in runs)
    peaks = [to_shown(one.told.warming.peak, "°C") for one in runs if one.told.warming]
    stops = [one.stop.time for one in runs if one.stop is not None and one.stop.time is not None]
    measured = [one for one in runs if one.stop is not None]
    but = f", not counting {counted(torn, 'run')} with gaps" if torn else ""
    friction = [f"took {_span(energies, significant)} kJ per run{but}"] if energies else []
    if stops:
        times = _span(stops, lambda x: f"{x:.0f}")
        friction.append(f"settled after {times} s in {len(stops)} of {len(measured)}")
    said = [f"friction {listing(friction)}"] if friction else []
    if peaks:
        said.append(f"the temperature peaked at {_span(peaks, lambda x: f'{x:.0f}')} °C")
    told = "; ".join(said) or "none holds a friction force or a temperature within its run"
    return f"{counted(len(runs), 'run has a trace', 'runs have traces')}: {told}."


def run_sentence(run: TraceDrawn) -> str:
    """Say what the trace of one run tells."""
    told, stop, said = run.told, run.stop, []
    if told.energy is not None:
        least = "at least " if told.energy.missing else ""
        energy = with_uncertainty(to_shown(told.energy.energy, "kJ"), to_shown(told.energy.uncertainty, "kJ"))
        said.append(f"friction energy {least}{energy} kJ")
    if stop is not None:
        settled = f"friction had settled after {_settled(run).rstrip('*')} s"
        off = f", {run.typed:.0f} s typed" if _typed_off(run) else ""
        said.append(
            f"when friction settled is not determined ({stop.reason})" if stop.reason else settled + off
        )
    if told.warming is not None:
        said.append(
            f"temperature peaked at {to_shown(told.warming.peak, '°C'):.1f} °C "
            f"after {told.warming.time_of_peak:.0f} s"
        )
        rate = told.warming.rate
        if rate is not None:
            value = with_uncertainty(rate.value, rate.uncertainty)
            said.append(f"warming fastest, {value} K/s, after {rate.time:.0f} s")
    return f"Trace: {'; '.join(said) or 'no friction force and no temperature within the run'}."


def _span(values: Sequence[float], write: Callable[[float], str]) -> str:
    low, high = write(min(values)), write(max(values))
    return low if low == high else f"{low} to {high}"


def warming_table(runs: Sequence[TraceDrawn]) -> Markup | None:
    """Tabulate peak, rise and greatest heating rate."""
    rows, notes = [], []
    for run in runs:
        told, warming = run.told, run.told.warming
        if warming is None:
            continue
        peak = [f"{to_shown(warming.peak, '°C'):.1f}", f"{warming.time_of_peak:.0f}"]
        rate = ["too sparse", "too sparse"]
        if warming.rate is not None:
            rate = [
                with_uncertainty(warming.rate.value, warming.rate.uncertainty),
                f"{warming.rate.time:.0f}",
            ]
        rows.append([*_head(told), *peak, with_uncertainty(told.rise, told.rise_uncertainty), *rate])
        notes += [_gaps(told.run_id, warming.gaps)] if warming.gaps else []
    if not rows:
        return None
    note = [
        _SCATTER,
        _rises([one.told for one in runs if one.told.warming]),
        *_filled_in(notes, "; a peak may lie there"),
    ]
    return table(
        [
            "Run",
            "Oil and load",
            ("Peak", "°C"),
            ("Peak at", "s"),
            ("Rise", "K"),
            ("Greatest rate", "K/s"),
            ("Rate at", "s"),
        ],
        rows,
        caption="Temperature from the traces",
        key="trace-temperature",
        number_columns=range(2, 7),
        note=" ".join(note + _spikes([one.told for one in runs])),
    )


def step_table(runs: Sequence[TraceDrawn]) -> Markup | None:
    """Tabulate the rise of each load step of the runs whose load was raised on the way."""
    rows = [
        [
            run.told.run_id,
            run.told.lubricant,
            load_text(dict(run.steps)[one.begun]),
            f"{one.begun:.4g}",
            f"{to_shown(one.start, '°C'):.1f}",
            f"{to_shown(one.peak, '°C'):.1f}",
            with_uncertainty(one.rise, one.rise_uncertainty),
        ]
        for run in runs
        for one in (run.told.warming.steps if run.told.warming is not None else ())
    ]
    if not rows:
        return None
    return table(
        ["Run", "Oil", "Load", ("Load on at", "s"), ("Start", "°C"), ("Peak", "°C"), ("Rise", "K")],
        rows,
        caption="Rise of temperature in each load step",
        key="trace-step-temperature",
        number_columns=range(3, 7),
        note="The rise of a load step counts from the temperature at which its load came on, by a straight "
        "line through the readings before.",
    )


def energy_table(runs: Sequence[TraceDrawn], specific_uncertainty: Mapping[str, float]) -> Markup | None:
    """Tabulate friction energy, and when friction settled."""
    rows: list[list[str]] = []
    notes: list[str] = []
    over: list[str] = []
    for run in runs:
        told = run.told
        if told.energy is None:
            continue
        rows.append(
            [*_head(told), *_energy(told, specific_uncertainty.get(told.run_id, math.nan)), _settled(run)]
        )
        if told.force_gaps:
            (over if told.energy.bridged else notes).append(_gaps(told.run_id, told.force_gaps))
    if not rows:
        return None
    note = [_SPACING, *_zeros([one.told for one in runs if one.told.energy is not None])]
    return table(
        [
            "Run",
            "Oil and load",
            ("Friction energy", "kJ"),
            ("Over distance", "J/m"),
            ("Over wear volume", "kJ/mm³"),
            ("Friction settled", "s"),
        ],
        rows,
        caption="Friction energy from the traces, and when friction settled",
        key="friction-energy",
        number_columns=range(2, 6),
        note=" ".join([*note, *_bridged(over), *_filled_in(notes, ""), *_stops(runs)]),
    )


def _head(told: RunTrace) -> list[str]:
    return [told.run_id, f"{told.lubricant} at {load_text(told.load)}"]


def _energy(told: RunTrace, specific_uncertainty: float) -> list[str]:
    energy = told.energy
    assert energy is not None  # the caller chose the runs
    least = "at least " if energy.missing else ""
    specific = told.specific_energy * 1e-12
    u = specific_uncertainty * 1e-12
    return [
        least + with_uncertainty(to_shown(energy.energy, "kJ"), to_shown(energy.uncertainty, "kJ")),
        significant(energy.per_distance),
        "scar not measured" if math.isnan(specific) else least + with_uncertainty(specific, u),
    ]


def _settled(run: TraceDrawn) -> str:
    stop = run.stop
    if stop is None or stop.time is None or stop.low is None or stop.high is None:
        return "not determined"
    return f"{stop.time:.0f} ({stop.low:.0f} to {stop.high:.0f})" + ("*" if _typed_off(run) else "")


def _typed_off(run: TraceDrawn) -> bool:
    stop = run.stop
    if stop is None or stop.low is None or stop.high is None or math.isnan(run.typed):
        return False
    return not stop.low - CLOCKS <= run.typed <= stop.high + CLOCKS


def _filled_in(gaps: Sequence[str], so: str) -> list[str]:
    return [f"Gaps, over which nothing was filled in{so}: {'; '.join(gaps)}."] if gaps else []


def _bridged(gaps: Sequence[str]) -> list[str]:
    if not gaps:
        return []
    return [f"Gaps, bridged by a straight line of the friction coefficient: {'; '.join(gaps)}."]


LEAST_LAG = 0.05
"""What a sensor's lag adds to a peak is told from here on [K]."""


def _spikes(runs: Sequence[RunTrace]) -> list[str]:
    spikes = [f"{one.warming.spikes} of {one.run_id}" for one in runs if one.warming and one.warming.spikes]
    said = [f"Readings of the temperature left out as spikes: {listing(spikes)}."] if spikes else []
    doubtful = [one.run_id for one in runs if one.warming and one.warming.doubtful]
    if doubtful:
        said.append(
            f"Kept, though they stand out, since slow readings may meet a true peak once: {_some(doubtful)}."
        )
    lags = [
        f"{fixed(one.warming.lag.time_constant, 1)} s in {one.run_id}"
        for one in runs
        if one.warming and one.warming.lag and one.warming.lag.peak.value > LEAST_LAG
    ]
    if lags:
        said.append(
            f"The sensor of the temperature lags behind; what its readings lack was added: {listing(lags)}."
        )
    forces = [f"{one.force_spikes} of {one.run_id}" for one in runs if one.force_spikes]
    return said + ([f"Readings of the force left out as spikes: {listing(forces)}."] if forces else [])


def _zeros(runs: Sequence[RunTrace]) -> list[str]:
    if not runs:
        return []
    checked = [one for one in runs if one.zero.checked]
    unknown = [one for one in runs if not one.zero.checked]
    parts = [f"{one.run_id} {_zero(one)}" for one in checked]
    notes = [f"Zero of the force, taken off: {'; '.join(parts)}."] if parts else []
    if unknown:
        shift = max(one.energy.distance for one in unknown if one.energy)
        which = _some([one.run_id for one in unknown]) if checked else "any run"
        notes.append(
            f"The zero of the force was not checked in {which}: no readings of the unloaded pin stand "
            f"before or after. An offset of 1 N would change an energy by {_kilojoules(shift)}."
        )
    return notes


def _kilojoules(energy: float) -> str:
    return f"{significant(to_shown(energy, 'kJ'), 2)} kJ"


def _zero(one: RunTrace) -> str:
    before, after = one.zero.before, one.zero.after
    if before is not None and after is not None:
        return f"{fixed(before, 1)} N before and {fixed(after, 1)} N after, straight between"
    side, value = ("before", before) if before is not None else ("after", after)
    return f"{fixed(value or 0.0, 1)} N {side}, a drift not checked"


def _rises(warm: Sequence[RunTrace]) -> str:
    own = [one.run_id for one in warm if math.isnan(one.ambient)]
    before = [one.run_id for one in warm if one.run_id in own and one.warming and one.warming.before]
    opening = [one for one in own if one not in before]
    parts = ["the typed ambient temperature"] if len(own) < len(warm) else []
    parts += [f"readings before the run ({_some(before)})"] if before else []
    parts += [f"the mean of the opening second ({_some(opening)})"] if opening else []
    return f"The rise counts from {listing(parts)}."


def _gaps(run_id: str, gaps: Iterable[Gap]) -> str:
    return f"{run_id} {listing([f'{start:.0f} to {end:.0f} s' for start, end in gaps])}"


def _some(names: Sequence[str]) -> str:
    return (
        listing(list(names)) if len(names) <= 6 else f"{listing(list(names[:5]))} and {len(names) - 5} more"
    )


def _stops(runs: Sequence[TraceDrawn]) -> list[str]:
    reasons: dict[str, list[str]] = {}
    for run in runs:
        if run.stop is not None and not run.stop.accepted:
            reasons.setdefault(run.stop.reason, []).append(run.told.run_id)
    notes = [f"Not determined, because {reason}: {_some(names)}." for reason, names in reasons.items()]
    off = [f"{run.told.run_id}, typed {run.typed:.0f} s" for run in runs if _typed_off(run)]
    return notes + ([f"* The typed quiet time disagrees: {listing(off)}."] if off else [])


def trace_method(confidence: float) -> Markup:
    """Say how the traces were read."""
    return method_note(
        "Friction energy: friction force times sliding speed, integrated over time by trapezoids; over the "
        "distance slid it is the mean friction force. A step between readings of more than "
        f"{100 * GAP_SHARE:.0f} % of the run and of three median steps is a gap; gaps of up to "
        f"{100 * MOST_BRIDGED:.0f} % of a run are bridged by a straight line, and what a fall in them may "
        "change is in the ±. Scatter from each reading against its neighbours (Gasser, Sroka and "
        "Jennen-Steinmetz, Biometrika 73, 1986). Spikes: up to three readings that stand out from both "
        f"sides by {SPIKE:.0f} times the scatter, of the temperature by {LEAST_SPIKE:.0f} K too. Peak: "
        "highest point of parabolas through the readings about the highest one, up to the end of the run. "
        f"Greatest rate: steepest straight line through {WINDOW:.0f} s of readings (four median steps where "
        "those are longer). "
        f"Friction settled: 5 % of its fall is left, with the {100 * confidence:.0f} % interval."
    )


def traces_parts(analysis: Analysis, *, with_method: bool = True) -> list[str]:
    """Show what the traces tell of temperature and friction."""
    runs = traces_drawn(analysis)
    if not runs:
        return []
    roles = {one.told.lubricant: analysis.campaign.file.role_of(one.told.lubricant) for one in runs}
    sentence = trace_sentence(runs)
    shown = runs[:MOST_RUNS]
    tables = (
        warming_table(runs),
        step_table(runs),
        energy_table(runs, analysis.context.specific_energy_uncertainty),
    )
    return [
        finding(sentence),
        trace_figure(shown, roles, total=len(runs), sentence=sentence),
        *(one for one in tables if one is not None),
        *([trace_method(analysis.confidence)] if with_method else []),
    ]


def traces_drawn(analysis: Analysis) -> list[TraceDrawn]:
    """Lay out what the traces tell, and beside the first of them what their recordings say."""
    return [
        trace_drawn(analysis, told, with_sound=place < MOST_RUNS)
        for place, told in enumerate(analysis.evidence.traces)
    ]


def trace_drawn(analysis: Analysis, told: RunTrace, *, with_sound: bool = True) -> TraceDrawn:
    """Put beside a trace what else its chart shows."""
    steps, runs = analysis.campaign.load_steps, analysis.runs
    own = steps[steps["run_id"] == told.run_id]
    loads = tuple(zip(own["start"].tolist(), own["load"].tolist(), strict=True)) or ((0.0, told.load),)
    typed = float(runs.loc[runs["run_id"] == told.run_id, "quiet_time"].iloc[0])
    recording = analysis.evidence.recording(told.run_id) if with_sound else None
    heard = None if recording is None else recording.heard
    return TraceDrawn(told, loads, typed, heard, analysis.evidence.stop(told.run_id))
