"""Evaluate pin-on-ring lubricant tests, from the campaign folder to the report."""

__version__ = "0.1.0"


def __getattr__(name: str) -> object:  # what is slow to load is loaded when it is asked for (PEP 562)
    if name == "Q_":
        from pinscar.units import Q_

        return Q_
    if name == "mechanics":
        import importlib

        return importlib.import_module("pinscar.mechanics")
    raise AttributeError(f"module 'pinscar' has no attribute {name!r}")
