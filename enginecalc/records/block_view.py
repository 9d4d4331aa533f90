"""One cylinder and its surroundings in the front view, for drawings on the page and on paper.

All points are quantities with x to the right and y up along their first axis, seen from the
front, the crank's center at zero. Crank angles count after the cylinder's true top dead center,
where the camshaft matters after that of firing.
"""

from dataclasses import dataclass

import numpy as np
import pint

from enginecalc import cam_gap, crank, envelope
from enginecalc.records import block
from enginecalc.records.seats import drive_of, follower_directions, lobe_tops, seats_of
from enginecalc.units import Q, to_si, ureg

_TURN = np.linspace(0.0, 2 * np.pi, 181)
_ROUND = np.linspace(-np.pi, np.pi, 181)


@dataclass(frozen=True)
class Sweep:
    """What stands still around a cylinder, and what its big end sweeps through in a turn.

    `paths` are the centers of the outline's discs over a closed turn, (2, discs, angles); `edges`
    rail faces and bore walls as (words, ends (2, 2)); `circles` as (words, center, radius);
    `least` the nearest places as (words, point on the block, point on the rod).
    """

    paths: pint.Quantity
    radii: pint.Quantity
    edges: list
    circles: list
    least: list


@dataclass(frozen=True)
class Pose:
    """Where the moving parts of a cylinder stand at a crank angle.

    Centers of the outline's discs (2, discs); crank pin and piston pin (2,); outlines of piston,
    counterweight and of each lobe (2, points), None where a size is missing.
    """

    discs: pint.Quantity | None
    crank_pin: pint.Quantity
    piston_pin: pint.Quantity
    piston: pint.Quantity
    weight: pint.Quantity | None
    lobes: dict


