"""A campaign whose every text field tries to be more than text."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

MARKUP = "<img src=x onerror=alert(1)><script>alert(2)</script>\"'><b>bold</b><!-- "
JINJA = "{{ 7*191 }}{% raw %}{# gone #}"
MARKDOWN = "[link](javascript:alert(3)) ![p](http://203.0.113.1/p.png) **bold** `code`"
MATH = r"$\frac{$ and $x^2$ and \alpha"
FORMULA = '=HYPERLINK("http://203.0.113.1","x")'
BIDI = "total\u202e0001\u202c \u2066nested\u2069"
ZERO = "zero\u200bwidth\ufeff\u00adhere"
ESCAPES = "\x1b]0;owned\x07\x1b[2J\x1b]52;c;bWluZQ==\x07\x9b31m\x08\x7f"
CSS = "</style><style>body{display:none}</style>url(http://203.0.113.1/x)"
PDF = r"\0\22 ; } @page { @bottom-left { content: 'forged' } }"

ALL = (MARKUP, JINJA, MARKDOWN, MATH, FORMULA, BIDI, ZERO, ESCAPES, CSS, PDF)

NOTES = f"""# {MARKUP}

{MARKDOWN} {JINJA} {MATH}

[there]: javascript:alert(4) "{MARKUP}"

[there] <http://203.0.113.1/auto> <script>alert(5)</script>

<div onclick="alert(6)">{CSS}</div>

> {BIDI} {ZERO} {ESCAPES}

| a {JINJA} | b |
|---|--:|
| {PDF} | $x_{{$ |

###### {FORMULA}

    {MARKUP}

```html
{MARKUP}
```
"""
"""Text of the person's own that tries the same."""

OILS = ("R-10 <b>$x^2$", "C-21 {{7*7}} & $\\frac{$", "B-3 [a](http://203.0.113.1)")
"""Names of oils that a campaign may have: nothing in them is hidden, and no spreadsheet runs them."""

HEADER = (
    *("run_id", "lubricant", "load [N]", "duration [s]", "scar_length [mm]", "scar_width [mm]"),
    *("wear_stopped", "run_at", "excluded", "note", "operator", "ring_id", "pin_lot", "my <b>column</b>"),
    "wear $x_{$ [mg]",
)


def every(number: int) -> str:
    """Give one of the hostile texts."""
    return ALL[number % len(ALL)]


def hostile_campaign(folder: Path) -> Path:
    """Write the campaign."""
    folder.mkdir(parents=True, exist_ok=True)
    rows, number = [], 0
    for day in (2, 3, 4):
        for oil, length in zip(OILS, (4.1, 3.4, 3.7), strict=True):
            number += 1
            size = f"{length + 0.02 * number:.2f}"
            excluded = f"ring scratched {MARKUP}" if number == 9 else ""
            run = [f"r{number} $x^2$", oil, "450", "60", size, f"{0.54 * float(size):.2f}", "yes"]
            run += [f"2026-03-0{day}T0{number}:10", excluded, every(number), every(number + 3)]
            rows.append([*run, every(number + 5), every(number + 7), every(number + 1), f"{1 + number / 10}"])
    out = io.StringIO()
    csv.writer(out).writerows([HEADER, *rows])
    (folder / "runs.csv").write_text(out.getvalue(), encoding="utf-8")
    (folder / "campaign.toml").write_text(_toml(), encoding="utf-8")
    (folder / "notes.md").write_text(NOTES, encoding="utf-8")
    return folder


def _toml() -> str:
    lines = ["[campaign]"]
    lines += [_line("id", f"h-1 {MARKUP} {ZERO} {PDF}"), _line("title", f"Oils {JINJA} {MATH} {BIDI} {CSS}")]
    lines += [_line("question", f"{MARKDOWN} {ESCAPES} {MARKUP}?"), _line("reference", OILS[0])]
    lines += ["[rig]", 'geometry = "crossed-cylinders"', 'pin_diameter = "12 mm"', 'ring_diameter = "40 mm"']
    lines += ['ring_speed = "700 rpm"']
    for oil in OILS:
        lines += ["[[lubricants]]", _line("id", oil), _line("name", f"{MATH} {MARKUP}"), _line("batch", BIDI)]
        lines += ["[lubricants.sample]", _line("description", MARKUP), _line("condition", f"{JINJA} {MATH}")]
    for number, rule in enumerate(
        ('rule = "at least"\nlimit = "60 MPa"', 'rule = "not worse than"\nmargin = "10 %"')
    ):
        lines += ["[[criteria]]", _line("id", f"c{number} {MARKUP} {JINJA} $x"), 'response = "film_pressure"']
        lines += [_line("lubricant", OILS[1]), 'load = "450 N"', rule]
    lines += ["[[claims]]", _line("subject", OILS[1]), 'response = "scar_area"', 'direction = "lower"']
    lines += [_line("against", OILS[0]), 'load = "450 N"', 'percentage = "10 %"']
    lines += ["[report]", _line("laboratory", MARKUP[:79]), _line("number", f"7 {JINJA}"[:40])]
    lines += [f"address = {json.dumps([MATH, BIDI])}", _line("place", PDF), _line("order", FORMULA)]
    lines += [f"customer = {json.dumps([CSS, JINJA, ZERO])}", _line("author", PDF), _line("approver", CSS)]
    lines += [f"opinions = {json.dumps([MARKDOWN, MARKUP])}", _line("environment", MARKUP)]
    lines += [_line("replaces", MATH), _line("reason", MARKDOWN), _line("sampling", f"{PDF} {CSS}")]
    return "\n".join(lines) + "\n"


def _line(key: str, value: str) -> str:
    return f"{key} = {json.dumps(value).replace(chr(127), chr(92) + 'u007f')}"
