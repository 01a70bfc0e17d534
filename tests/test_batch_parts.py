"""The parts of the batch arithmetic, one by one: changes of the code that once went unseen."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from routefinder.assessment import batches as b
from routefinder.assessment.yields import overall
from routefinder.choice import dominance
from routefinder.records.capability import Capability
from routefinder.records.shelf import Bench, Tool


def vessel(name, volume=None, count=1):
    """A place's fit: a vessel of ``volume`` (text, or None for not known)."""
    limits = {} if volume is None else {"volume": volume}
    offer = Capability.model_validate({"vessel": limits} if limits else "vessel")
    return SimpleNamespace(tool=Tool(name, (offer,), count), offer=offer)


def setting(*places, heaters=()):
    """What is set up: for each vessel that is needed the fits, and heaters with their furnace."""
    found = [SimpleNamespace(best=list(fits), fits=bool(fits)) for fits in places]
    return SimpleNamespace(places=found, heaters=heaters, heater=None)


def amount(feeds=(), streams=(), equipment=()):
    """As much of a step's amounts as the parts look at."""
    charge = SimpleNamespace(by_feed=[SimpleNamespace(mass_g=g) for g in streams])
    return SimpleNamespace(
        feeds=feeds, course=SimpleNamespace(charge=charge),
        step=SimpleNamespace(id="s", record=SimpleNamespace(equipment=equipment)),
        times=SimpleNamespace(
            shared=lambda count: SimpleNamespace(hands_on_min=10.0, waiting_min=20.0)
        ),
    )  # fmt: skip


def feed(name, grams, role="reactant"):
    return SimpleNamespace(
        origin=SimpleNamespace(name=name, form="solid"), as_weighed_g=grams, role=role
    )


def filling(volume_mL, use=1.0):
    return b.Filling("in the vessel", (), 1.0, volume_mL, use)


def test_what_just_fits_takes_no_batch_more():
    """A vessel, a crucible and a balance that are filled to the mark."""
    assert b.BatchLimit("pot", filling(500.0), 1000.0, 0.5).count == 1
    assert b.BatchLimit("pot", filling(500.1), 1000.0, 0.5).count == 2
    assert b.firings(40.0, 100.0, 1, bulk_g_mL=0.8, fill=0.5).crucibles == 1
    assert b.firings(40.1, 100.0, 1, bulk_g_mL=0.8, fill=0.5).crucibles == 2
    scale = Capability.model_validate({"weigh": {"readability": "0.1 g", "capacity": "100 g"}})
    bench = Bench((Tool("scale", (scale,)),))
    assert b._portions(amount([feed("salt", 200.0)]), 1, bench, 0.6) == (("weigh salt", 2),)
    assert b._portions(amount([feed("salt", 200.0)]), 2, bench, 0.6) == ()


def test_a_paste_is_wet_unless_it_is_fired(monkeypatch):
    """Five parts of solid in one of liquid: wet in a bowl, dry in a furnace."""
    monkeypatch.setattr(b.volume, "volume_mL", lambda _, phases: 5.0 if phases == ("s",) else 1.0)
    for equipment, wet in (((), True), ((Capability(name="heat-dry"),), False)):
        paste = amount(equipment=equipment)
        paste.course.charge.contents = SimpleNamespace(only=lambda *phases: phases)
        assert b._is_wet(None, paste) is wet


def test_what_goes_in_by_name():
    """What weighs nothing is not named, a wash is called so, and the same thing counts once."""
    charge = amount(
        [feed("salt", 10), feed("nothing", 0), feed("water", 5, "wash"), feed("salt", 2)],
        [10.0, 0.0, 5.0, 2.0],
    )
    assert b._put_in(charge, {}, washes=False) == (("salt", 12.0),)
    assert b._put_in(charge, {}, washes=True) == (("salt", 12.0), ("water to wash", 5.0))


def test_the_vessel_that_is_taken():
    """Wet: the largest one; dry: the kind that holds most in all; of unknown size: the first."""
    few = setting([vessel("dish", "100 mL", 4), vessel("pan", "300 mL")])
    assert b._named(few, dry=True) == ("dish",)
    assert b._named(few, dry=False) == ("pan",)
    assert b._named(setting([vessel("jar"), vessel("tub")], []), dry=False) == ("jar", "")


def test_of_vessels_that_decide_alike_the_first_is_named():
    """Two of the same size; the larger number of batches decides."""
    same = setting([vessel("pot", "1 L")], [vessel("jug", "1 L")])
    found = b._wet(amount(), (filling(1500.0),), Bench(()), same)
    assert (found.vessel, found.count, found.note) == ("pot", 2, "")
    smaller = setting([vessel("pot", "1 L")], [vessel("cup", "500 mL")])
    assert b._wet(amount(), (filling(1500.0),), Bench(()), smaller).vessel == "cup"


@pytest.mark.parametrize(("volume_mL", "spared"), [(850.0, True), (851.0, False)])
def test_foam_may_be_let_fall(volume_mL, spared):
    """Up to 85 % of the vessel, portions may spare a batch."""
    found = b._wet(amount(), (filling(volume_mL, b.GASSING),), Bench(()),
                   setting([vessel("pot", "1 L")]))  # fmt: skip
    assert found.count == 2
    assert ("portions" in found.note) is spared


def test_a_dry_charge_and_its_furnace():
    """One dish is no "1 × dish"; a furnace counts by its larger room; without sizes one batch."""
    need = Capability.model_validate({"heat-dry": {"to": "500 degC"}})
    rooms = [
        Capability.model_validate({"heat-dry": {"to": "900 degC", "volume": v}})
        for v in ("1 L", "4 L")
    ]  # fmt: skip
    kiln = Tool("kiln", tuple(rooms))
    found = b._dry(amount(), setting([vessel("dish", "5 L")], heaters=((need, kiln),)),
                   filling(1000.0, 0.5))  # fmt: skip
    assert [x.what for x in found.limits] == ["dish", "kiln"]
    assert found.limits[1].holds_mL == 4000.0
    found = b._dry(amount(), setting([vessel("dish", "1 L", 3)]), filling(1000.0, 0.5))
    assert [x.what for x in found.limits] == ["3 × dish"]
    found = b._dry(amount(), setting([]), filling(1000.0, 0.5))
    assert (found.count, found.known) == (1, False)


def test_the_limiting_start_comes_first(demo):
    """Overall yields of every demo route: the one that limits leads."""
    seen = 0
    for route in demo.routes:
        limits = [y.limits for y in overall(demo.library, route.assessment.amounts)]
        assert limits == sorted(limits, reverse=True)
        seen += sum(limits) == 1 and len(limits) > 1
    assert seen


def test_a_dominated_route_names_by_whom_and_where(monkeypatch):
    """The first that is nowhere worse, counted from 1, and only what is really better."""
    monkeypatch.setattr(dominance, "losses", lambda row, keys: row)
    found = dominance.dominated([(3, 3, 3), (1, 3, 2), (1, 1, 1), (1, 1, 1)], ("a", "b", "c"))
    assert found[0] == dominance.Dominated(2, ("a", "c"))
    assert found[1] == dominance.Dominated(3, ("b", "c"))
    assert found[2:] == [None, None]
