"""The GHS pictograms as SVG: our own drawing of the UN symbols in a red diamond, with alt text.

Drawn on a field of 100 x 100; the diamond's corners are the middles of the sides. Black symbol on
white, red edge, as UN GHS 1.4.10.4 asks; the edge carries the meaning in print as well, since it
stays a thick line in black and white.
"""

from __future__ import annotations

from routefinder.hazards.label import NAMES

_FLAME = (
    "M50 20 C53 30 66 36 66 52 C66 60 61 66 56 68 C59 63 59 57 54 52 C54 58 50 59 49 63 "
    "C47 60 47 57 48 54 C43 58 42 63 45 68 C38 66 34 60 34 53 C34 45 39 42 40 35 "
    "C43 38 44 41 44 44 C49 38 52 30 50 20 Z"
)
_SYMBOLS: dict[str, str] = {
    # a bomb that bursts: ball, splinters, rays
    "GHS01": (
        '<circle cx="44" cy="58" r="13"/>'
        '<path d="M50 42 L56 22 L60 40 L74 30 L66 45 L84 46 L68 53 L80 64 L62 60 L62 72 L55 62 Z"/>'
        '<path d="M30 34 l5 3 l-3 5 l-5 -3 Z M22 48 l6 1 l-2 5 l-5 -1 Z M38 26 l4 -1 l1 5 l-5 1 Z '
        'M27 66 l5 -2 l1 5 l-5 2 Z"/>'
    ),
    "GHS02": f'<path d="{_FLAME}"/><path d="M32 72 h36 v4 h-36 Z"/>',
    "GHS03": (
        '<path d="M50 14 C52 22 62 27 62 38 C62 44 59 48 55 50 C57 46 56 42 53 39 '
        "C53 43 50 44 49 47 C48 45 48 43 48 41 C45 44 44 47 46 50 C41 48 38 44 38 39 "
        'C38 33 42 31 43 26 C45 28 46 30 46 32 C49 28 51 21 50 14 Z"/>'
        '<circle cx="50" cy="62" r="11" fill="none" stroke="#000" stroke-width="5"/>'
        '<path d="M36 78 h28 v4 h-28 Z"/>'
    ),
    # a cylinder lying aslant: body with round foot, neck, valve
    "GHS04": (
        '<g transform="rotate(-30 50 50)"><path d="M26 42 h36 q5 0 8 5 h7 v6 h-7 q-3 5 -8 5 '
        'h-36 q-6 -8 0 -16 Z"/><path d="M79 44 h3 v12 h-3 Z"/></g>'
    ),
    # two tubes that drip: on a bar, on a hand
    "GHS05": (
        '<g transform="rotate(-24 34 34)"><path d="M20 29 h24 v9 h-24 Z"/></g>'
        '<g transform="rotate(24 66 34)"><path d="M56 29 h24 v9 h-24 Z"/></g>'
        '<path d="M42 35 q3 6 0 8 q-3 -2 0 -8 Z M42 45 q3 6 0 8 q-3 -2 0 -8 Z '
        'M58 35 q3 6 0 8 q-3 -2 0 -8 Z M58 45 q3 6 0 8 q-3 -2 0 -8 Z"/>'
        '<path d="M24 60 h14 q4 6 8 0 h2 v7 h-24 Z"/>'
        '<path d="M52 62 q6 -4 10 -2 q-2 4 2 5 q5 0 6 -4 l8 1 v6 q-12 7 -18 3 Z"/>'
        '<path d="M38 54 l2 3 M46 54 l-2 3 M55 55 l2 3 M63 54 l-2 3" stroke="#000" '
        'stroke-width="1.6" fill="none"/>'
    ),
    # skull with eyes, nose and teeth; bones crossed behind
    "GHS06": (
        '<path d="M26 62 L72 80 M74 62 L28 80" stroke="#000" stroke-width="6" '
        'stroke-linecap="round" fill="none"/>'
        '<circle cx="25" cy="59" r="3.4"/><circle cx="22.5" cy="64" r="3.4"/>'
        '<circle cx="75" cy="59" r="3.4"/><circle cx="77.5" cy="64" r="3.4"/>'
        '<circle cx="28" cy="83" r="3"/><circle cx="72" cy="83" r="3"/>'
        '<path d="M50 18 C34 18 28 29 30 40 C31 45 35 47 38 49 L38 58 Q50 63 62 58 L62 49 '
        'C65 47 69 45 70 40 C72 29 66 18 50 18 Z" stroke="#fff" stroke-width="1.5"/>'
        '<g fill="#fff"><circle cx="41.5" cy="38" r="5.4"/><circle cx="58.5" cy="38" r="5.4"/>'
        '<path d="M50 43 l3.4 6 h-6.8 Z"/>'
        '<path d="M43.5 52 h1.6 v6 h-1.6 Z M49.2 52.5 h1.6 v6.5 h-1.6 Z M54.9 52 h1.6 v6 h-1.6 Z"/>'
        "</g>"
    ),
    "GHS07": '<path d="M43 20 h14 l-3.5 38 h-7 Z"/><circle cx="50" cy="71" r="7"/>',
    # head and shoulders, a white star on the chest
    "GHS08": (
        '<circle cx="50" cy="26" r="9"/>'
        '<path d="M31 46 Q33 37 44 36 L56 36 Q67 37 69 46 L71 66 L62 82 L38 82 L29 66 Z"/>'
        '<path fill="#fff" d="M50 42 L54 53 L65 48 L58.5 58 L68 64 L56.5 65 L57 77 L50 68 '
        'L43 77 L43.5 65 L32 64 L41.5 58 L35 48 L46 53 Z"/>'
    ),
    # a bare tree on a bank, a dead fish in the water
    "GHS09": (
        '<path d="M37 66 L39 44 L30 36 L31 35 L39 39 L37 27 L39 26.5 L42 38 L49 25 L51 26 L45 41 '
        'L55 33 L56 34.5 L45 47 L46 66 Z"/>'
        '<path d="M16 66 Q34 62 50 66 Q58 70 66 75 Q50 79 29 77 Z"/>'
        '<path d="M54 62 Q65 50 79 60 L87 55 L85 62 L87 68 L79 64 Q66 72 54 62 Z"/>'
        '<path d="M59 60 l3 3 m0 -3 l-3 3" stroke="#fff" stroke-width="1.4" fill="none"/>'
    ),
}


_SCALE = {"GHS05": (0.84, 48), "GHS06": (0.8, 48), "GHS08": (0.86, 50), "GHS09": (0.82, 50)}


def alt(code: str) -> str:
    """The alt text of a pictogram: "GHS05, corrosion"."""
    return f"{code}, {NAMES[code]}"


def svg(code: str, size: int = 64) -> str:
    """A pictogram (GHS01 to GHS09) as a standing-alone SVG of ``size`` pixels, with alt text.

    Raises KeyError for any other code.
    """
    scale, up = _SCALE.get(code, (1.0, 50))
    place = f"translate(50 {up}) scale({scale}) translate(-50 -50)"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}" '
        f'viewBox="0 0 100 100" role="img" aria-label="{alt(code)}"><title>{alt(code)}</title>'
        '<path d="M50 3 L97 50 L50 97 L3 50 Z" fill="#fff" stroke="#d40000" stroke-width="4.5" '
        f'stroke-linejoin="miter"/><g fill="#000" transform="{place}">{_SYMBOLS[code]}</g></svg>'
    )
