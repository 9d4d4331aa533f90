"""The rod bolts of an engine: what a torque makes of them, what they bear, what holds the joint.

They stand beside the one table of figures, which has neither a least and a most nor bolts of which
nothing may be said: here a torque belongs to one lubricant, and a bolt tightened into yield is
refused.
"""

from dataclasses import dataclass

import numpy as np
import pint

from enginecalc import bolted_joint, fasteners
from enginecalc.records import figures
from enginecalc.records.bolt_faults import (
    INTO_YIELD,
    NOT_NAMED,
    bolt_faults,
    bolt_pieces,
    friction_doubts,
    friction_of,
    no_lubricant,
    same_words,
)
from enginecalc.records.reference import rows
from enginecalc.records.results import Result, limits_of
from enginecalc.units import Q, short, ureg

WRENCH_TOLERANCE = 0.04  # of the torque: [iso6789]
_THREAD = "rod_bolt.diameter rod_bolt.pitch"
_MIDDLE = f"{_THREAD} middle middle head_radius"
# name, formula, what it takes: fields, friction, or figures further up
_STEPS = {
    name: (formula, takes.split())
    for name, formula, takes in (
        (
            "head_radius",
            fasteners.mean_head_radius,
            "rod_bolt.washer_outside rod_bolt.washer_inside",
        ),
        ("stress_area", fasteners.tensile_stress_area, f"{_THREAD} rod_bolt.series"),
        ("least_area", lambda thread, shank: min(thread, *shank), "stress_area areas"),
        (
            "preload",
            fasteners.preload_from_torque,
            f"rod_bolt.torque {_THREAD} friction friction head_radius",
        ),
        ("preload_u", bolted_joint.preload_uncertainty, f"{_MIDDLE} friction_u wrench_tolerance"),
        ("nut_factor", fasteners.nut_factor, _MIDDLE),
        ("stretch", fasteners.bolt_stretch, "preload lengths areas rod_bolt.elastic_modulus"),
        ("stress", bolted_joint.bolt_stress, "preload stress_area"),
        ("shank_stress", bolted_joint.bolt_stress, "preload least_area"),
        ("proof_share", bolted_joint.strength_share, "stress rod_bolt.proof_strength"),
        ("yield_share", bolted_joint.strength_share, "stress rod_bolt.yield_strength"),
        ("shank_share", bolted_joint.strength_share, "shank_stress rod_bolt.proof_strength"),
        ("snug_share", lambda snug, full: snug / full, "rod_bolt.snug_torque rod_bolt.torque"),
        (
            "angle",
            lambda stretch, *joint: bolted_joint.turn_angle(stretch[1], *joint),
            "stretch rod_bolt.joint_stiffness_ratio rod_bolt.pitch snug_share",
        ),
        (
            "clamp_left",
            lambda preload, load: bolted_joint.separation_margin(preload[0], load),
            "preload load",
        ),
    )
}
_FRICTION = ["rod_bolt.friction_low", "rod_bolt.friction_high"]
_INPUTS = {
    "friction": _FRICTION,
    "middle": _FRICTION,
    "friction_u": _FRICTION,
    "lengths": ["rod_bolt.shank"],
    "areas": ["rod_bolt.shank"],
}
_SHOWN = ("preload", "preload_u", "nut_factor", "stretch", "stress", "shank_stress", "proof_share",
          "yield_share", "shank_share", "angle", "load", "clamp_left")  # fmt: skip
_MAKER = "from the bolt's maker"
WHERE = {
    "rod_bolt.torque": f"{_MAKER} or the engine's, with the lubricant it was given for",
    "rod_bolt.proof_strength": f"{_MAKER}; of a grade, from the table of property classes",
    "rod_bolt.yield_strength": f"{_MAKER}; of a grade, from the table of property classes",
    "rod_bolt.elastic_modulus": f"{_MAKER}, about 30000 ksi or 205 GPa of steel",
    "rod_bolt.joint_stiffness_ratio": f"{_MAKER}, or from bolts turned on and measured",
    "rod_bolt.snug_torque": f"{_MAKER}; an angle counts from there, without it none is given",
    "rod_bolt.shank": "lengths and diameters along the bolt, of thread at its stress area",
}


@dataclass(frozen=True)
class Band:
    """A figure with the greatest friction, the middle one and the least; quantities in SI."""

    least: pint.Quantity
    middle: pint.Quantity
    most: pint.Quantity


@dataclass(frozen=True)
class BoltCard:
    """What an engine file's rod bolt comes to; what is not known is None, and `reasons` says why.

    `friction` is (least, middle, greatest). `preload_u` is a standard uncertainty as a share of
    the middle preload. `stress`, `proof_share` and `yield_share` are on the thread's stress area,
    as standards have them; `shank_stress` and `shank_share`, of proof strength, where the bolt is
    thinnest. `angle` is turned on from snug for the middle stretch. `load` pulls on each of two
    bolts at the engine's speed, and `clamp_left` is the least preload less that load.
    """

    torque: pint.Quantity | None
    lubricant: str
    friction: tuple | None
    friction_from: str
    preload: Band | None
    preload_u: pint.Quantity | None
    nut_factor: pint.Quantity | None
    stretch: Band | None
    stress: Band | None
    shank_stress: Band | None
    proof_share: Band | None
    yield_share: Band | None
    shank_share: Band | None
    angle: pint.Quantity | None
    load: pint.Quantity | None
    clamp_left: pint.Quantity | None
    reasons: dict
    doubts: tuple


