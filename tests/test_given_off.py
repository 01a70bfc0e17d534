"""What steps give off besides their equation: no output may say less than the record.

The laws run over the whole shipped library.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from routefinder.asking.library import load_library
from routefinder.assessment import exposure, gas, leavings, room_air
from routefinder.assessment import hazards as points_of
from routefinder.assessment.one_step import one_step
from routefinder.hazards import cautions, meets, score
from routefinder.library import fumes
from routefinder.records.shelf import Supply
from routefinder.records.step import GivenOff
from routefinder.view import gas_words, safety_card

ROOM = room_air.Room(30, 0.5)
# sentences that ask for extraction; "draw off the liquor" and "no draught" do not
ASKS = re.compile(
    r"outdoors|\bhood\b|\bextraction\b|\bextracted\b|draw off the fumes|(?<!no )draught|fan or",
    re.IGNORECASE,
)
ANOTHER_MATTER = {
    "decompose-cobalt-carbonate-under-inert-gas": "a draught so that argon does not displace air",
}


@pytest.fixture(scope="module")
def lib():
    return load_library()


@pytest.fixture(scope="module")
def asking(lib):
    return [s for s in lib.steps.values() if fumes.asks(s)]


@pytest.fixture(scope="module")
def batches(lib):
    """A batch of 100 g of every step."""
    return {s.id: one_step(lib, s, 100.0) for s in lib.steps.values()}


# --- the records ---------------------------------------------------------------------------------


def test_what_the_words_ask_for_stands_in_the_equipment(lib):
    """A caution that sends outdoors or under a hood: the step needs extraction."""
    lacking = [
        (s.id, words)
        for s in lib.steps.values()
        if not fumes.asks(s) and s.id not in ANOTHER_MATTER
        for words in (*s.record.cautions, *s.record.watch)
        if ASKS.search(words)
    ]
    assert lacking == []


def test_who_asks_for_extraction_says_what_leaves(lib, asking):
    """No step asks for extraction without naming a gas, in its equation or in ``gives_off``."""
    assert len(asking) >= 250
    silent = [s.id for s in asking if not s.record.gives_off and not fumes.of_equation(lib, s)]
    assert silent == []


POISON = re.compile(
    r"\b(ammonia|carbon monoxide|hydrogen chloride|sulfur dioxide|chlorine)\b"
    r"(?=[^.]*\b(vapour|fumes?|comes?|leaves?|gas|smell|off)\b)",
    re.IGNORECASE,
)
NOT_HERE = re.compile(
    r"\b(never|above|hotter|no chloride|with acid|with lye|with table salt)\b", re.I
)


def test_poisonous_gases_of_the_cautions_are_given_off(lib):
    """A caution that tells of a poisonous gas: the gas leaves by the equation or the record."""
    missing = []
    for s in lib.steps.values():
        leaves = set(fumes.what_leaves(lib, s))
        for words in s.record.cautions:
            for sentence in re.split(r"[.;]", words):
                found = POISON.search(sentence)
                if found and not NOT_HERE.search(sentence):
                    named = found[1].lower()
                    alias = {"sulfur dioxide": "sulfur trioxide"}
                    if not leaves & {named, alias.get(named, "")}:
                        missing.append((s.id, sentence))
    assert missing == []


def test_no_more_leaves_than_goes_in(lib, batches):
    """The worst that is given off weighs less than what was weighed in, air left out."""
    for s in lib.steps.values():
        amount = batches[s.id]
        found = gas.gas_of_step(lib, amount)
        also = sum(a.worst_g or 0.0 for a in found.also) if found else 0.0
        assert also <= amount.mass_in_g, s.id


def test_no_step_of_two_points_is_without_a_caution(lib):
    bare = [
        s.id
        for s in lib.steps.values()
        if not s.record.cautions and any(p.points >= 2 for p in score.profile(lib, s).values())
    ]
    assert bare == []


SILICA = {
    "quartz", "kaolin", "metakaolin", "diatomaceous-earth-natural", "diatomaceous-earth-calcined",
}  # fmt: skip
AMORPHOUS = {"silica-precipitated", "silica-gel"}
LUNGS = re.compile(r"quartz|cristobalite|crystalline silica", re.IGNORECASE)


def test_silica_dust_is_told(lib):
    """Quartz and clay dry, and any silica that is fired, ask for a word on the lungs."""
    silent = []
    for s in lib.steps.values():
        solids = {p.substance for p in s.reactants if p.state == "s"}
        dry = not any(p.state in {"aq", "l"} for p in s.reactants)
        fired = s.record.temperature.high_C >= 800
        of_quartz = solids & SILICA and (dry or "diatomaceous-earth-natural" in solids)
        if (of_quartz or (solids & AMORPHOUS and fired)) and not LUNGS.search(
            " ".join(s.record.cautions)
        ):
            silent.append(s.id)
    assert silent == []


def test_words_that_promise_safety_are_not_used(lib):
    """Nothing in the records is called harmless, nontoxic or safe."""
    promise = re.compile(r"\bharmless\b|\bnon-?toxic\b|\b(is|are|it's) safe\b|without danger", re.I)

    def texts(value):
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for one in value.values():
                yield from texts(one)
        elif isinstance(value, list):
            for one in value:
                yield from texts(one)

    records = [s.record for s in lib.steps.values()]
    records += [m.record for m in lib.materials.values()]
    records += [*lib.substances.values(), *lib.equipment.values()]
    found = [
        (r.id, text) for r in records for text in texts(r.as_file()) if promise.search(text)
    ]  # fmt: skip
    assert found == []


def test_bad_records_are_refused():
    for wrong, words in (
        ({"what": "ammonia", "worst": "5 mL/mol", "source": "common practice"}, "by mass"),
        ({"what": "ammonia", "worst": "5 g/mol"}, "source"),
        ({"what": "ammonia", "typical": "5 g/mol", "source": "common practice"}, "without worst"),
        ({"what": "ammonia", "typical": "5 g/mol", "worst": "3 g/mol", "source": "common practice"},
         "more than worst"),
        ({"what": "ammonia", "worst": "0 g/mol", "source": "common practice"}, "above 0"),
    ):  # fmt: skip
        with pytest.raises(ValueError, match=words):
            GivenOff.model_validate(wrong)


# --- what is shown -------------------------------------------------------------------------------


def test_wear_names_extraction_wherever_the_record_asks(lib, asking):
    for s in asking:
        worn = " ".join(a.text for a in cautions.cautions(lib, s).wear)
        assert "fume extraction" in worn or cautions.OUTDOORS in worn, s.id


def test_look_never_says_that_none_is_needed(lib, batches):
    """The batch's rows: where the record asks, they ask; what nobody knows is not computed."""
    for s in lib.steps.values():
        rows = safety_card.batch_rows(safety_card.batch_safety(lib, batches[s.id], ROOM))
        air = "\n".join(words for name, words in rows if name in {"in the air", ""})
        assert "nothing that needs" not in air
        if fumes.asks(s):
            assert "the record asks for extraction" in air or "extraction or outdoors" in air, s.id
            assert "near a limit" not in air, s.id
        for f in fumes.fumes(lib, s):
            assert f.name in air or lib.substances[f.substance].name in air, s.id
            if f.worst_g is None:
                assert re.search(rf"{re.escape(f.name)}[^\n]*: not computed; ", air), s.id


