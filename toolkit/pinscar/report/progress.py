"""The steps of making a report: cells, page, PDF; told as they begin, counted for a progress bar."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any


class Steps:
    """Tells how far a report is.

    Parameters
    ----------
    cells : int
        Cells of the template.
    pdf : bool
        Whether a PDF follows the page.
    tell : callable
        Called with ``done`` and ``of`` (counts of steps) and ``text``, in plain JSON types.

    Examples
    --------
    >>> steps = Steps(40, pdf=True, tell=lambda step: print(f"{step['done']}/{step['of']} {step['text']}"))
    >>> steps.cell(11)
    11/42 cell 12 of 40
    >>> steps.pdf()
    41/42 setting the PDF
    """

    def __init__(self, cells: int, *, pdf: bool, tell: Callable[[Mapping[str, Any]], None]) -> None:
        self._cells = cells
        self._all = cells + 1 + int(pdf)
        self._tell = tell

    def cell(self, position: int) -> None:
        """Tell that a cell begins.

        Parameters
        ----------
        position : int
            Its position, from 0; the cell of parameters that papermill adds makes the last one count twice.
        """
        done = min(position, self._cells - 1)
        self._step(done, f"cell {done + 1} of {self._cells}")

    def page(self) -> None:
        """Tell that the page is being laid out."""
        self._step(self._cells, "laying out the page")

    def pdf(self) -> None:
        """Tell that the PDF is being set."""
        self._step(self._cells + 1, "setting the PDF")

    def _step(self, done: int, text: str) -> None:
        self._tell({"done": done, "of": self._all, "text": text})
