"""How long a furnace takes up and down, apart from any soak: arithmetic that needs no records.

up      (T - 20 degC) / ramp
down    Newton's law, t = tau ln((T - 20) / (60 - 20)), with tau set so that 900 degC takes
        12 h (10 to 14 h, common practice)
"""

from __future__ import annotations

import math

ROOM_C = 20.0
TOUCH_C = 60.0  # what can be handled
KILN_RAMP_K_H = 150.0  # common practice for a pottery kiln
OVEN_RAMP_K_H = 600.0  # a fan oven takes about 20 min to 220 degC; common practice
KILN_FROM_C = 300.0  # hotter than this it is a kiln, whose door stays shut until it is cold
KILN_COOLING_MIN = 720.0  # 10 to 14 h from 900 degC to the touch; common practice
KILN_COOLED_FROM_C = 900.0


def ramp_minutes(to_C: float, ramp_K_h: float, start_C: float = ROOM_C) -> float:
    """Minutes to a temperature at a steady ramp: 900 degC at 150 K/h is 5.9 h."""
    return max(to_C - start_C, 0.0) / ramp_K_h * 60


def cooling_minutes(from_C: float, from_900_min: float = KILN_COOLING_MIN) -> float:
    """Minutes from a temperature down to the touch (60 degC) in a closed kiln.

    ``from_900_min`` is what it takes from 900 degC.
    """
    if from_C <= TOUCH_C:
        return 0.0
    per = from_900_min / math.log((KILN_COOLED_FROM_C - ROOM_C) / (TOUCH_C - ROOM_C))
    return per * math.log((from_C - ROOM_C) / (TOUCH_C - ROOM_C))


def usual_minutes(to_C: float) -> float:
    """Minutes up and down of a usual oven or kiln: what a record's waiting time has in it."""
    kiln = to_C > KILN_FROM_C
    up = ramp_minutes(to_C, KILN_RAMP_K_H if kiln else OVEN_RAMP_K_H)
    return up + (cooling_minutes(to_C) if kiln else 0.0)