def bolt_card(engine, friction_uncertainty=None, wrench_tolerance=WRENCH_TOLERANCE):
    """Return the `BoltCard` of an engine's rod bolts.

    Parameters
    ----------
    engine : Engine
        As read or altered.
    friction_uncertainty : float
        Standard uncertainty of the friction; least and greatest taken as limits when not given.
    wrench_tolerance : float
        Greatest error of the wrench as a share of the torque.

    Raises
    ------
    ValueError
        When no lubricant is named, the bolt is tightened into yield, or the file's figures of it
        cannot be; a line for each.
    """
    bolt = engine.rod_bolt
    found = [NOT_NAMED] * no_lubricant(bolt.lubricant) + [INTO_YIELD] * bool(bolt.yield_tightened)
    found += bolt_faults(bolt)
    if found:
        raise ValueError("\n".join(found))
    friction, friction_from = friction_of(bolt)
    lengths, areas = bolt_pieces(bolt)
    load = engine.values["rod_bolt_load"]
    values = {"lengths": lengths, "areas": areas, "wrench_tolerance": wrench_tolerance,
              "load": None if load is None else Q(load, "N")}  # fmt: skip
    if friction is not None:
        low, middle, high = friction
        u = friction_uncertainty
        u = (high - low) / (2 * np.sqrt(3)) if u is None else u
        values |= {"friction": np.array([high, middle, low]), "middle": middle, "friction_u": u}
    for name, (formula, takes) in _STEPS.items():
        given = [figures.field(engine, each) if "." in each else values.get(each)
                 for each in takes]  # fmt: skip
        values[name] = None if any(each is None for each in given) else formula(*given)
    made = {name: values[name] for name in _SHOWN}
    bands = {name: Band(*value) for name, value in made.items() if np.ndim(value)}
    reasons = {name: _reason(name, engine, values) for name in _SHOWN if made[name] is None}
    return BoltCard(
        **{"torque": bolt.torque, "lubricant": bolt.lubricant, "friction": friction,
           "friction_from": friction_from, **made, **bands, "reasons": reasons},
        doubts=tuple(_doubts(bolt, friction_from, bands)),
    )  # fmt: skip


def bolt_results(engine, card=None):
    """Return the list of `Result` of a card, each held against its limits.

    Parameters
    ----------
    engine : Engine
        Its own limits go before common practice.
    card : BoltCard
        `bolt_card(engine)`, where it is known already.
    """
    card, made = card or bolt_card(engine), []
    for name, unit in figures.BOLT_UNITS.items():
        key = name.removeprefix("rod_bolt_")
        if key not in _SHOWN:
            continue
        value, u = getattr(card, key), None
        if isinstance(value, Band):
            value = value.middle
            u = value * card.preload_u.m
        limits = limits_of(engine, name, ureg.Unit(unit))
        made.append(Result(name, value, u, *limits, card.reasons.get(key, "")))
    return made


def carried_over(planned, used_lubricant):
    """Return "" where an engine's torque holds with the lubricant used, else why it does not.

    Parameters
    ----------
    planned : Engine
        Whose file states the torque and its lubricant.
    used_lubricant : str
        What was put on threads and under heads.
    """
    bolt, used = planned.rod_bolt, (used_lubricant or "").strip()
    if no_lubricant(bolt.lubricant):
        return NOT_NAMED
    if not used:
        return f"which lubricant was used? The torque was given for {bolt.lubricant}"
    if same_words(used, bolt.lubricant):
        return ""
    torque = "the torque" if bolt.torque is None else short(bolt.torque)
    return (
        f"rod_bolt.torque: {torque} was given for {bolt.lubricant} and is not carried over to"
        f" {used}: use {bolt.lubricant}, or type the torque that the bolt's maker gives for {used},"
        " with its friction"
    )


def _missing(name, engine, values):
    """Return the fields that a figure lacks."""
    lacking = []
    for each in _STEPS[name][1] if name in _STEPS else [name]:
        if each in _STEPS:
            found = _missing(each, engine, values) if values[each] is None else []
        elif each == "load":
            load = values["load"] is None
            found = figures.missing("rod_bolt_load", engine.values) if load else []
        elif "." in each:
            found = [each] if figures.field(engine, each) is None else []
        else:
            paths = _INPUTS.get(each, []) if values.get(each) is None else []
            found = [path for path in paths if not figures.field(engine, path)]
        lacking += [one for one in found if one not in lacking]
    return lacking


def _reason(name, engine, values):
    fields = _missing(name, engine, values)
    known = ", ".join(filter(None, rows("friction", "lubricant")))
    friction = f"from the lubricant's maker; those of {known} are known here"
    where = [friction if path in _FRICTION else WHERE.get(path) or figures.where_to_measure(path)
             for path in fields]  # fmt: skip
    told = "; ".join(each for each in dict.fromkeys(where) if each)
    title = name if name == "nut_factor" else f"rod_bolt_{name}"
    return f"{title} needs {', '.join(fields)}" + (f": {told}" if told else "")


def _doubts(bolt, friction_from, bands):
    if bolt.yield_tightened is None:
        yield "rod_bolt.yield_tightened is not said: taken as a bolt that stays below yield"
    yield from friction_doubts(bolt, friction_from)
    for key, where in (("proof_share", "its thread"), ("shank_share", "its thinnest place")):
        if key in bands and bands[key].most > 1:
            yield (
                f"with the least friction the bolt is asked for {bands[key].most.m:.2f} of its"
                f" proof strength in {where}: it would stay longer"
            )
