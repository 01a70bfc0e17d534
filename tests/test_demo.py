"""The demo scenario against its hand calculation (examples/studio/README.md holds the numbers).

Tolerance 1 % unless said: the hand calculation rounds molar masses and takes 24.0 L/mol.
"""

from __future__ import annotations

import pytest

import routefinder as rf

R1 = {
    "precipitate-basic-copper-carbonate",
    "dissolve-basic-copper-carbonate-in-acetic-acid",
    "crystallise-copper-ii-acetate",
}
R2 = {
    "dissolve-chalk-in-acetic-acid",
    "copper-ii-acetate-from-calcium-acetate",
    "crystallise-copper-ii-acetate",
}
R3A = {"dissolve-copper-ii-oxide-in-acetic-acid", "crystallise-copper-ii-acetate"}
R3B = R3A | {"precipitate-basic-copper-carbonate", "burn-basic-copper-carbonate"}
R3C = R3A | {"roast-copper-to-copper-ii-oxide"}
R4 = {"dissolve-copper-in-peroxide-and-acetic-acid", "crystallise-copper-ii-acetate"}
R5 = {"dissolve-copper-anodically-in-acetic-acid", "crystallise-copper-ii-acetate"}
R6 = {"copper-ii-acetate-from-sodium-acetate"}


def ask(studio, shelf="shelf.csv", bench="bench.yaml", **more):
    return rf.find(
        "copper(II) acetate monohydrate", "250 g", shelf=studio / shelf, bench=studio / bench,
        libraries=[studio / "reactions"], **{"top": 40, **more},
    )  # fmt: skip


@pytest.fixture(scope="module")
def base(request):
    from routefinder.library.where import examples

    return ask(examples() / "studio")


@pytest.fixture(scope="module")
def kiln():
    from routefinder.library.where import examples

    return ask(examples() / "studio", bench="bench-with-kiln.yaml")


@pytest.fixture(scope="module")
def extras():
    from routefinder.library.where import examples

    return ask(examples() / "studio", "shelf-with-extras.csv")


def route(answer, ids):
    found = [r for r in answer.routes if set(r.ids) == ids]
    assert found, f"route {sorted(ids)} was not found"
    return found[0]


@pytest.mark.parametrize("ids", [R1, R2, R4, R5], ids=["R1", "R2", "R4", "R5"])
def test_routes_without_a_kiln(base, ids):
    """The routes that the studio's bench can run."""
    assert route(base, ids).assessment.missing == ()


@pytest.mark.parametrize("ids", [R1, R2, R3B, R3C, R4, R5],
                         ids=["R1", "R2", "R3b", "R3c", "R4", "R5"])  # fmt: skip
def test_routes_with_a_kiln(kiln, ids):
    """The kiln opens the furnace routes."""
    route(kiln, ids)


@pytest.mark.parametrize("ids", [R1, R2, R3A, R4, R5, R6],
                         ids=["R1", "R2", "R3a", "R4", "R5", "R6"])  # fmt: skip
def test_routes_from_bought_oxide_and_acetate(extras, ids):
    """Two more materials open two more routes (and make burning for oxide superfluous)."""
    route(extras, ids)


def test_kiln_routes_are_set_aside_with_the_reason(base):
    """R3b and R3c: which step, which limit, how hot."""
    found = {frozenset(r.ids) for r in base.routes}
    assert frozenset(R3B) not in found
    assert frozenset(R3C) not in found
    reasons: dict[tuple[str, str], str] = {}
    for a in base.aside:
        reasons[a.step, a.limit] = reasons.get((a.step, a.limit), "") + a.reason + "; "
    assert "290 °C" in reasons["burn-basic-copper-carbonate", "bench"]
    assert "250 °C" in reasons["burn-basic-copper-carbonate", "bench"]
    assert "750 °C" in reasons["roast-copper-to-copper-ii-oxide", "bench"]
    shown = {a.step for lost in base.lost for a in lost.reasons}
    assert {"burn-basic-copper-carbonate", "roast-copper-to-copper-ii-oxide"} <= shown


def test_the_detour_through_the_oxide_is_marked_dominated(kiln):
    """R3b burns a carbonate that dissolves as it is."""
    detour = route(kiln, R3B)
    assert detour.dominated is not None
    better = kiln.routes[detour.dominated.by - 1]
    assert len(better.ids) <= len(detour.ids)
    assert route(kiln, R1).dominated is None


def test_amounts_of_r1(base):
    """Every hand-calculated amount of R1."""
    found = route(base, R1).assessment
    draws = {d.supply.main: d for d in found.amounts.draws}
    assert draws["copper-ii-sulfate-pentahydrate"].as_weighed_g == pytest.approx(401.7, rel=0.01)
    soda = draws["sodium-carbonate-anhydrous"]
    assert soda.mass_g == pytest.approx(183.8, rel=0.01)
    assert soda.as_weighed_g == pytest.approx(185.7, rel=0.01)
    assert draws["acetic-acid"].mass_g == pytest.approx(188.9, rel=0.01)
    assert draws["acetic-acid"].volume_mL == pytest.approx(3780, rel=0.01)
    steps = {s.step.id: s for s in found.amounts.steps}
    first = steps["precipitate-basic-copper-carbonate"]
    assert first.product.mass_g == pytest.approx(165.6, rel=0.01)
    assert first.theoretical_g == pytest.approx(174.3, rel=0.01)
    last = steps["crystallise-copper-ii-acetate"]
    assert last.theoretical_g == pytest.approx(293.1, rel=0.01)
    gas = [o.moles * 24.0 for s in steps.values() for o in s.outcomes if o.fate == "gas"]
    assert gas == pytest.approx([18.0, 18.0], rel=0.01)
    sulfate = next(
        o for o in first.outcomes if o.substance == "sodium-sulfate" and o.fate == "waste"
    )
    assert sulfate.mass_g == pytest.approx(224, rel=0.01)
    assert sulfate.moles * 322.19 == pytest.approx(508, rel=0.01)  # as Glauber's salt
    assert found.chain_yield == pytest.approx(0.794, rel=0.005)
    assert found.limiting_yield.supply.main == "copper-ii-sulfate-pentahydrate"


