"""The wording of GHS hazard statements, for people who do not know the codes by heart.

Source: UN GHS Annex 3 (Rev. 8 to 10), as in Annex III of Regulation (EC) 1272/2008 (CLP).
"""

from __future__ import annotations

PHRASES: dict[str, str] = {
    "H220": "Extremely flammable gas",
    "H221": "Flammable gas",
    "H222": "Extremely flammable aerosol",
    "H223": "Flammable aerosol",
    "H224": "Extremely flammable liquid and vapour",
    "H225": "Highly flammable liquid and vapour",
    "H226": "Flammable liquid and vapour",
    "H227": "Combustible liquid",
    "H228": "Flammable solid",
    "H229": "Pressurized container: may burst if heated",
    "H230": "May react explosively even in the absence of air",
    "H231": "May react explosively even in the absence of air at elevated pressure and/or temperature",
    "H240": "Heating may cause an explosion",
    "H241": "Heating may cause a fire or explosion",
    "H242": "Heating may cause a fire",
    "H250": "Catches fire spontaneously if exposed to air",
    "H251": "Self-heating; may catch fire",
    "H252": "Self-heating in large quantities; may catch fire",
    "H260": "In contact with water releases flammable gases which may ignite spontaneously",
    "H261": "In contact with water releases flammable gas",
    "H270": "May cause or intensify fire; oxidizer",
    "H271": "May cause fire or explosion; strong oxidizer",
    "H272": "May intensify fire; oxidizer",
    "H280": "Contains gas under pressure; may explode if heated",
    "H281": "Contains refrigerated gas; may cause cryogenic burns or injury",
    "H290": "May be corrosive to metals",
    "H303": "May be harmful if swallowed",
    "H304": "May be fatal if swallowed and enters airways",
    "H315": "Causes skin irritation",
    "H319": "Causes serious eye irritation",
    "H336": "May cause drowsiness or dizziness",
    "H361": "Suspected of damaging fertility or the unborn child",
    "H373": "May cause damage to organs through prolonged or repeated exposure",
    "H401": "Toxic to aquatic life",
    "H411": "Toxic to aquatic life with long lasting effects",
}


def phrase(code: str) -> str:
    """The wording of a statement, or "" when it is not known here.

    A code with letters behind it (H350i, H360FD) has the wording of the code without them.
    """
    return PHRASES.get(code) or (PHRASES.get(code[:4], "") if code[0] == "H" else "")
