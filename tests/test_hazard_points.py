"""The points of every shipped step, worked out again from the page that explains them.

The tables and rules are read from reactions/HAZARDS.md and applied by code of its own. Taken as
given are the hazards at a strength (``hazards.mixture``, which has laws of its own), the grams in
the vessel and the heat of the equation (``library.contents``, likewise).
"""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from pathlib import Path

import pytest

from routefinder.hazards import danger, mixture, score
from routefinder.hazards.kinds import kinds
from routefinder.library import fumes
from routefinder.library.contents import contents

PAGE = (Path(__file__).parents[1] / "reactions" / "HAZARDS.md").read_text(encoding="utf-8")
FLAT = " ".join(PAGE.split())
CODE = re.compile(r"\b(?:EU)?H\d{3}i?\b")
LITRES_A_MOLE = 24.465  # ideal gas at 25 °C and 1 atm: 8.314 J/(mol K) x 298.15 K / 101 325 Pa
NAMES = {
    n: n
    for n in [
        "CO2",
        "CO",
        "SO2",
        "SO3",
        "NO2",
        "NO",
        "Cl2",
        "H2",
        "HCl",
        "NH3",
        "CH4",
        "O2",
        "H2S",
        "PH3",
        "AsH3",
    ]
}
NAMES |= {"acrolein": "C3H4O", "acid": "C2H4O2", "ethanol": "C2H6O", "acetone": "C3H6O"}
FUMES = Path(fumes.__file__).with_name("fumes.csv")


def rows():
    """Aspect -> points -> the cell."""
    out = {}
    for line in PAGE.splitlines():
        cells = [c.strip() for c in line.strip("|").split("|")]
        if len(cells) == 5 and cells[0].split(" ")[0] in score.ASPECTS:
            out[cells[0].split(" ")[0]] = dict(zip((4, 3, 2, 1), cells[1:], strict=True))
    return out


ROWS = rows()


