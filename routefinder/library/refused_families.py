"""Families that routefinder refuses: rules on names and formulas, for what no list can name one by
one.

A name rule sees the name without case, spaces, hyphens, brackets and accents
(``spelling.squash``). A formula rule sees the atoms of one formula unit without crystal water and
without charge, and the formula as written. Formula rules are kept to patterns that harmless
substances hardly share; ``differs`` says which do, and `routefinder look NAME` shows it. The rules
are our own (common practice among chemists: functional groups and oxygen balance); they are no law.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from routefinder.chem.elements import ATOMIC_WEIGHTS
from routefinder.library.refused_forms import METALS

Counts = Mapping[str, float]


@dataclass(frozen=True)
class Family:
    """A family: where it is refused, by which names and by which formulas."""

    name: str
    where: str
    names: re.Pattern[str] | None
    formula: Callable[[Counts, str], bool] | None
    why: str
    differs: str
    cleared: frozenset[str] = frozenset()  # CAS numbers of harmless substances with such a formula
    salts: bool = False  # whether the formula rule also judges the acid of a salt


def _metals(counts: Counts) -> set[str]:
    return set(counts) & METALS


def azide(counts: Counts, text: str) -> bool:
    """(N3) groups, or nothing but hydrogen or one metal and three nitrogens a charge."""
    if re.search(r"\(N3\)\d*", text):
        return True
    n = counts.get("N", 0)
    rest = set(counts) - {"N"}
    if n == 3 and not rest and text.endswith("-"):  # the ion
        return True
    return len(rest) == 1 and rest <= METALS - {"Li", "Mg", "Ca"} | {"H"} and n > 0 and n % 3 == 0


def fulminate(counts: Counts, text: str) -> bool:
    """Silver or mercury with as many C as N as O."""
    if set(counts) not in ({"Ag", "C", "N", "O"}, {"Hg", "C", "N", "O"}):
        return False
    return counts["C"] == counts["N"] == counts["O"]


def perchlorate(counts: Counts, text: str) -> bool:
    """ClO4 groups, however the atoms are ordered."""
    if "C" not in counts and re.search(r"ClO4(?!\d)", text):
        return True
    chlorine, oxygen = counts.get("Cl", 0), counts.get("O", 0)
    rest = set(counts) - {"Cl", "O", "N", "H"}
    return chlorine > 0 and oxygen == 4 * chlorine and rest <= METALS and len(rest) <= 1


def oxygen_balance(counts: Counts) -> float:
    """Oxygen balance of a CHNO substance in percent: -1600 (2 C + H/2 - O) / molar mass."""
    mass = sum(n * ATOMIC_WEIGHTS[el] for el, n in counts.items())
    c, h, o = (counts.get(el, 0) for el in "CHO")
    return -1600 * (2 * c + h / 2 - o) / mass


def polynitro(counts: Counts, text: str) -> bool:
    """CHNO with two or more N, two or more O a N, few H, and an oxygen balance above -80 %."""
    if re.search(r"\(ONO2\)|\(NO3\)", text) and "C" in counts and not _metals(counts):
        return True
    if not {"C", "N", "O"} <= set(counts) <= {"C", "H", "N", "O"}:
        return False
    c, h, n, o = (counts.get(el, 0) for el in "CHNO")
    return n >= 2 and o >= 2 * n and h <= 2 * c + 2 - n and oxygen_balance(counts) > -80


def nitrogen_trihalide(counts: Counts, text: str) -> bool:
    """NX3 of iodine, bromine or chlorine, ammonia attached or not."""
    halogens = set(counts) & {"I", "Br", "Cl"}
    if len(halogens) != 1 or not set(counts) <= halogens | {"N", "H"}:
        return False
    n, h, x = counts.get("N", 0), counts.get("H", 0), counts[halogens.pop()]
    return x == 3 and n >= 1 and h == 3 * (n - 1)


def acetylide(counts: Counts, text: str) -> bool:
    """Silver, copper(I), gold or mercury carbides."""
    return (
        set(counts) in ({"Ag", "C"}, {"Cu", "C"}, {"Au", "C"}, {"Hg", "C"}) and counts["C"] % 2 == 0
    )


def phosphorus_halide(counts: Counts, text: str) -> bool:
    """Small organic P-F (one or two F) or P-Cl, P-Br (at most three O)."""
    if "C" not in counts or counts.get("P") != 1 or _metals(counts):
        return False
    if counts.get("F", 0) in (1, 2) and counts.get("H", 0) >= counts["C"]:
        return True
    halogen = counts.get("Cl", 0) + counts.get("Br", 0)
    return halogen in (1, 2) and counts["C"] <= 10 and 0 < counts.get("O", 0) <= 3


def phosphorus_cyanide(counts: Counts, text: str) -> bool:
    """The alkyl phosphoramidocyanidates, C(n)H(2n+1)N2O2P."""
    c = counts.get("C", 0)
    return 4 <= c <= 24 and dict(counts) == {"C": c, "H": 2 * c + 1, "N": 2, "O": 2, "P": 1}


def phosphorus_thiol(counts: Counts, text: str) -> bool:
    """One P, one S, one N and O, all else saturated alkyl: C(n)H(2n+4)NO2PS and NO3PS."""
    c, o = counts.get("C", 0), counts.get("O", 0)
    return (
        6 <= c <= 24
        and o in (2, 3)
        and dict(counts) == {"C": c, "H": 2 * c + 4, "N": 1, "O": o, "P": 1, "S": 1}
    )


def phosphonate(counts: Counts, text: str) -> bool:
    """C(n)H(2n+3)O3P up to six carbons: methyl- to propylphosphonates and alkyl phosphites."""
    c = counts.get("C", 0)
    return 1 <= c <= 6 and dict(counts) == {"C": c, "H": 2 * c + 3, "O": 3, "P": 1}


def organoarsenic_chloride(counts: Counts, text: str) -> bool:
    """C, As and Cl together."""
    return {"C", "As", "Cl"} <= set(counts) and counts["C"] <= 12


def hypophosphite(counts: Counts, text: str) -> bool:
    """Two H and two O a P, with a metal."""
    p = counts.get("P", 0)
    rest = set(counts) - {"P", "H", "O"}
    return p > 0 and rest <= METALS and counts.get("H") == 2 * p and counts.get("O") == 2 * p and (
        len(rest) == 1 or text.endswith("-")
    )  # fmt: skip


def metal_cyanide(counts: Counts, text: str) -> bool:
    """One metal that is no iron, and as many C as N: one or two CN a metal atom, or more."""
    metals = _metals(counts)
    if len(metals) != 1 or "Fe" in metals or set(counts) - metals != {"C", "N"}:
        return False
    return counts["C"] == counts["N"] and counts["C"] >= counts[next(iter(metals))]


def arsenic_compound(counts: Counts, text: str) -> bool:
    """Arsenic with oxygen: oxides, acids, their salts and esters."""
    return {"As", "O"} <= set(counts)


_ALKYL = r"(?:di(?:methyl|ethyl|npropyl|propyl|isopropyl)|methylethyl|ethylmethyl)"

FAMILIES = (
    Family(
        "azides", "any",
        re.compile(r"(?<!hydr)(?<!oni)(?<!carb)(?<!thi)(?<!nep)(?<!phthal)azid(?:e|o)|hydrazoic|natriumazid"),
        azide,
        "Azides of metals are primary explosives, and acid frees a poison gas from the others.",
        "A nitride of the same metal has one or two nitrogens a metal atom, no row of three.",
    ),
    Family(
        "fulminates", "any", re.compile(r"fulminat(?!or)|fulminic|fulminating"), fulminate,
        "Fulminates are primary explosives.",
        "The cyanate of silver shares the formula and is cleared by its CAS number; cyanates of "
        "sodium and potassium are not.",
        frozenset({"3315-16-0"}),  # silver cyanate
    ),
    Family(
        "organic peroxides", "any",
        re.compile(
            r"(?:yl|one|ene|ether|oyl|organic|acid|amine)(?:mono|di|tri|tetra|hydro)*(?:per|super)oxide"
            r"|^peroxides?(?:organic|dibenzoyl|ditertbutyl)|hydroperoxide$"
            r"|(?:^|[^u])per(?:oxy)?(?:acetic|formic|propionic|benzoic|lauric|phthalic)acid"
            r"|peroxy(?:ester|ketal)"
        ),
        None,
        "Many organic peroxides are sensitive explosives.",
        "Hydrogen peroxide, its adducts (percarbonate, urea peroxide) and metal peroxides are not "
        "organic peroxides.",
    ),
    Family(
        "perchlorates as a target", "made", re.compile(r"perchlorat|perchloric|clo4"), perchlorate,
        "Perchlorates make explosive mixtures; routefinder does not make them.",
        "Chlorates and chlorides are other ions.",
    ),
    Family(
        "nitrate esters and polynitro compounds", "any",
        re.compile(
            r"(?<!uran)(?<!zircon)(?<!vanad)(?<!titan)(?<!bismuth)"
            r"(?:methyl|ethyl|propyl|butyl|amyl|hexyl|octyl|glyceryl|alkyl|glycol|glycerol|itol"
            r"|itan|isosorbide|cellulose|starch|ylene|lactose|sucrose|glucose|sugar)"
            r"(?:mono|di|tri|tetra|penta|hexa|octa)?nitrates?$"
            r"|(?:di|tri|tetra|penta|hexa|octa|poly)nitro"
            r"(?!gen|so|cobalt|ito|pentammine|ammine|platin|rhod|palladium|nickel|irid|diammine"
            r"|tetrammine|triammine)"
            r"|nitroglycerin|nitroglycol|nitrocellulose|guncotton|picrate|picric|picramic|styphn"
            r"|nitramine$|nitromannit"
        ),
        polynitro,
        "Nitrate esters, polynitro-aromatics and nitramines are explosives.",
        "By formula: carbon, hydrogen, nitrogen and oxygen only, two or more nitrogens, two or "
        "more oxygens a nitrogen and an oxygen balance above -80 %. Alloxan shares that and is "
        "cleared by its CAS number.",
        frozenset({"50-71-5"}),  # alloxan
        salts=True,
    ),
    Family(
        "nitrogen trihalides", "any",
        re.compile(r"nitrogentri(?:iod|chlor|brom)ide|triiodineammonia|ammoniumtriiodide"),
        nitrogen_trihalide,
        "Nitrogen trihalides are contact explosives.",
        "Ammonium halides have one halogen.",
    ),
    Family(
        "acetylides of silver, copper and mercury", "any",
        re.compile(r"(?:silver|copper|cuprous|mercur[a-z]*|gold)[iv]*(?:acetylide|carbide)"),
        acetylide,
        "Dry, they are primary explosives.",
        "Calcium carbide is not one of them.",
    ),
    Family(
        "organophosphorus agents and their precursors", "any",
        re.compile(
            r"phosphono(?:di)?(?:fluorid|chlorid)|phosphor(?:o|yl)?(?:amido)?(?:di)?fluorid"
            r"|phosphoramid(?:at|o|ic)|phosphonothi|phosphonamidic|phosphonous|methylphosphinyl"
            r"|phosphor[a-z]*cyanid|fluorophosph(?:on|in|or)at(?!.*(?:sodium|potassium|calcium))"
            r"|(?<!cyano)(?<!amino)(?<!azanyl)(?<!hydroxy)(?<!chloro)(?<!carboxy)(?<!phenyl)(?<!phosphono)"
            r"(?:meth(?:yl|ane)|(?<!m)eth(?:yl|ane)|propyl|propane)(?<!phenylethyl)"
            r"phosphon(?:ate|ic|yl|ofl|oth|ochl|ous|ite|od)"
            r"|novichok|nerveagent|alkylphosphon|phosphonicdi(?:chlor|fluor)"
        ),
        lambda counts, text: (
            phosphorus_halide(counts, text)
            or phosphorus_cyanide(counts, text)
            or phosphorus_thiol(counts, text)
            or phosphonate(counts, text)
        ),
        "Nerve agents of CWC Schedule 1 and the precursors of Schedules 1B, 2B and 3B are built "
        "so (families 2B4, 2B5, 2B6 of the Annex on Chemicals).",
        "Phosphates and phosphoric esters without halogen on the phosphorus, phosphoric acid, and "
        "hexafluorophosphates (six F) are others. Ethephon shares the formula rule and is "
        "cleared by its CAS number.",
        frozenset({"16672-87-0"}),  # ethephon
        salts=True,
    ),
    Family(
        "N,N-dialkyl aminoethyl chlorides, alcohols and thiols (CWC 2B10 to 2B12)", "any",
        re.compile(
            rf"{_ALKYL}2?amino2?eth(?:yl2?|ane2?|an2?)(?:chloride|bromide|thiol|mercaptan)"
            rf"|2?chloro(?:nn|n)?{_ALKYL}(?:ethylamine|ethanamine|aminoethane)"
            r"|2chlorotriethylamine"
            r"|di(?:npropyl|propyl|isopropyl)(?:2?amino2?eth(?:an2?ol|yl2?alcohol|ane2ol)|2?ethanolamine)"
            r"|nndialkylaminoeth"
        ),
        None,
        "Precursors of nerve agents and nitrogen mustards, CWC Schedule 2B.",
        "2-(Dimethylamino)ethanol and 2-(diethylamino)ethanol are exempt by the list itself.",
    ),
    Family(
        "mustards and arsenicals", "any",
        re.compile(r"sulfurmustard|nitrogenmustard|mustardgas|chloroethyl(?:sulfide|sulfanyl|thio)|lewisite"
                   r"|chlorovinyl[a-z]*ars|blisteragent"),
        organoarsenic_chloride,
        "Blister agents of CWC Schedule 1.",
        "Mustard seed and mustard oil (allyl isothiocyanate) are others.",
    ),
    Family(
        "hypophosphites", "any", re.compile(r"hypophosph(?:it|orous)|phosphinate$"), hypophosphite,
        "Hypophosphorous acid and its salts are drug precursors of US List I.",
        "Phosphites have three oxygens a phosphorus, phosphates four.",
    ),
    Family(
        "salts and esters of listed acids", "any",
        re.compile(r"\bphenylacetate\b|\bn?-?acetylanthranilate\b|\banthranilate\b|\bbenzilate\b"
                   r"|\blysergate\b|\bglycidate\b|\bmethylglycidic\b|\bmethyl glycidic\b"),
        None,
        "The lists name the acids with their salts and esters (UN 1988 Table I and II, US List I); "
        "benzilates lead to CWC Schedule 2A.",
        "Phenyl acetate (the ester of phenol and acetic acid, two words) is another substance.",
    ),
    Family(
        "cyanides of metals", "made",
        re.compile(
            r"(?:sodium|potassium|lithium|rubidium|caesium|cesium|magnesium|calcium|strontium|barium"
            r"|copper|cupr(?:ous|ic)|zinc|cadmium|nickel(?:ous)?|cobalt(?:ous)?|silver|gold|aurous"
            r"|mercur[a-z]*|lead|thallium|thallous|natrium|kalium|alkali|metal)(?:i{1,3})?"
            r"(?:di|tri)?cyanid[es]*$|cyankali|zyankali"
        ),
        metal_cyanide,
        "Acid, and even the acid of the air, frees hydrogen cyanide from them; the UK Poisons List "
        "names all cyanides of metals but ferrocyanides and ferricyanides.",
        "Ferrocyanides and ferricyanides hold iron; cyanates hold oxygen, thiocyanates sulfur, and "
        "calcium cyanamide one carbon for two nitrogens.",
    ),
    Family(
        "compounds of arsenic with oxygen", "made",
        re.compile(r"arsen(?:ite|ate)s?$|arseni(?:c|ous|cum)?(?:i{1,3}v?|v)?(?:tri|pent|sesqui)?oxide"
                   r"|arsen(?:ic|i?ous)acid|acetoarsenit|arsentrioxid|arsenpentoxid|parisgreen"
                   r"|scheelesgreen|schweinfurt"),
        arsenic_compound,
        "Poisons that the UK Poisons List names: arsenic and its compounds.",
        "Phosphates and antimonates are others.",
    ),
    Family(
        "fentanyls and nitazenes", "any",
        re.compile(r"fentan(?:yl|il)|nitazene|cathinone$|methcathinone|lysergamide|amphetamine$"),
        None,
        "Scheduled under the conventions of 1961 and 1971, kin by kin.",
        "",
    ),
)  # fmt: skip
WORD_RULES = frozenset({"salts and esters of listed acids"})  # see words, not the squashed name