def test_plan_never_says_that_none_is_needed(lib, batches):
    """The plan's gas rows and notes, with and without a room."""
    for s in lib.steps.values():
        for room in (None, ROOM):
            found = gas.gas_of_step(lib, batches[s.id], room)
            if found is None:
                assert not fumes.asks(s), s.id
                continue
            rows = [gas_words.shown(g) for g in found.gases if g.formula != "H2O"]
            rows += [gas_words.also(a) for a in found.also]
            minds = gas_words.notes(found)
            text = "\n".join((*rows, *minds, *gas_words.reason(found, s).lines))
            if fumes.asks(s):
                assert "extraction" in "\n".join((*rows, *minds)), s.id
                assert not re.search(r"in the room: fine|hour: fine", text), s.id
            for a in found.also:
                assert a.name in text
                assert ("not computed" in gas_words.also(a)) == (a.worst_g is None)


def test_exposure_asks_where_the_record_asks(lib, asking, batches):
    for s in asking:
        assert any(e.extraction for e in exposure.exposure(lib, batches[s.id], ROOM)), s.id


# --- points and limits ---------------------------------------------------------------------------


def test_gas_points_are_at_least_those_of_what_is_given_off(lib):
    for s in lib.steps.values():
        most = max((score.fume_points(lib, f) for f in fumes.fumes(lib, s)), default=0)
        assert score.profile(lib, s)["gas"].points >= most, s.id


@pytest.mark.parametrize(
    "name",
    [
        "fire-ultramarine-blue", "fire-green-ultramarine", "roast-green-ultramarine-blue",
        "precipitate-copper-i-chloride-with-sulfite",
        "precipitate-copper-i-chloride-from-copper-sulfate",
    ],
)  # fmt: skip
def test_sulfur_dioxide_does_not_pass_gas_3(lib, name):
    assert score.profile(lib, lib.steps[name])["gas"].points == 4


