"""The readers against files that no one would write: the corpus of what was found, and a seeded mutator.

In CI a fixed number of files, some 30 s; ``pytest -m slow tests/fuzz`` goes on for half an hour
(PINSCAR_FUZZ_MINUTES). What is found goes into ``corpus/`` under the name of its target.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest
from fuzz_mutations import mutated
from fuzz_targets import CORPUS, TARGETS, attempt

FILES = {"page": 1, "page_toml": 1, "runs": 12, "toml": 12, "readings": 8, "steps": 10, "trace": 10}
FILES |= {"xlsx": 8, "parquet": 8, "gather": 8, "manifest": 30}
FILES |= {"typed": 8, "oils": 4, "oils_plan": 15, "oils_xlsx": 3, "p7s": 6, "sig": 6, "signed": 6}
OTHERS = 80
"""Files tried of a target that takes a millisecond or so."""

FOUND = sorted(path for path in CORPUS.rglob("*") if path.is_file())


@pytest.mark.parametrize("path", FOUND, ids=lambda path: f"{path.parent.name}-{path.name}")
def test_what_was_found_once_stays_mended(path, tmp_path):
    attempt(TARGETS[path.parent.name], path.read_bytes(), tmp_path / "c")


@pytest.mark.parametrize("name", TARGETS)
def test_the_good_files_are_read(name, tmp_path):
    for data in TARGETS[name].seeds() if not name.startswith("page") else []:
        attempt(TARGETS[name], data, tmp_path / "c")


@pytest.mark.parametrize("name", TARGETS)
def test_no_mutated_file_ends_in_a_traceback(name, tmp_path):
    target, dice = TARGETS[name], random.Random(f"pinscar {name}")
    pool = [*target.seeds(), *(path.read_bytes() for path in FOUND if path.parent.name == name)]
    for _ in range(FILES.get(name, OTHERS)):
        attempt(target, mutated(dice.choice(pool), pool, dice), tmp_path / "c")


def test_the_mutator_gives_the_same_files_for_the_same_seed():
    pool = TARGETS["runs"].seeds()
    one, other = (
        [mutated(pool[0], pool, dice) for _ in range(200)] for dice in (random.Random(7), random.Random(7))
    )
    assert one == other
    assert len(set(one)) > 150


def test_a_fault_is_a_failure(tmp_path):
    # The fuzzer must see what it is there for.
    from dataclasses import replace

    def broken(folder):
        raise KeyError(folder)

    with pytest.raises(KeyError):
        attempt(replace(TARGETS["runs"], read=broken), b"x", tmp_path / "c")


@pytest.mark.slow
def test_half_an_hour_of_mutated_files(tmp_path):
    words = [
        "--minutes",
        os.environ.get("PINSCAR_FUZZ_MINUTES", "30"),
        "--seed",
        str(random.randrange(10**6)),
    ]
    script = Path(__file__).resolve().parent / "fuzz_long.py"
    done = subprocess.run(
        [sys.executable, script, *words, "--out", tmp_path], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{done.stdout}\nthe files are in {tmp_path}"
