"""Evaluate pin-on-ring lubricant tests, from the campaign folder to the report."""

__version__ = "0.1.0"


def __getattr__(name: str) -> object:  # what is slow to load is loaded when it is asked for (PEP 562)
    import importlib

    if name == "mechanics":
        return importlib.import_module("pinscar.mechanics")
    places = {
        "Q_": ("pinscar.units", "Q_"),
        "open": ("pinscar.desk", "open_campaign"),
        "check": ("pinscar.desk", "check"),
        "demo": ("pinscar.desk", "demo"),
        "read_scars": ("pinscar.desk_reading", "read_scars"),
    }
    if name in places:
        module, wanted = places[name]
        return getattr(importlib.import_module(module), wanted)
    raise AttributeError(f"module 'pinscar' has no attribute {name!r}")