def test_sulfur_dioxide_of_ultramarine(lib, batches):
    """By hand: 90 g of sulfur to 100 g of kaolin burn to 90 x 64.06 / 32.06 = 180 g."""
    amount = batches["fire-ultramarine-blue"]
    clay = next(f.mass_g for f in amount.feeds if f.substance == "kaolin")
    found = gas.gas_of_step(lib, amount, ROOM)
    sulfur = next(a for a in found.also if a.formula == "SO2")
    assert sulfur.worst_g == pytest.approx(1.80 * clay, rel=1e-3)
    assert sulfur.worst_L == pytest.approx(1.80 * clay / 64.06 * 24.055, rel=1e-3)
    assert sulfur.air.verdict == "not here"
    assert sulfur.air.times > 50
    litres = points_of.gases_L(lib, amount)["SO2"][1]
    assert litres == pytest.approx(1.80 * clay / 64.06 * 24.465, rel=1e-3)


def test_traces_count_one_point_less(lib):
    step = lib.steps["dissolve-iron-in-sulfuric-acid"]
    by = {f.name: f for f in fumes.fumes(lib, step)}
    assert score.fume_points(lib, by["phosphine"]) == 3
    assert score.fume_points(lib, replace(by["phosphine"], traces=False)) == 4
    vapour = next(f for f in fumes.fumes(lib, lib.steps["dissolve-verdigris-in-acetic-acid"]))
    whole = score.fume_points(lib, replace(vapour, traces=False))
    assert score.fume_points(lib, vapour) == whole - 1
    air = next(f for f in fumes.fumes(lib, lib.steps["precipitate-iron-carbonate-with-soda"]))
    assert (air.formula, score.fume_points(lib, air)) == ("CO2", 1)  # never none
    unknown = replace(vapour, substance="", formula="", traces=False)
    assert score.fume_points(lib, unknown) == score.UNKNOWN_GAS


def test_ammonia_of_the_record_can_add_a_point(lib):
    """17 g/mol driven off, 9 L or more in a batch: gas 4."""
    step = lib.steps["give-back-ammonia-with-lime"]
    small, large = (points_of.points(lib, one_step(lib, step, g), {})["gas"] for g in (1.0, 1000.0))
    assert (small.points, large.points) == (3, 4)


# --- trap and leavings ---------------------------------------------------------------------------


def test_trap_takes_what_the_record_gives_off(lib, batches):
    found = meets.trap(lib, lib.steps["dissolve-copper-in-peroxide-and-hydrochloric-acid"])
    assert dict(found.absorbents) == {
        "hydrogen-chloride": "soda or dilute caustic solution",
        "chlorine": "soda or dilute caustic solution",
    }
    both = meets.trap(lib, lib.steps["neutralise-hydrochloric-acid-with-ammonia"])
    assert len(both.conflicts) == 1
    assert "carbon-monoxide" in meets.trap(lib, lib.steps["burn-zinc-oxalate"]).outdoors
    left = leavings.trapped(lib, [batches["fire-ultramarine-blue"]])
    assert [(t.gas, t.holds.split(":")[0]) for t in left] == [("sulfur dioxide", "sulfite")]


def test_every_absorbent_says_what_its_liquor_holds():
    assert set(meets.SPENT) == set(meets.ABSORBENTS)


# --- the shelf -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other", "rule"),
    [
        ("aluminium", "calcium-oxide", "lime-light-metal"),
        ("potassium-hexacyanoferrate-ii-trihydrate", "sodium-hypochlorite",
         "cyanoferrate-hypochlorite"),
        ("ammonia", "sodium-hydroxide", "ammonia-alkali"),
        ("ammonia", "calcium-hydroxide", "ammonia-alkali"),
    ],
)  # fmt: skip
def test_apart_on_the_shelf(lib, one, other, rule):
    shelf = [
        Supply(i, lib.substances[i].name, "solution" if i in {"ammonia", "sodium-hypochlorite"}
               else "solid", {i: 0.1 if i in {"ammonia", "sodium-hypochlorite"} else 1.0}, i)
        for i in (one, other)
    ]  # fmt: skip
    assert rule in {a.rule for a in meets.apart(lib, shelf) if a.grave}


# --- one model of the air ------------------------------------------------------------------------


def test_look_and_plan_give_one_answer(lib, batches):
    """The same peak, litres and time for every gas of every step."""
    for s in lib.steps.values():
        found = gas.gas_of_step(lib, batches[s.id], ROOM)
        shown = {e.substance: e for e in exposure.exposure(lib, batches[s.id], ROOM)
                 if e.kind == "gas" and not e.at_worst}  # fmt: skip
        for g in found.gases if found else ():
            if g.formula in {"H2O", "O2", "N2"}:
                continue
            e = shown[g.substance]
            factor = 1e6 if e.unit == "ppm" else g.air.counted_g * 1e6 / room_air.LITRES_PER_MOLE
            assert e.peak == pytest.approx(g.air.peak * factor)
            assert e.litres == pytest.approx((g.moles - g.kept_mol) * room_air.LITRES_PER_MOLE)
            assert e.hours * 60 == pytest.approx(g.over_min)
            assert e.verdict == g.air.verdict


