"""Plain words for numbers: rounding by the interval's width, percent phrases, p values, lists."""

from __future__ import annotations

import math
from collections.abc import Sequence

MINUS = "\N{MINUS SIGN}"


def decimals_for(low: float | None, high: float | None, value: float | None = None) -> int:
    """Give the number of decimals at which an interval's width shows two significant figures.

    Parameters
    ----------
    low, high : float or None
        Ends of the interval.
    value : float or None
        Used alone, at three significant figures, where there is no interval.

    Returns
    -------
    int
        Decimals; negative rounds to tens and beyond.

    Examples
    --------
    >>> decimals_for(104, 134), decimals_for(0.58, 0.71), decimals_for(None, None, 2.4367)
    (0, 2, 2)
    """
    if low is not None and high is not None and high > low:
        return 1 - _exponent(high - low)
    if value is None or value == 0 or not math.isfinite(value):
        return 0
    return 2 - _exponent(abs(value))


def fixed(value: float, decimals: int) -> str:
    """Write a number with so many decimals, a true minus sign and no exponent.

    Parameters
    ----------
    value : float
        The number.
    decimals : int
        Decimals; negative rounds to tens and beyond.

    Returns
    -------
    str
        The text.

    Examples
    --------
    >>> fixed(-3.14159, 2), fixed(1234.0, -2)
    ('−3.14', '1200')
    """
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return text.replace("-", MINUS)


def significant(value: float | None, figures: int = 3) -> str:
    """Write a number with so many significant figures; an en dash where there is none.

    Parameters
    ----------
    value : float or None
        The number.
    figures : int
        Significant figures.

    Returns
    -------
    str
        The text.

    Examples
    --------
    >>> significant(2.43679), significant(0.0215213), significant(None)
    ('2.44', '0.0215', '–')
    """
    if value is None or not math.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    return fixed(value, figures - 1 - _exponent(abs(value)))


def with_interval(value: float | None, low: float | None, high: float | None) -> str:
    """Write an estimate with its interval, such as ``118 (104 to 134)``.

    Parameters
    ----------
    value, low, high : float or None
        Estimate and ends; a missing end gives "at most" or "at least", two missing ends the value alone.

    Returns
    -------
    str
        The text.

    Examples
    --------
    >>> with_interval(118.2, 104.4, 133.9), with_interval(None, None, 81.2), with_interval(12.34, None, None)
    ('118 (104 to 134)', 'at most 81.2', '12.3')
    """
    if value is None:
        return "–" if high is None else f"at most {significant(high)}"
    if low is None and high is None:
        return significant(value)
    if low is None or high is None:
        end = f"at most {significant(high)}" if low is None else f"at least {significant(low)}"
        return f"{significant(value)} ({end})"
    decimals = decimals_for(low, high, value)
    return f"{fixed(value, decimals)} ({fixed(low, decimals)} to {fixed(high, decimals)})"


def percent_change(ratio: float, smaller: str, larger: str) -> str:
    """Say a ratio as a percentage, such as "about 36 % smaller".

    Parameters
    ----------
    ratio : float
        Ratio of a value to the reference's.
    smaller, larger : str
        The words for less and more.

    Returns
    -------
    str
        The phrase.

    Examples
    --------
    >>> percent_change(0.64, "smaller", "larger"), percent_change(2.5, "smaller", "larger")
    ('about 36 % smaller', 'about 2.5 times as large')
    """
    if ratio >= 2.0:
        return (
            f"about {significant(ratio, 2)} times as {'large' if larger == 'larger' else _times_word(larger)}"
        )
    percent = abs(ratio - 1.0) * 100.0
    return f"about {percent:.0f} % {smaller if ratio < 1.0 else larger}"


def percent_range(low: float, high: float) -> str:
    """Say the interval of a ratio as percentages of change, such as "28 to 43 %" or "−5 to +12 %".

    Parameters
    ----------
    low, high : float
        Ends of the interval of the ratio.

    Returns
    -------
    str
        The phrase; unsigned, smallest first, where both ends lie on one side of 1.

    Examples
    --------
    >>> percent_range(0.57, 0.72), percent_range(0.95, 1.12)
    ('28 to 43 %', '−5 to +12 %')
    """
    ends = [(low - 1.0) * 100.0, (high - 1.0) * 100.0]
    if ends[0] >= 0.0 or ends[1] <= 0.0:
        a, b = sorted(abs(end) for end in ends)
        return f"{a:.0f} to {b:.0f} %"
    return f"{MINUS}{abs(ends[0]):.0f} to +{ends[1]:.0f} %"


def p_value(p: float | None) -> str:
    """Write a p value; never a bare zero.

    Parameters
    ----------
    p : float or None
        The p value.

    Returns
    -------
    str
        The text.

    Examples
    --------
    >>> p_value(0.03641), p_value(1e-9), p_value(0.62)
    ('0.036', '< 0.0001', '0.62')
    """
    if p is None:
        return "–"
    if p < 0.0001:
        return "< 0.0001"
    return significant(p, 2) if p < 0.995 else f"{p:.2f}"


def listing(words: Sequence[str]) -> str:
    """Join words as prose does.

    Parameters
    ----------
    words : sequence of str
        The words.

    Returns
    -------
    str
        ``a``, ``a and b`` or ``a, b and c``.

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

    Parameters
    ----------
    n : int
        The count.
    noun, plural : str
        The noun and, where it isn't regular, its plural.

    Returns
    -------
    str
        The phrase.

    Examples
    --------
    >>> counted(1, "run"), counted(3, "run"), counted(0, "day")
    ('1 run', '3 runs', 'no days')
    """
    many = plural or f"{noun}s"
    return f"{n} {noun}" if n == 1 else f"{n or 'no'} {many}"


def load_text(load: float) -> str:
    """Write a load level in newtons.

    Parameters
    ----------
    load : float
        Load level [N].

    Returns
    -------
    str
        Such as ``450 N``.

    Examples
    --------
    >>> load_text(450.0003)
    '450 N'
    """
    return f"{load:.4g} N" if load < 10_000 else f"{load:.0f} N"


def sentence(text: str | None) -> str:
    """Turn a clause into a sentence: a capital at the start, a full stop at the end.

    Parameters
    ----------
    text : str or None
        The clause.

    Returns
    -------
    str
        The sentence; an en dash where there is no text.

    Examples
    --------
    >>> sentence("wear was still running"), sentence(None)
    ('Wear was still running.', '–')
    """
    if not text:
        return "–"
    text = text[0].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _times_word(larger: str) -> str:
    return {"higher": "high", "longer": "long"}.get(larger, larger)


def _exponent(value: float) -> int:
    return math.floor(math.log10(value))