class Frame:
    """A cylinder of an engine, its rod as the file has it or turned round.

    Parameters
    ----------
    engine : Engine
        With a whole layout.
    number : int or str
        The cylinder's.
    turned : collection
        Numbers of cylinders whose rod is fitted the other way round.

    Attributes
    ----------
    alike : list
        Numbers of all cylinders of this bank whose rods face as this one's does.
    """

    def __init__(self, engine, number, turned=()):
        self.engine = engine
        self.seats, places = seats_of(engine, turned)
        self.at = places[number]
        self.alike = [each for each, at in places.items() if at == self.at]
        self.bank_angle = self.seats.keys[self.at][0]
        self.zero = crank.tdc_angle.kernel(*self.seats.crank)

    def _front(self, x, y):
        return envelope.to_front_view.kernel(
            np.asarray(x), np.asarray(y), self.bank_angle, self.seats.turn
        )

    def _discs(self, angle):
        """Return the discs' centers in the front view, for angles from the crank pin's top."""
        x, y, _ = self.seats.discs
        points = envelope.rod_points.kernel(angle, x[self.at][:, None], y[:, None],
                                            *self.seats.crank)  # fmt: skip
        return self._front(*points)

    def edges(self):
        """Return rail faces and bore walls as (words, ends (2, 2)), in meters."""
        engine, values = self.engine, self.engine.values
        given, made = engine.block, []
        if None not in (given.rail_offset, given.rail_top, given.rail_bottom):
            away, ends = to_si(given.rail_offset), [to_si(given.rail_bottom), to_si(given.rail_top)]
            made = [("pan rail", np.array([[side * away] * 2, ends])) for side in (-1, 1)]
        bottom = None if given.bore_bottom is None else to_si(given.bore_bottom)
        if bottom is not None:
            half, offset = values["block.bore"] / 2, values["block.bore_offset"]
            for side in (-1, 1):
                x = offset + side * half
                wall = self._front([x, x], [bottom, values["block.deck_height"]])
                made.append(("bore wall", wall))
        return made

    def circles(self):
        """Return circles around the camshaft as (words, center, radius), in meters."""
        cam, height = self.engine.camshaft, self.engine.block.cam_height
        named = {"base circle": cam.base_radius, "largest on the camshaft": cam.largest_radius}
        if height is None:
            return []
        center = np.array([0.0, to_si(height)])
        return [(words, center, to_si(each)) for words, each in named.items() if each is not None]

    def sweep(self, table=None, told=None):
        """Return the `Sweep`; with a table of `block_clearances` its nearest places are marked.

        `told(row)` returns what stands below the pair's name there; else it is gap and angle.
        """
        least = [] if table is None else self._marked(table, told or _said)
        return Sweep(
            Q(self._discs(self.zero + _TURN), "m"),
            Q(self.seats.discs[2], "m"),
            [(words, Q(ends, "m")) for words, ends in self.edges()],
            [(words, Q(middle, "m"), Q(radius, "m")) for words, middle, radius in self.circles()],
            least,
        )

    def pose(self, after_tdc):
        """Return the `Pose` at a crank angle, a quantity."""
        engine, values = self.engine, self.engine.values
        angle = self.zero + after_tdc.m_as("rad")
        foot, rise = self._pins(angle)
        pin = np.array([values["pin_axis_offset"], foot[1] + rise])
        half, offset = 0.495 * values["block.bore"], values["block.bore_offset"]
        below = engine.piston.skirt_below_pin
        low = pin[1] - (0.2 * values["block.bore"] if below is None else to_si(below))
        high = pin[1] + values["piston.compression_height"]
        corners = [offset + half * np.array([-1, 1, 1, -1]), [low, low, high, high]]
        return Pose(
            None if not engine.rod.outline else Q(self._discs(angle)[..., 0], "m"),
            Q(self._front(*foot), "m"),
            Q(self._front(*pin), "m"),
            Q(self._front(*corners), "m"),
            self._weight(angle),
            {valve: Q(points, "m") for valve, points in self._lobes(angle).items()},
        )

    def _pins(self, angle):
        """Return where the crank pin stands, and how far above it the piston pin."""
        throw, sin, cos, _, rise = crank.linkage(angle, *self.seats.crank)
        return (throw * sin, throw * cos), rise

    def _weight(self, angle):
        given = self.engine.crank
        if None in (given.counterweight_radius, given.counterweight_angle):
            return None
        half = to_si(given.counterweight_angle) / 2
        rim = angle + np.pi + np.linspace(-half, half, 61)
        radius = to_si(given.counterweight_radius)
        return Q(self._front(np.r_[0, radius * np.sin(rim)], np.r_[0, radius * np.cos(rim)]), "m")

    def _lobes(self, angle):
        """Return each lobe's outline in the front view; nothing where it cannot be placed."""
        engine = self.engine
        if block.lacking(engine, block.pairs(engine)["rod to cam, true phase"]):
            return {}
        center = self.seats.own(0.0, to_si(engine.block.cam_height))[:, self.at]
        follower = follower_directions(self.seats)[self.at]
        made = {}
        for valve, top in lobe_tops(engine).items():
            around = cam_gap.lobe_outline.kernel(
                _ROUND, angle, engine.lobes[valve], to_si(engine.camshaft.base_radius), top,
                follower, drive_of(engine),
            )  # fmt: skip
            made[valve] = self._front(*(around + center[:, None]))
        return made

    def _marked(self, table, told):
        """Return (words, point on the block, point on the rod) for each row that has a place."""
        made = []
        for row in table.itertuples():
            places = self._places(row.pair, row.crank_angle)
            if places is not None:
                words = f"{row.pair}\n{told(row)}"
                made.append((words, *(Q(each, "m") for each in places)))
        return made

    def nearest(self, pair, crank_angle):
        """Return the two places of a pair that come nearest at a crank angle, or None."""
        places = self._places(pair, crank_angle)
        return None if places is None else tuple(Q(each, "m") for each in places)

    def _places(self, pair, crank_angle):
        angle = self.zero + crank_angle.m_as("rad")
        if np.isnan(angle):
            return None
        if pair.startswith("rod to") and self.engine.rod.outline:
            centers, radii = self._discs(angle)[..., 0], self.seats.discs[2]
            near, side = self._near(pair, angle, centers)
            away = near - centers
            disc = np.argmin(side * np.hypot(*away) - radii)
            way = side[disc] * away[:, disc] / np.hypot(*away[:, disc])
            return near[:, disc], centers[:, disc] + radii[disc] * way
        if pair == "rod beam to bore edge":
            return self._beam_places(angle)
        if pair == "counterweight to skirt":
            skirt = self.pose(crank_angle).piston.m_as("m")[:, :2]
            spot = _nearest_on(skirt, np.zeros(2))
            radius = to_si(self.engine.crank.counterweight_radius)
            return spot, radius * spot / np.hypot(*spot)
        return None

    def _near(self, pair, angle, centers):
        """Return points of what a pair's big end comes near, each nearest to a disc's center.

        (2, discs); and +1 for each disc, -1 where its center has gone in.
        """
        if "rail" in pair or "bore" in pair:
            found = [_nearest_on_face(each, centers) for each in self._faces(pair)]
        else:
            found = [_nearest_on_round(each, centers) for each in self._rounds(pair, angle)]
        near, side = (np.array(each) for each in zip(*found, strict=True))
        first = np.argmin(side * np.hypot(*np.moveaxis(near - centers, 1, 0)), axis=0)
        discs = np.arange(len(first))
        return near[first, :, discs].T, side[first, discs]

    def _faces(self, pair):
        """Return the ends (2, 2) of the rail's face, or of the bore's walls."""
        named = "pan rail" if "rail" in pair else "bore wall"
        faces = [each for words, each in self.edges() if words == named]
        if "bore" in pair:
            return faces
        inner = pair.endswith(("inner side", "right side"))
        return [faces[1 if self.seats.outward(self.at) * (-1 if inner else 1) > 0 else 0]]

    def _rounds(self, pair, angle):
        """Return the outlines (2, points) of the lobes, or of the circle about the camshaft."""
        if "phase" in pair:
            return list(self._lobes(angle).values())
        _, center, radius = self.circles()[-1]
        return [center[:, None] + radius * np.array([np.sin(_ROUND), np.cos(_ROUND)])]

    def _beam_places(self, angle):
        corners = np.array([ends[:, 0] for ends in self._faces("bore")]).T
        (x, y), rise = self._pins(angle)
        ends = self._front([x, self.engine.values["pin_axis_offset"]], [y, y + rise])
        feet = np.array([_nearest_on(ends, corner) for corner in corners.T]).T
        away = corners - feet
        at = np.argmin(np.hypot(*away))
        half = to_si(self.engine.rod.beam_width) / 2
        return corners[:, at], feet[:, at] + half * away[:, at] / np.hypot(*away[:, at])


