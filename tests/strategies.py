"""Hypothesis strategies; every new record joins them."""

from __future__ import annotations

import os
import string
from functools import lru_cache

from hypothesis import settings
from hypothesis import strategies as st

from routefinder.hidden import HIDDEN
from routefinder.records.bench_test import METHODS, BenchTest
from routefinder.records.capability import CAPABILITIES, VESSEL_MATERIALS, Capability
from routefinder.records.control import Control
from routefinder.records.equipment import HEATS_BY, Equipment
from routefinder.records.material import FATES, FINENESS, Content, Material
from routefinder.records.stage import STAGES, Stage
from routefinder.records.step import (
    KINDS,
    ROLES,
    Auxiliary,
    Duration,
    GivenOff,
    Step,
    Window,
    Yield,
    YieldPart,
)
from routefinder.records.substance import (
    DilutedHazards,
    Drift,
    Hazards,
    Saponification,
    Solubility,
    SolutionDensities,
    Storage,
    Substance,
    Varies,
)

# .ci/run tries four times as many examples, and more networks against the slow judges
THOROUGH = os.environ.get("HYPOTHESIS_PROFILE") == "thorough"

ids = st.lists(
    st.text(string.ascii_lowercase + string.digits, min_size=1, max_size=6), min_size=1, max_size=4
).map("-".join)
texts = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x2FFF, exclude_categories=("Cs", "Cc", "Zl", "Zp")),
    min_size=1, max_size=30,
).filter(lambda t: t.strip() == t and not HIDDEN.search(t))  # fmt: skip
text_lists = st.lists(texts, max_size=3).map(tuple)
sources = st.lists(
    st.sampled_from(["from memory", "common practice", "published: A book, 1901, p. 3",
                     "computed: from molar masses", "from memory: B, Manual"]),
    min_size=1, max_size=3,
)  # fmt: skip


