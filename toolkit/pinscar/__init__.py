"""Evaluate pin-on-ring lubricant tests, from the campaign folder to the report.

Examples
--------
Open a campaign, look at its runs, compare every oil with the reference (in a notebook the last two show a
table and a chart):

>>> import pinscar
>>> campaign = pinscar.open(pinscar.demo())  # or the folder of your own campaign
>>> len(campaign.runs)
47
>>> comparison = campaign.compare()

List every problem of a folder, and how to mend it:

>>> problems = pinscar.check(pinscar.demo())

Compute with quantities, here the first contact of pin and ring under a load:

>>> contact = pinscar.mechanics.hertz_contact("450 N", "12 mm", "40 mm", "210 GPa", 0.3)

Make the report with one button, or read the scars by hand, in JupyterLab:

>>> panel = pinscar.Panel(pinscar.demo())
>>> pinscar.read_scars("my_campaign", reader="op1")  # doctest: +SKIP
"""

__version__ = "0.1.0"

__all__ = (
    "Q_",
    "Panel",
    "check",
    "demo",
    "mechanics",
    "open",
    "pictures",
    "read_pilot",
    "read_scars",
    "style",
)


def __dir__() -> list[str]:  # what a person sees who asks for the names: those to use, and no inner rooms
    return [*__all__, "__version__"]


def __getattr__(name: str) -> object:  # what is slow to load is loaded when it is asked for (PEP 562)
    modules = {
        "mechanics": "pinscar.mechanics",
        "pictures": "pinscar.desk.pictures",
        "style": "pinscar.page.style",
    }
    places = {
        "Panel": ("pinscar.desk.report", "Panel"),
        "Q_": ("pinscar.units", "Q_"),
        "open": ("pinscar.desk.campaign", "open_campaign"),
        "check": ("pinscar.desk.campaign", "check"),
        "demo": ("pinscar.desk.campaign", "demo"),
        "read_pilot": ("pinscar.study.plan.study", "read_pilot"),
        "formulation": ("pinscar.desk.formulation", "formulation"),
        "read_scars": ("pinscar.desk.scar_reading", "read_scars"),
    }
    if name in modules:
        return _import(modules[name])
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
