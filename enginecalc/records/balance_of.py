"""When an engine fires and what it shakes; the same of a well-known layout without an engine.

In multiples, a force counts one cylinder's reciprocating mass times crank radius times speed
squared, and a couple that times the pitch: the distance along the crank from one pin, or pair of
split pins, to the next.
"""

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pint

from enginecalc.balance import (
    ORDERS,
    cylinder_positions,
    order_axes,
    shaking_couple,
    shaking_force,
)
from enginecalc.bob_weight import bob_weight
from enginecalc.records.bob_card import (
    MASSES,
    SHARE,
    bob_card,
    card_of,
    must_have,
    rods_by_pin,
    share_of,
)
from enginecalc.records.layout import Layout, layout_table
from enginecalc.units import Q, to_si

__all__ = ["Firing", "Shaking", "bob_card", "firing", "shaking", "shaking_of_layout",
           "shaking_orders"]  # fmt: skip
_A_TURN = Q(np.arange(720) * (2 * np.pi / 720), "rad")
_ROUNDING = 1e-9  # in multiples: what is less is rounding


@dataclass(frozen=True)
class Firing:
    """When the cylinders fire over two turns of the crank.

    `gaps` is by pair of cylinders, the last one and the first of the next cycle with them;
    `uneven` holds those that differ from two turns over the number of cylinders. `companions`
    reach their top together.
    """

    instants: dict
    gaps: dict
    uneven: dict
    companions: list


def firing(engine):
    """Return the `Firing` of an engine: instants by cylinder and gaps by pair, quantities."""
    instants = engine.layout.firing_angles()
    pairs = itertools.pairwise([*instants, *[*instants][:1]])
    steps = np.diff([*instants.values(), 720.0])
    gaps = {pair: Q(step, "deg") for pair, step in zip(pairs, steps, strict=True)}
    even = 720.0 / len(instants)
    return Firing(
        instants={number: Q(angle, "deg") for number, angle in instants.items()},
        gaps=gaps,
        uneven={pair: gap for pair, gap in gaps.items() if abs(gap.m - even) > 1e-6},
        companions=engine.layout.companions(),
    )


@dataclass(frozen=True)
class Shaking:
    """Net force and couple of the moving parts: x and y of the front view, by crank angle.

    The couple is force times place along the crank from mid-length: + up lifts the rear end.
    """

    crank_angle: pint.Quantity
    force: pint.Quantity
    couple: pint.Quantity


def shaking(
    engine, crank_angle, counterweights=True, *, reciprocating_share=None, bank_offset=None
):
    """Return the `Shaking` of an engine at its running speed.

    Parameters
    ----------
    engine : Engine
        With masses, bore spacing and running speed.
    crank_angle : quantity
        Of the first cylinder, from its crank pin's top.
    counterweights : bool
        True: the crank is balanced to its bob weights. False: nothing holds against pistons and
        big ends.
    reciprocating_share : float
        Instead of the engine file's; 0 balances the rotating parts only.
    bank_offset : quantity
        How far one bank stands behind the other along the crank. When not given: of a V the
        width of a rod, of a flat engine half the bore spacing (crank pins evenly spaced).

    Raises
    ------
    ValueError
        When something is missing: names it, and says where to measure it.
    """
    moving, positions = _moving(engine, counterweights, reciprocating_share, bank_offset)
    return Shaking(
        crank_angle,
        force=shaking_force(crank_angle, **moving),
        couple=shaking_couple(crank_angle, **moving, positions=positions),
    )


def shaking_orders(
    engine, counterweights=True, *, reciprocating_share=None, bank_offset=None, orders=ORDERS
):
    """Return what an engine shakes at its running speed, by order.

    Parameters
    ----------
    engine : Engine
        As for `shaking`, and so are counterweights, reciprocating_share and bank_offset.
    orders : tuple of int
        Multiples of crank speed.

    Returns
    -------
    pandas.DataFrame
        Indexed by order. Columns force, least force, couple, least couple: the half axes of the
        ellipse each order's vector runs round, quantities; and the same in multiples: force
        ratio, least force ratio, couple ratio, least couple ratio.
    """
    moving, positions = _moving(engine, counterweights, reciprocating_share, bank_offset)
    mass, stroke, speed = (
        to_si(moving[each]) for each in ("reciprocating_mass", "stroke", "engine_speed")
    )
    force = mass * stroke / 2 * speed**2
    couple = force * to_si(_pitch(engine.layout, engine.block.bore_spacing))
    ratios = _order_ratios(moving, positions, force, couple, orders)
    sizes = zip(ratios, [(force, "N")] * 2 + [(couple, "N*m")] * 2, strict=True)
    made = {
        name.removesuffix(" ratio"): [*Q(ratios[name] * size, unit)] for name, (size, unit) in sizes
    }
    return _by_order({**made, **ratios}, orders)


