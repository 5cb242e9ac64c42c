"""Lines to the terminal: one fact a line, never wrapped, coloured only on a screen."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import IO, Any

RED, YELLOW, GREEN = "31", "33", "32"


def say(text: str, colour: str = "") -> None:
    """Print a line to standard output.

    Parameters
    ----------
    text : str
        The line.
    colour : str
        ANSI colour code, empty for none.
    """
    _print(text, colour, sys.stdout)


def complain(text: str, colour: str = RED) -> None:
    """Print a line to standard error; line breaks within it become spaces.

    Parameters
    ----------
    text : str
        The line.
    colour : str
        ANSI colour code of what stands before the first colon.
    """
    _print(" ".join(text.split()), colour, sys.stderr)


def say_json(content: Any) -> None:
    """Print JSON to standard output.

    Parameters
    ----------
    content : object
        Plain JSON types.
    """
    print(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))  # noqa: T201  # the command's output


def coloured(text: str, colour: str, *, colours: bool) -> str:
    r"""Colour what stands before the first colon of a line, or the whole of a line without one.

    Parameters
    ----------
    text : str
        The line.
    colour : str
        ANSI colour code, empty for none.
    colours : bool
        Whether colours are wanted at all.

    Returns
    -------
    str
        The line with escape sequences.

    Examples
    --------
    >>> coloured("error: no unit", "31", colours=False)
    'error: no unit'
    >>> coloured("error: no unit", "31", colours=True)
    '\x1b[31merror\x1b[0m: no unit'
    """
    if not colours or not colour:
        return text
    head, colon, rest = text.partition(":")
    return f"\x1b[{colour}m{head}\x1b[0m{colon}{rest}"


def _print(text: str, colour: str, stream: IO[str]) -> None:
    colours = stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    print(coloured(text, colour, colours=colours), file=stream, flush=True)  # the command's output


@contextmanager
def busy(text: str, *, shown: bool = True) -> Iterator[Callable[[str], None]]:
    """Show that work goes on, on a screen; elsewhere print nothing.

    Parameters
    ----------
    text : str
        What is being done.
    shown : bool
        False shows nothing anywhere.

    Yields
    ------
    callable
        Takes the step that the work has come to, and shows it beside the text.
    """
    if not shown or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield lambda _: None
        return
    from rich.console import Console
    from rich.text import Text

    # As Text, since a folder's name may hold brackets, which rich would take for markup.
    with Console(stderr=True).status(Text(text)) as status:
        yield lambda step: status.update(Text(step))
