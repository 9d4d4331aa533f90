"""What the chapter on balance works out: one engine's shaking, and its parts in another layout."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from enginecalc.records.balance_of import (
    Firing,
    Shaking,
    bob_card,
    firing,
    shaking,
    shaking_orders,
)
from enginecalc.records.bob_card import rods_by_pin, share_of
from enginecalc.records.layout import layout_table
from enginecalc.units import Q

_TURN = Q(np.arange(0.0, 360.0, 1.0), "deg")


@dataclass(frozen=True)
class Shaken:
    """What a layout shakes with the engine's parts.

    `only_by_offset`: its couple is there only because one bank stands behind the other.
    `flush`: no bank offset was counted, as the rod's width is not known.
    """

    by_angle: Shaking
    orders: Any
    fires: Firing
    only_by_offset: bool
    flush: bool


def bob_cards(engine):
    """Return (crank pins, card) for each sort of pin: as many rods sit on it."""
    sorts = {}
    for pin, rods in sorted(rods_by_pin(engine.layout).items()):
        sorts.setdefault(rods, []).append(pin)
    return [(pins, bob_card(engine, pins[0])) for pins in sorts.values()]


def shaken(engine, held, **given):
    """Return the `Shaken` of an engine, with counterweights when `held`."""
    orders = shaking_orders(engine, held, **given)
    flush = shaking_orders(engine, held, **{**given, "bank_offset": 0 * engine.block.bore_spacing})
    couple, without = (each["couple ratio"].max() for each in (orders, flush))
    return Shaken(
        shaking(engine, _TURN, held, **given),
        orders,
        firing(engine),
        only_by_offset=bool(engine.layout.kind == "V" and without < 1e-6 < couple),
        flush="bank_offset" in given,
    )


def of_layout(engine, name, held):
    """Return the `Shaken` of an engine's parts in another layout, turned the same way."""
    layout = layout_table(name)
    if engine.layout.turn < 0:  # the same crank the other way: leads change sign, order runs back
        layout["rotation"] = "reverse"
        layout["crank_pins"] = [f"{-float(each.split()[0]) % 360:g} deg"
                                for each in layout["crank_pins"]]  # fmt: skip
        first, *others = layout["firing_order"]
        layout["firing_order"] = [first, *reversed(others)]
    other = engine.altered({"layout": layout}, fitting=False)
    given = {"reciprocating_share": share_of(engine)} if held else {}
    if other.layout.kind == "V" and engine.rod.width is None:
        given["bank_offset"] = 0 * engine.block.bore_spacing
    return shaken(other, held, **given)
