"""The balanced order against what a practitioner chooses, each choice stated with its reason.

The choices were made from the chemistry alone (common practice), before the weights were tuned.
"""

from __future__ import annotations

import pytest

import routefinder as rf
from routefinder.errors import InputError
from routefinder.library import settings

# target -> (a step that the first way has, a step that it does not have, why)
CHOICES = {
    "basic-zinc-carbonate": (
        "precipitate-basic-zinc-carbonate", "precipitate-basic-zinc-carbonate-from-zinc-acetate",
        "soda ash on the sulfate: nobody buys the acetate, or bicarbonate, to make the carbonate"),
    "bismuth-iii-oxide": (
        "dissolve-bismuth-in-hydrochloric-acid-and-peroxide", "burn-bismuth-to-bismuth-oxide",
        "precipitated oxide is pure; raking molten metal for hours at 700 degC is not home work"),
    "tin-iv-oxide": (
        "calcine-hydrous-tin-oxide", "burn-tin-to-tin-oxide",
        "a precipitate that is fired is fine and white; raked metal is slow and holds beads"),
    "zinc-acetate-dihydrate": (
        "dissolve-zinc-oxide-in-acetic-acid", "zinc-acetate-from-calcium-acetate",
        "oxide and acid give a clean liquor, without gypsum in it"),
    "ammonium-sulfate": (
        "crystallise-ammonium-sulfate", "precipitate-iron-ii-carbonate-with-ammonium-bicarbonate",
        "an acid is neutralised with ammonia; nobody makes iron carbonate for its mother liquor"),
    "calcium-hydroxide": (
        "slake-quicklime", "precipitate-slaked-lime-with-caustic-soda",
        "lime is slaked; lye is dearer than what it would throw down"),
    "copper-ii-sulfate-pentahydrate": (
        "dissolve-copper-ii-oxide-in-sulfuric-acid", "dissolve-copper-in-peroxide-and-sulfuric-acid",
        "oxide dissolves in warm acid within the hour; metal needs days or much peroxide"),
    "sodium-carbonate-anhydrous": (
        "dry-sodium-carbonate-monohydrate", "carbonate-soda-solution",
        "washing soda is dried; nobody gases it to bicarbonate first"),
    "potassium-carbonate": (
        "bake-potassium-bicarbonate", "burn-cream-of-tartar",
        "bicarbonate is baked in an oven; burning tartar is an old and sooty way"),
    "sodium-hydroxide": (
        "causticise-soda-with-slaked-lime", "precipitate-baking-soda-with-ammonium-bicarbonate",
        "soda ash and slaked lime, the way of the soap boilers"),
    "manganese-ii-carbonate": (
        "precipitate-manganese-carbonate-with-soda", "reduce-manganese-dioxide-with-oxalic-acid",
        "from the sulfate that garden shops sell, not from pyrolusite"),
    "magnesium-hydroxide": (
        "hydrate-magnesia", "burn-magnesium-carbonate", "magnesia and hot water, nothing to wash"),
    "zinc-carbonate": (
        "precipitate-zinc-carbonate-with-baking-soda", "cement-copper-with-zinc",
        "bicarbonate on bought zinc sulfate; not on the leavings of a copper cementation"),
    "chromium-iii-oxide": (
        "precipitate-chromium-hydroxide-with-soda", "precipitate-chromium-hydroxide-with-magnesia",
        "soda washes out; magnesia in excess would be fired into the green"),
    "zinc-oxide": (
        "precipitate-zinc-oxide-hot", "burn-zinc-acetate",
        "hot lye on the sulfate gives it in one go; the acetate is a dear thing to burn"),
    "tartaric-acid": (
        "precipitate-calcium-tartrate-with-calcium-chloride", "precipitate-calcium-tartrate-with-lime",
        "all the tartrate must be thrown down; lime alone leaves half of it in the liquor"),
    "potassium-hydrogen-tartrate": (
        "precipitate-cream-of-tartar-with-potash", "precipitate-cream-of-tartar-from-rochelle-salt",
        "acid and potash directly, no detour over Rochelle salt"),
    "iron-ii-sulfate-heptahydrate": (
        "crystallise-iron-ii-sulfate", "cement-copper-with-iron",
        "copperas is recrystallised from the dried salt; not made as the leavings of a cementation"),
    "calcium-acetate-monohydrate": (
        "dissolve-chalk-in-acetic-acid", "precipitate-zinc-phosphate-from-zinc-acetate",
        "chalk and vinegar, the school experiment"),
    "sodium-thiosulfate-pentahydrate": (
        "boil-sulfite-with-sulfur", "neutralise-metabisulfite-with-caustic-soda",
        "sulfite is on sale; it is not first made from metabisulfite"),
}  # fmt: skip


@pytest.mark.parametrize("target", CHOICES)
def test_what_a_practitioner_chooses_comes_first(shipped, target):
    """The first way has the step chosen and not its rival, which the library does hold."""
    chosen, rival, why = CHOICES[target]
    assert {chosen, rival} <= set(shipped.steps)
    first = rf.find(target, "100 g", library=shipped, top=1).routes[0]
    assert chosen in first.ids, (why, first.ids)
    assert rival not in first.ids, (why, first.ids)


def test_the_weights_can_be_set(shipped, tmp_path, monkeypatch):
    """With nothing said against raking and purity the short way through the fire comes first."""
    file = tmp_path / "settings.toml"
    file.write_text("[balanced]\nraking = 0\nimpurity = 0\n")
    monkeypatch.setenv("ROUTEFINDER_SETTINGS", str(file))
    first = rf.find("bismuth-iii-oxide", "100 g", library=shipped, top=1).routes[0]
    assert first.ids == ("burn-bismuth-to-bismuth-oxide",)


@pytest.mark.parametrize("line", ["raking = -1", 'loss = "much"', "beauty = 1", "step = true"])
def test_a_wrong_weight_is_refused(tmp_path, line):
    """In one sentence that names the file and the weight."""
    file = tmp_path / "settings.toml"
    file.write_text(f"[balanced]\n{line}\n")
    for reader in (settings.read, settings.weights):
        with pytest.raises(InputError, match="balanced." + line.split()[0]):
            reader(file)


def test_the_page_says_the_weights_there_are():
    """What may be set is what the order weighs."""
    from dataclasses import fields

    from routefinder.choice.order import Weights

    assert tuple(f.name for f in fields(Weights)) == settings.WEIGHED
