"""Results kept by what they are made from: the same to the last bit, and none taken for another."""

from __future__ import annotations

import dataclasses
import time

import numpy as np
import pandas as pd
import pytest

from pinscar.campaign.campaign import read_campaign
from pinscar.decision import kept_results, reading_cache
from pinscar.decision.analysis import analyse, compare_ahead
from pinscar.decision.kept_results import FOLDER, HERE, fingerprint, kept_result
from pinscar.decision.reading_cache import AHEAD, PLACE, WANTED
from pinscar.shipped import shipped_folder

DEMO = shipped_folder("data_demo") / "conveyor_07"
SLOW = 1.5 * kept_results.SHORTEST


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    """The process of a report on one campaign, of a person with a key of their own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv(PLACE, str(tmp_path / "kept"))
    monkeypatch.setenv(WANTED, "1")
    monkeypatch.setenv(HERE, "1")
    monkeypatch.delenv(AHEAD, raising=False)
    reading_cache.own_key.cache_clear()
    yield tmp_path / "kept" / FOLDER
    reading_cache.own_key.cache_clear()


def computed(made_from, result=1.5, name="fit"):
    """Ask for a result that takes long, and tell what came and whether it was computed."""
    done = []

    def compute():
        done.append(1)
        end = time.process_time() + SLOW
        while time.process_time() < end:
            pass
        return result

    return kept_result(name, made_from, compute), bool(done)


def entries(place):
    return sorted(place.glob("[0-9a-f]*"))


@dataclasses.dataclass(frozen=True)
class One:
    a: float
    b: str


@dataclasses.dataclass(frozen=True)
class Other:
    a: float
    b: str


FRAME = pd.DataFrame({"a": [1.0, 2.0], "b": ["x", None]})
VALUES = [
    None, True, 1, 1.0, -0.0, 0.0, float("nan"), "1", "", (), [], {}, (1,), [1], ((1,), 2), (1, (2,)), {1: 2},
    {2: 1}, ("a", "bc"), ("ab", "c"), np.float64(1.0), np.float32(1.0), np.array(1.0), np.array([1.0]),
    np.array([[1.0]]), np.array([1]), np.array([1.0, 2.0]), np.array([True]), object(),
    One(1.0, "a"), Other(1.0, "a"), One(1.0, "b"), FRAME, FRAME.rename(columns={"a": "c"}), FRAME.iloc[::-1],
    FRAME[["a"]],
]  # fmt: skip


def test_no_two_things_have_the_same_fingerprint_and_a_copy_has_it_again():
    import copy

    known = [found for one in VALUES if (found := fingerprint(one)) is not None]
    assert (
        len(set(known)) == len(known) == len(VALUES) - 1
    )  # what is no number, word, table or record has none
    assert [fingerprint(copy.deepcopy(one)) for one in VALUES if fingerprint(one)] == known


def test_a_result_is_computed_once_for_the_same_things(place):
    made_from = (np.array([1.0, 2.0]), "log", 0.95)
    assert computed(made_from, (1.5, np.float64(2.5))) == ((1.5, 2.5), True)
    found, again = computed((np.array([1.0, 2.0]), "log", 0.95), None)
    assert (found, again, type(found[1])) == ((1.5, 2.5), False, np.float64)
    assert computed((np.array([1.0, 2.0]), "log", 0.9))[1]
    assert computed(made_from, name="chart")[1]
    assert len(entries(place)) == 3


def test_what_is_fast_or_made_from_other_things_is_not_kept(place):
    assert kept_result("fit", (1.0,), lambda: 2.0) == 2.0
    assert computed((object(),))[1]
    assert not place.exists()


def test_nothing_is_kept_outside_the_process_of_a_report(place, monkeypatch):
    for name in (WANTED, HERE):
        monkeypatch.delenv(name)
        assert computed((1.0,)) == (1.5, True)
        monkeypatch.setenv(name, "1")
    assert not place.exists()


def test_damaged_entries_and_those_of_another_key_are_computed_again(place):
    computed((1.0,))
    (entry,) = entries(place)
    whole = entry.read_bytes()
    entry.write_bytes(whole[:-1])
    assert computed((1.0,)) == (1.5, True)
    entry.write_bytes(whole.replace(b"1.5", b"2.5"))
    assert computed((1.0,)) == (1.5, True)
    reading_cache.store(entry, b"another key", [2.5])
    assert computed((1.0,)) == (1.5, True)
    reading_cache.store(entry, reading_cache.own_key(), [2.5])  # the person's own: believed
    assert computed((1.0,)) == (2.5, False)


def test_the_folder_of_results_does_not_grow_without_end(place, monkeypatch):
    monkeypatch.setattr(kept_results, "MOST", 3)
    for number in range(5):
        computed((number,))
        computed((0,))  # stays, since it is used
    assert len(entries(place)) == 3
    assert not computed((0,))[1]
    assert computed((1,))[1]


def test_what_the_process_beside_the_kernel_found_is_kept_by_the_kernel(place, tmp_path, monkeypatch):
    monkeypatch.setenv(AHEAD, str(tmp_path / "ahead"))
    monkeypatch.setenv(kept_results.BESIDE, "1")
    assert computed((1.0,)) == (1.5, True)
    assert len(entries(tmp_path / "ahead" / FOLDER)) == 1
    assert not place.exists()
    monkeypatch.delenv(kept_results.BESIDE)
    assert computed((1.0,)) == (1.5, False)
    monkeypatch.delenv(AHEAD)
    assert computed((1.0,)) == (1.5, False)
    assert len(entries(place)) == 1


def test_a_folder_that_is_a_link_is_left_alone(place, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    place.parent.symlink_to(tmp_path / "elsewhere")
    assert computed((1.0,))[1]
    assert list((tmp_path / "elsewhere").iterdir()) == []


@pytest.mark.slow
def test_an_evaluation_is_the_same_with_what_another_process_compared(tmp_path, monkeypatch):
    monkeypatch.delenv(WANTED)
    campaign = read_campaign(DEMO)
    alone = analyse(campaign)
    (tmp_path / "ahead").mkdir()
    monkeypatch.setenv(AHEAD, str(tmp_path / "ahead"))
    compare_ahead(campaign)
    compared = entries(tmp_path / "ahead" / FOLDER)
    assert compared
    after = analyse(campaign)
    assert len(entries(tmp_path / "ahead" / FOLDER)) > len(compared)  # summaries
    again = analyse(campaign)
    for found in (after, again):
        assert [one.result for one in found.comparisons] == [one.result for one in alone.comparisons]
        assert [one.estimate for one in found.summaries] == [one.estimate for one in alone.summaries]
