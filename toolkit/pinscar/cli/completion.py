"""What the shell offers when a person presses Tab: templates, demos, parameters of the template."""

from __future__ import annotations

import typer


def templates(incomplete: str) -> list[str]:
    """Offer the templates.

    Examples
    --------
    >>> "campaign_report" in templates("camp")
    True
    """
    from pinscar.shipped import template_names

    return [name for name in template_names() if name.startswith(incomplete)]


def demos(incomplete: str) -> list[str]:
    """Offer the demo campaigns.

    Examples
    --------
    >>> "conveyor_07" in demos("")
    True
    """
    from pinscar.bench.prepare import demo_names

    return [name for name in demo_names() if name.startswith(incomplete)]


def parameters(context: typer.Context, incomplete: str) -> list[str]:
    """Offer the parameters of the template that was typed before, or of the usual one."""
    from pinscar.errors import PinscarError
    from pinscar.press.template import read_template
    from pinscar.shipped import find_template

    try:
        chosen = read_template(find_template(context.params.get("template") or "campaign_report"))
    except PinscarError:
        return []
    return [
        f"{name}="
        for name in chosen.declared
        if name not in ("folder", "folders") and name.startswith(incomplete)
    ]
