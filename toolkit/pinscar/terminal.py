"""Lines to the terminal: one fact a line, coloured only on a screen; commands in them can be copied."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from pinscar.errors import has_hidden, visible


def command(*words: str | Path) -> str:
    """Write a command line that can be copied into the shell.

    Examples
    --------
    >>> command("pinscar", "check", "my_campaign")
    'pinscar check my_campaign'
    >>> "oils 8" in command("pinscar", "check", Path("oils 8"))
    True
    """
    texts = [str(word) for word in words]
    return subprocess.list2cmdline(texts) if sys.platform == "win32" else shlex.join(texts)


RED, YELLOW, GREEN = "31", "33", "32"


def say(text: str, colour: str = "") -> None:
    """Print a line to standard output."""
    _print(text, colour, sys.stdout)


def say_lines(lines: Iterable[str]) -> None:
    """Print lines to standard output."""
    for line in lines:
        say(line)


def complain(text: str, colour: str = RED) -> None:
    """Print a line to standard error; line breaks within it become spaces."""
    _print(" ".join(text.split()), colour, sys.stderr)


def say_json(content: Any) -> None:
    """Print JSON to standard output."""
    text = json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)
    _write("".join(_escaped(one) for one in text), sys.stdout)


def _escaped(one: str) -> str:
    """Write a character that cannot be seen as JSON has it, so that none steers the terminal."""
    return json.dumps(one)[1:-1] if one != "\n" and has_hidden(one) else one


def coloured(text: str, colour: str, *, colours: bool) -> str:
    r"""Colour what stands before the first colon of a line, or the whole of a line without one.

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
    _write(coloured(visible(text, layout=False), colour, colours=colours), stream)


def _write(text: str, stream: IO[str]) -> None:
    """Print a line, characters that the terminal's encoding lacks as codes."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    print(text.encode(encoding, "backslashreplace").decode(encoding), file=stream, flush=True)


@contextmanager
def busy(text: str, *, shown: bool = True) -> Iterator[Callable[[str], None]]:
    """Show that work goes on, on a screen; elsewhere print nothing."""
    if not shown or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield lambda _: None
        return
    from rich.console import Console
    from rich.text import Text

    # As Text, since a folder's name may hold brackets, which rich would take for markup.
    with Console(stderr=True).status(Text(visible(text, layout=False))) as status:
        yield lambda step: status.update(Text(visible(step, layout=False)))
