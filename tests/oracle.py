"""The independent judge: what a route is, by brute force and by a MILP in HiGHS.

Nothing here imports the search. Routes are judged from their definition: (1) in some order each
step's reactants are at hand or made earlier; (2) the target is made; (3) no step can be dropped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

Steps = dict[str, tuple[frozenset[str], frozenset[str], float]]


def closure(steps: Steps, chosen: Iterable[str], shelf: Iterable[str]) -> set[str]:
    """What can be had with the chosen steps."""
    have = set(shelf)
    waiting = set(chosen)
    while True:
        ready = {s for s in waiting if steps[s][0] <= have}
        if not ready:
            return have
        for s in ready:
            have |= steps[s][1]
        waiting -= ready


def makes(steps: Steps, chosen: Iterable[str], shelf: Iterable[str], target: str) -> bool:
    """Whether the chosen steps make the target."""
    return target in closure(steps, chosen, shelf)


def is_route(steps: Steps, chosen: Sequence[str], shelf: Iterable[str], target: str) -> bool:
    """Whether ``chosen`` is a route by the definition."""
    shelf = set(shelf)
    if len(set(chosen)) != len(chosen) or not makes(steps, chosen, shelf, target):
        return False
    return not any(
        makes(steps, [s for s in chosen if s != dropped], shelf, target) for dropped in chosen
    )


def runs_in_order(steps: Steps, chosen: Sequence[str], shelf: Iterable[str]) -> bool:
    """Whether the steps can be run in the order given."""
    have = set(shelf)
    for s in chosen:
        if not steps[s][0] <= have:
            return False
        have |= steps[s][1]
    return True


def cost(steps: Steps, chosen: Iterable[str]) -> float:
    """Sum of step costs, each counted once."""
    return sum(steps[s][2] for s in chosen)


def all_routes(
    steps: Steps, shelf: Iterable[str], target: str
) -> list[tuple[float, frozenset[str]]]:
    """Every route, cheapest first, by trying all sets of steps."""
    shelf = set(shelf)
    out: list[tuple[float, frozenset[str]]] = []
    found: list[frozenset[str]] = []
    for size in range(len(steps) + 1):
        for combo in combinations(sorted(steps), size):
            chosen = frozenset(combo)
            if any(route <= chosen for route in found):
                continue
            if makes(steps, chosen, shelf, target):
                found.append(chosen)
                out.append((cost(steps, chosen), chosen))
    return sorted(out, key=lambda item: (item[0], sorted(item[1])))


def milp_routes(
    steps: Steps, shelf: Iterable[str], target: str, k: int, seconds: float = 60.0
) -> list[tuple[float, frozenset[str]]]:
    """The k cheapest routes by a MILP with order variables in HiGHS.

    Each made node chooses one maker, and the order of a node exceeds that of its maker's reactants,
    so that no loop can make itself. A found route and all its supersets are cut off.
    """
    import highspy

    shelf = set(shelf)
    nodes = sorted({n for t, h, _ in steps.values() for n in t | h} | {target})
    if target in shelf:
        return [(0.0, frozenset())]
    free = [n for n in nodes if n not in shelf]
    size = len(free) + 1
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("time_limit", seconds)
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", 1e-9)
    use = {s: model.addBinary(obj=steps[s][2]) for s in steps}
    made = {n: model.addBinary() for n in free}
    order = {n: model.addVariable(0, size) for n in free}
    for n in free:
        chosen = []
        for s, (tail, head, _) in steps.items():
            if n not in head:
                continue
            pick = model.addBinary()
            chosen.append(pick)
            model.addConstr(pick <= use[s])
            for u in tail - shelf:
                model.addConstr(order[n] >= order[u] + 1 - (size + 1) * (1 - pick))
        model.addConstr(sum(chosen) >= made[n]) if chosen else model.addConstr(made[n] <= 0)
    for s, (tail, _, _) in steps.items():
        for u in tail - shelf:
            model.addConstr(use[s] <= made[u])
    model.addConstr(made[target] >= 1)
    out: list[tuple[float, frozenset[str]]] = []
    for _ in range(k):
        model.minimize()
        if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            break
        values = model.getSolution().col_value
        chosen_set = frozenset(s for s in steps if values[use[s].index] > 0.5)
        out.append((cost(steps, chosen_set), chosen_set))
        model.addConstr(sum(use[s] for s in chosen_set) <= len(chosen_set) - 1)
    return out


def priced_milp(
    steps: dict[str, tuple[dict[str, float], dict[str, float], float]],
    prices: dict[str, float],
    target: str,
    amount: float,
    k: int,
    seconds: float = 60.0,
) -> list[tuple[float, frozenset[str]]]:
    """The k cheapest routes by step costs plus purchases, by one MILP in HiGHS a route.

    Steps are (takes, gives, cost) with amounts a turn. As ``milp_routes``, with turns (0 for a step
    that is not used) and purchases that balance every node. Amounts must conserve mass, so that no
    loop makes things from nothing.
    """
    import highspy

    nodes = sorted({n for t, g, _ in steps.values() for n in (*t, *g)} | {target})
    free = [n for n in nodes if n not in prices]
    size = len(free) + 1
    most = 1e4 * amount
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("time_limit", seconds)
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", 1e-7)
    model.setOptionValue("mip_feasibility_tolerance", 1e-9)
    use = {s: model.addBinary(obj=steps[s][2]) for s in steps}
    turn = {s: model.addVariable(0, most) for s in steps}
    bought = {n: model.addVariable(0, most, obj=prices[n]) for n in nodes if n in prices}
    made = {n: model.addBinary() for n in free}
    order = {n: model.addVariable(0, size) for n in free}
    for s in steps:
        model.addConstr(turn[s] <= most * use[s])
    for n in nodes:
        terms = [g[n] * turn[s] for s, (_, g, _) in steps.items() if n in g]
        terms += [-t[n] * turn[s] for s, (t, _, _) in steps.items() if n in t]
        terms += [bought[n]] if n in bought else []
        if terms:
            model.addConstr(sum(terms) >= (amount if n == target else 0.0))
    for n in free:
        chosen = []
        for s, (tail, head, _) in steps.items():
            if n not in head:
                continue
            pick = model.addBinary()
            chosen.append(pick)
            model.addConstr(pick <= use[s])
            for u in tail:
                if u not in prices:
                    model.addConstr(order[n] >= order[u] + 1 - (size + 1) * (1 - pick))
        model.addConstr(sum(chosen) >= made[n]) if chosen else model.addConstr(made[n] <= 0)
    for s, (tail, _, _) in steps.items():
        for u in tail:
            if u not in prices:
                model.addConstr(use[s] <= made[u])
    model.addConstr(made[target] >= 1)
    out: list[tuple[float, frozenset[str]]] = []
    for _ in range(k):
        model.minimize()
        if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            break
        values = model.getSolution().col_value
        chosen_set = frozenset(s for s in steps if values[use[s].index] > 0.5)
        out.append((model.getInfo().objective_function_value, chosen_set))
        model.addConstr(sum(use[s] for s in chosen_set) <= len(chosen_set) - 1)
    return out