def few(examples: int) -> settings:
    """Fewer examples for a law whose every case costs much; in proportion in a thorough run."""
    return settings(max_examples=examples * settings.default.max_examples // 100)


floats = st.floats(0.001, 1e5, allow_nan=False)
fractions = st.floats(0.01, 1.0)
celsius = st.floats(-200, 2000)
codes = st.lists(st.sampled_from(["H302", "H314", "H350i", "H400", "EUH031"]), max_size=3).map(
    tuple
)


@st.composite
def capabilities(draw):
    name = draw(st.sampled_from(sorted(CAPABILITIES)))
    limits = {}
    for key, limit in CAPABILITIES[name][1].items():
        if draw(st.booleans()):
            continue
        if limit.kind == "rank":
            limits[key] = draw(st.sampled_from(limit.ranks))
        elif limit.kind == "yes":
            limits[key] = draw(st.sampled_from(["yes", "no"]))
        elif limit.kind == "plain":
            limits[key] = repr(draw(floats))
        else:
            unit = {"temperature": "degC", "temperature_step": "K", "volume": "mL", "mass": "g",
                    "current": "A", "flow": "L/min", "length": "mm", "power": "W",
                    "ramp": "K/h", "time": "min"}[limit.kind]  # fmt: skip
            limits[key] = f"{draw(floats)!r} {unit}"
    if name == "vessel" and draw(st.booleans()):
        limits["made_of"] = draw(
            st.lists(st.sampled_from(VESSEL_MATERIALS), min_size=1, max_size=3)
        )
    return Capability.model_validate({name: limits})


@st.composite
def yield_parts(draw):
    low, typical, high = sorted(draw(st.tuples(fractions, fractions, fractions)))
    return YieldPart(
        what=draw(texts), low=low, typical=typical, high=high,
        reading=draw(st.sampled_from(["percentiles", "triangular"])), source=draw(sources),
        scale_g=draw(st.none() | st.floats(0.01, 1e4)),
    )  # fmt: skip


hazards = st.builds(
    Hazards, statements=codes, caution=codes, unknown=st.booleans(), source=sources, note=texts
)
drifts = st.builds(
    Drift, what=texts, per_day=st.floats(0.001, 0.5), at_most=st.none() | st.floats(0.01, 1.0),
    source=sources,
)  # fmt: skip
storages = st.builds(
    Storage, how=texts, keeps=texts, spoils_by=text_lists, drift=st.none() | drifts, source=sources
)
solubilities = st.builds(
    Solubility, at=st.lists(st.tuples(celsius, floats), min_size=1, max_size=3).map(tuple),
    source=sources,
)  # fmt: skip
densities = st.builds(
    SolutionDensities,
    at=st.lists(
        st.tuples(fractions, st.floats(0.5, 4.0)), min_size=1, max_size=3, unique_by=lambda p: p[0]
    ).map(lambda at: tuple(sorted(at))),
    temperature_C=celsius, source=sources,
)  # fmt: skip
substances = st.builds(
    Substance,
    id=ids, name=texts, names=text_lists, colour=texts, uses=text_lists,
    formula=st.sampled_from([None, "CuSO4·5H2O", "Ca(OH)2", "Zn0.93Co0.07O", "SO4^2-"]),
    cas=st.sampled_from([None, "7758-99-8"]), hydrate_of=st.none() | ids, mixture=st.booleans(),
    hazards=hazards,
    solutions=st.lists(
        st.builds(DilutedHazards, at_least=fractions, below=fractions, statements=codes,
                  source=sources), max_size=2,
    ).map(tuple),
    density_g_mL=st.none() | floats, densities=st.none() | densities,
    melting_C=st.none() | celsius, boiling_C=st.none() | celsius,
    solubility=st.lists(solubilities, max_size=2).map(tuple), storage=st.none() | storages,
    saponification=st.none() | st.builds(
        Saponification, low=st.floats(100.0, 150.0), high=st.floats(150.0, 300.0), source=sources),
    varies=st.none() | st.builds(
        Varies, formula=st.sampled_from(["Zn{1-x}Co{x}O", "Mg{x}Fe{2-2x}O"]),
        low=st.floats(0.01, 0.4), high=st.floats(0.5, 1.0), with_=st.none() | ids, source=sources),
    notes=text_lists, sources=sources, replaces=st.booleans(),
)  # fmt: skip


@st.composite
def windows(draw):
    low, high = sorted(draw(st.tuples(celsius, celsius)))
    return Window(low_C=low, high_C=high, source=draw(sources))


@st.composite
def given_off(draw):
    """Something given off: known by name alone, or with a worst and perhaps a typical amount."""
    least, most = sorted(draw(st.tuples(floats, floats)))
    unit = draw(st.sampled_from(["mass", "ratio"]))
    known = draw(st.sampled_from(["name", "worst", "both"]))
    return GivenOff(
        what=draw(texts),
        typical=(least, unit) if known == "both" else None,
        worst=None if known == "name" else (most, unit),
        traces=draw(st.booleans()), when=draw(texts),
        source=("common practice",) if known != "name" else (),
    )  # fmt: skip


@st.composite
def stages(draw):
    """A stage with some of the figures that its kind may carry."""
    kind = draw(st.sampled_from(list(STAGES)))
    at, to = sorted(draw(st.tuples(celsius, celsius)))
    every = {
        "what": draw(text_lists), "portions": draw(st.integers(1, 5)), "into": draw(texts),
        "at": at, "to": to, "within": draw(floats), "ramp": draw(floats),
        "times": draw(st.integers(1, 4)), "between": draw(texts), "atmosphere": draw(texts),
        "closed": draw(st.booleans()), "current": draw(floats), "efficiency": draw(fractions),
        "until": draw(texts), "crops": draw(st.integers(1, 4)), "holds": draw(fractions),
        "pushes_out": draw(fractions), "encloses": draw(fractions), "moisture": draw(fractions),
        "leaves": (draw(floats), "mass"),
    }  # fmt: skip
    figures = {k: v for k, v in every.items() if k in STAGES[kind][1] and draw(st.booleans())}
    return Stage(
        kind=kind, attended=draw(st.none() | st.booleans()), note=draw(texts),
        source=draw(sources), **{"for": draw(st.none() | floats)}, **figures,
    )  # fmt: skip


steps = st.builds(
    lambda **given: Step(**given),
    id=ids, title=texts, kind=st.sampled_from(KINDS),
    equation=st.just("2 CuSO4(aq) + Ca(OH)2(s) -> Cu(OH)2(s) + CaSO4·2H2O(s)"), recipe=st.none(),
    product=st.just("Cu(OH)2"), limiting=st.just("CuSO4"),
    yield_=st.builds(Yield, basis=texts, parts=st.lists(yield_parts(), min_size=1, max_size=3).map(tuple)),
    temperature=windows(),
    time=st.builds(lambda **given: Duration(**given), hands_on_min=floats, waiting_min=floats, unattended=st.none() | st.booleans(),
                   source=sources),
    excess=st.dictionaries(st.just("Ca(OH)2"), fractions),
    strength=st.dictionaries(st.just("CuSO4"), st.tuples(fractions, st.none() | fractions.filter(bool)).filter(
        lambda ends: ends[1] is None or ends[0] <= ends[1])),
    fineness=st.dictionaries(st.just("Ca(OH)2"), st.lists(st.sampled_from(FINENESS), max_size=2).map(tuple)),
    purity=st.dictionaries(st.just("Ca(OH)2"), fractions),
    recovered=st.dictionaries(st.just("CaSO4·2H2O"), fractions),
    stays_dissolved=st.just({}),
    auxiliaries=st.lists(
        st.builds(
            Auxiliary, substance=st.just("H2O"), role=st.sampled_from(ROLES),
            amount=st.tuples(floats, st.sampled_from(["mass", "volume", "ratio"])),
            recovered=fractions, at_least=st.none() | fractions, source=sources, after=st.booleans(),
        ), max_size=2,
    ).map(tuple),
    equipment=st.lists(capabilities(), max_size=4).map(tuple),
    gives_off=st.lists(given_off(), max_size=2).map(tuple),
    stages=st.lists(stages(), max_size=3).map(tuple),
    tests=st.lists(
        st.builds(
            lambda **given: BenchTest(**given), method=st.sampled_from(METHODS), sampled=texts,
            sample_g=st.none() | floats, wants=text_lists, note=texts, source=sources,
        ), max_size=2,
    ).map(tuple),
    done_when=text_lists, watch=text_lists, cautions=text_lists, storage=st.none() | storages,
    notes=text_lists, sources=sources, exceptions=st.dictionaries(ids, texts, max_size=2),
    replaces=st.booleans(),
)  # fmt: skip

strengths = st.tuples(st.floats(0.01, 1.0), st.sampled_from(["w/w", "w/v", "v/v", "mol/L"]))
materials = st.builds(
    Material,
    id=ids, name=texts, names=text_lists, uses=text_lists,
    form=st.sampled_from(["solid", "metal", "liquid", "solution", "gas"]), fineness=st.just(""),
    contains=st.lists(
        st.builds(Content, substance=ids, strength=strengths, low=st.none() | strengths,
                  high=st.none() | strengths, as_formula=st.none(), of_element=st.none(),
                  fate=st.sampled_from(("", *FATES))),
        min_size=1, max_size=3,
    ).map(tuple),
    density_g_mL=floats,
    price=st.none() | st.tuples(floats, st.sampled_from(["USD", "EUR"]), st.sampled_from(["mass", "volume"])),
    price_source=sources, packs=text_lists, where=text_lists, everywhere=st.booleans(),
    keeps_min=st.none() | floats, hazards=st.none() | hazards, pitfalls=text_lists,
    notes=text_lists, sources=sources, replaces=st.booleans(),
)  # fmt: skip
equipment = st.builds(
    Equipment,
    id=ids, name=texts, names=text_lists, count=st.integers(1, 9),
    offers=st.lists(capabilities(), min_size=1, max_size=4).map(tuple),
    heats_by=st.sampled_from(["", *HEATS_BY]), may_be_left=st.none() | st.booleans(),
    outdoors=st.booleans(), size=texts, cautions=text_lists, notes=text_lists, sources=sources, replaces=st.booleans(),
)  # fmt: skip


@lru_cache
def _plain_steps(nodes, count):
    """Steps on nodes 0 to ``nodes`` - 1, and up to three for the shelf, never the last.

    A step is three tails of which the first few count, two heads likewise, and a cost.
    """
    node = st.integers(0, nodes - 1)
    cost = st.sampled_from([1.0, 2.0, 3.0]) | st.floats(0.1, 9.0)
    step = st.tuples(node, node, node, st.sampled_from([1, 1, 2, 3]), node, node,
                     st.sampled_from([1, 2]), cost)  # fmt: skip
    given = st.sets(st.integers(0, max(0, nodes - 2)), min_size=1, max_size=min(3, nodes - 1))
    return st.tuples(st.lists(step, min_size=1, max_size=count), given)


@st.composite
def networks(draw, max_steps=10, max_nodes=8):
    """Small networks with cycles, co-products and parallel steps: (steps, shelf, target).

    The target is seldom on the shelf: most networks have something to find.
    """
    n = draw(st.integers(2, max_nodes))
    drawn, shelf = draw(_plain_steps(n, max_steps))
    target = n - 1 if draw(st.integers(0, 9)) else min(shelf)
    out = {}
    for i, (t1, t2, t3, tails, h1, h2, heads, cost) in enumerate(drawn):
        tail = {f"n{t}" for t in (t1, t2, t3)[:tails]}
        head = {f"n{h}" for h in (h1, h2)[:heads]} - tail
        if head:
            out[f"s{i}"] = (frozenset(tail), frozenset(head), cost)
    return out, {f"n{k}" for k in shelf}, f"n{target}"


@st.composite
def controls(draw):
    return Control(
        list_=draw(texts), part=draw(texts), name=draw(texts), names=draw(text_lists),
        cas=draw(st.none() | st.just("7732-18-5")), formula=draw(st.none() | st.just("H2O")),
        alone=draw(st.booleans()), limit=draw(st.none() | fractions),
        verdict=draw(st.sampled_from(["refuse", "flag"])),
        where=draw(st.sampled_from(["any", "made", "target"])), date=draw(texts),
        source=draw(sources),
    )  # fmt: skip
