"""Evaluate pin-on-ring lubricant tests, from the campaign folder to the report."""

__version__ = "0.1.0"


def __getattr__(name: str) -> object:  # what is slow to load is loaded when it is asked for (PEP 562)
    if name == "mechanics":
        return _import("pinscar.mechanics")
    places = {
        "Q_": ("pinscar.units", "Q_"),
        "open": ("pinscar.desk.campaign", "open_campaign"),
        "check": ("pinscar.desk.campaign", "check"),
        "demo": ("pinscar.desk.campaign", "demo"),
        "formulation": ("pinscar.desk.formulation", "formulation"),
        "read_scars": ("pinscar.desk.reading", "read_scars"),
    }
    if name in places:
        module, wanted = places[name]
        return getattr(_import(module), wanted)
    raise AttributeError(f"module 'pinscar' has no attribute {name!r}")


def _import(module: str) -> object:
    """Import a module of ours and what it needs; a numpy.py in a notebook's folder is not what it needs."""
    import sys

    from pinscar.import_path import trusted_path

    before = list(sys.path)
    sys.path[:] = trusted_path()
    try:
        import importlib

        return importlib.import_module(module)
    finally:
        sys.path[:] = before
