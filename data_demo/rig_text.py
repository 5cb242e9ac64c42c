"""The parts of campaign.toml that the demo campaigns share: the rig, the oils' data sheets, the chain."""

from __future__ import annotations

HEAD = "# Invented data, made by data_demo/make_demo.py: no such oils, rig or line exist.\n"

RIG = """\
[rig]
geometry = "crossed-cylinders"
pin_diameter = "12 mm"
ring_diameter = "40 mm"
ring_width = "14 mm"
crossing_angle = "90 deg"
ring_speed = "700 rpm"
lever_ratio = 10.0
hanger_mass = "0.8 kg"           # 3.79 kg of plates: 450 N; 5.32 kg: 600 N
load_uncertainty = "1 %"         # spring balance on the pin holder, yearly
reading_uncertainty = "0.03 mm"

[rig.pin]
material = "bearing steel 100Cr6"   # heat constants are looked up
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "7.5 GPa"
roughness_rq = "0.20 um"

[rig.ring]
material = "bearing steel 100Cr6"
elastic_modulus = "210 GPa"
poisson_ratio = 0.30
hardness = "8.0 GPa"
roughness_rq = "0.15 um"
"""

CONVEYOR_CHAIN = """\
[service]                        # oven conveyor, half-inch chain, hottest stretch
chain_pitch = "12.7 mm"
pin_diameter = "4.45 mm"
bush_length = "11.3 mm"
sprocket_teeth = 19
sprocket_speed = "120 rpm"
chain_tension = "900 N"
"""

HOIST_CHAIN = """\
[service]                        # hoist, three-quarter-inch chain, full hook
chain_pitch = "19.05 mm"
pin_diameter = "5.72 mm"
bush_length = "15.6 mm"
sprocket_teeth = 15
sprocket_speed = "60 rpm"
chain_tension = "2.4 kN"
"""

#: Kinematic viscosity at 40 and 100 degC [mm^2/s] and density at 15 degC [kg/m^3], as on a data sheet.
DATA_SHEETS = {
    "R-10": ("68", "9.1", "872"),
    "B-05": ("46", "6.8", "861"),
    "C-18": ("67", "9.0", "874"),
    "C-19": ("72", "9.8", "878"),
    "C-20": ("64", "9.2", "890"),
    "C-21": ("61.5", "9.4", "914"),
    "C-22": ("70", "9.3", "870"),
    "H-11": ("150", "15.2", "889"),
    "H-12": ("148", "15.6", "902"),
}


def campaign_text(
    identity: str,
    title: str,
    question: str,
    about: tuple[str, ...],
    block: str | None = "run_day",
    fling_card: str = "",
) -> str:
    """The head of campaign.toml, up to and with the rig; `about` becomes comment lines at the top."""
    lines = [
        HEAD + "".join(f"# {line}\n" for line in about),
        "[campaign]",
        f'id = "{identity}"',
        f'title = "{title} (invented demo data)"',
        f'question = "{question}"',
        'reference = "R-10"',
        "confidence = 0.95",
    ]
    if block:
        lines.append(f'block = "{block}"')
    uncertainty = 'reading_uncertainty = "0.03 mm"\n'
    card = f'fling_card = "{fling_card}"   # white card behind the ring\n' if fling_card else ""
    return "\n".join([*lines, "", RIG.replace(uncertainty, uncertainty + card)])


def lubricants_text(roles: dict[str, str], samples: dict[str, str] | None = None) -> str:
    """The [[lubricants]] of campaign.toml, with their data sheets and, where given, their samples."""
    taken = {name: f"sample = {{ {text} }}\n" for name, text in (samples or {}).items()}
    return "\n".join(
        f'[[lubricants]]\nid = "{name}"\nrole = "{role}"\n{taken.get(name, "")}'
        f'kinematic_viscosity_40 = "{DATA_SHEETS[name][0]} mm^2/s"\n'
        f'kinematic_viscosity_100 = "{DATA_SHEETS[name][1]} mm^2/s"\n'
        f'density_15 = "{DATA_SHEETS[name][2]} kg/m^3"\n'
        for name, role in roles.items()
    )
