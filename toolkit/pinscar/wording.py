"""Plain words for numbers: rounding by the interval's width, percent phrases, p values, lists."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from types import MappingProxyType

MINUS = "\N{MINUS SIGN}"
MULTIPLE = 2.0
"""Ratio from which a change is said as a multiple and not as a percentage."""

LEAST_PLAIN, MOST_PLAIN = -5, 6
"""Powers of ten between which numbers are written out."""
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_PLAIN = MappingProxyType({"larger": "large", "higher": "high", "longer": "long"})
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def decimals_for(low: float | None, high: float | None, value: float | None = None) -> int:
    """Give the number of decimals at which an interval's width shows two significant figures.

    Examples
    --------
    >>> decimals_for(104, 134), decimals_for(0.58, 0.71), decimals_for(None, None, 2.4367)
    (0, 2, 2)
    """
    if low is not None and high is not None and 0.0 < high - low < math.inf:
        return 1 - _exponent(high - low)
    if value is None or value == 0 or not math.isfinite(value):
        return 0
    return 2 - _exponent(abs(value))


def with_unit(text: str, unit: str) -> str:
    """Put a unit behind a number; a pure number has none.

    Examples
    --------
    >>> with_unit("118 (104 to 134)", "MPa"), with_unit("0 (0 to 0.92)", "1")
    ('118 (104 to 134) MPa', '0 (0 to 0.92)')
    """
    return text if unit in ("", "1") else f"{text} {unit}"


def fixed(value: float, decimals: int) -> str:
    """Write a number with so many decimals, a true minus sign and no exponent.

    Examples
    --------
    >>> fixed(-3.14159, 2), fixed(1234.0, -2), fixed(-0.04, 1)
    ('−3.14', '1200', '0.0')
    """
    # Adding 0.0 turns the -0.0 that a small negative number rounds to into 0.0.
    text = f"{round(value, decimals) + 0.0:.{max(decimals, 0)}f}"
    return text.replace("-", MINUS)


def significant(value: float | None, figures: int = 3) -> str:
    """Write a number with so many significant figures; an en dash where there is none.

    From ten million on, and below a hundred-thousandth, as a power of ten.

    Examples
    --------
    >>> significant(2.43679), significant(0.0215213), significant(None), significant(1.9e300, 2)
    ('2.44', '0.0215', '–', '1.9 × 10³⁰⁰')
    """
    if value is None or not math.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    exponent = _exponent(abs(value))
    if not LEAST_PLAIN <= exponent <= MOST_PLAIN:
        mantissa, power = f"{value:.{figures - 1}e}".split("e")
        return f"{mantissa} \N{MULTIPLICATION SIGN} 10{str(int(power)).translate(_RAISED)}".replace(
            "-", MINUS
        )
    return fixed(value, figures - 1 - exponent)


def rounded(value: float, figures: int) -> float:
    """Round a number to so many significant figures.

    Examples
    --------
    >>> rounded(0.0786, 2), rounded(5.3213e11, 2), rounded(1.26e-7, 2)
    (0.079, 530000000000.0, 1.3e-07)
    """
    return float(f"{value:.{figures - 1}e}")


def with_interval(
    value: float | None, low: float | None, high: float | None, equal: float | None = None
) -> str:
    """Write an estimate with its interval, such as ``118 (104 to 134)``.

    All three have the decimals that the interval's width asks for. Where that would write a number that is
    not 0 as 0, or leave a positive estimate fewer than two figures, each has two significant figures instead.
    An interval that leaves out the value of equality is written with as many decimals as show that.

    Examples
    --------
    >>> with_interval(118.2, 104.4, 133.9), with_interval(None, None, 81.2), with_interval(None, 49.0, None)
    ('118 (104 to 134)', 'at most 81.2', 'at least 49.0')
    >>> with_interval(0.42, 1e-5, 19000.0), with_interval(0.0, 0.0, 0.92), with_interval(8.1, 2.0, math.inf)
    ('0.42 (0.000010 to 19000)', '0 (0 to 0.92)', '8.10 (at least 2.00)')
    >>> with_interval(1.2, 1.0031, 1.44), with_interval(1.2, 1.0031, 1.44, equal=1.0)
    ('1.20 (1.00 to 1.44)', '1.200 (1.003 to 1.440)')
    """
    value, low, high = (None if one is None or not math.isfinite(one) else one for one in (value, low, high))
    if value is None:
        if high is None:
            return "not known" if low is None else f"at least {significant(low)}"
        return f"at most {significant(high)}"
    if low is None and high is None:
        return significant(value)
    if low is None or high is None:
        end = f"at most {significant(high)}" if low is None else f"at least {significant(low)}"
        return f"{significant(value)} ({end})"
    decimals = decimals_for(low, high, value)
    if equal is not None:
        decimals = _apart_from(equal, (low, high), decimals)
    if _too_coarse((value, low, high), decimals):
        return f"{significant(value, 2)} ({significant(low, 2)} to {significant(high, 2)})"
    return f"{fixed(value, decimals)} ({fixed(low, decimals)} to {fixed(high, decimals)})"


FINEST = 4
"""Most decimals that an interval gets on top of its own to show that it leaves out equality."""


def _apart_from(equal: float, ends: Sequence[float], decimals: int) -> int:
    """Give the decimals at which no end that differs from a value is written as that value."""
    for more in range(FINEST + 1):
        if all(end == equal or round(end, decimals + more) != round(equal, decimals + more) for end in ends):
            return decimals + more
    return decimals


def _too_coarse(numbers: Sequence[float], decimals: int) -> bool:
    if any(abs(number) >= 10.0 ** (MOST_PLAIN + 1) for number in numbers):
        return True
    if any(number == 0.0 for number in numbers):
        return True
    if any(round(number, decimals) == 0.0 for number in numbers):
        return True
    value, low = numbers[0], numbers[1]
    return low > 0.0 and _exponent(value) + decimals < 1


def with_uncertainty(value: float, uncertainty: float) -> str:
    """Write a value with its standard uncertainty, both to the same decimal.

    The uncertainty has one figure, or two where the first is a 1, so that rounding takes little from it.

    Examples
    --------
    >>> with_uncertainty(3.14159, 0.0217), with_uncertainty(812.0, 38.0), with_uncertainty(2.5, 0.0143)
    ('3.14 ± 0.02', '810 ± 40', '2.500 ± 0.014')
    """
    if not (math.isfinite(uncertainty) and uncertainty > 1e-9 * abs(value)):
        return significant(value)
    figures, exponent = f"{uncertainty:.1e}".split("e")
    decimals = (1 if figures.startswith("1") else 0) - int(exponent)
    return f"{fixed(value, decimals)} ± {fixed(uncertainty, decimals)}"


def percent_change(ratio: float, smaller: str, larger: str) -> str:
    """Say a ratio as a change, such as "about 36 % smaller" or "about 2.5 times as large".

    Examples
    --------
    >>> percent_change(0.64, "smaller", "larger"), percent_change(2.5, "smaller", "larger")
    ('about 36 % smaller', 'about 2.5 times as large')
    >>> percent_change(1.2, "shorter", "longer")
    'about 20 % longer'
    """
    if ratio >= MULTIPLE:
        return f"about {significant(ratio, 2)} times as {_PLAIN.get(larger, larger)}"
    return f"about {_percent(ratio)} % {smaller if ratio < 1.0 else larger}"


def change_range(ratio: float, low: float, high: float) -> str:
    """Say the interval of a ratio in the terms in which `percent_change` says the ratio.

    Examples
    --------
    >>> change_range(0.64, 0.57, 0.72), change_range(1.03, 0.95, 1.12), change_range(3.2, 2.68, 3.84)
    ('28 to 43 %', '−5 to +12 %', '2.7 to 3.8 times')
    """
    if ratio >= MULTIPLE:
        decimals = max(decimals_for(low, high), 0)
        if _too_coarse((ratio, low, high), decimals):
            return f"{significant(low, 2)} to {significant(high, 2)} times"
        return f"{fixed(low, decimals)} to {fixed(high, decimals)} times"
    if low >= 1.0 or high <= 1.0:
        a, b = sorted((low, high), key=lambda end: abs(end - 1.0))
        return f"{_percent(a)} to {_percent(b)} %"
    return f"{MINUS}{_percent(low)} to +{_percent(high)} %"


def _percent(ratio: float) -> str:
    """Write how far a ratio is from 1, in percent and unsigned; 0 and 100 only where they are exact."""
    change = abs(ratio - 1.0) * 100.0
    if 0.0 < ratio < 0.005:
        return (
            fixed(change, 1 - _exponent(100.0 * ratio)) if ratio > 1e-6 else f"more than {fixed(99.9999, 4)}"
        )
    if 0.0 < change < 0.5:
        return significant(change, 1)
    return f"{change:.0f}" if change < 10_000.0 else significant(change, 2)


def compared(ratio: float, smaller: str, larger: str, reference: str) -> str:
    """Say a ratio as a comparison with the reference.

    Examples
    --------
    >>> compared(0.64, "smaller", "larger", "R-10"), compared(3.2, "smaller", "larger", "R-10")
    ('about 36 % smaller than R-10', 'about 3.2 times as large as R-10')
    """
    return f"{percent_change(ratio, smaller, larger)} {'as' if ratio >= MULTIPLE else 'than'} {reference}"


def p_value(p: float | None, level: float | None = None) -> str:
    """Write a p value; never a bare zero, and never rounded to or over the level it is held against.

    Examples
    --------
    >>> p_value(0.03641), p_value(1e-9), p_value(0.62)
    ('0.036', '< 0.0001', '0.62')
    >>> p_value(0.04996), p_value(0.04996, 0.05)
    ('0.050', '0.04996')
    """
    if p is None:
        return "–"
    if p < 0.0001:
        return "< 0.0001"
    if p >= 0.995:
        return f"{p:.2f}"
    for figures in (2, 3, 4, 5):
        text = significant(p, figures)
        shown = float(text)
        if level is None or p == level or (shown != level and (shown < level) == (p < level)):
            return text
    return text


def limit_number(value: float) -> str:
    """Write a limit as a person would have typed it: without digits that were not given.

    Examples
    --------
    >>> limit_number(120.00000000000001), limit_number(0.8), limit_number(1.1)
    ('120', '0.8', '1.1')
    """
    return f"{value:.6g}".replace("-", MINUS)


def date_range(days: Sequence[str]) -> str:
    """Write the first and the last of some days as a reader would.

    Examples
    --------
    >>> date_range(["2026-04-16", "2026-04-14"])
    '14 to 16 April 2026'
    >>> date_range(["2026-04-28", "2026-05-02"])
    '28 April to 2 May 2026'
    """
    first, last = (date.fromisoformat(day) for day in (min(days), max(days)))
    end = f"{last.day} {MONTHS[last.month - 1]} {last.year}"
    if first == last:
        text = end
    elif (first.year, first.month) == (last.year, last.month):
        text = f"{first.day} to {end}"
    else:
        year = "" if first.year == last.year else f" {first.year}"
        text = f"{first.day} {MONTHS[first.month - 1]}{year} to {end}"
    return text


def percentage(share: float) -> str:
    """Write a share as a percentage, without digits that were not given.

    Examples
    --------
    >>> percentage(0.95), percentage(0.96875), percentage(1.3e-7)
    ('95 %', '96.9 %', '0.000013 %')
    """
    plain = f"{100.0 * share:.3g}"
    return f"{significant(100.0 * share, 2) if 'e' in plain else plain} %"


def listing(words: Sequence[str]) -> str:
    """Join words as prose does.

    Examples
    --------
    >>> listing(["a", "b", "c"])
    'a, b and c'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def counted(n: int, noun: str, plural: str | None = None) -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> counted(1, "run"), counted(3, "run"), counted(0, "day")
    ('1 run', '3 runs', 'no days')
    """
    many = plural or f"{noun}s"
    return f"{n} {noun}" if n == 1 else f"{n or 'no'} {many}"


def load_text(load: float) -> str:
    """Write a load level in newtons.

    Examples
    --------
    >>> load_text(450.125)
    '450 N'
    """
    return f"{load:.3g} N" if load < 1000 else f"{load:.0f} N"


def sentence(text: str | None) -> str:
    """Turn a clause into a sentence: a capital at the start, a full stop at the end.

    Examples
    --------
    >>> sentence("wear was still running"), sentence(None)
    ('Wear was still running.', '–')
    """
    if not text:
        return "–"
    text = text[0].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def lower_first(label: str) -> str:
    """Write a label as it stands inside a sentence.

    Examples
    --------
    >>> lower_first("Scar area")
    'scar area'
    """
    return label[:1].lower() + label[1:]


def _exponent(value: float) -> int:
    return math.floor(math.log10(value))
