"""One table of a question's fields: every door is made from it and says them in its own words."""

from __future__ import annotations

import re
from dataclasses import fields as of_dataclass

import pytest

import routefinder as rf
from routefinder.asking import question_file
from routefinder.asking.fields import FIELDS, QuestionFields, key, option
from routefinder.asking.question import QuestionReader, read_question
from routefinder.choice.limits import ROUTE_LIMITS
from routefinder.errors import FieldError, InputError
from routefinder.records.question import Limits, Question

ASKED = [f for f in FIELDS if f.door == "question" and f.name != "amount"]


def test_the_types_and_the_table_name_the_same_fields():
    """What ``find`` takes, in the order of the table."""
    assert [f.name for f in ASKED] == list(QuestionFields.__annotations__)


def test_every_limit_has_a_field(shipped):
    """What a question keeps comes from a field; must-haves come from the wishes."""
    question = read_question(shipped, "calcium oxide", "10 g")
    kept = {f.keeps.rpartition(".")[2] for f in ASKED if f.keeps}
    for field in ASKED:
        if field.keeps and field.name not in {"shelf", "bench"}:
            assert field.kept(question) in (field.default, ()), field.name
    assert {f.name for f in of_dataclass(Limits)} - {"measures"} <= kept
    assert {f.name for f in of_dataclass(Question)} - {"target", "amount_g", "limits"} <= kept
    assert {limit.name for limit in ROUTE_LIMITS} <= {f.name for f in of_dataclass(Limits)}
    said = {f.name for f in ASKED if f.keeps.startswith("limits.")}
    assert said <= {f.name for f in ASKED if f.words}


def test_every_field_is_an_option_and_a_key(call):
    """`find --help` lists them all; the file's keys are the options with underscores."""
    out = call("find", "--help")[1]
    for field in FIELDS:
        for each in field.options[0].split("/"):
            assert each in out, each
        assert key(field.name) == option(field.name).removeprefix("--").replace("-", "_")
    assert ("target", *(f.key for f in FIELDS)) == question_file.KEYS
    assert option("use") == "--from"


WRONG = {
    "shelf": 3, "bench": 3, "by": "beauty", "top": 0, "max_temperature": "hot", "avoid": 3,
    "use": [3], "use_up": 3, "max_hazard": "charm 2", "max_steps": 1.5, "max_time": "0 h",
    "budget": -1, "no_licence": "yes", "step_cost": float("inf"), "different": 1, "make_reagents": 1,
    "reuse": "no",
    "non_dominated": 3, "measures": 3, "may_lack": -1, "prefer": "yield", "seconds": "long",
    "state": "wet", "purity": "120 %", "excess": "ethanol", "carry": "bone",
}  # fmt: skip


def test_every_field_has_a_wrong_value():
    """So that the next test forgets none."""
    assert set(WRONG) == {f.name for f in ASKED}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_value_is_said_in_the_callers_words(shipped, name):
    """From Python: its own name, no option; the same fault as an option: no Python name."""
    value = "yield -1" if name == "prefer" else WRONG[name]
    with pytest.raises(FieldError) as caught:
        rf.find("calcium oxide", "10 g", library=shipped, **{name: value})
    assert "--" not in str(caught.value)
    assert caught.value.fields[0] == name
    said = caught.value.said(option)
    if name != "by":  # "unknown order 'beauty'"
        assert re.search(rf"\b{name}\b", str(caught.value))
        assert option(name) in said


def test_options_are_said_as_options(call):
    """The command line and the file say the same fault in theirs."""
    assert "--max-steps is 0" in call("find", "calcium oxide", "--max-steps", "0")[2]
    said = call("find", "calcium oxide", "--from", "chalk", "--avoid", "chalk")[2]
    assert "stands under both --from and --avoid" in said


def test_a_single_name_is_a_list_of_one(shipped):
    """Not its letters."""
    for given in ({"avoid": "water"}, {"use": "water"}):
        one = read_question(shipped, "calcium oxide", "10 g", **given)
        (name,) = given
        many = read_question(shipped, "calcium oxide", "10 g", **{name: [given[name]]})
        assert one.limits == many.limits != Limits()


def test_what_is_no_field_is_said(shipped):
    """With the nearest that is."""
    with pytest.raises(InputError, match="'max_step'; did you mean 'max_steps'"):
        rf.find("calcium oxide", "10 g", library=shipped, max_step=3)
    with pytest.raises(FieldError, match=r"^target is None"):
        rf.find(None, library=shipped)
    with pytest.raises(FieldError, match="library is str, not a Library"):
        rf.find("calcium oxide", library="here")
    with pytest.raises(FieldError, match="leave only_library out"):
        rf.find("calcium oxide", library=shipped, only_library=True)


def test_hazard_limits_in_every_way(shipped):
    """A number, a text, several, a mapping."""
    read = QuestionReader(shipped)
    for value in (2, "2", ["2"], {"any": 2}):
        assert read.field("max_hazard", value) == (("any", 2),)
    assert read.field("max_hazard", ["toxic 2", "fire=3"]) == (("toxic", 2), ("fire", 3))
    for value in ({"toxic": 7}, {"toxic": "2"}, ["toxic 1", "toxic 2"], "lots"):
        with pytest.raises(FieldError):
            read.field("max_hazard", value)
