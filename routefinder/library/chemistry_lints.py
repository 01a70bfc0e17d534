"""Lints that catch chemistry: heat, gases, crops, vessels, carbonates, damp.

Each rule is a generator over a loaded library, as in ``library/check.py``, and honours the
``exceptions`` of a step (``{rule: reason}``). A rule speaks only where the data are known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from routefinder.chem import solutions, thermo
from routefinder.chem.responses import response
from routefinder.errors import Fault
from routefinder.library import fumes as given_off
from routefinder.library import solubility
from routefinder.library.assemble import FileEntry
from routefinder.library.heat import step_heat
from routefinder.library.library import Library
from routefinder.library.load import Loaded
from routefinder.library.resolve import ResolvedStep
from routefinder.library.vessel_attack import ACIDS, LIMITS, attack_on, is_one_of
from routefinder.records.substance import Substance

COLD_MARGIN = 60.0  # K; a stream of air and slow drying carry gas off below its 1 bar temperature
HARMLESS = frozenset({"CO2", "O2", "N2", "H2O", "H2"})
CROP_MARGIN = 0.02  # of the dissolved salt: reading the tables and weighing damp crystals
_CELSIUS = 273.15
_DAMP = re.compile(r"(?<!not )(?<!non-)\b(hygroscopic|deliquesc\w+)", re.IGNORECASE)
_KEPT = re.compile(
    r"airtight|tight|closed|sealed|stopper|desiccator|drying agent|\bdry\b|\bjar\b|\btin\b|bottle|"
    r"\btub\b|\bbag\b",
    re.IGNORECASE,
)


def _steps(loaded: Loaded, rule: str) -> Iterator[tuple[FileEntry, ResolvedStep]]:
    for (kind, name), entry in loaded.entries.items():
        step = loaded.library.steps.get(name) if kind == "steps" else None
        if step is not None and rule not in entry.record.exceptions:
            yield entry, step


def decomposition_K(library: Library, step: ResolvedStep) -> float | None:  # noqa: N802
    """Where the gases of a dry step reach 1 bar together, or None when it is not known.

    The lower of two readings counts: heat capacities of 298 K, and none at all. Extrapolated far,
    the first may read much too high (Mn2O3 to Mn3O4: 1649 degC, against 959 degC without). What
    happens in solution follows the steam that carries the gas off, and is left out.
    """
    if any(part.state == "aq" for part in (*step.reactants, *step.products)):
        return None
    change = step_heat(library, step).change
    if change is None or not any(n > 0 for n in change.gases):
        return None
    readings = (
        thermo.crossing_K(change, total_gas_bar=1.0),
        thermo.crossing_K(change.without_capacity(), total_gas_bar=1.0),
    )
    return min((t for t in readings if t is not None), default=None)


def too_cold(loaded: Loaded) -> Iterator[Fault]:
    """Decompositions whose window lies far below the temperature where they run by themselves."""
    rule = "too-cold"
    for entry, step in _steps(loaded, rule):
        if step.record.kind not in {"decomposition", "burning", "dehydration"}:
            continue
        found = decomposition_K(loaded.library, step)
        high = step.record.temperature.high_C
        if found is not None and high + COLD_MARGIN < found - _CELSIUS:
            yield entry.fault(
                ("temperature",),
                f"the window ends at {high:g} degC, but the gas reaches 1 bar only at about "
                f"{found - _CELSIUS:.0f} degC",
                "Raise the window, or say under 'exceptions: {too-cold: ...}' what drives it.",
                rule,
            )


def _needs(step: ResolvedStep, *names: str) -> bool:
    return any(need.name in names for need in step.record.equipment)


def _gases(library: Library, step: ResolvedStep) -> Iterator[Substance]:
    for part in step.products:
        if part.state == "g" and step.dissolved.get(part.substance, 0.0) < 1:
            yield library.substances[part.substance]


def fumes(loaded: Loaded) -> Iterator[Fault]:
    """Gases besides CO2, O2, N2, H2O and H2 given off without fume extraction.

    What the record itself says is given off (``gives_off``) counts alike, traces left out; a name
    nobody knows is a fault.
    """
    rule = "fumes"
    for entry, step in _steps(loaded, rule):
        for i, given in enumerate(step.record.gives_off):
            if given_off.known(loaded.library, given.what) is None:
                near = ", ".join(sorted(given_off.table()))
                yield entry.fault(
                    ("gives_off", i), f"nobody knows what {given.what!r} is",
                    f"Write the id of a substance, or one of: {near}.", rule,
                )  # fmt: skip
        for fume in given_off.fumes(loaded.library, step):
            bad = fume.formula in given_off.POISONOUS and not fume.traces
            if bad and not _needs(step, "fume-extraction"):
                yield entry.fault(
                    ("gives_off",), f"{fume.name} is given off, but no fume extraction is named",
                    "Add '- fume-extraction' to the equipment.", rule,
                )  # fmt: skip
        for gas in _gases(loaded.library, step):
            if gas.formula not in HARMLESS and not _needs(step, "fume-extraction"):
                yield entry.fault(
                    ("equipment",), f"{gas.name} is given off, but no fume extraction is named",
                    "Add '- fume-extraction'.", rule,
                )  # fmt: skip


def hydrogen(loaded: Loaded) -> Iterator[Fault]:
    """Hydrogen given off where the air is not changed."""
    rule = "hydrogen"
    for entry, step in _steps(loaded, rule):
        gases = {gas.formula for gas in _gases(loaded.library, step)}
        if "H2" in gases and not _needs(step, "fume-extraction", "ventilation"):
            yield entry.fault(
                ("equipment",), "hydrogen is given off, but nothing changes the air",
                "Add '- ventilation' or '- fume-extraction'.", rule,
            )  # fmt: skip


def greatest_crop(library: Library, step: ResolvedStep) -> float | None:
    """The greatest share that can crystallise on cooling through the step's window, or None.

    The most favourable table counts. None when solubility is not known at both ends, when the salt
    dissolves in its own crystal water, when it is less soluble hot, and when crystals come by
    evaporation without cooling.
    """
    if _needs(step, "evaporate") and not _needs(step, "cool"):
        return None
    count = solubility.crops_of(step)
    return max(
        (
            solutions.crop(found.hot, found.cold, count)
            for found in solubility.window(library, step)
            if found.hot is not None and found.cold is not None and found.hot > found.cold
        ),
        default=None,
    )


def great_crop(loaded: Loaded) -> Iterator[Fault]:
    """Crystallisations that promise more than the solubility lets out."""
    rule = "great-crop"
    for entry, step in _steps(loaded, rule):
        if step.record.kind not in {"crystallisation", "recrystallisation"}:
            continue
        bound = greatest_crop(loaded.library, step)
        if bound is not None and step.record.yield_.high > bound + CROP_MARGIN:
            window = step.record.temperature
            yield entry.fault(
                ("yield",),
                f"the high yield is {step.record.yield_.high:.0%}, but cooling from "
                f"{window.high_C:g} to {window.low_C:g} degC lets out {bound:.0%} at most",
                "Lower it, name the crops in 'basis', or correct the window or the solubility.",
                rule,
            )


def _spent(step: ResolvedStep) -> frozenset[str]:
    """Dissolved reactants, without excess, that another dissolved reactant uses up."""
    dissolved = [p.substance for p in step.reactants if p.state == "aq"]
    made = {p.substance for p in step.products}
    if len(dissolved) < 2:
        return frozenset()
    return frozenset(i for i in dissolved if i not in made and not step.excess.get(i))


def attacked_vessel(loaded: Loaded) -> Iterator[Fault]:
    """Vessels that what is in them attacks, or that do not stand the heat."""
    rule = "attacked-vessel"
    for entry, step in _steps(loaded, rule):
        present = [
            (loaded.library.substances[p.substance], p.state)
            for p in (*step.reactants, *step.products)
        ]
        for need in step.record.equipment:
            if need.name != "vessel":
                continue
            to = need.limit("to")
            heat = step.record.temperature.high_C if to is None else to
            for made_of in need.made_of:
                limit, source = LIMITS.get(made_of, (None, ""))
                if limit is not None and heat > limit:
                    yield entry.fault(
                        ("equipment",),
                        f"the vessel goes to {heat:g} degC, but {made_of} stands {limit:g} degC "
                        f"({source})",
                        f"Take {made_of} out.", rule,
                    )  # fmt: skip
                found = attack_on(
                    made_of, present, min(heat, step.record.temperature.high_C), _spent(step)
                )
                if found is not None:
                    row, agent = found
                    yield entry.fault(
                        ("equipment",),
                        f"{agent.name} attacks a vessel of {made_of}: {row.words} ({row.source})",
                        f"Take {made_of} out.", rule,
                    )  # fmt: skip


def _carbonate(substance: Substance) -> bool:
    return bool(substance.formula) and "CO3" in (substance.formula or "")


def silent_carbonate(loaded: Loaded) -> Iterator[Fault]:
    """A carbonate and an acid that give no carbon dioxide."""
    rule = "silent-carbonate"
    for entry, step in _steps(loaded, rule):
        if step.is_recipe:
            continue  # by weight; gases are not written
        taken = [(loaded.library.substances[p.substance], p.state) for p in step.reactants]
        made = [loaded.library.substances[p.substance] for p in step.products]
        acid = next((s for s, state in taken if state != "g" and is_one_of(s, ACIDS)), None)
        salt = next((s for s, _ in taken if _carbonate(s)), None)
        if acid is None or salt is None:
            continue
        if not any(s.formula == "CO2" or _carbonate(s) for s in made):
            yield entry.fault(
                ("equation",), f"{salt.name} meets {acid.name}, but no carbon dioxide is made",
                "Add CO2(g) to the products.", rule,
            )  # fmt: skip


def damp_product(loaded: Loaded) -> Iterator[Fault]:
    """Products that draw water, where neither step nor substance says how to keep them."""
    rule = "damp-product"
    for entry, step in _steps(loaded, rule):
        product = loaded.library.substances[step.main.substance]
        if step.main.state not in {"s", "l"} or step.record.storage is not None:
            continue
        words = [*product.notes, product.hazards.note]
        if product.storage is not None:
            words.append(product.storage.how)
            words += product.storage.spoils_by
        drawn = next((m for text in words if (m := _DAMP.search(text))), None)
        if drawn is None or (product.storage is not None and _KEPT.search(product.storage.how)):
            continue
        yield entry.fault(
            ("product",), f"{product.name} is {drawn[1].lower()}, but nothing says how to keep it",
            "Add 'storage: {how: ...}' to the step, or to the substance.", rule,
        )  # fmt: skip


def blind_test(loaded: Loaded) -> Iterator[Fault]:
    """Bench tests of a step that see nothing of what it takes or makes."""
    counts = {
        "alkali": "alkali", "acid": "acid", "acid gas": "carbonate", "iodometry": "iodine",
        "chloride": "chloride",
    }  # fmt: skip
    for entry, step in _steps(loaded, "blind-test"):
        parts = (*step.reactants, *step.products)
        records = [loaded.library.substances[p.substance] for p in parts]
        for n, test in enumerate(step.record.tests):
            field = counts.get(test.method)
            seen = field is None or any(getattr(response(s.formula, s.cas), field) for s in records)
            if test.method == "hydrometer":
                seen = step.main.state == "aq"
            if not seen:
                yield entry.fault(
                    ("tests", n), f"the test {test.method!r} of {step.id} sees nothing: no "
                    "substance of its equation answers to it",
                    "Name another method, or leave it out.", "blind-test",
                )  # fmt: skip


RULES = (
    blind_test,
    too_cold,
    fumes,
    hydrogen,
    great_crop,
    attacked_vessel,
    silent_carbonate,
    damp_product,
)
