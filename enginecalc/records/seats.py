"""The different ways in which a rod can sit in a block, and where the camshaft stands to each."""

import functools
from dataclasses import dataclass

import numpy as np

from enginecalc import crank, envelope
from enginecalc.units import to_si


@dataclass(frozen=True)
class Seats:
    """The different ways in which a rod can sit in this block, and what lies around each.

    Cylinders of one bank whose rods face alike share a seat. Arrays go by seat; lengths in each
    cylinder's own frame.
    """

    engine: object
    keys: list  # (bank angle, which way the chamfer faces, whether that is away from its cheek)
    banks: list  # "left", "right" or "inline"

    @property
    def crank(self):
        """Stroke, rod length and offset."""
        values = self.engine.values
        return tuple(values[each] for each in ("crank.stroke", "rod.length", "pin_axis_offset"))

    @property
    def turn(self):
        """+1 clockwise from the front."""
        return self.engine.layout.turn

    def own(self, x, y):
        """Return a point of the front view in each seat's frame: x and y, by seat."""
        angles = np.array([key[0] for key in self.keys])
        return envelope.to_own_frame.kernel(x, y, angles, self.turn)

    def outward(self, at):
        """Return the sign in the front view of a seat's outer, or left, side."""
        return -1 if self.banks[at] == "right" else 1

    @functools.cached_property
    def discs(self):
        """The outline in each seat's frame: x by seat and disc, y and radius by disc."""
        outline = np.array(
            [[to_si(each) for each in (disc.x, disc.y, disc.radius)]
             for disc in self.engine.rod.outline]
        )  # fmt: skip
        faces = np.array([key[1] for key in self.keys])
        return self.turn * faces[:, None] * outline[:, 0], outline[:, 1], outline[:, 2]

    @functools.cached_property
    def names(self):
        """What each disc of the outline is, and where."""
        return [disc_name(disc) for disc in self.engine.rod.outline]

    def after_top(self, angle, turn=2 * np.pi):
        """Return crank angles from the crank pin's top as ones after true top dead center."""
        return np.mod(angle - crank.tdc_angle.kernel(*self.crank), turn)


def seats_of(engine, turned=()):
    """Return the `Seats` of an engine, and {cylinder number: its seat}.

    Parameters
    ----------
    engine : Engine
        With a whole layout.
    turned : collection
        Numbers of cylinders whose rod is fitted the other way round.
    """
    layout = engine.layout
    right_way = layout.chamfers()
    keys, banks, places = [], [], {}
    for each, angle in zip(layout.cylinder, layout.bank_angles().m_as("rad"), strict=True):
        face = each.chamfer or right_way[each.number]
        if each.number in turned:
            face = "rear" if face == "front" else "front"
        key = float(angle), 1 if face == "front" else -1, face != right_way[each.number]
        if key not in keys:
            keys.append(key)
            banks.append(each.bank)
        places[each.number] = keys.index(key)
    return Seats(engine, keys, banks), places


def disc_name(disc):
    """Return what a disc of the outline is, and where: "shoulder at +1.20, +0.55 in"."""
    x, y = disc.x, disc.y.to(disc.x.units)
    if x.magnitude == y.magnitude == 0:
        return "big end"
    what = "shoulder" if y.magnitude > 0 else "bolt head or cap edge"
    return f"{what} at {x.magnitude:+g}, {y.magnitude:+g} {x.units:~P}"


def follower_directions(seats):
    """Return each seat's follower direction in its own frame, from y towards x."""
    given = seats.engine.camshaft.follower_angle
    angles = [
        getattr(given, bank) if hasattr(given, "left") else given
        for bank in ("left" if each == "inline" else each for each in seats.banks)
    ]
    front = np.array([to_si(angle) for angle in angles])
    return seats.turn * (front - np.array([key[0] for key in seats.keys]))


def lobe_tops(engine):
    """Return {valve: crank angle from the pin's top before firing at which its lobe is highest}."""
    values = engine.values
    zero = 2 * np.pi + crank.tdc_angle.kernel(
        *(values[each] for each in ("crank.stroke", "rod.length", "pin_axis_offset"))
    )
    return {valve: zero + values[f"{valve}_center"] for valve in ("intake", "exhaust")}


def drive_of(engine):
    """Return +1 for a camshaft that turns with the crank, -1 for one that turns against it."""
    return 1 if engine.camshaft.drive == "with crank" else -1
