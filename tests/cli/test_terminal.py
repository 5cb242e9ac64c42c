"""Lines on a terminal: coloured where somebody sees it and has not asked otherwise."""

from __future__ import annotations

import io

import pytest

from pinscar import terminal


class Tty(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize(
    ("stream", "env", "coloured"),
    [
        (Tty, {"TERM": "xterm"}, True),
        (Tty, {"TERM": "xterm", "NO_COLOR": "1"}, False),
        (Tty, {"TERM": "dumb"}, False),
        (io.StringIO, {"TERM": "xterm"}, False),
    ],
)
def test_colour(monkeypatch, stream, env, coloured):
    for name in ("NO_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    for name, value in env.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("sys.stderr", stream())
    terminal.complain("error: runs.csv: no unit")
    expected = "\x1b[31merror\x1b[0m: runs.csv: no unit\n" if coloured else "error: runs.csv: no unit\n"
    assert terminal.sys.stderr.getvalue() == expected


def test_an_error_of_several_lines_becomes_one(capsys):
    terminal.complain("first\n  second\tthird" + " word" * 60)
    captured = capsys.readouterr()
    assert (captured.out, captured.err.count("\n")) == ("", 1)
    assert captured.err.startswith("first second third word")


def test_nothing_is_shown_while_busy_where_nobody_watches(capsys):
    with terminal.busy("working"):
        pass
    assert capsys.readouterr() == ("", "")
