"""A yield or a purity as a distribution on (0, 1], from low, typical and high.

**Percentiles** (the default reading): low, typical and high are the 10th, 50th and 90th percentile.
The logit, ln(y / (1 - y)), is normal on either side of the median, with the spread that meets the
percentile of that side:

    logit y = logit(typical) + s z,   z standard normal,
    s = (logit(typical) - logit(low)) / 1.2816 for z < 0, (logit(high) - logit(typical)) / 1.2816
    for z > 0,                        1.2816 = the 90th percentile of z.

Why this one. All three percentiles are met exactly for any low <= typical <= high, values stay
above 0 and at or below 1, and drawing costs one exponential. A beta distribution has two
parameters and cannot meet three percentiles in general (Keelin and Powley, Quantile-parameterized
distributions, Decision Analysis 8, 2011, 206-219, cited from memory); a three-term metalog does
not exist for very skewed triples (Keelin, The Metalog Distributions, Decision Analysis 13, 2016,
243-277, from memory). The logit-normal is common practice for proportions; splitting it at the
median is our own choice, and its density jumps there.

**Guesses** are drawn wider (``of_part``): the distances of low and high from typical, in the logit,
times GUESS_WIDER = 1.7. Of 111 printed yields of single steps that did not fail, 60 lay within the
low..high that this library had written down, mostly from memory, before anybody looked them up:
what was called an 80 % interval holds 54 %. The normal score that holds 54 % is 0.740; to hold 80 %
it must be 1.2816, 1.73 times as wide (computed from tests/reference/yields.csv by
tests/test_evidence.py). Printed and computed yields, common practice, and the invented data of the
demo stand as written.

Degenerate cases: where low = typical, or typical = high, that half of the probability sits on the
typical value; where all three are equal the value is certain. A percentile of 1 counts as
1 - 1e-6, because the logit of 1 is infinite.

**Triangular**: low, typical and high are the least, the most likely and the greatest value.
Inverse distribution function, with F = (c - a)/(b - a): a + sqrt(p (b - a)(c - a)) for p < F, else
b - sqrt((1 - p)(b - a)(b - c)) (any textbook of statistics).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

from routefinder.library import evidence
from routefinder.records.step import YieldPart

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Draws = NDArray[np.float64]

Z90 = NormalDist().inv_cdf(0.9)
NEARLY_ONE = 1 - 1e-6
GUESS_WIDER = 1.7


def _logit(y: float) -> float:
    y = min(y, NEARLY_ONE)
    return math.log(y / (1 - y))


@dataclass(frozen=True)
class Distribution:
    """One uncertain fraction; ``low <= typical <= high`` within (0, 1], else ValueError."""

    low: float
    typical: float
    high: float
    triangular: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.typical <= self.high <= 1:
            raise ValueError(
                f"low {self.low:g}, typical {self.typical:g}, high {self.high:g}: they must rise "
                "within 0 and 1"
            )

    @property
    def certain(self) -> bool:
        """Whether there is one value only."""
        return self.low == self.high

    def quantile(self, p: float) -> float:
        """The value that a share ``p`` (between 0 and 1) of all draws stays below.

        Raises ValueError for a share outside 0 to 1.
        """
        if not 0 < p < 1:
            raise ValueError(f"a share of draws lies between 0 and 1, not {p:g}")
        if self.certain:
            return self.typical
        if self.triangular:
            a, c, b = self.low, self.typical, self.high
            if p < (c - a) / (b - a):
                return a + math.sqrt(p * (b - a) * (c - a))
            return b - math.sqrt((1 - p) * (b - a) * (b - c))
        z = NormalDist().inv_cdf(p)
        return 1 / (1 + math.exp(-_logit(self.typical) - z * self._spread(z < 0)))

    def widened(self, factor: float) -> Distribution:
        """The same typical value with both ends ``factor`` times as far away in the logit."""
        middle = _logit(self.typical)
        low, high = (
            1 / (1 + math.exp(-middle - factor * (_logit(end) - middle)))
            for end in (self.low, self.high)
        )
        if self.high >= NEARLY_ONE:
            high = self.high
        return replace(
            self,
            low=self.low if self.low == self.typical else min(low, self.low),
            high=self.high if self.high == self.typical else max(high, self.high),
        )

    def _spread(self, below: bool) -> float:
        if below:
            return (_logit(self.typical) - _logit(self.low)) / Z90
        return (_logit(self.high) - _logit(self.typical)) / Z90

    def draw(self, generator: np.random.Generator, count: int) -> Draws:
        """``count`` independent draws, shape (count,), all above 0 and at most 1."""
        import numpy as np

        if self.certain:
            return np.full(count, self.typical)
        if self.triangular:
            return generator.triangular(self.low, self.typical, self.high, count)
        z = generator.standard_normal(count)
        z *= np.where(z < 0, self._spread(True), self._spread(False))
        z += _logit(self.typical)
        values: Draws = 1 / (1 + np.exp(-z))
        return values


def of_part(part: YieldPart) -> Distribution:
    """One factor of a yield as it is drawn: as written, or wider when it is a guess."""
    written = Distribution(part.low, part.typical, part.high, part.reading == "triangular")
    if evidence.of_part(part).kind == evidence.GUESS:
        return written.widened(GUESS_WIDER)
    return written
