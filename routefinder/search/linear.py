"""Linear programmes; the only door to HiGHS."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

INF = float("inf")


@dataclass(frozen=True)
class LinearSolution:
    """The best value of the aim, and the variables that give it."""

    aim: float
    values: tuple[float, ...]


def least(
    costs: Sequence[float],
    rows: Sequence[Mapping[int, float]],
    at_least: Sequence[float],
    upper: Sequence[float] | None = None,
) -> LinearSolution | None:
    """Minimise the sum of costs x over 0 <= x <= upper with every row at least its bound.

    ``rows`` map variable numbers to coefficients. None when no x will do or the aim has no least
    value.
    """
    import highspy
    import numpy as np

    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(costs), len(rows)
    lp.col_cost_, lp.col_lower_ = np.array(costs, float), np.zeros(len(costs))
    bounds = np.full(len(costs), INF) if upper is None else np.array(upper, float)
    lp.col_upper_ = np.where(np.isinf(bounds), highspy.kHighsInf, bounds)
    lp.row_lower_ = np.array(at_least, float)
    lp.row_upper_ = np.full(len(rows), highspy.kHighsInf)
    places = [sorted(j for j, value in row.items() if value) for row in rows]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0, *map(len, places)])
    lp.a_matrix_.index_ = np.array([j for row in places for j in row], np.int32)
    lp.a_matrix_.value_ = np.array(
        [row[j] for row, kept in zip(rows, places, strict=True) for j in kept], float
    )
    model = _quiet_model()
    model.passModel(lp)
    model.run()
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return LinearSolution(
        float(model.getInfo().objective_function_value), tuple(model.getSolution().col_value)
    )


def _quiet_model() -> Any:
    """A HiGHS model; the first one of a process writes a banner past every option."""
    import highspy

    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        model: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
    model.setOptionValue("output_flag", False)
    return model