def plain(text):
    return text.translate(str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789"))


def figure(cell, pattern):
    found = re.search(pattern, cell)
    return None if found is None else float(found[1])


# statement -> every (aspect, points) that the table gives it; dust stands apart
TABLE = [(aspect, points, code) for aspect, cells in ROWS.items()
         for points, cell in cells.items() for code in CODE.findall(cell)]  # fmt: skip
STATED = {code: (a, p) for a, p, code in TABLE if a != "dust"}
STATED |= {"H031": STATED["EUH031"], "H032": STATED["EUH032"]}  # older numbers of the same
DUST = {code: p for a, p, code in TABLE if a == "dust"}
GASES = {NAMES[name]: p for p, cell in ROWS["gas"].items()
         for name in re.findall(r"[A-Za-z0-9]+", plain(cell)) if name in NAMES}  # fmt: skip
FROM = {
    aspect: [(figure(cell, r"from (\d+) "), points) for points, cell in ROWS[aspect].items()]
    for aspect in ("temperature", "heat")
}
FOAMS = figure(ROWS["gas"][2], r"of (\d+) L/kg or more")
UNKNOWN = {a: int(p) for a, p in re.findall(
    r"(\w+) (\d)", re.search(r"No data [^.]*? counts as ([^.]*?), and is called", FLAT)[1])}  # fmt: skip
UNLISTED = re.search(r"statement that is not in the table counts as (\w+) (\d)", FLAT)
SILENT = set(CODE.findall(re.search(r"; (H280 and H281) have no points", FLAT)[1]))
OF_A_GAS = {}
for codes, points in re.findall(
    r"((?:H\d{3} ?)+) (\d)", re.search(r"its statements speak: (.*?), at least 2", FLAT)[1]
):
    OF_A_GAS |= dict.fromkeys(codes.split(), int(points))
KINDS = {}
for words, points in re.findall(
    r"([a-z, ]+) (\d)", re.search(r"the kind of step speaks: (.*?)\. Pouring", FLAT)[1]
):
    KINDS |= dict.fromkeys((w.strip() for w in words.split(",")), int(points))
WATER, REST = map(
    float, re.search(r"\(water ([\d.]+) J/\(g K\), all else ([\d.]+)\)", FLAT).groups()
)


def what_is_there(library, step):
    """(hazards, whether it is a solid) of everything present, without any shelf."""
    grams = sum(contents(library, step).water_and_rest_g({}))
    shares = mixture.vessel_fractions(library, step, {}) if grams else {}
    for part in step.reactants:
        s = library.substances[part.substance]
        if part.state == "g" and s.formula in {"O2", "N2", "H2O"}:
            continue  # air and tap water do not count
        yield dissolved(library, s, None) if part.state == "aq" else s.hazards, part.state == "s"
    for part in step.products:
        s = library.substances[part.substance]
        share = shares.get(s.id)
        yield dissolved(library, s, share) if part.state == "aq" else s.hazards, part.state == "s"
    for aid in step.aids:
        s = library.substances[aid.substance]
        dry = aid.role in {"seed", "flux", "drying agent"}
        yield s.hazards if dry else dissolved(library, s, None), dry


def dissolved(library, substance, share):
    """The hazards at a share of the liquor, rounded up to a tenth of a percent."""
    up = None if share is None else min(math.ceil(share * 1000 - 1e-6) / 1000, 1.0)
    return mixture.dissolved_hazards(library, substance.id, up)


def heat(library, step):
    """The points of the heat by rule 4."""
    found = contents(library, step)
    water, rest = found.water_and_rest_g({})
    dry_solution = water == 0 and any(p.state == "aq" for p in step.reactants)
    if found.heat_kJ is None or dry_solution or water + rest == 0:
        return KINDS.get(step.record.kind, 0)
    rise = -found.heat_kJ * 1000 / (WATER * water + REST * rest)
    points = max((p for least, p in FROM["heat"] if rise >= least), default=0)
    metal = any("base metal" in kinds(library.substances[p.substance]) for p in step.reactants)
    if any(p.state == "g" for p in step.reactants):
        points = min(points, 2)
    if all(p.state == "s" for p in step.reactants) and not metal:
        points = min(points, 2)
    return min(points, 1) if "crystallisation" in step.record.kind else points


def of_gas(s):
    """The points of a substance that leaves as a gas."""
    if s.formula in GASES:
        return GASES[s.formula]
    if s.formula in {"N2", "H2O"}:
        return 0
    if s.hazards.no_data:
        return 3
    return max([2, *(OF_A_GAS.get(c[:4], 0) for c in s.hazards.scored)])


def gases(library, step):
    """The points of each gas that leaves, and of what the record says is given off besides."""
    grams = sum(contents(library, step).water_and_rest_g({}))
    for part in step.products:
        if part.state != "g" or step.dissolved.get(part.substance, 0.0) >= 1:
            continue
        s = library.substances[part.substance]
        yield of_gas(s)
        harmless = s.formula in {"CO2", "O2", "N2"}
        if harmless and grams and LITRES_A_MOLE * part.moles / grams * 1000 >= FOAMS:
            yield 2
    with FUMES.open(encoding="utf-8", newline="") as file:
        known = {row["name"]: row for row in csv.DictReader(file)}
    for given in step.record.gives_off:
        row = known.get(given.what, {})
        substance = library.substances.get(row.get("substance") or given.what)
        if row.get("points"):
            points = int(row["points"])
        elif substance is not None:
            points = of_gas(substance)
        else:
            points = GASES.get(row.get("formula"), 3)
        yield max(points - 1, 1) if given.traces else points


def points_of(library, step):
    """Aspect -> points, by the page alone."""
    out = dict.fromkeys(score.ASPECTS, 0)

    def give(aspect, points):
        out[aspect] = max(out[aspect], points)

    for found, solid in what_is_there(library, step):
        if found.no_data:
            for aspect, points in UNKNOWN.items():
                if aspect != "dust" or solid:
                    give(aspect, points)
        for code in found.scored:
            if code not in SILENT:
                give(*(STATED.get(code) or STATED.get(code[:4])
                       or (UNLISTED[1], int(UNLISTED[2]))))  # fmt: skip
            if solid:
                give("dust", DUST.get(code, DUST.get(code[:4], 0)))
    for points in gases(library, step):
        give("gas", points)
    low = step.record.temperature.low_C
    give("temperature", max((p for least, p in FROM["temperature"] if low >= least), default=0))
    give("heat", heat(library, step))
    return out


def test_the_page_was_read():
    """Nothing above came out empty."""
    assert len(STATED) > 80
    assert len(DUST) > 10
    assert GASES | {"N2": 0, "H2O": 0} == score.GASES
    assert len(KINDS) == len(score.HEAT_KINDS)
    assert set(UNKNOWN) == {"toxic", "corrosive", "fire", "environment", "dust"}
    assert set(OF_A_GAS) == set(score.GAS_STATEMENTS) - {"H332"}
    assert FOAMS == 20
    assert [len(FROM[a]) for a in FROM] == [4, 4]


def test_every_step_has_the_points_of_the_page(shipped):
    """All eight aspects of all shipped steps."""
    wrong = {}
    for step in shipped.steps.values():
        ours, theirs = points_of(shipped, step), score.profile(shipped, step)
        differs = {a: (ours[a], theirs[a]) for a in score.ASPECTS if ours[a] != theirs[a].points}
        if differs:
            wrong[step.id] = differs
    assert wrong == {}
    assert len(shipped.steps) > 900


# --- in words -----------------------------------------------------------------------------------


def test_every_sign_of_every_step_has_words(shipped):
    """Whatever gives points is told in words of its own, short enough for a card."""
    seen = Counter()
    for step in shipped.steps.values():
        for aspect, found in score.profile(shipped, step).items():
            said = danger.words(aspect, found)
            assert bool(said) == bool(found.points)
            if found.points:
                own = (
                    f"{aspect} {found.points}" if aspect in {"heat", "temperature"} else found.sign
                )
                assert danger.of_sign(own), (step.id, aspect, found)
                assert len(said) <= 60, (step.id, said)
                seen[said] += 1
    assert len(seen) > 40


def test_every_statement_in_the_rules_has_words():
    """Those that give points, those of labels, gases and heats; no row is there for nothing."""
    known = danger.table()
    stated = {*score.STATEMENTS, *score.DUST, *score.GAS_STATEMENTS, *score.WITHOUT_POINTS}
    assert stated <= set(known)
    assert {f"gas {f}" for f, p in score.GASES.items() if p} <= set(known)
    assert {f"{a} {n}" for a in ("heat", "temperature") for n in (1, 2, 3, 4)} <= set(known)
    for sign, words in known.items():
        assert re.fullmatch(r"(EUH|H)\d{3}[A-Za-z]*|[a-z]+( [A-Za-z0-9]+)*", sign), sign
        assert words == words.strip().removesuffix("."), sign


@pytest.mark.parametrize(
    ("code", "wording"),
    [("H300", "kills"), ("H301", "poisonous"), ("H302", "harmful"), ("H310", "kills"),
     ("H311", "poisonous"), ("H312", "harmful"), ("H330", "kills"), ("H331", "poisonous"),
     ("H332", "harmful"), ("H314", "burns skin and eyes"), ("H350", "cancer"),
     ("H360FD", "fertility or an unborn child"), ("H361d", "unborn")],
)  # fmt: skip
def test_words_do_not_soften(code, wording):
    """Fatal, toxic, harmful keep their order and are told apart."""
    assert wording in danger.of_sign(code)


def test_no_diamond_but_the_pictograms():
    """Neither in the program's text and drawings nor in the documents: ◊ ◆ ◇ ♦ and "3/4"."""
    root = Path(__file__).parents[1]
    files = [*(root / "routefinder").rglob("*.py"), *(root / "routefinder").rglob("*.html"),
             *root.glob("*.md"), *(root / "reactions").glob("*.md")]  # fmt: skip
    for path in files:
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"[◊◆◇♦⬥⬦❖]", text), path
        assert not re.search(r"shape=M?diamond|\}/4\b", text), path
        if path.suffix == ".md":
            aspects = "|".join(score.ASPECTS)
            assert not re.search(rf"\b({aspects}) \d/4", text), path
    from routefinder.view import choice_plots

    assert not {"D", "d"} & set(choice_plots.MARKERS)
