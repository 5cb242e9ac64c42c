"""The exceptions of pinscar: one small tree, each with the exit status that it ends the command with."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pinscar.problems import Problem


class PinscarError(Exception):
    """Base of every error that pinscar raises on purpose; its text is one plain line."""

    exit_status = 4

    def _render_traceback_(self) -> list[str]:
        # What a notebook shows in place of a traceback: these errors tell a person what to mend.
        return [str(self)]


class InputError(PinscarError):
    """The campaign folder has errors: nothing was computed and nothing was written.

    Attributes
    ----------
    problems : list of Problem
        Every problem found, not only the first.
    """

    exit_status = 1

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(str(problem) for problem in problems))
        self.problems = problems

    def _render_traceback_(self) -> list[str]:
        from pinscar.problems import text_table

        number = "1 problem" if len(self.problems) == 1 else f"{len(self.problems)} problems"
        return [
            f"Nothing was computed: {number} to mend or check.",
            "",
            *text_table(self.problems),
        ]

    def __reduce__(self) -> tuple[type[InputError], tuple[list[Problem]]]:
        return (type(self), (self.problems,))


class UsageError(PinscarError):
    """The command was called with arguments that do not fit."""

    exit_status = 2


class RunError(PinscarError):
    """The run itself failed: template error, kernel death, no room on disk, folder in use."""

    exit_status = 4


class OutOfRangeError(ValueError):
    """A number that a function was given lies outside what its argument may be.

    Attributes
    ----------
    name : str
        The argument.
    rule : str
        What it must be.
    value : float
        The first number that is not.

    Examples
    --------
    >>> print(OutOfRangeError("load", "must be above zero", -5.0))
    load must be above zero; got -5
    """

    def __init__(self, name: str, rule: str, value: float) -> None:
        super().__init__(name, rule, value)
        self.name, self.rule, self.value = name, rule, value

    def __str__(self) -> str:
        return f"{self.name} {self.rule}; got {self.value:g}"