def shaking_of_layout(
    name,
    numbering="along the crank",
    rod_ratio=1.75,
    *,
    rotation="standard",
    reciprocating_share=0.0,
    bank_offset=None,
    orders=ORDERS,
):
    """Return what a well-known layout shakes, by order, in multiples; its rotating parts balanced.

    Parameters
    ----------
    name, numbering : str
        As in `enginecalc.records.layout.layout_table`.
    rod_ratio : float
        Rod length over stroke.
    rotation : str
        "standard", or "reverse": the same crank turned the other way.
    reciprocating_share : float
        Part of each cylinder's reciprocating mass that counterweights hold opposite its pin.
    bank_offset : float
        How far one bank stands behind the other, in pitches. When not given: of a V none, of a
        flat engine one (crank pins evenly spaced).
    orders : tuple of int
        Multiples of crank speed.

    Returns
    -------
    pandas.DataFrame
        Indexed by order; columns force ratio, least force ratio, couple ratio, least couple
        ratio, as in `shaking_orders`.

    Raises
    ------
    ValueError
        When there is no such layout, numbering or rotation, or the crank cannot turn.
    """
    layout = Layout.model_validate(layout_table(name, numbering))
    if rotation not in ("standard", "reverse"):
        raise ValueError(f"rotation {rotation!r} is not known; take standard or reverse")
    if rotation == "reverse":
        leads = [-lead for lead in layout.crank_pins]
        layout = layout.model_copy(update={"rotation": "reverse", "crank_pins": leads})
    if not 0.5 < rod_ratio < np.inf:
        raise ValueError(
            "rod_ratio must be finite and greater than 0.5, or the crank cannot turn, got"
            f" {rod_ratio:g}"
        )
    spacing = Q(1.0, "m") / _pitch(layout, 1.0)
    offset = _usual_offset(layout, spacing) if bank_offset is None else Q(bank_offset, "m")
    moving = {
        "stroke": Q(2.0, "m"),  # mass, crank radius, speed and pitch of one
        "rod_length": Q(2.0 * rod_ratio, "m"),
        "engine_speed": Q(1.0, "rad/s"),
        "reciprocating_mass": Q(1.0, "kg"),
        "counterweight_mass": Q(float(reciprocating_share), "kg"),
        **_phasing(layout),
    }
    ratios = _order_ratios(moving, _positions(layout, spacing, offset), 1.0, 1.0, orders)
    return _by_order(ratios, orders)


def _by_order(columns, orders):
    return pd.DataFrame(columns, index=pd.Index(orders, name="order"))


def _order_ratios(moving, positions, force, couple, orders):
    """Return half axes by order, in multiples of a force and a couple in SI."""
    vectors = (
        shaking_force(_A_TURN, **moving).m / force,
        shaking_couple(_A_TURN, **moving, positions=positions).m / couple,
    )
    axes = np.concatenate([order_axes(each, orders) for each in vectors])
    names = ("force ratio", "least force ratio", "couple ratio", "least couple ratio")
    return dict(zip(names, np.where(axes < _ROUNDING, 0.0, axes), strict=True))


def _moving(engine, counterweights, reciprocating_share, bank_offset):
    """Return the arguments of an engine's shaking force, and its cylinders' positions."""
    layout, spacing = engine.layout, engine.block.bore_spacing
    needed = [*MASSES, "block.bore_spacing", "running.engine_speed"]
    if counterweights and reciprocating_share is None:
        needed.append(SHARE)
    if layout.kind == "V" and bank_offset is None:
        needed.append("rod.width")
    must_have(engine, "shaking", needed)
    if bank_offset is None:
        bank_offset = _usual_offset(layout, spacing, engine.rod.width)
    share = share_of(engine) if reciprocating_share is None else reciprocating_share
    by_pin = rods_by_pin(layout)
    rods = np.array([by_pin[each.pin] for each in layout.cylinder])
    card = card_of(engine, rods, share)
    moving = {
        "stroke": engine.crank.stroke,
        "rod_length": engine.rod.length,
        "engine_speed": engine.running.engine_speed,
        "reciprocating_mass": engine.figure("reciprocating_mass"),
        "rotating_mass": card["big_end"] + card["rod_shells"] + card["oil"] / rods,
        "pin_offset": engine.figure("pin_axis_offset"),
        **_phasing(layout),
    }
    if counterweights:
        moving["counterweight_mass"] = bob_weight(**card) / rods
    return moving, _positions(layout, spacing, bank_offset)


def _phasing(layout):
    """Return banks and tops by cylinder, and the rotation."""
    return {
        "bank_angles": layout.bank_angles(),
        "tdc_angles": Q(np.array([*layout.tdc_angles().values()]), "deg"),
        "rotation": layout.turn,
    }


def _positions(layout, spacing, bank_offset):
    """Return each cylinder's place along the crank from mid-length, + to the rear."""
    pins = np.array([each.pin for each in layout.cylinder])
    front = layout.cylinder[int(np.argmin(pins))].bank
    sides = [-1 if each.bank == front else 1 for each in layout.cylinder]
    if layout.kind == "inline":
        places, sides = pins, [0] * len(pins)
    elif len(set(pins)) < len(pins):
        places = pins
    else:  # split pins, or a boxer: a pin to each cylinder
        at = {n: place for bank in layout.by_bank().values() for place, n in enumerate(bank)}
        places = np.array([at[number] for number in layout.numbers])
    return cylinder_positions(places, sides, spacing, bank_offset)


def _pitch(layout, spacing):
    """Return the distance from one crank pin, or pair of split pins, to the next."""
    return spacing / 2 if layout.kind == "flat" else spacing


def _usual_offset(layout, spacing, rod_width=None):
    """Return how far one bank stands behind the other when nobody says."""
    if layout.kind == "V" and rod_width is not None:
        return rod_width
    return spacing / 2 if layout.kind == "flat" else 0 * spacing
