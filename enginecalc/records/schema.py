"""The tables and fields of an engine file, and how each figure in it is read.

Every dimension is text with its unit and becomes a quantity, the middle figure as typed. What is
left out, or left blank, is None: not measured.
"""

import functools
import math
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, PlainValidator

from enginecalc.units import read, read_typed, to_si

_ABSURD = 1e13  # in SI; the stiffest of materials stays below it in Pa


def _figure(kind, sign="+"):
    """Return the type of a field that holds a figure of this kind as text.

    Its sign may be "+", above zero; "0+", zero or more; or "±", any.
    """

    def read_figure(text):
        if text is None or (isinstance(text, str) and not text.strip()):
            return None
        return checked(text) if isinstance(text, str) else read(text, kind)

    @functools.lru_cache(maxsize=4096)  # a slider changes one text of a hundred
    def checked(text):
        typed = read_typed(text, kind)
        value = typed.value
        if abs(to_si(value)) > _ABSURD:
            raise ValueError(f"{text} is too large to be meant")
        if typed.minus is not None and sign == "+" and value <= typed.minus:
            raise ValueError(f"{text} may be zero or less by its own limits; are they in one unit?")
        if value.magnitude <= 0 and sign == "+":
            raise ValueError(f"must be greater than zero, got {text}")
        if value.magnitude < 0 and sign == "0+":
            raise ValueError(f"must not be less than zero, got {text}")
        return value

    return Annotated[Any, PlainValidator(read_figure)]


def _choice(*options):
    """Return the type of a field that holds one of a few words."""

    def choose(word):
        if word not in options:
            raise ValueError(f"{word!r} is not one of {', '.join(options)}")
        return word

    return Annotated[str | None, PlainValidator(choose)]


def _read_ratio(number):
    if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(number):
        raise ValueError(f"{number!r} is not a plain number; write it like 1.55")
    if number <= 0:
        raise ValueError(f"must be greater than zero, got {number}")
    return float(number)


def _read_whole(number):
    if isinstance(number, bool) or not isinstance(number, int) or number < 1:
        raise ValueError(f"{number!r} is not a whole number from 1 up; write it like 2")
    return number


def _read_text(text):
    if not isinstance(text, str) or not text.strip():
        raise ValueError(f'{text!r} is not a text; write it in quotes, like "steel"')
    return text


def _read_flag(flag):
    if not isinstance(flag, bool):
        raise ValueError(f"{flag!r} is not true or false")
    return flag


def _read_limit(limit):
    if isinstance(limit, str):
        return read(limit)
    if isinstance(limit, bool) or not isinstance(limit, int | float) or not math.isfinite(limit):
        raise ValueError(f"{limit!r} is not a plain number, or a figure with its unit in quotes")
    return float(limit)


Length = _figure("length")
Gap = _figure("length", "0+")
Place = _figure("length", "±")  # a length that has a side: + one way, - the other
Volume = _figure("volume")
SmallVolume = _figure("volume", "0+")
CrownVolume = _figure("volume", "±")
Area = _figure("area")
Angle = _figure("angle", "±")
TurningSpeed = _figure("turning speed")
Mass = _figure("mass")
Torque = _figure("torque")
Pressure = _figure("pressure")
TemperatureRise = _figure("temperature rise", "±")
Ratio = Annotated[Any, PlainValidator(_read_ratio)]
Whole = Annotated[Any, PlainValidator(_read_whole)]
Text = Annotated[Any, PlainValidator(_read_text)]
Flag = Annotated[Any, PlainValidator(_read_flag)]
LimitFigure = Annotated[Any, PlainValidator(_read_limit)]


class Table(BaseModel):
    """One table of the file. Unknown keys are refused, and nothing changes once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Block(Table):
    bore: Length = None
    deck_height: Length = None
    bore_spacing: Length = None
    bore_offset: Place = None
    material: Text = None
    rail_offset: Length = None
    rail_top: Place = None
    rail_bottom: Place = None
    bore_bottom: Length = None
    cam_height: Length = None


class Crank(Table):
    stroke: Length = None
    material: Text = None
    main_journal: Length = None
    rod_journal: Length = None
    counterweight_radius: Length = None
    counterweight_angle: Angle = None
    fillet_radius: Length = None
    pin_width: Length = None


class Disc(Table):
    x: Place = None
    y: Place = None
    radius: Length = None


class Rod(Table):
    length: Length = None
    width: Length = None
    chamfer: Length = None
    beam_width: Length = None
    beam_area: Area = None
    material: Text = None
    mass_small_end: Mass = None
    mass_big_end: Mass = None
    cap_share: Ratio = None
    outline: list[Disc] | None = None


class Shank(Table):
    length: Length = None
    diameter: Length = None


class RodBolt(Table):
    diameter: Length = None
    pitch: Length = None
    series: _choice("unified", "metric") = None
    torque: Torque = None
    lubricant: Text = None
    friction: Ratio = None
    friction_low: Ratio = None
    friction_high: Ratio = None
    washer_outside: Length = None
    washer_inside: Length = None
    shank: list[Shank] | None = None
    proof_strength: Pressure = None
    yield_strength: Pressure = None
    elastic_modulus: Pressure = None
    joint_stiffness_ratio: Ratio = None
    snug_torque: Torque = None
    yield_tightened: Flag = None


class Piston(Table):
    compression_height: Length = None
    dish_volume: CrownVolume = None
    crevice_volume: SmallVolume = None
    pin_offset: Place = None
    diameter: Length = None
    pin_diameter: Length = None
    ring_pack: Length = None
    skirt_below_pin: Length = None
    pin_clearance: Gap = None
    material: Text = None
    mass: Mass = None
    mass_pin: Mass = None
    mass_rings: Mass = None
    mass_locks: Mass = None


class Gasket(Table):
    bore: Length = None
    thickness: Length = None


class Head(Table):
    chamber_volume: Volume = None


class BankAngles(Table):
    left: Angle = None
    right: Angle = None


class Camshaft(Table):
    base_radius: Length = None
    largest_radius: Length = None
    follower: _choice("flat", "roller") = None
    drive: _choice("with crank", "against crank") = None
    follower_angle: BankAngles | Angle = None


class Event(Table):
    angle: Angle = None
    at_lift: Gap = None


class Valve(Table):
    """The intake or the exhaust side: lobe, rocker, valve and spring."""

    rocker_ratio: Ratio = None
    lash: Gap = None
    centerline: Angle = None
    valve_angle: Angle = None
    valve_diameter: Length = None
    drop_at_tdc: Length = None
    pocket_diameter: Length = None
    spring_installed: Length = None
    spring_bind: Length = None
    lobe_lift: Length = None
    duration: list[Event] | None = None
    table: Text = None


class Intake(Valve):
    closing: Event | None = None


class Bearings(Table):
    main_housing: Length = None
    main_shell: Length = None
    rod_housing: Length = None
    rod_shell: Length = None
    mass_rod_shells: Mass = None
    mass_oil: Mass = None


class Running(Table):
    engine_speed: TurningSpeed = None
    block_rise: TemperatureRise = None
    rod_rise: TemperatureRise = None
    crank_rise: TemperatureRise = None
    piston_rise: TemperatureRise = None
    piston_rock: Gap = None
    crank_bend: Gap = None
    deck_from: _choice("drawing", "measured") = None


class Balance(Table):
    reciprocating_share: Ratio = None


class Limits(Table):
    """What a builder or part maker wants of one result."""

    low: LimitFigure = None
    high: LimitFigure = None
    source: Text = None
