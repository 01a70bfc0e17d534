"""The reaction graph in networkx: a MultiDiGraph for networkx's own algorithms and any graph tool.

Nodes are substances; an edge runs from a reactant to a product and is keyed by the step's id. A
step needs all its reactants: that AND is not in the edges (plain shortest paths answer another
question), it is in the step records and in the search.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from routefinder.disclaimer import DISCLAIMER
from routefinder.hazards import score
from routefinder.library import regulated
from routefinder.library.library import Library
from routefinder.library.resolve import ResolvedStep


def reaction_graph(library: Library, steps: Iterable[ResolvedStep] | None = None) -> Any:
    """The reaction graph of ``steps`` (all of the library by default).

    Graph attribute: disclaimer. Node attributes: name, formula, molar_mass_g. Edge attributes:
    step, title, kind, yield_low, yield_typical, yield_high, temperature_low_C, temperature_high_C,
    hands_on_min, waiting_min, equipment (text), main (whether the product is the main one), kept
    (whether it is collected), and hazard_<aspect> (0 to 4). All values are plain, so GraphML and
    JSON exports work. Raises Refused for a library with what routefinder refuses.
    """
    import networkx as nx

    regulated.refuse_library(library)
    graph = nx.MultiDiGraph(name="routefinder reaction graph", disclaimer=DISCLAIMER)
    for step in library.steps.values() if steps is None else steps:
        attributes = edge_attributes(step, score.profile(library, step))
        kept = {p.substance for p in step.kept()}
        for part in (*step.reactants, *step.products):
            substance = library.substances[part.substance]
            graph.add_node(
                substance.id,
                name=substance.name,
                formula=substance.formula or "",
                molar_mass_g=substance.molar_mass_g,
            )
        for reactant in step.reactants:
            for product in step.products:
                graph.add_edge(
                    reactant.substance,
                    product.substance,
                    key=step.id,
                    main=product.substance == step.main.substance,
                    kept=product.substance in kept,
                    reactant_state=reactant.state,
                    product_state=product.state,
                    **attributes,
                )
    return graph


def edge_attributes(step: ResolvedStep, profile: Mapping[str, score.Score]) -> dict[str, Any]:
    """What every edge of a step carries."""
    record = step.record
    return {
        "step": step.id,
        "title": step.title,
        "kind": record.kind,
        "yield_low": record.yield_.low,
        "yield_typical": record.yield_.typical,
        "yield_high": record.yield_.high,
        "temperature_low_C": record.temperature.low_C,
        "temperature_high_C": record.temperature.high_C,
        "hands_on_min": record.time.hands_on_min,
        "waiting_min": record.time.waiting_min,
        "equipment": "; ".join(need.in_words() for need in record.equipment),
        **{f"hazard_{aspect}": found.points for aspect, found in profile.items()},
    }