def said_angle(pair, crank_angle, digits=0):
    """Return "46° after TDC", or before it; where the camshaft matters "687° after firing TDC"."""
    angle = round(crank_angle.m_as("deg"), digits)
    if np.isnan(angle):
        return "all round"
    if pair.endswith("true phase"):
        return f"{angle:.{digits}f}° after firing TDC"
    if angle in (0, 360):
        return "TDC"
    after = angle <= 180
    return f"{angle if after else 360 - angle:.{digits}f}° {'after' if after else 'before'} TDC"


def _said(row):
    """Return a row's gap in its limit's unit, and where: "0.010 in at 46° after TDC"."""
    unit = row.limit.units
    digits = 2 if unit == ureg.Unit("mm") else 3
    gap = f"{row.clearance.m_as(unit):.{digits}f} {unit:~P}"
    return f"{gap} at {said_angle(row.pair, row.crank_angle)}"


def _nearest_on_face(ends, centers):
    """Return the points of a face nearest to centers, and +1 for each, -1 for one gone through.

    What lies past the face, seen from the crank's center, is solid.
    """
    start, along = ends[:, 0], ends[:, 1] - ends[:, 0]
    from_start = centers - start[:, None]
    part = along @ from_start / (along @ along)
    out = np.array([-along[1], along[0]])
    past = (out @ from_start * np.sign(out @ start) > 0) & (part > 0) & (part < 1)
    return start[:, None] + along[:, None] * np.clip(part, 0, 1), np.where(past, -1, 1)


def _nearest_on_round(points, centers):
    """Return the points of a convex outline nearest to centers; +1 for each, -1 for one inside."""
    away = points[:, None] - centers[..., None]
    along = np.roll(points, -1, axis=1) - points
    turns = along[0] * away[1] - along[1] * away[0]
    inside = np.all(turns >= 0, axis=1) | np.all(turns <= 0, axis=1)
    return points[:, np.argmin(np.hypot(*away), axis=1)], np.where(inside, -1, 1)


def _nearest_on(ends, point):
    """Return the point of a segment, its ends (2, 2), that lies nearest to `point`."""
    start, along = ends[:, 0], ends[:, 1] - ends[:, 0]
    return start + along * np.clip((point - start) @ along / (along @ along), 0, 1)
