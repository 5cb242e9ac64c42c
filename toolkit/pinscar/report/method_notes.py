"""The notes on method that depend on the rig's geometry: only the formulas that were used are told."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from pinscar.campaign.model import Rig
from pinscar.decision import lubrication
from pinscar.report.formula import replace_formulas
from pinscar.report.markup import Markup

_RIGHT_ANGLE = 1e-3

_BENCH: Mapping[str, str] = MappingProxyType(
    {
        "crossed-cylinders": "A steel pin is pressed by dead weights across a rotating ring that is "
        "wetted with "
        "the lubricant. The pin wears until the oval scar is wide enough for the lubricant film to carry the "
        "load; then the rubbing noise stops and wear stops. ",
        "worn-ring": "A steel pin is pressed by dead weights across a rotating ring that is wetted with the "
        "lubricant. Pin and ring wear until the oval scar is wide enough for the lubricant film to carry the "
        "load; then the rubbing noise stops and wear stops. ",
        "ball-on-disc": "A ball is pressed by dead weights on a rotating disc that is wetted with the "
        "lubricant. The ball wears until its round scar is wide enough for the lubricant film to carry the "
        "load; then the rubbing noise stops and wear stops. ",
        "block-on-ring": "A block is pressed by dead weights on a rotating ring that is wetted with the "
        "lubricant. The block wears until its scar is long enough for the lubricant film to carry the load; "
        "then the rubbing noise stops and wear stops. ",
    }
)

_OVAL = (
    r"Scar area from the two measured axes, $A = \frac{\pi}{4} L W$; mean scar pressure "
    "$p = F / A$ (common practice: area of an ellipse; load over area)."
)
_AREA: Mapping[str, str] = MappingProxyType(
    {
        "crossed-cylinders": _OVAL,
        "worn-ring": _OVAL,
        "ball-on-disc": r"Scar area from the two measured diameters, $A = \frac{\pi}{4} L W$; mean "
        r"scar pressure "
        "$p = F / A$.",
        "block-on-ring": r"The scar of a block is a rectangle, its length $b$ along and its width "
        r"$t$ across the "
        r"sliding direction: $A = b\,t$; mean scar pressure $p = F / A$.",
    }
)

_POINT = (
    "Initial contact: elastic point contact by Hertz theory with exact elliptic integrals (Johnson, Contact "
    "Mechanics, 1985, ch. 4). "
)
_CHORD = (
    r"Scar depth from the length, $h = R_r - \sqrt{R_r^2 - L^2/4}$; wear volume as the exact overlap of the "
    "two cylinders by quadrature; "
)
_OBLIQUE = (
    r"Scar depth from the length, $h = R_p - \sqrt{R_p^2 - (L \sin \varphi)^2/4} + R_r - "
    r"\sqrt{R_r^2 - (L \sin(\theta - \varphi))^2/4}$, with the crossing angle $\theta$ and the "
    r"angle $\varphi$ "
    "from the pin to the scar's long axis (own derivation); wear volume as the exact overlap of the two "
    "cylinders by quadrature; "
)
_CONTACT: Mapping[str, str] = MappingProxyType(
    {
        "crossed-cylinders": _POINT + _CHORD,
        "worn-ring": _POINT + r"With the groove of the ring, $g$ deep: scar depth "
        r"$h = R_r - g - \sqrt{(R_r - g)^2 - L^2/4}$, implied width $W = 2\sqrt{2 R_p (h + g) - (h + g)^2}$; "
        "wear volume of the pin by quadrature across the track, where pin and ring are taken to share what "
        "they overlap in the same proportion everywhere (own derivation); ",
        "ball-on-disc": _POINT + r"With the ball's radius $r$ and the scar's diameter $d$ (ASTM G99): depth "
        r"$h = r - \sqrt{r^2 - d^2/4}$, wear volume $V = \frac{\pi h}{6} (\frac{3 d^2}{4} + h^2)$; ",
        "block-on-ring": "Initial contact: elastic line contact by Hertz theory (Johnson, Contact Mechanics, "
        r"1985, ch. 4). With the ring's diameter $D$ (ASTM G77): wear volume $V = \frac{D^2 t}{8} "
        r"(2 \theta - "
        r"\sin 2\theta)$ with $\sin \theta = b/D$; ",
    }
)

_GROWTH = (
    r"Wear-arrest model: Archard wear above the film pressure, $dh/dt = k\,v\,(p - p_f)$ while the mean "
    "pressure $p = F / A(h)$ exceeds $p_f$, with the exact scar area of crossed cylinders. Two unknowns from "
    "two observations of each run: its final scar, and its quiet time, taken as the moment when $p$ has come "
    r"down to $1.05\,p_f$ (own convention). Runs with load steps are left out. Long before arrest the length "
    "grows with $t^{1/4}$."
)
_FILM = (
    "Film: Hamrock and Dowson (J. Lubr. Technol. 99, 1977), fully flooded and isothermal, with the "
    "viscosity at "
    r"the stated temperature (ASTM D341 between 40 and 100 °C); $\lambda = h_{min} / \sqrt{R_{q1}^2 + "
    "R_{q2}^2}$; boundary below 1, mixed from 1 to 3, full film above (common practice). It describes the "
    "unworn bodies. For the worn, conformal scar no film is computed: the formula doesn't hold "
    "there, and the "
    "measured film pressure takes its place. "
)
_HEAT = (
    r"Heat: friction power $\mu F v$; flash temperature of a uniform source as large as the scar, at rest on "
    "the body that wears and moving over the other (Jaeger, 1942), heat shared for equal maximum "
    "temperatures (Blok, 1937). "
    "Where no trace gives the friction coefficient, a range of common practice is carried through, never one "
    "assumed number."
)


def method_note(section: str, rig: Rig) -> Markup:
    """Tell the method of a section, as far as it depends on the rig's geometry.

    Parameters
    ----------
    section : str
        ``tested``, ``film``, ``contact``, ``growth``, ``surround`` or ``spread``.
    rig : Rig
        The rig.

    Returns
    -------
    Markup
        The note, formulas set; empty where nothing was computed that needs one.

    Raises
    ------
    ValueError
        There is no such section.
    """
    if section not in _NOTES:
        raise ValueError(f"section must be one of {', '.join(_NOTES)}; got {section!r}")
    text = _NOTES[section](rig)
    lead = f"<p>{_lead(rig)}</p>\n" if section == "tested" else ""
    # The texts are this module's own, so they may hold markup.
    return Markup(lead + (f'<p class="method">{replace_formulas(text)}</p>' if text else ""))


def _lead(rig: Rig) -> str:
    reading = "The scar is read under a microscope. A small scar means a strong film."
    return _BENCH[rig.geometry] + reading


def _tested(rig: Rig) -> str:
    diameter = "the track's diameter" if rig.geometry == "ball-on-disc" else "the ring's diameter"
    return (
        r"Load from weights $m$, hanger $m_0$ and lever ratio $i$: $F = g\,(m + m_0)\,i$ with $g = 9.80665$ "
        rf"m/s². Sliding speed $v = \pi D n$ with {diameter} $D$, sliding distance $s = v t$. Runs "
        rf"whose loads "
        "agree within 0.5 % form one load level."
    )


def _film(rig: Rig) -> str:
    return (
        f"{_AREA[rig.geometry]} If wear had stopped in the final load step, the final mean pressure is the "
        "film pressure; if it was still running, or was not judged, the film carries less than that, and the "
        "run is a left-censored value. Estimates are geometric means with Student $t$ intervals on "
        "logarithms; with censored runs the median by log-normal maximum likelihood with likelihood "
        "intervals (Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 7 and 8) that "
        "are calibrated to Student's $t$ and by simulation, so that they hold for few runs. Where every run "
        "is censored, only a bound is given: the median lies below the largest final pressure with "
        "confidence $1 - 0.5^n$ (sign test). All assume that runs are "
        "independent and that logarithms are normally distributed."
    )


def _contact(rig: Rig) -> str:
    text = _CONTACT[rig.geometry]
    if rig.geometry == "crossed-cylinders" and abs(rig.crossing_angle - 0.5 * math.pi) > _RIGHT_ANGLE:
        text = _POINT + _OBLIQUE
    if rig.geometry == "block-on-ring" and rig.ring_groove_depth:
        text = text.replace("the ring's diameter $D$", "the diameter $D$ of the ring's worn track")
    return text + "wear coefficient $k = V / (F s)$, where $F s$ is summed over the load steps."


def _growth(rig: Rig) -> str:
    return _GROWTH if rig.geometry == "crossed-cylinders" else ""


def _surround(rig: Rig) -> str:
    return _HEAT if lubrication.why_not(rig) else _FILM + _HEAT


def _spread(rig: Rig) -> str:
    pressure = r"p = F / (b\,t)" if rig.geometry == "block-on-ring" else r"p = 4 F / (\pi L W)"
    return (
        r"Spread: relative standard deviation between runs, $\sqrt{e^{s^2} - 1}$ from the standard "
        r"deviation $s$ "
        f"of the logarithms. Uncertainty of one measurement: stated uncertainties of load and "
        f"reading carried "
        f"through ${pressure}$ (JCGM 100:2008, GUM, section 5). The spread contains the reading "
        f"error of each "
        "run, but no error that all runs share, such as a wrong lever ratio."
    )


_NOTES: Mapping[str, Callable[[Rig], str]] = MappingProxyType(
    {
        "tested": _tested,
        "film": _film,
        "contact": _contact,
        "growth": _growth,
        "surround": _surround,
        "spread": _spread,
    }
)
