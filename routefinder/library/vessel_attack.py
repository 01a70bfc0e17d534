"""What attacks a vessel, and the heat it stands: a small table, each row with its source.

The rows are those of the project's reference table vessel_materials.csv that bear on the materials
in ``records/capability.VESSEL_MATERIALS``; a pair that is not here is not known to be safe.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from routefinder.chem.formula import parse
from routefinder.records.substance import Substance

MINERAL_ACIDS = ("HCl", "H2SO4", "HNO3", "H3PO4", "H3NSO3", "NaHSO4", "KHSO4")
ORGANIC_ACIDS = ("C2H4O2", "CH2O2", "C6H8O7", "H2C2O4", "C4H6O6", "C3H6O3")
STRONG_ALKALI = ("NaOH", "KOH", "LiOH")
COLD = -273.15  # a row with this counts at every temperature
ACIDS = (*MINERAL_ACIDS, *ORGANIC_ACIDS)
NOT_ACIDS = frozenset({"methyl-formate", "1-3-dihydroxyacetone", "glyceraldehyde"})


@dataclass(frozen=True)
class Attack:
    """``agents`` (formulas, dissolved or liquid) attack ``vessel`` above a temperature."""

    vessel: str
    agents: tuple[str, ...]
    above_C: float
    words: str
    source: str


_ALUMINIUM = "CRC data: 2 Al + 6 H+ -> 2 Al3+ + 3 H2, dH -1062 kJ"
_ZINC = "American Galvanizers Association: attacked below pH 5"
_GLASS = "Hirschmann, chemical properties: hot alkali attacks, faster with strength and heat"
ATTACKS = (
    Attack("aluminium", MINERAL_ACIDS, COLD, "an acid", _ALUMINIUM),
    Attack("aluminium", STRONG_ALKALI, COLD, "strong alkali", "CRC data: aluminate and hydrogen"),
    Attack("carbon steel", MINERAL_ACIDS, COLD, "an acid", "EPA-600/2-80-076: heat, hydrogen"),
    Attack("zinc-plated steel", ACIDS, COLD, "an acid", _ZINC),
    Attack("zinc-plated steel", STRONG_ALKALI, COLD, "strong alkali", "from memory: zincate"),
    Attack("stainless steel", ("HCl",), COLD, "hydrochloric acid", "BSSA: not resistant"),
    Attack("nickel", ("HCl", "HNO3"), COLD, "this acid", "from memory: handbook"),
    Attack("copper", ("NH3", "HNO3"), COLD, "ammonia or nitric acid", "from memory: handbook"),
    Attack("borosilicate", STRONG_ALKALI, 60, "hot strong alkali", _GLASS),
    Attack("soda-lime glass", STRONG_ALKALI, 60, "hot strong alkali", _GLASS),
    Attack(
        "porcelain", STRONG_ALKALI, 60, "hot strong alkali",
        "Inorganic Ventures, trace-analysis guide 5:2",
    ),
)  # fmt: skip

_RESINS = "Nalgene/Thermo resin table"
LIMITS: dict[str, tuple[float, str]] = {
    "PTFE": (260, _RESINS), "PFA": (260, _RESINS), "PP": (135, _RESINS), "HDPE": (120, _RESINS),
    "LDPE": (80, _RESINS), "PMP": (145, _RESINS), "PC": (135, _RESINS),
    "borosilicate": (500, "strain point, robuglas technical data"),
    "soda-lime glass": (200, "Ace Glass"),
    "porcelain": (1100, "Inorganic Ventures, trace-analysis guide 5:2"),
    "stainless steel": (870, "ASM, dry air, intermittent, through azom.com article 1175"),
}  # fmt: skip
_KEYS = {
    text: parse(text).key
    for text in {agent for attack in ATTACKS for agent in attack.agents} | set(ACIDS)
}


def is_one_of(substance: Substance, agents: tuple[str, ...]) -> bool:
    """Whether the substance, crystal water left out, has one of these formulas."""
    if substance.formula is None or substance.id in NOT_ACIDS:
        return False
    return not _same_as(substance.formula).isdisjoint(agents)


@lru_cache(maxsize=4096)
def _same_as(formula: str) -> frozenset[str]:
    """The agents of the table that a formula, crystal water left out, is another spelling of."""
    dry = parse(parse(formula).text.split("·")[0]).key
    return frozenset(agent for agent, key in _KEYS.items() if key == dry)


def attack_on(
    vessel: str,
    present: list[tuple[Substance, str]],
    temperature_C: float,
    spent: frozenset[str] = frozenset(),
) -> tuple[Attack, Substance] | None:
    """The first row of the table that applies to what is present (substance, state).

    ``spent`` holds ids of what another solution uses up as it is added: the slow rows, those that
    ask for heat, leave it out; the others count every drop.
    """
    for row in ATTACKS:
        if row.vessel != vessel or temperature_C <= row.above_C:
            continue
        for substance, state in present:
            if row.above_C > COLD and substance.id in spent:
                continue
            molten = state == "s" and temperature_C > 300 and row.agents is STRONG_ALKALI
            if (state in {"aq", "l"} or molten) and is_one_of(substance, row.agents):
                return row, substance
    return None
