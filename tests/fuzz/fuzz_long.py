"""Fuzz, and keep what ends in a traceback: python tests/fuzz/fuzz_long.py --minutes 30 --seed 1."""

from __future__ import annotations

import argparse
import collections
import hashlib
import random
import shutil
import sys
import tempfile
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from fuzz_mutations import mutated
from fuzz_targets import CORPUS, TARGETS, attempt


def main() -> int:
    """Run the targets in turn; print each new kind of failure, and write its file to the folder given."""
    words = argparse.ArgumentParser()
    words.add_argument("--minutes", type=float, default=30.0)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--only", default=",".join(TARGETS))
    words.add_argument("--out", type=Path, default=Path("fuzz-found"))
    given = words.parse_args()
    place = Path(tempfile.mkdtemp(prefix="pinscar-fuzz-"))
    targets = [TARGETS[name] for name in given.only.split(",")]
    pools = {
        one.name: [*one.seeds(), *(p.read_bytes() for p in sorted((CORPUS / one.name).glob("*")))]
        for one in targets
    }
    dice, end = random.Random(given.seed), time.monotonic() + 60.0 * given.minutes
    tried: collections.Counter[str] = collections.Counter()
    spent: collections.Counter[str] = collections.Counter()
    seen: set[str] = set()
    while time.monotonic() < end:
        # each target gets the same time, not the same number of files
        target = min(targets, key=lambda one: spent[one.name])
        pool = pools[target.name]
        data = mutated(dice.choice(pool), pool, dice)
        begin = time.monotonic()
        try:
            attempt(target, data, place / "c")
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                break
            frames = traceback.extract_tb(error.__traceback__)
            ours = [f for f in frames if "/pinscar/" in f.filename and "/fuzz/" not in f.filename]
            last = ours[-1] if ours else frames[-1]
            kind = f"{target.name} {type(error).__name__} {Path(last.filename).name}:{last.lineno}"
            if kind not in seen:
                seen.add(kind)
                (given.out / target.name).mkdir(parents=True, exist_ok=True)
                name = hashlib.sha256(data).hexdigest()[:12]
                (given.out / target.name / name).write_bytes(data)
                print(f"{kind} {str(error)[:200]!r} -> {target.name}/{name}", flush=True)
        tried[target.name] += 1
        spent[target.name] += time.monotonic() - begin
    shutil.rmtree(place, ignore_errors=True)
    print(f"seed {given.seed}: {sum(tried.values())} files, {len(seen)} kinds of failure; {dict(tried)}")
    return 1 if seen else 0


if __name__ == "__main__":
    raise SystemExit(main())
