"""Draw valid but awkward campaigns: zeros, ties, two runs, 8 against 2, holes in blocks, all bounds."""

from __future__ import annotations

from pathlib import Path
from random import Random

COLUMNS = (
    "run_id", "lubricant", "load [N]", "duration [s]", "scar_length [mm]", "scar_width [mm]", "wear_stopped",
    "quiet_time [s]", "fling_mass [mg]", "ambient_temperature [degC]", "peak_temperature [degC]", "drips",
    "torque [N m]", "ring_id", "run_at",
)  # fmt: skip
RULES = {
    "scar_area": [("at most", "6 mm^2"), ("ratio at most", "0.9"), ("not worse than", None)],
    "film_pressure": [("at least", "90 MPa"), ("ratio at least", "1.1"), ("not worse than", None)],
    "quiet_time": [("at most", "30 s"), ("ratio at most", "0.9")],
    "fling_mass": [("at most", "4 mg"), ("ratio at most", "0.8")],
    "temperature_rise": [("at most", "25 K"), ("ratio at most", "0.9")],
    "torque": [("ratio at most", "0.9")],
}


def write_campaign(folder: Path, seed: int) -> dict[str, object]:
    """Write one campaign and say what is awkward about it."""
    draw = Random(seed)
    oils = ["R", "C", "D"][: draw.choice([2, 2, 3])]
    counts = {oil: draw.choice([1, 2, 2, 3, 4, 5, 8]) for oil in oils}
    if draw.random() < 0.3:
        counts["R"], counts["C"] = draw.choice([(8, 2), (2, 8)])
    kind = {
        "block": draw.choice([None, None, "run_day", "ring_id"]),
        "digits": draw.choice([1, 2, 3]),
        "bounds": {oil: draw.choice([0.0, 0.0, 0.3, 0.7, 1.0]) for oil in oils},
        "zeros": draw.choice([0.0, 0.0, 0.3, 1.0]),
        "tied": draw.random() < 0.25,
        "pooled": draw.random() < 0.2,
        "counts": counts,
    }
    rows, days = [], draw.choice([1, 2, 3])
    order = [oil for oil in oils for _ in range(counts[oil])]
    draw.shuffle(order)
    for number, oil in enumerate(order):
        size = {"R": 1.0, "C": draw.choice([0.5, 0.85, 1.0]), "D": 1.2}[oil]
        area = 6.0 * size * (1.0 if kind["tied"] else 2.718281828 ** draw.gauss(0.0, 0.15))
        length = (4.0 * area / 3.14159 * 1.8) ** 0.5
        stopped = draw.random() >= kind["bounds"][oil]
        quiet = 25.0 * size * 2.718281828 ** draw.gauss(0.0, 0.3)
        zero = draw.random() < kind["zeros"]
        room = draw.choice([21.0, 22.5])
        rise = draw.choice([0.0, -1.0]) if zero else draw.gauss(22.0 * size, 4.0)
        day = draw.randrange(days) + 1
        rows.append(
            [
                f"r{number + 1}", oil, "450", "60", f"{length:.{kind['digits']}f}",
                f"{length / 1.8:.{kind['digits']}f}", "yes" if stopped else "no",
                f"{min(quiet, 55.0):.1f}" if stopped else "",
                "0" if zero else f"{max(0.0, draw.gauss(5.0, 2.0) * size):.0f}",
                f"{room:.1f}", f"{room + rise:.1f}", str(draw.choice([0, 0, 1, 4])),
                "0" if zero and draw.random() < 0.5 else f"{abs(draw.gauss(1.0, 0.1)) * size:.3f}",
                draw.choice(["a", "b", "c", "" if draw.random() < 0.1 else "a"]),
                f"2026-03-{day:02d}T{8 + number // 3:02d}:{20 * (number % 3):02d}",
            ]
        )  # fmt: skip
    text = "\n".join(",".join(row) for row in [COLUMNS, *rows])
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "runs.csv").write_text(text + "\n", encoding="utf-8")
    (folder / "campaign.toml").write_text(_settings(kind), encoding="utf-8")
    return kind


def _settings(kind: dict[str, object]) -> str:
    lines = ["[campaign]", 'id = "awkward"', 'reference = "R"']
    lines += [f'block = "{kind["block"]}"'] if kind["block"] else []
    lines += ['spread = "pooled"'] if kind["pooled"] else []
    lines += [
        "[rig]", 'geometry = "crossed-cylinders"', 'pin_diameter = "12 mm"', 'ring_diameter = "40 mm"',
        'ring_speed = "700 rpm"', "[[lubricants]]", 'id = "R"', 'role = "reference"',
    ]  # fmt: skip
    for oil in kind["counts"]:
        if oil == "R":
            continue
        lines += ["[[lubricants]]", f'id = "{oil}"', 'role = "candidate"']
    for response, rules in RULES.items():
        for number, (rule, limit) in enumerate(rules):
            lines += ["[[criteria]]", f'id = "{response}-{number}"', f'response = "{response}"']
            lines += ['lubricant = "C"', 'load = "450 N"', f'rule = "{rule}"']
            lines += [f'limit = "{limit}"'] if limit and not rule.startswith("ratio") else []
            lines += [f"limit = {limit}"] if limit and rule.startswith("ratio") else []
            lines += ['margin = "10 %"'] if limit is None else []
            lines += ['better = "lower"'] if response == "torque" else []
    for response, direction in (("scar_area", "lower"), ("film_pressure", "higher"), ("fling_mass", "lower")):
        lines += ["[[claims]]", 'subject = "C"', f'response = "{response}"', f'direction = "{direction}"']
        lines += ['against = "R"', 'load = "450 N"']
    return "\n".join(lines) + "\n"