def test_amounts_of_r2(base):
    """The convergent route: both branches counted once."""
    found = route(base, R2).assessment
    draws = {d.supply.main: d for d in found.amounts.draws}
    assert draws["copper-ii-sulfate-pentahydrate"].as_weighed_g == pytest.approx(385.6, rel=0.01)
    assert draws["calcium-carbonate"].as_weighed_g == pytest.approx(154.6, rel=0.01)
    assert draws["acetic-acid"].mass_g == pytest.approx(187.2, rel=0.01)
    assert draws["acetic-acid"].volume_mL == pytest.approx(3740, rel=0.01)
    steps = {s.step.id: s for s in found.amounts.steps}
    mix = steps["copper-ii-acetate-from-calcium-acetate"]
    gypsum = sum(o.mass_g for o in mix.outcomes if o.substance == "calcium-sulfate-dihydrate")
    along = sum(o.mass_g for o in mix.outcomes if o.substance == "calcium-sulfate-anhydrous")
    dissolved = along * 172.17 / 136.14  # 2 to 3 g a litre go along with the liquor
    assert gypsum + dissolved == pytest.approx(260.6, rel=0.01)
    assert 5 < dissolved < 15
    gas = [o.moles * 24.0 for s in steps.values() for o in s.outcomes if o.fate == "gas"]
    assert gas == pytest.approx([36.3], rel=0.01)


def test_other_routes(extras):
    """R3a takes 124 g of 97 % oxide, R4 96.2 g of copper and 3.43 L of peroxide, R6 374 g vitriol."""
    oxide = {d.supply.main: d for d in route(extras, R3A).assessment.amounts.draws}
    # by hand with every yield of R3a at 97.8 % in dissolving; ours loses 5 % there
    expected = 1.4680 / 0.95 * 79.545 / 0.97
    assert oxide["copper-ii-oxide"].as_weighed_g == pytest.approx(expected, rel=0.01)
    copper = {d.supply.main: d for d in route(extras, R4).assessment.amounts.draws}
    moles = 1.4680 / 0.95
    assert copper["copper"].mass_g == pytest.approx(moles * 63.546, rel=0.01)
    assert copper["hydrogen-peroxide"].volume_mL == pytest.approx(
        moles * 2 * 34.014 / 0.030, rel=0.01
    )
    acetate = {d.supply.main: d for d in route(extras, R6).assessment.amounts.draws}
    n = 1.2522 / 0.82
    vitriol = acetate["copper-ii-sulfate-pentahydrate"].as_weighed_g
    assert vitriol == pytest.approx(n * 249.68 / 0.98, rel=0.01)
    bought = acetate["sodium-acetate-trihydrate"].as_weighed_g
    assert bought == pytest.approx(n * 2 * 136.08 / 0.99, rel=0.01)


def test_which_hydrate_of_soda(studio, tmp_path):
    """Soda crystals instead of soda ash: the same moles weigh 2.7 times as much."""
    shelf = tmp_path / "shelf.csv"
    text = (studio / "shelf.csv").read_text(encoding="utf-8")
    crystals = "sodium carbonate decahydrate,2 kg,100 %,,crystals"
    lines = [crystals if line.startswith("soda ash") else line for line in text.splitlines()]
    shelf.write_text("\n".join(lines), encoding="utf-8")
    answer = rf.find("copper(II) acetate monohydrate", "250 g", shelf=shelf,
                     libraries=[studio / "reactions"], top=40)  # fmt: skip
    draws = {d.supply.main: d for d in route(answer, R1).assessment.amounts.draws}
    assert draws["sodium-carbonate-decahydrate"].as_weighed_g == pytest.approx(496.3, rel=0.01)


def test_mass_balance_of_every_route(kiln):
    """Mass is conserved at every step of every route, to 1e-9."""
    for found in kiln.routes:
        for step in found.assessment.amounts.steps:
            assert step.mass_in_g == pytest.approx(step.mass_out_g, rel=1e-9), step.step.id


def test_demo_command(tmp_path, capsys, monkeypatch):
    """`routefinder demo` prints ranked routes and leaves its diagrams."""
    import sys

    from routefinder.cli import main as cli

    monkeypatch.setattr(sys, "argv", ["routefinder", "demo", "--to", str(tmp_path)])
    with pytest.raises(SystemExit) as end:
        cli.run()
    assert not end.value.code
    out = capsys.readouterr().out
    assert "invented" in out
    assert "Set aside by your limits" in out
    assert "local rules and qualified supervision decide" in " ".join(out.split())
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "routefinder-demo-all-routes.svg", "routefinder-demo-route-1.png",
        "routefinder-demo-route-1.svg",
    ]  # fmt: skip
