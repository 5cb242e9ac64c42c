"""Campaigns of blends that are awkward but valid, from a generator that shares no code with the demo's."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

RIG = """\
[rig]
geometry = "crossed-cylinders"
pin_diameter = "10 mm"
ring_diameter = "50 mm"
ring_speed = "600 rpm"

"""
LOAD = 250.0


@dataclass
class Bench:
    """One campaign in the making: oils with their text, and rows of runs."""

    name: str
    reference: str
    block: str = ""
    oils: list[str] = field(default_factory=list)
    rows: list[str] = field(default_factory=list)
    extra: str = ""

    def oil(self, name: str, shares: dict[str, float] | None, base: str = "base", more: str = "") -> None:
        """Add an oil; shares in percent of all but the base."""
        text = f'[[lubricants]]\nid = "{name}"\n{more}'
        if shares is not None:
            text += f'[lubricants.composition]\n"{base}" = "balance"\n'
            text += "".join(f'"{part}" = "{share:.10g} %"\n' for part, share in shares.items())
        self.oils.append(text)

    def run(
        self, oil: str, pressure: float, *, stopped: str = "yes", fling: float | None = 20.0, day: int = 1
    ) -> None:
        """Add a run by the pressure [MPa] that its scar tells."""
        area = LOAD / pressure
        long = math.sqrt(4.0 * area / math.pi * 1.5)
        wide = long / 1.5
        mass = "" if fling is None else f"{fling:.8g}"
        place = len(self.rows)
        at = f"2026-03-{1 + day:02d}T{7 + place % 12:02d}:{place % 60:02d}"
        self.rows.append(
            f"q{len(self.rows):04d},{oil},{LOAD:g},90,{long:.10g},{wide:.10g},{stopped},{mass},{at}"
        )

    def write(self, folder: Path) -> Path:
        """Write it as a folder."""
        home = folder / self.name
        home.mkdir(parents=True)
        block = f'block = "{self.block}"\n' if self.block else ""
        head = f'[campaign]\nid = "{self.name}"\nreference = "{self.reference}"\n{block}\n'
        (home / "campaign.toml").write_text(head + RIG + self.extra + "\n".join(self.oils), encoding="utf-8")
        names = "run_id,lubricant,load [N],duration [s],scar_length [mm],scar_width [mm]"
        names += ",wear_stopped,fling_mass [mg],run_at"
        (home / "runs.csv").write_text("\n".join([names, *self.rows]) + "\n", encoding="utf-8")
        return home


def carried(shares: dict[str, float]) -> float:
    """The invented truth: pressure that a film carries [MPa]."""
    anti, tack = shares.get("A", 0.0), shares.get("T", 0.0)
    return 60.0 * math.exp(0.5 * anti / (1.0 + anti) + 0.03 * tack - 0.004 * tack * anti)


PLAN = [
    (0.0, 1.0),
    (0.5, 1.0),
    (1.0, 1.0),
    (2.0, 1.0),
    (3.0, 1.0),
    (1.0, 0.0),
    (1.0, 2.0),
    (1.0, 4.0),
    (3.0, 4.0),
]


def nine(dice: random.Random, name: str = "nine", **more: str) -> Bench:
    """Nine blends, one of them the reference."""
    bench = Bench(name, "P-0", **more)
    for number, (anti, tack) in enumerate(PLAN):
        shares = {"A": anti, "T": tack}
        bench.oil(f"P-{number}", shares)
        batch = dice.gauss(0.0, 0.03)
        for again in range(4):
            pressure = carried(shares) * math.exp(batch + dice.gauss(0.0, 0.07))
            bench.run(f"P-{number}", pressure, fling=30.0 * math.exp(-0.2 * tack), day=1 + again)
    return bench


def zero_fling(dice: random.Random) -> list[Bench]:
    """One card without a speck on it."""
    bench = nine(dice)
    cells = bench.rows[7].split(",")
    cells[7] = "0"
    bench.rows[7] = ",".join(cells)
    return [bench]


def ties(dice: random.Random) -> list[Bench]:
    """All runs of a blend read alike, and two blends alike."""
    bench = Bench("ties", "P-0")
    for number, (anti, tack) in enumerate(PLAN):
        shares = {"A": anti, "T": tack}
        bench.oil(f"P-{number}", shares)
        for again in range(3):
            bench.run(f"P-{number}", round(carried(shares) / 10.0) * 10.0, fling=20.0, day=1 + again)
    del dice
    return [bench]


def unequal(dice: random.Random) -> list[Bench]:
    """From one run to nine of a blend, and some without a fling card."""
    bench = Bench("unequal", "P-0")
    for number, (anti, tack) in enumerate(PLAN):
        shares = {"A": anti, "T": tack}
        bench.oil(f"P-{number}", shares)
        for again in range(1 + number):
            pressure = carried(shares) * math.exp(dice.gauss(0.0, 0.07))
            bench.run(f"P-{number}", pressure, fling=None if again % 2 else 18.0 + again, day=1 + again)
    return [bench]


def all_of_one_running(dice: random.Random) -> list[Bench]:
    """All runs of one blend, and one of another, were stopped before wear was."""
    bench = nine(dice)
    for place, row in enumerate(bench.rows):
        cells = row.split(",")
        if cells[1] == "P-0" or place == 13:
            cells[6] = "no" if place % 2 else ""
        bench.rows[place] = ",".join(cells)
    return [bench]


def two_blends(dice: random.Random) -> list[Bench]:
    """A reference and one blend with two runs each."""
    bench = Bench("two", "P-0")
    for number, anti in enumerate((0.0, 2.0)):
        bench.oil(f"P-{number}", {"A": anti} if anti else {})
        for again in range(2):
            bench.run(f"P-{number}", carried({"A": anti}) * math.exp(dice.gauss(0.0, 0.05)), day=1 + again)
    return [bench]


def in_blocks(dice: random.Random) -> list[Bench]:
    """Three campaigns with days as blocks, joined by one blend; in one of them runs are censored."""
    found = []
    for place, members in enumerate(((0, 1, 2, 3), (0, 4, 5, 6), (0, 7, 8, 3))):
        bench = Bench(f"block-{place}", "P-0", block="run_day")
        for number in members:
            shares = {"A": PLAN[number][0], "T": PLAN[number][1]}
            bench.oil(f"P-{number}", shares)
            for again in range(3):
                pressure = carried(shares) * math.exp(0.1 * place + dice.gauss(0.0, 0.07))
                stopped = "no" if place == 1 and again == 0 and number in (0, 4) else "yes"
                bench.run(f"P-{number}", pressure, stopped=stopped, day=1 + again)
        found.append(bench)
    return found


def nothing_shared(dice: random.Random) -> list[Bench]:
    """Two campaigns whose references and blends are strangers to each other."""
    found = []
    for place, members in enumerate((range(4), range(4, 9))):
        bench = Bench(f"alone-{place}", f"P-{members[0]}")
        for number in members:
            shares = {"A": PLAN[number][0], "T": PLAN[number][1]}
            bench.oil(f"P-{number}", shares)
            for again in range(3):
                bench.run(f"P-{number}", carried(shares) * math.exp(dice.gauss(0.0, 0.07)), day=1 + again)
        found.append(bench)
    return found


def reference_without_formula(dice: random.Random) -> list[Bench]:
    """Two campaigns joined by an oil of which no composition is known."""
    found = []
    for place, members in enumerate((range(5), range(4, 9))):
        bench = Bench(f"joined-{place}", "K-1")
        bench.oil("K-1", None)
        for again in range(4):
            bench.run("K-1", 70.0 * math.exp(0.08 * place + dice.gauss(0.0, 0.07)), day=1 + again)
        for number in members:
            shares = {"A": PLAN[number][0], "T": PLAN[number][1]}
            bench.oil(f"P-{number}", shares)
            for again in range(3):
                pressure = carried(shares) * math.exp(0.08 * place + dice.gauss(0.0, 0.07))
                bench.run(f"P-{number}", pressure, day=1 + again)
        found.append(bench)
    return found


def five_components(dice: random.Random) -> list[Bench]:
    """Five components in fourteen blends, some with a price and a stated drive loss; a limit on that."""
    bench = Bench("five", "P-00")
    bench.extra = "".join(f'[[components]]\nid = "{one}"\n\n' for one in ("base", "T", "V", "D")) + (
        '[[components]]\nid = "A"\nprice = "20 EUR/kg"\nhighest = "3 %"\nstep = "0.1 %"\n\n'
        '[[criteria]]\nid = "film"\nresponse = "film_pressure"\nlubricant = "P-01"\nload = "250 N"\n'
        'rule = "at least"\nlimit = "70 MPa"\n\n'
        '[[criteria]]\nid = "fling"\nresponse = "fling_mass"\nlubricant = "P-01"\nload = "250 N"\n'
        'rule = "at most"\nlimit = "25 mg"\n\n'
    )
    for number in range(14):
        shares = {part: round(dice.uniform(0.0, top), 2) for part, top in
                  (("A", 3.0), ("T", 5.0), ("V", 2.0), ("D", 1.0))}  # fmt: skip
        more = f'price = "{3 + 0.2 * shares["A"]:.3g} EUR/kg"\ndrive_loss = "{200 + 4 * shares["T"]:.4g} W"\n'
        bench.oil(f"P-{number:02d}", shares, more=more)
        batch = dice.gauss(0.0, 0.03)
        for again in range(3):
            luck = dice.gauss(0.0, 0.07)
            pressure = carried(shares) * math.exp(batch + luck)
            bench.run(
                f"P-{number:02d}", pressure, day=1 + again,
                fling=30.0 * math.exp(-0.15 * shares["T"] + 0.8 * luck + dice.gauss(0.0, 0.05)),
            )  # fmt: skip
    return [bench]


def many_components(dice: random.Random, components: int = 30, blends: int = 36) -> list[Bench]:
    """As many components as make a grid without end, in steps of a thousandth of a percent."""
    bench = Bench("many", "P-00")
    names = [f"K-{number:02d}" for number in range(1, components)]
    bench.extra = '[[components]]\nid = "base"\n\n'
    bench.extra += "".join(
        f'[[components]]\nid = "{one}"\nhighest = "3 %"\nstep = "0.001 %"\n\n' for one in names
    )
    for number in range(blends):
        shares = {one: round(dice.uniform(0.0, 2.0), 3) for one in dice.sample(names, 12)}
        bench.oil(f"P-{number:02d}", shares)
        for again in range(2):
            pressure = 60.0 * math.exp(0.1 * shares.get("K-01", 0.0) + dice.gauss(0.0, 0.07))
            bench.run(f"P-{number:02d}", pressure, fling=20.0 + dice.random(), day=1 + again)
    return [bench]


CASES = (
    zero_fling, ties, unequal, all_of_one_running, two_blends, in_blocks, nothing_shared,
    reference_without_formula, five_components,
)  # fmt: skip


def folders(case: object, place: Path, seed: int = 5) -> Iterator[Path]:
    """Write the campaigns of a case."""
    for bench in case(random.Random(seed)):  # type: ignore[operator]
        yield bench.write(place)


if __name__ == "__main__":
    import sys

    for one in (*CASES, many_components):
        list(folders(one, Path(sys.argv[1]) / one.__name__))
