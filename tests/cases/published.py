"""Four published sequences as small libraries (tests/reference/published_sequences.md).

Numeric checks, not advice: some steps need licensed chemicals or equipment that a small lab has not.
"""

from __future__ import annotations

from pathlib import Path

STEP = """
- id: {id}
  title: "{id}"
  kind: condensation
  equation: "{equation}"
  product: "{product}"
  limiting: "{limiting}"
  yield: {{low: {low} %, typical: {typical} %, high: {high} %, basis: "as printed, recomputed"}}
  temperature: {{low: 20 degC, high: 100 degC}}
  time: {{hands_on: 1 h}}
  excess: {{{excess}}}
  sources: ["published: {source}"]
"""

SEQUENCES = {
    "S05": [
        dict(id="p019", equation="3 C6H12O(l) + 8 HNO3(aq) -> 3 C6H10O4(s) + 8 NO(g) + 7 H2O(l)",
             product="C6H10O4", limiting="C6H12O", low=58.2552, high=60.3114,
             source="Org. Synth. 1925, 5, 9 (CV1, 18)"),
        dict(id="p021", equation="C6H10O4(s) -> C5H8O(l) + CO2(g) + H2O(l)",
             product="C5H8O", limiting="C6H10O4", low=74.7047, high=79.9166,
             source="Org. Synth. CV1, 192"),
    ],
    "S09": [
        dict(id="p048", equation="C6H7N(l) + C2H4O2(l) -> C8H9NO(s) + H2O(l)",
             product="C8H9NO", limiting="C6H7N", low=82.679, high=96.459,
             source="Cohen, Practical Organic Chemistry, 1910, p. 151"),
        dict(id="p049", equation="C8H9NO(s) + Br2(l) -> C8H8BrNO(s) + HBr(g)",
             product="C8H8BrNO", limiting="C8H9NO", low=75.772, high=88.4006,
             source="Cohen, Practical Organic Chemistry, 1910, p. 152"),
    ],
    "S12": [
        dict(id="p060", equation="Co(NO3)2·6H2O(s) + Na2CO3(s) + 2 HCl(aq) -> CoCl2·6H2O(s) + "
             "2 NaNO3(aq) + CO2(g) + H2O(l)", product="CoCl2·6H2O", limiting="Co(NO3)2·6H2O",
             low=68.01, high=68.01, source="chemickepokusy.cz, chlorid kobaltnaty"),
        dict(id="p061", equation="2 CoCl2·6H2O(s) + 2 NH4Cl(s) + 8 NH3(aq) + H2O2(aq) -> "
             "2 [Co(NH3)5Cl]Cl2(s) + 14 H2O(l)", product="[Co(NH3)5Cl]Cl2",
             limiting="CoCl2·6H2O", low=95.48, high=95.48,
             source="chemickepokusy.cz, chlorid pentaamminchlorokobaltity"),
        dict(id="p062", equation="[Co(NH3)5Cl]Cl2(s) + NaNO2(aq) -> [Co(NH3)5(NO2)]Cl2(s) + NaCl(aq)",
             product="[Co(NH3)5(NO2)]Cl2", limiting="[Co(NH3)5Cl]Cl2", low=84.44, high=84.44,
             source="chemickepokusy.cz, chlorid pentaamminnitritokobaltity"),
    ],
    "S15": [
        dict(id="p070", equation="C2H2O4·2H2O(s) + K2CO3(s) -> K2C2O4·H2O(s) + CO2(g) + 2 H2O(l)",
             product="K2C2O4·H2O", limiting="K2CO3", low=92.4, high=92.4,
             source="chemickepokusy.cz, stavelan draselny"),
        dict(id="p071", equation="2 K2C2O4·H2O(s) + 7 C2H2O4·2H2O(s) + K2Cr2O7(s) -> "
             "2 K3[Cr(C2O4)3]·3H2O(s) + 6 CO2(g) + 17 H2O(l)", product="K3[Cr(C2O4)3]·3H2O",
             limiting="C2H2O4·2H2O", low=87.18, high=87.18,
             # printed proportions: 13.5 g oxalic acid dihydrate, 6 g oxalate, 5.6 g dichromate
             excess="K2C2O4·H2O: 6.443 %, K2Cr2O7: 24.418 %",
             source="chemickepokusy.cz, trisoxalatochromitan draselny"),
    ],
}  # fmt: skip

BOUGHT = {
    "S05": ["C6H12O", "HNO3"],
    "S09": ["C6H7N", "C2H4O2", "Br2"],
    "S12": ["Co(NO3)2·6H2O", "Na2CO3", "HCl", "NH4Cl", "NH3", "H2O2", "NaNO2"],
    "S15": ["C2H2O4·2H2O", "K2CO3", "K2Cr2O7"],
}


def write(name: str, folder: Path) -> Path:
    """Write a sequence as a library folder."""
    from routefinder.chem.equation import parse

    steps = SEQUENCES[name]
    species = {
        t.species for s in steps for t in (*parse(s["equation"]).left, *parse(s["equation"]).right)
    }
    ids = {formula: f"x{i}" for i, formula in enumerate(sorted(species))}
    files = {
        "substances": "".join(
            f'\n- id: {ids[f]}\n  name: "{f}"\n  formula: "{f}"\n  sources: from memory\n'
            for f in ids
        ),
        "steps": "".join(
            STEP.format(**{"excess": "", "typical": (s["low"] + s["high"]) / 2, **s}) for s in steps
        ),
        "materials": "".join(
            f'\n- id: bought-{ids[f]}\n  name: "{f} bought"\n  form: liquid\n'
            f"  contains: [{{substance: {ids[f]}, strength: 100 %}}]\n  sources: from memory\n"
            for f in BOUGHT[name]
        ),
    }
    for kind, text in files.items():
        (folder / kind).mkdir(parents=True, exist_ok=True)
        (folder / kind / "case.yaml").write_text(text, encoding="utf-8")
    return folder
