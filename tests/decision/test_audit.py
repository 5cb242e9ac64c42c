"""Each audit check finds its flaw in a campaign that has it, and keeps quiet in a fair one."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from pinscar.decision.audit import audit
from pinscar.decision.finding import Finding, Weight

Flaw = Callable[[pd.DataFrame], pd.DataFrame]


def fair_runs() -> pd.DataFrame:
    """Three days, each with two runs of the reference and two of a candidate, in alternating order."""
    rows = []
    for day in ("2026-04-14", "2026-04-15", "2026-04-16"):
        order = ["R-10", "C-21", "C-21", "R-10"]
        for place, oil in enumerate(order):
            rows.append(
                {
                    "run_id": f"{day[-2:]}-{place}",
                    "lubricant": oil,
                    "run_day": day,
                    "run_at": pd.Timestamp(f"{day}T08:00") + pd.Timedelta(minutes=12 * place),
                    "ring_id": f"G-{1 + place % 2}",
                    "load_level": 450.0,
                    "duration": 60.0,
                    "ring_speed": 73.3,
                    "dose": 2e-6,
                    "pin_state": "new",
                    "scar_area": 3.0e-6 + 1e-8 * ((len(rows) * 7) % 5),
                    "read_blind": "yes",
                    "excluded": "",
                    "wear_stopped": True,
                    "flags": (),
                }
            )
    return pd.DataFrame(rows)


def ids(found: tuple[Finding, ...]) -> set[str]:
    return {finding.id for finding in found}


def test_a_fair_campaign_has_no_finding() -> None:
    assert audit(fair_runs(), "R-10") == ()


def of_candidate(column: str, value: object) -> Flaw:
    """Give the candidate another value throughout."""
    return lambda runs: runs.assign(**{column: runs[column].where(runs["lubricant"] != "C-21", value)})


def of_first(column: str, value: object) -> Flaw:
    """Give the first run another value."""
    return lambda runs: runs.assign(**{column: [value, *runs[column][1:]]})


def candidate_on_one_day(runs: pd.DataFrame) -> pd.DataFrame:
    return runs[(runs["lubricant"] == "R-10") | (runs["run_day"] == "2026-04-14")]


def candidate_stepped(runs: pd.DataFrame) -> pd.DataFrame:
    return runs.assign(flags=[("load-steps",) if oil == "C-21" else () for oil in runs["lubricant"]])


def scars_growing(runs: pd.DataFrame) -> pd.DataFrame:
    return runs.assign(scar_area=[3e-6 + 1e-7 * i for i in range(len(runs))])


@pytest.mark.parametrize(
    ("flaw", "expected", "weight"),
    [
        (of_candidate("duration", 90.0), "unlike-conditions", "blocks"),
        (of_candidate("ring_speed", 50.0), "unlike-conditions", "blocks"),
        (of_candidate("load_level", 600.0), "load-not-shared", "blocks"),
        (of_candidate("pin_state", "reground"), "pin-preparation", "blocks"),
        (of_first("pin_state", "reground"), "pin-preparation", "caution"),
        (of_candidate("ring_id", "G-9"), "ring-confounded", "blocks"),
        (candidate_on_one_day, "one-day", "caution"),
        (candidate_on_one_day, "few-repeats", "caution"),
        (of_first("duration", 75.0), "odd-duration", "caution"),
        (of_first("dose", 3e-6), "dose", "caution"),
        (of_first("read_blind", "no"), "read-knowing", "caution"),
        (lambda runs: runs.drop(columns="read_blind"), "blind-not-recorded", "note"),
        (lambda runs: runs.assign(run_at=pd.NaT), "order-unknown", "note"),
        (of_first("excluded", "pin slipped"), "excluded-runs", "note"),
        (of_first("flags", ("wear-running",)), "wear-running", "caution"),
        (of_first("flags", ("wear-not-judged",)), "wear-not-judged", "caution"),
        (of_first("flags", ("load-steps",)), "load-history", "caution"),
        (candidate_stepped, "load-history", "blocks"),
        (of_first("flags", ("width-off-geometry",)), "width-off-geometry", "caution"),
        (scars_growing, "reference-drift", "caution"),
    ],
)
def test_a_flaw_is_found_with_its_weight(flaw: Flaw, expected: str, weight: str) -> None:
    found = audit(flaw(fair_runs()), "R-10")
    assert expected in ids(found)
    assert {f.severity for f in found if f.id == expected} == {Weight(weight)}


def test_lubricants_run_in_clusters_are_found() -> None:
    runs = pd.concat([fair_runs()] * 2, ignore_index=True)
    runs["run_id"] = [f"r{i}" for i in range(len(runs))]
    runs = runs.sort_values(["run_day", "lubricant"]).reset_index(drop=True)
    runs["run_at"] = [
        pd.Timestamp(f"{day}T08:00") + pd.Timedelta(minutes=10 * place)
        for day, group in runs.groupby("run_day")
        for place in range(len(group))
    ]
    assert "order-confounded" in ids(audit(runs, "R-10"))


def test_blocking_findings_come_first_and_every_finding_says_what_it_does() -> None:
    runs = fair_runs().assign(pin_state=lambda r: r["pin_state"].where(r["lubricant"] != "C-21", "reground"))
    found = audit(runs.drop(columns="read_blind"), "R-10")
    assert [f.severity for f in found] == [Weight.BLOCKS, Weight.NOTE]
    assert all(finding.effect.endswith(".") and finding.message.endswith(".") for finding in found)


def blind(**columns: object) -> list[tuple[str, str, tuple[str, ...]]]:
    found = audit(fair_runs().drop(columns="read_blind").assign(**columns), "R-10")
    return [(finding.id, finding.message, finding.runs) for finding in found]


def test_blind_codes_of_the_readings_are_evidence_where_the_runs_say_nothing() -> None:
    one_without = [False, *[True] * (len(fair_runs()) - 1)]
    assert blind(read_by_code=True) == []
    assert blind(read_by_code=True, read_blind="") == []
    said = ("blind-not-recorded", "No record says whether 1 scar was read blind.", ("14-0",))
    assert blind(read_by_code=one_without) == [said]
    # what the runs say comes first: a code on the paper doesn't blind a reader who knew
    knew = ("read-knowing", "1 scar was read by someone who knew the product.", ("14-0",))
    assert blind(read_by_code=True, read_blind=["no", *[""] * (len(fair_runs()) - 1)]) == [knew]


def test_a_campaign_without_doses_warns_of_nothing() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        runs = fair_runs()
        assert audit(runs.assign(dose=np.nan), "R-10") == ()
        assert audit(runs.assign(dose=runs["dose"].where(runs["lubricant"] == "R-10")), "R-10") == ()
