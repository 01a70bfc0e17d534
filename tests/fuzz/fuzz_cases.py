"""Broken inputs by the thousand: one seed, one case, so that any of them can be had again.

``python tests/fuzz/fuzz.py --count 100000`` runs them; ``tests/test_fuzz.py`` a few of each kind.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from pathlib import Path

NASTY = (
    "", " ", "\x00", "\x1b]0;x\x07", "\u202e", "\ud800", "²", "½", "１", "nan", "inf", "-inf", "1e309",
    "-0", "1e-320", "9" * 5000, "1,500", "1.500,5", "1 g**9**9**9", "1 " + "g*" * 3000 + "g", '"', '""',
    "'", "=1+1", "#", ",", ";", "\t", "\r", "\n", "{", "[" * 3000, "&a *a", "!!python/object:os.system",
    "../../../etc/passwd", "/dev/null", "n" * 300, "x" * 200_000, "(" * 3000, "Ca" * 3000, "None", "~",
    "__import__('os')", "{0.__class__}", "%n%s", "${HOME}", "<script>", "H2O", "sugar", "5 %", "2 USD/kg",
)  # fmt: skip


def text(dice: random.Random) -> str:
    """A nasty word, a few of them, or random characters."""
    kind = dice.randrange(4)
    if kind == 0:
        return dice.choice(NASTY)
    if kind == 1:
        return "".join(dice.choice(NASTY)[:400] for _ in range(dice.randint(2, 5)))
    if kind == 2:
        return "".join(
            chr(dice.choice((dice.randrange(128), dice.randrange(0x3000))))
            for _ in range(dice.randint(0, 40))
        )
    return f"{dice.uniform(-10, 1e4):.{dice.randrange(8)}f}{dice.choice(['', ' ', ' g', 'kg', ' mol', ' L', ' %', ' g/g/g', ' degC'])}"


def mutated(good: str, dice: random.Random) -> str:
    """A good text with a few things done to it."""
    out = good
    for _ in range(dice.randint(1, 4)):
        at = dice.randint(0, len(out))
        kind = dice.randrange(5)
        if kind == 0:
            out = out[:at] + text(dice) + out[at:]
        elif kind == 1:
            out = out[:at] + out[at + dice.randint(1, 20) :]
        elif kind == 2:
            out = out[:at] + out[at : at + 30] + out[at:]
        elif kind == 3:
            out = out[:at] + dice.choice(',":\n\t-[]{}0&*#') + out[at + 1 :]
        else:
            out = out[: max(1, at)]
    return out


SHELF = 'material,amount,strength,price,note\nsugar,1 kg,,2 USD/kg,"a, b"\nwhite vinegar,2 L,5 %,,\n# x\n'
SHELF_YAML = "- material: sugar\n  amount: 1 kg\n- white vinegar\n"
BENCH = "- hotplate\n- {name: pot, offers: [vessel: {made_of: [enamel], to: 100 degC}]}\n"
NETWORK = "id,reactants,products,cost\na,x + 2 y,z,3\nb,z,t,1\n"
TARGETS = "name,formula,cas\nchalk,CaCO3,471-34-1\n"
JSON = json.dumps(
    {"steps": [{"id": "a", "reactants": ["x"], "products": {"t": 2}, "cost": 1.5}], "shelf": ["x"]}
)


def doors(library: object, folder: Path) -> dict[str, Callable[[random.Random], object]]:
    """What takes something from outside, by name; each takes the dice and does one case."""
    from routefinder import tables, units
    from routefinder.analysis.reading import read_test
    from routefinder.analysis.reckon import reckon
    from routefinder.asking.coverage import read_targets
    from routefinder.asking.network import find_in_network
    from routefinder.asking.question import read_question
    from routefinder.chem import equation, formula
    from routefinder.journal import exchange
    from routefinder.library import shelf
    from routefinder.library.lookup import look_up
    from routefinder.library.read import read_yaml

    def file(name: str, content: str) -> Path:
        path = folder / name
        path.write_bytes(content.encode("utf-8", "surrogatepass"))
        return path

    def journal(dice: random.Random) -> object:
        good = {
            "schema": exchange.SCHEMA,
            "runs": [{"run": 1, "uid": "u", "at": "2026-01-01T00:00:00", "data": {}}],
            "entries": [],
        }
        return exchange.from_json(mutated(json.dumps(good), dice))

    lib: object = library
    return {
        "quantity": lambda d: units.read(text(d), d.choice(sorted(units.CANONICAL))),
        "any quantity": lambda d: units.read_any(mutated("250 g", d), ("mass", "volume", "amount")),
        "bench test": lambda d: read_test(mutated("alkali, 10.00 g, 35.6 mL, 0.500 mol/L", d)),
        "calculator": lambda d: reckon(mutated("dilute 37 % HCl to 10 %, 500 g", d)),
        "fraction": lambda d: units.read_fraction(mutated("5 %", d)),
        "formula": lambda d: formula.parse(mutated("Cu(CH3COO)2·H2O", d)),
        "equation": lambda d: equation.parse(mutated("CaO(s) + H2O(l) -> Ca(OH)2(s)", d)),
        "name": lambda d: look_up(lib, text(d)),
        "amount": lambda d: read_question(lib, "sodium carbonate", text(d)),
        "hazard": lambda d: read_question(lib, "sodium carbonate", "1 g", max_hazard=text(d)),
        "table": lambda d: tables.read(mutated(SHELF, d), "t.csv", ("material",), shelf.COLUMNS),
        "shelf": lambda d: shelf.read_shelf(file("s.csv", mutated(SHELF, d)), lib),
        "yaml shelf": lambda d: shelf.read_shelf(file("s.yaml", mutated(SHELF_YAML, d)), lib),
        "bench": lambda d: shelf.read_bench(file("b.yaml", mutated(BENCH, d)), lib),
        "yaml": lambda d: read_yaml(file("y.yaml", mutated(BENCH, d))),
        "network": lambda d: find_in_network(file("n.csv", mutated(NETWORK, d)), "t", ["x", "y"]),
        "json network": lambda d: find_in_network(file("n.json", mutated(JSON, d)), "t", ["x"]),
        "targets": lambda d: read_targets(file("c.csv", mutated(TARGETS, d))),
        "journal": journal,
    }  # fmt: skip
