"""The limits of what a bench test shows, and the cautions, as every campaign report prints them."""

from __future__ import annotations

from pinscar.page.markup import Markup, bullet_list, paragraph

SEVERE = (
    "A short bench test ranks films under severe sliding. It doesn't measure service life, corrosion, "
    "fouling, low-temperature flow or what a contaminated joint does."
)
LIMITS = (
    "The intervals speak for repeats on this rig, with these pins, rings, batches and readers. Another rig "
    "or "
    "another batch may differ by more.",
    "A film pressure belongs to this speed, this dose and this warming of the contact. It isn't a material "
    "constant of the oil.",
    "Only planned repeats count as evidence. Adding runs until a difference shows makes every interval too "
    "narrow.",
    "A release, and any public claim, needs the review of a qualified person; public claims follow the local "
    "rules on advertising.",
)
BENCH = (
    "Local rules and qualified people come before anything written here. Pin, ring and oil get hot, the ring "
    "pulls in fingers, loose sleeves and hair, oil is flung, and smoke and solvent vapour harm. Guard the "
    "ring, wear eye protection, tie hair back, extract smoke, keep solvents from ignition sources and let "
    "parts cool."
)


def cautions_parts() -> list[Markup]:
    """Show what the evidence does not tell, and the dangers at the bench."""
    return [
        paragraph(SEVERE),
        bullet_list(LIMITS),
        Markup("<p><strong>Safety at the bench.</strong> {}</p>").format(BENCH),
    ]
