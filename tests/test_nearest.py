"""Where there is no route: the nearest by what it lacks, one thing before three; exactly ranked."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

import routefinder as rf
from routefinder.asking import answering
from routefinder.asking.inquiry import Inquiry
from routefinder.asking.lacking import Lacking
from routefinder.asking.question import read_question
from routefinder.choice import order as orders
from routefinder.graph import acquire
from routefinder.graph.network import network
from routefinder.library.shelf import supply
from routefinder.library.where import examples
from routefinder.search import best
from routefinder.search.smallest_sets import INF

SHELVES = ("studio/shelf.csv", "studio/shelf-with-extras.csv")
BENCHES = ("studio/bench.yaml", "studio/bench-with-kiln.yaml")
TARGETS = (
    "calcium citrate",
    "sodium benzoate",
    "zinc oxide",
    "magnesium hydroxide",
    "Egyptian blue",
)


def asked(shipped, target, shelf, bench, **more):
    found = examples()
    return read_question(
        shipped, target, "50 g", shelf=found / shelf, bench=found / bench, seconds=8.0, **more
    )


def opens(lib, question, acquisitions):
    """Whether a question has any route once these are had; by the plain search."""
    after = Inquiry(lib, acquire.applied(question, acquisitions))
    packed = after.packed
    if packed.network.number(packed.target) is None:
        return False
    return bool(best.search(packed.network, packed.at_hand, packed.target, 1).routes)


@pytest.mark.parametrize("target", TARGETS)
def test_the_nearest_opens_and_nothing_smaller_does(shipped, target):
    """Every set named opens a route, and no part of it and no single thing on sale does."""
    question = asked(shipped, target, SHELVES[0], BENCHES[0])
    found = answering.answer(shipped, question)
    if found.routes:
        pytest.skip("there is a route")
    why = found.why_none
    sizes = {len(n.lacks) for n in why.near}
    assert len(sizes) == 1
    assert why.lacking == tuple(x.name for x in why.near[0].lacks)
    assert why.nearest == why.near[0].steps
    lack = Lacking(Inquiry(shipped, question))
    by_name = {lack.names(a)[0]: a for a in lack.market.acquisitions}
    for near in why.near:
        needed = [by_name[x.name] for x in near.lacks]
        assert opens(shipped, question, needed), near
        for fewer in itertools.combinations(needed, len(needed) - 1):
            assert not opens(shipped, question, fewer), near
    if sizes != {1}:
        for one in by_name.values():
            if one.kind == "material":
                assert not opens(shipped, question, [one]), one.id


def test_what_would_be_accepted_instead_does(shipped):
    question = asked(shipped, "calcium citrate", SHELVES[0], BENCHES[0])
    why = answering.answer(shipped, question).why_none
    lack = why.near[0].lacks[0]
    assert lack.kind == "material"
    assert lack.or_else
    shelf = question.shelf
    for name in (lack.name, *lack.or_else):
        more = supply(shipped.material(name))
        wider = replace(question, shelf=replace(shelf, supplies=(*shelf.supplies, more)), top=1)
        assert answering.answer(shipped, wider).routes, name


def test_a_limit_counts_as_one_thing(shipped):
    answer = rf.find("calcium oxide", "50 g", library=shipped, shelf=["whiting"],
                     max_temperature="500 degC", seconds=5)  # fmt: skip
    why = answer.why_none
    assert [x.kind for x in why.near[0].lacks] == ["limit"]
    assert why.near[0].lacks[0].name.startswith("--max-temperature ")
    assert "lacks 1 thing: --max-temperature" in why.sentence
    assert why.aside


def test_in_words_and_json(shipped, call):
    code, out, _ = call(
        "find", "calcium citrate", "50 g", "--shelf", examples() / SHELVES[0], "--bench",
        examples() / BENCHES[0],
    )  # fmt: skip
    assert code == 1
    assert "Nearest: a route that lacks 1 thing: " in " ".join(out.split())
    assert "(or instead: " in " ".join(out.split())


SAME = ("copper(II) oxide", "calcium acetate", "basic zinc carbonate", "zinc acetate dihydrate",
        "potassium sulfate", "sodium acetate trihydrate")  # fmt: skip


@pytest.mark.parametrize("order", ["balanced", "steps"])
def test_unlock_buys_and_counts_as_find_does(shipped, order):
    """With every shop open, the least cost in the market of unlock is that of find."""
    for target in SAME:
        question = read_question(shipped, target, "50 g", by=order, seconds=20.0)
        inquiry = Inquiry(shipped, question)
        packed = inquiry.packed
        one = best.search(packed.network, packed.at_hand, packed.target, 1,
                          accept=lambda ids, p=packed: not p.roundabout(ids))  # fmt: skip
        market = Lacking(inquiry).market

        net = network(market.steps)
        two = best.search(net, market.at_hand, market.target, 1)
        errand = orders.ERRANDS[order]
        assert two.routes[0].cost < INF
        # an errand of find buys one need, one of unlock a material, which may serve two needs
        assert two.routes[0].cost <= one.routes[0].cost + 1e-9, target
        assert two.routes[0].cost >= one.routes[0].cost - 3 * errand - 1e-9, target
