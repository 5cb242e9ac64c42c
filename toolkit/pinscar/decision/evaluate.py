"""Checked runs become evaluated runs: load, scar, wear and film numbers by the bodies' constants."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.model import Body, Campaign, Rig
from pinscar.contact import hertz, wear
from pinscar.contact.geometry import Geometry, make_geometry
from pinscar.contact.hertz import Material, material, materials
from pinscar.decision.runs import load_levels
from pinscar.errors import Problem, Severity

if TYPE_CHECKING:
    from pinscar.decision.traces import RunTrace

# Key in campaign.toml, and name of the same property in the table of materials.
_LOOKED_UP = {
    "elastic_modulus": "elastic_modulus",
    "poisson_ratio": "poisson_ratio",
    "density": "density",
    "thermal_conductivity": "conductivity",
    "specific_heat": "specific_heat",
}


def with_table_values(rig: Rig) -> Rig:
    """Fill what a body doesn't state from the table of materials, where it names one; stated values win."""
    return rig.model_copy(update={"pin": _filled(rig.pin), "ring": _filled(rig.ring)})


def material_problems(rig: Rig) -> list[Problem]:
    """List the bodies whose material the table doesn't have."""
    return [
        Problem(
            code="material-unknown",
            severity=Severity.ERROR,
            file="campaign.toml",
            message="this material is not in the table of materials",
            mend=f"write one of {', '.join(sorted(materials()))}, or leave it out and state the constants",
            column=f"rig.{name}.material",
            value=body.material,
        )
        for name, body in (("pin", rig.pin), ("ring", rig.ring))
        if body.material is not None and _found(body.material) is None
    ]


def looked_up(body: Body) -> tuple[str, ...]:
    """Name the properties of a body that come from the table of materials."""
    if body.material is None:
        return ()
    found = _found(body.material)
    return tuple(
        key
        for key, name in _LOOKED_UP.items()
        if getattr(body, key) is None and getattr(found, name, None) is not None
    )


def reduced_modulus(rig: Rig) -> float | None:
    """Give the reduced modulus of pin and ring."""
    pin, ring = _filled(rig.pin), _filled(rig.ring)
    if pin.elastic_modulus is None or pin.poisson_ratio is None:
        return None
    if ring.elastic_modulus is None or ring.poisson_ratio is None:
        return None
    return float(
        hertz.reduced_modulus(
            pin.elastic_modulus, pin.poisson_ratio, ring.elastic_modulus, ring.poisson_ratio
        )
    )


def _filled(body: Body) -> Body:
    if body.material is None:
        return body
    found = _found(body.material)
    return body.model_copy(update={key: getattr(found, _LOOKED_UP[key]) for key in looked_up(body)})


def _found(name: str) -> Material | None:
    try:
        return material(name)
    except ValueError:
        return None


WIDTH_TOLERANCE = 0.15
"""Relative difference from the implied width beyond which a measured width is flagged."""

FLAGS = {
    "width-implied": "width not measured: computed from the geometry",
    "width-off-geometry": (
        "measured width more than 15 % from the one that the length implies: tilt, ring wear or a misread"
    ),
    "scar-from-readings": "scar axes are the mean of the repeated readings",
    "load-steps": "load raised while running: pressure uses the last load",
    "wear-running": "wear was still running at the end: the film carries less than the final pressure",
    "wear-not-judged": "not judged whether wear had stopped: treated as still running",
    "quiet-contradicts": "the quiet time contradicts what was noted about wear having stopped",
    "temperature-from-trace": "peak or starting temperature not typed: read off the temperature trace",
    "quiet-interval": "the noise faded: the quiet time counts as at least when the fading began",
}
"""What each flag of a run means, in words that the report prints."""


def rig_geometry(rig: Rig) -> Geometry:
    """Make the contact geometry that a campaign's rig has."""
    return make_geometry(
        rig.geometry,
        pin_diameter=rig.pin_diameter,
        ring_diameter=rig.ring_diameter,
        ring_width=rig.ring_width,
        crossing_angle=rig.crossing_angle,
        ring_groove_depth=rig.ring_groove_depth or 0.0,
    )


def evaluate_runs(campaign: Campaign) -> pd.DataFrame:
    """Compute everything that one run tells, for every run, excluded ones too."""
    return evaluate_with_traces(campaign)[0]


