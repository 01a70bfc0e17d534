"""How each bench test is done, in two lines and a caution: words of the trade, no arithmetic.

Procedures from memory: Vogel's Textbook of Quantitative Chemical Analysis and common practice.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class HowTo:
    """``first`` and ``then`` are the two lines; ``care`` the cautions; ``means`` of a sign."""

    first: str
    then: str
    care: str
    means: str = ""


HOW = {
    "alkali": HowTo(
        "Stir the weighed sample into 50 mL of water with two drops of indicator: methyl orange or "
        "bromophenol blue for all alkali, phenolphthalein for the first end point.",
        "Run in the acid from the burette, slower near the end, to the first lasting change; what "
        "does not dissolve (lime, chalk) is given time, or an excess of acid and lye back.",
        "Goggles and gloves; acid and lye both burn eyes. Foams where there is carbonate: a wide "
        "flask. Keep what gives off a poisonous gas with acid (sulfide, cyanide) away from it.",
    ),
    "acid": HowTo(
        "Dilute the weighed sample to 50 mL with boiled water, two drops of phenolphthalein.",
        "Run in the lye from the burette to the first pink that stays half a minute.",
        "Goggles and gloves: lye blinds. Titrate hot or in spirit (no flame near) what water does "
        "not dissolve, such as fatty acids.",
    ),
    "hydrometer": HowTo(
        "Bring the clear liquor to the temperature of the table (20 °C as a rule) in a tall jar.",
        "Float the hydrometer free of the wall and bubbles, read at the level of the liquid.",
        "Goggles with acid and lye. It reads all that is dissolved: only one salt may be in it.",
    ),
    "acid gas": HowTo(
        "Put the weighed sample with 20 mL of water in a flask whose gas goes into a filled "
        "measuring jar upside down in salted water (or a big syringe).",
        "Tip in 20 mL of dilute acid from a small tube inside the closed flask, shake, and read "
        "the gas at the level of the water outside, at room temperature.",
        "Never close it tight: the gas must get out. Goggles. Not for sulfides or sulfites, whose "
        "gas is poisonous.",
    ),
    "ignition": HowTo(
        "Weigh an empty crucible that has been glowed, then with the dry sample.",
        "Glow it open for half an hour, let it cool in a dry closed place, weigh; again until two "
        "weights agree.",
        "Tongs and heat gloves, under the hood or outdoors: what leaves may be harmful. No "
        "nitrates, no organic salts beside oxidisers.",
    ),
    "residue": HowTo(
        "Stir the weighed sample for ten minutes in a hundred times its weight of water.",
        "Filter through a weighed paper, rinse, dry at 105 °C, weigh.",
        "Gloves; the filtrate holds what dissolved and is treated like the liquor of the step.",
    ),
    "acid residue": HowTo(
        "Warm the weighed sample for ten minutes in fifty times its weight of dilute acid.",
        "Filter through a weighed paper, rinse until it is no longer acid, dry at 105 °C, weigh.",
        "Goggles, gloves, hood: acid fumes, and gas where there is carbonate. Not for sulfides or "
        "ultramarine: their gas with acid is very poisonous.",
    ),
    "iodometry": HowTo(
        "Dissolve the weighed sample in 50 mL of water with 5 mL of dilute acetic acid (copper) or "
        "20 mL of dilute sulfuric acid (peroxide), add 2 g of potassium iodide.",
        "Run in thiosulfate until pale yellow, then starch, then to the end of the blue.",
        "Goggles and gloves: iodine stains and burns. Iron(III) and other oxidisers count too.",
    ),
    "chloride": HowTo(
        "Dissolve the weighed sample in 50 mL of water, neutral, with a few drops of potassium "
        "chromate.",
        "Run in silver nitrate to the first red brown that stays.",
        "Gloves: silver nitrate stains and burns, chromate is poisonous and may cause cancer; both "
        "go to the heavy metal waste.",
    ),
    "pH": HowTo(
        "Stir 1 g in 10 mL of boiled water, let it settle.",
        "Dip a strip, or a meter that was set with two buffers, into the clear part.",
        "Never hold a strip into the pot with the fingers over hot lye.",
        "what it should be is sharp for a strong acid or alkali; washed salts of those are near 7",
    ),
    "melting": HowTo(
        "Dry it, powder it, press 3 mm of it into a thin tube beside the thermometer in an oil "
        "bath or block.",
        "Heat at 2 K a minute near the end; note where it begins to run and where it is clear.",
        "Oil bath below its smoke point, goggles; not for what decomposes.",
        "a range within 2 K of the figure is clean; lower and longer means impure or wet",
    ),
    "flame": HowTo(
        "Clean a wire in acid and flame until it gives no colour, then pick up a grain, moist.",
        "Hold it in the edge of a colourless flame, in the dark.",
        "Goggles; a grain, no more: barium and copper salts are poisonous.",
        "the colour says that the element is there, not how much; sodium hides the others",
    ),
    "dissolving": HowTo(
        "Stir 1 g into 20 mL of warm water (or what the step takes).",
        "Look through it against the light when it has cooled.",
        "Gloves and goggles as for the product.",
        "clear without rest: nothing insoluble is left of the start; a rest is not yet through",
    ),
}
