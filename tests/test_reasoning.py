"""Every printed line of arithmetic is worked again, and ends in the number that ``amounts`` has."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from strategies import few
from test_amounts import toy_routes
from test_demo import R1, R2, ask, route

from routefinder.assessment import batches, forward, money, reasoning, shopping, uncertainty, waste
from routefinder.errors import InputError
from routefinder.vessel.amounts import amounts

UNITS = re.compile(r"(?<=[\d )])(g/mol|g/mL|g/g|[A-Z]{3}/g|[A-Z]{3}|g/m|mol|mL|min|kWh|recipes|g|L|h)(?=$|[ ,)])")  # fmt: skip


def worked(line: str) -> tuple[float, float] | None:
    """(the arithmetic worked again, the value printed), or None for a line without arithmetic."""
    if " = " not in line:
        return None
    expression, value = line.split(": ", 1)[1].rsplit(" = ", 1)
    expression = UNITS.sub("", expression).replace("×", "*")
    assert re.fullmatch(r"[\d.+*/()\-, maxceil]+", expression), line
    from math import ceil

    again = eval(expression, {"__builtins__": {}, "max": max, "ceil": ceil})
    return again, float(value.split()[0])


def check(every) -> int:
    """Work all lines again; how many there were."""
    count = 0
    for reason in every:
        for line in reason.lines:
            found = worked(line)
            if found is not None:
                # a difference of two printed numbers keeps their error, not its own
                largest = max(float(x) for x in re.findall(r"\d+\.?\d*", line.split(": ", 1)[1]))
                loose = 1e-5 * largest if " - " in line else 0.0
                assert found[0] == pytest.approx(found[1], rel=3e-5, abs=loose), line
                count += 1
    return count


def last_value(reason, what: str) -> float:
    """The value of the last line whose label holds ``what``."""
    line = [x for x in reason.lines if what in x.split(": ")[0] and " = " in x][-1]
    return float(line.rsplit(" = ", 1)[1].split()[0])


def check_masses(found, every):
    for i, step in enumerate(found.steps, start=1):
        mass = reasoning.reason(every, f"mass:{step.step.id}")
        assert last_value(mass, f"step {i} gives") == pytest.approx(step.product.mass_g, rel=1e-5)
        values = [float(x.rsplit(" = ", 1)[1].split()[0]) for x in mass.lines]
        for feed in step.feeds:
            assert any(v == pytest.approx(feed.as_weighed_g, rel=1e-5) for v in values)
        assert any(v == pytest.approx(step.turns, rel=1e-5) for v in values)


def test_the_check_can_fail():
    """A line whose sum is wrong is caught."""
    assert worked("a: 2 × 3 mol / (1 + 0.5) = 4 mol") == (4.0, 4.0)
    wrong = reasoning.Reason("mass:x", "", ("a: 2 × 3 mol = 7 mol",))
    with pytest.raises(AssertionError):
        check([wrong])


@pytest.mark.parametrize("ids", [R1, R2], ids=["R1", "R2"])
def test_demo_routes(studio, ids):
    """S1: all lines hold, all the way from 250 g to the vitriol; the hand numbers stand in them."""
    answer = ask(studio)
    found = route(answer, ids).assessment.amounts
    every = reasoning.reasons(answer.library, found)
    assert check(every) > 40
    check_masses(found, every)
    for draw in found.draws:
        start = reasoning.reason(every, f"start:{draw.supply.id}")
        what = "together" if start.lines[-1].startswith("together") else "as weighed"
        assert last_value(start, what) == pytest.approx(draw.as_weighed_g, rel=1e-5)
    cost = sum(last_value(r, r.title.removeprefix("Money for "))
               for r in every if r.figure.startswith("cost:"))  # fmt: skip
    assert cost == pytest.approx(route(answer, ids).assessment.cost.typical, rel=1e-5)


def test_the_chain_of_s1(studio):
    """The steps of the hand calculation, in its order."""
    answer = ask(studio)
    found = route(answer, R1).assessment.amounts
    lines = reasoning.mass(answer.library, found, "precipitate-basic-copper-carbonate").lines
    values = [float(line.rsplit(" = ", 1)[1].split()[0]) for line in lines]
    for expected in (1.2522, 1.4680, 0.7490, 1.5768, 165.6, 174.3, 401.7, 1.7345, 185.7):
        assert any(v == pytest.approx(expected, rel=1e-3) for v in values), expected
    assert values[0] == pytest.approx(1.2522, rel=1e-4)


@given(toy_routes())
@few(80)
def test_any_route(case):
    """Convergent routes, co-products, excesses, auxiliaries: every line holds."""
    library, steps, supplies, target = case
    found = amounts(library, steps, supplies, target, 10.0)
    every = reasoning.reasons(library, found)
    check(every)
    check_masses(found, every)


def test_recipes_are_by_mass(shipped):
    """A recipe step (grams for coefficients): the lines hold as well."""
    import routefinder as rf

    checked = 0
    for target in ("madder lake", "olive oil soap"):
        try:
            answer = rf.find(target, "50 g", top=2)
        except InputError:
            continue
        for found in answer.routes:
            if any(s.is_recipe for s in found.assessment.steps):
                every = reasoning.reasons(answer.library, found.assessment.amounts)
                check(every)
                check_masses(found.assessment.amounts, every)
                checked += 1
    assert checked


def every_reason(library, found, bench):
    """Reasons by figure: mass, yield, batches (with a bench), sure, start, buy, cost, most, waste.

    ``reasoning.reason`` picks one.
    """
    out = reasoning.reasons(library, found)
    if bench is not None:
        out += batches.reasons(batches.batches(library, found, bench), found)
    out += uncertainty.reasons(found, uncertainty.how_sure(library, found))
    out += shopping.reasons(shopping.shopping(library, [found]))
    out += money.reasons(found, money.money(found))
    out += forward.reasons(found)
    out += waste.reasons(library, found)
    return out


def test_every_reason_of_a_route(studio):
    """All figures of the demo's routes have their reasons, each once, and all lines hold."""
    answer = ask(studio)
    for found in answer.routes[:4]:
        amount = found.assessment.amounts
        every = every_reason(answer.library, amount, answer.question.bench)
        figures = [r.figure for r in every]
        assert len(figures) == len(set(figures))
        assert {f.split(":")[0] for f in figures} == {
            "mass", "yield", "batches", "sure", "start", "buy", "cost", "most", "waste"
        }  # fmt: skip
        assert all(r.lines and r.title for r in every)
        assert check(every) > 50


def test_unknown_figures(studio):
    """One sentence with the nearest figures."""
    answer = ask(studio)
    found = route(answer, R1).assessment.amounts
    every = reasoning.reasons(answer.library, found)
    with pytest.raises(InputError, match="mass:precipitate-basic-copper-carbonate"):
        reasoning.reason(every, "mass:precipitate")
    with pytest.raises(InputError, match="no step of this route"):
        reasoning.mass(answer.library, found, "burn-water")
    with pytest.raises(InputError, match="takes no"):
        reasoning.start(answer.library, found, "gold")
    with pytest.raises(InputError, match="no price"):
        reasoning.cost(found, "gold")


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0, "0"), (1.2522, "1.2522"), (123456789.0, "123456789"), (0.000012345678, "0.0000123457"),
     (2.0, "2"), (-1.5, "-1.5"), (float("inf"), "inf")],
)  # fmt: skip
def test_numbers(value, shown):
    """Six figures, no exponent."""
    assert reasoning.number(value) == shown