def evaluate_with_traces(campaign: Campaign) -> tuple[pd.DataFrame, tuple[RunTrace, ...]]:
    """Compute everything that one run tells, and give what its trace tells beside it."""
    # A check asks for materials only, and doesn't wait for what reads traces.
    from pinscar.decision.traces import add_trace_responses, add_trace_temperatures, run_traces

    rig = campaign.file.rig
    geometry = rig_geometry(rig)
    runs = campaign.runs.copy()
    implied = geometry.implied_width(_values(runs, "scar_length"))
    runs["width_is_implied"] = runs["scar_width"].isna()
    runs["scar_width_used"] = runs["scar_width"].where(~runs["width_is_implied"], implied)
    runs["width_ratio"] = runs["scar_width"] / implied
    runs["scar_depth"] = geometry.scar_depth(_values(runs, "scar_length"))
    runs["scar_area"] = geometry.scar_area(_values(runs, "scar_length"), _values(runs, "scar_width_used"))
    runs["scar_pressure"] = wear.mean_pressure(_values(runs, "load"), _values(runs, "scar_area"))
    runs["wear_volume"] = geometry.wear_volume(_values(runs, "scar_length"))
    runs["load_level"] = load_levels(runs["load"], runs["excluded"] == "")
    runs = _add_sliding(runs, campaign)
    runs["hertz_peak_pressure"] = _hertz_peak_pressure(runs, rig, geometry)
    traces = run_traces(runs, campaign.load_steps, campaign.traces)
    runs = add_trace_temperatures(runs, {one.run_id: one.warming for one in traces})
    runs["temperature_rise"] = runs["peak_temperature"] - runs["ambient_temperature"]
    runs = add_trace_responses(runs, traces)
    runs = _add_film_state(runs, campaign.load_steps)
    runs["flags"] = list(_flags(runs, campaign.load_steps))
    return runs, traces


def _values(runs: pd.DataFrame, column: str) -> NDArray[np.float64]:
    return runs[column].to_numpy(dtype=float)


def _add_sliding(runs: pd.DataFrame, campaign: Campaign) -> pd.DataFrame:
    speed = wear.sliding_speed(campaign.file.rig.ring_diameter, _values(runs, "ring_speed"))
    runs["sliding_speed"] = speed
    runs["sliding_distance"] = wear.sliding_distance(speed, _values(runs, "duration"))
    steps = dict(list(campaign.load_steps.groupby("run_id")))
    runs["load_distance"] = [_load_distance(run, steps.get(run["run_id"])) for run in runs.to_dict("records")]
    runs["wear_coefficient"] = wear.wear_coefficient(
        _values(runs, "wear_volume"), _values(runs, "load_distance")
    )
    return runs


def _load_distance(run: Mapping[Any, Any], steps: pd.DataFrame | None) -> float:
    starts, levels = ([0.0], [run["load"]]) if steps is None else (steps["start"], steps["load"])
    return float(wear.load_distance(starts, levels, run["duration"], run["sliding_speed"]))


def _hertz_peak_pressure(runs: pd.DataFrame, rig: Rig, geometry: Geometry) -> NDArray[np.float64]:
    # Without elastic constants of both bodies there is no Hertz pressure; the report says so.
    modulus = reduced_modulus(rig)
    if modulus is None:
        return np.full(len(runs), np.nan)
    return np.asarray(geometry.initial_contact(_values(runs, "load"), modulus).peak_pressure)


def _add_film_state(runs: pd.DataFrame, load_steps: pd.DataFrame) -> pd.DataFrame:
    last_start = runs["run_id"].map(load_steps.groupby("run_id")["start"].max()).fillna(0.0)
    declared = runs["wear_stopped"].to_numpy(dtype=object)
    # of a noise that faded, the moment at which nothing was left of it tells whether wear had stopped
    quiet = runs["quiet_time"].fillna(runs["quiet_before"]).to_numpy(dtype=float)
    duration = _values(runs, "duration")
    runs["last_step_start"] = last_start.to_numpy(dtype=float)
    runs["declared_stopped"] = declared
    runs["wear_stopped"] = wear.wear_stopped(declared, quiet, duration, _values(runs, "last_step_start"))
    runs["left_censored"] = [state is not True for state in runs["wear_stopped"]]
    runs["film_pressure"] = runs["scar_pressure"]
    runs["quiet_contradicts"] = wear.contradictions(
        declared, quiet, duration, _values(runs, "last_step_start")
    )
    return runs


def _flags(runs: pd.DataFrame, load_steps: pd.DataFrame) -> Iterator[tuple[str, ...]]:
    stepped = set(load_steps["run_id"])
    for run in runs.to_dict("records"):
        measured = np.isfinite(run["scar_length"])
        tests = {
            "width-implied": measured and run["width_is_implied"],
            "width-off-geometry": abs(run["width_ratio"] - 1.0) > WIDTH_TOLERANCE,
            "scar-from-readings": run["scar_from"] == "readings",
            "load-steps": run["run_id"] in stepped,
            "wear-running": run["wear_stopped"] is False,
            "wear-not-judged": run["wear_stopped"] is None,
            "quiet-contradicts": bool(run["quiet_contradicts"]),
            "temperature-from-trace": bool(run["temperature_from_trace"]),
            "quiet-interval": bool(np.isnan(run["quiet_time"]) and np.isfinite(run["quiet_after"])),
        }
        yield tuple(flag for flag, raised in tests.items() if raised)
