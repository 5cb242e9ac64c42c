"""The traces of a campaign by run, of which only the first take memory."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class Traces(Mapping[str, pd.DataFrame]):
    """Traces by run, of which only the first take memory: a large campaign has more of them than that holds.

    Attributes
    ----------
    runs : collection of str
        Runs that have a trace.
    kept : mapping of str to DataFrame
        Those that are in memory.
    measured : frozenset of str
        Columns of which some trace has more than one value.
    again : callable
        What reads the trace of a run once more.

    Examples
    --------
    >>> kept = {"a": pd.DataFrame({"time": [0.0, 1.0]})}
    >>> traces = Traces(["a", "b"], kept, frozenset(), lambda run_id: pd.DataFrame({"time": [0.0]}))
    >>> list(traces), len(traces["a"]), len(traces["b"])
    (['a', 'b'], 2, 1)
    """

    runs: Collection[str]
    kept: Mapping[str, pd.DataFrame]
    measured: frozenset[str]
    again: Callable[[str], pd.DataFrame]

    def __getitem__(self, run_id: str) -> pd.DataFrame:
        """Return a trace, read once more where it is not kept."""
        if run_id in self.kept:
            return self.kept[run_id]
        if run_id not in self.runs:
            raise KeyError(run_id)
        return self.again(run_id)

    def __iter__(self) -> Iterator[str]:
        """List the runs."""
        return iter(self.runs)

    def __len__(self) -> int:
        """Count the traces."""
        return len(self.runs)
