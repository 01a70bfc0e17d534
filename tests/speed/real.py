"""Two real networks that the package cobra carries: iJO1366 (by cobra's data) and its textbook model.

Reversible reactions are split, exchanges left out, every step costs 1. At hand: what the model's
default medium takes up, and seven carriers that are only ever handed round (a proton, water, ATP,
NAD, NADP, phosphate, coenzyme A, in the cytosol); in the textbook model also phosphoenolpyruvate and
ubiquinone, without which it cannot take up its sugar or breathe.
"""

from __future__ import annotations

import logging
from functools import cache

from routefinder.graph.network import Network, network
from routefinder.graph.network_file import steps_of_model

CARRIERS = ("h_c", "h2o_c", "atp_c", "nad_c", "nadp_c", "pi_c", "coa_c")
STARTERS = {"textbook": ("pep_c", "q8_c")}


@cache
def real(name: str) -> tuple[Network, tuple[str, ...]]:
    """(network, shelf) of a model that cobra carries: "iJO1366" or "textbook"."""
    import cobra.io

    logging.disable(logging.CRITICAL)
    steps, medium = steps_of_model(cobra.io.load_model(name))
    return network(steps), tuple(dict.fromkeys((*medium, *CARRIERS, *STARTERS.get(name, ()))))