def test_gas_of_an_electrolysis_comes_as_the_current_lets_it(lib):
    """By hand, 3 A: n mol of hydrogen take 2 n F / I, however much it is."""
    step = lib.steps["dissolve-copper-anodically-in-acetic-acid"]
    amount = one_step(lib, step, 20.0)
    moles = next(o.moles for o in amount.outcomes if o.state == "g")
    minutes = 2 * moles * 96485.332 / 3 / 60
    assert step.record.time.hands_on_min < minutes
    found = gas.gas_of_step(lib, amount, ROOM).gases[0]
    assert found.over_min == pytest.approx(minutes)
    assert found.worst_L_min == found.even_L_min  # a current has no rush
    assert found.even_L_min == pytest.approx(24.055 * 3 / (2 * 96485.332) * 60, rel=1e-4)
    two = gas.gas_of_step(lib, amount, ROOM, batches=2).gases[0]
    assert two.over_min == pytest.approx(minutes / 2)
    large = gas.gas_of_step(lib, one_step(lib, step, 5000.0), ROOM).gases[0]
    assert large.over_min == pytest.approx(250 * minutes)
    assert one_step(lib, step, 5000.0).times.waiting_min == pytest.approx(250 * minutes)


def test_four_electrons_for_oxygen(lib):
    step = lib.steps["plate-copper-from-copper-sulfate"]
    amount = one_step(lib, step, 1.0)
    moles = next(o.moles for o in amount.outcomes if o.state == "g")
    current = next(n.limit("current") for n in step.record.equipment if n.name == "electrolysis")
    assert room_air.release_min(lib, amount) == pytest.approx(
        max(4 * moles * 96485.332 / current / 60, room_air.LEAST_MIN)
    )


@pytest.mark.parametrize(
    ("name", "which"),
    [
        ("dissolve-chalk-in-acetic-acid", "hands_on"), ("burn-whiting-to-quicklime", "soak"),
        ("boil-magnesia-with-ammonium-sulfate", "both"), ("precipitate-alumina-with-urea", "both"),
    ],
)  # fmt: skip
def test_when_gas_comes(lib, name, which):
    """As reagents meet: the work; fired: the soak of its stages; driven off hot: both."""
    time = lib.steps[name].record.time
    soak = sum(s.for_min or 0.0 for s in lib.steps[name].record.stages if s.kind == "hold")
    minutes = {
        "hands_on": time.hands_on_min, "soak": soak,
        "both": time.hands_on_min + time.waiting_min,
    }[which]  # fmt: skip
    assert room_air.release_min(lib, one_step(lib, lib.steps[name], 50.0)) == minutes


def test_collected_gas_does_not_fill_the_room(lib):
    """Half the gas taken by a later step: half as much in the room, the same litres in all."""
    amount = one_step(lib, lib.steps["dissolve-chalk-in-acetic-acid"], 100.0)
    free = gas.gas_of_step(lib, amount, ROOM).gases[0]
    outcomes = []
    for o in amount.outcomes:
        if o.state == "g":
            half = replace(o, moles=o.moles / 2, mass_g=o.mass_g / 2)
            outcomes += [half, replace(half, fate="used")]
        else:
            outcomes.append(o)
    caught = gas.gas_of_step(lib, replace(amount, outcomes=tuple(outcomes)), ROOM).gases[0]
    assert caught.moles == pytest.approx(free.moles)
    assert caught.kept_mol == pytest.approx(free.moles / 2)
    outside = room_air.CO2_OUTDOORS
    assert caught.air.peak - outside == pytest.approx((free.air.peak - outside) / 2)
    all_caught = [replace(o, fate="used") if o.state == "g" else o for o in amount.outcomes]
    none = gas.gas_of_step(lib, replace(amount, outcomes=tuple(all_caught)), ROOM).gases[0]
    assert none.air.peak == pytest.approx(outside)


def test_what_the_record_gives_off_eats_a_kiln(lib):
    """The sulfur dioxide of ultramarine stands in no equation, but eats the elements."""
    from routefinder.hazards import heaters

    step = lib.steps["fire-ultramarine-blue"]
    found = heaters.wear(lib, step, heaters.Way("kiln", "in a kiln", furnace=True))
    assert "sulfur dioxide" in {w.agent for w in found}
