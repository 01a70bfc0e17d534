"""A bench test of a step, as its record writes it: ``{method: alkali, end_point: first}``."""

from __future__ import annotations

from pydantic import Field, model_validator

from routefinder.records.base import Mass, Record, Sources, Texts

# the names stand in analysis/methods.METHODS with what they read; a test holds the two together
METHODS = (
    "alkali", "acid", "hydrometer", "acid gas", "ignition", "residue", "acid residue", "iodometry",
    "chloride", "pH", "melting", "flame", "dissolving",
)  # fmt: skip
END_POINTS = ("", "first", "last")


class BenchTest(Record):
    """One test: ``method``, ``sampled`` what it is done on (the product, the vessel before its
    wash, or what is left over by its name), ``sample`` in g, ``end_point`` of alkali, ``wants``
    in words what it must show where no figure does. What it must read the vessel says.
    """

    method: str
    sampled: str = "product"
    sample_g: Mass | None = Field(None, alias="sample")
    end_point: str = ""
    wants: Texts = ()
    note: str = ""
    source: Sources = ()

    @model_validator(mode="after")
    def _known(self) -> BenchTest:
        if self.method not in METHODS:
            raise ValueError(f"method {self.method!r} is not one of {', '.join(METHODS)}")
        if self.end_point not in END_POINTS:
            raise ValueError("end_point is 'first' or 'last'")
        if self.end_point and self.method != "alkali":
            raise ValueError("only a titration of alkali has two end points")
        if self.sample_g is not None and self.sample_g <= 0:
            raise ValueError("the sample must be above 0 g")
        return self
