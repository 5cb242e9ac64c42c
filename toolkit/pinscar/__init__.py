"""Evaluate pin-on-ring lubricant tests, from the campaign folder to the report."""

__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    if name == "Q_":  # pint is slow to load, so it is loaded only when it is asked for
        from pinscar.units import Q_

        return Q_
    raise AttributeError(f"module 'pinscar' has no attribute {name!r}")
