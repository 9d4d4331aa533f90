"""What chapter 05 knows of an engine, each thing worked out when first asked for, and once."""

import re
from dataclasses import dataclass

import numpy as np
import pint

from enginecalc import limits
from enginecalc.records import block, block_clearances, results
from enginecalc.records.block_view import Frame, Pose, Sweep
from enginecalc.units import Q, to_si, ureg
from enginecalc.views import tables

RESULTS = ("pin_to_oil_groove", "skirt_below_bore", "rod_ratio", "greatest_rod_tilt")
CIRCLE, PHASE = "rod to cam, nose circle", "rod to cam, true phase"
CHAMFER, WEIGHT_TO_CAM = "rod chamfer to fillet", "counterweight to cam"
_METER = ureg.Unit("m")
_ROUND = np.linspace(-np.pi, np.pi, 361)
_SCRATCH = -to_si(Q(0.001, "inch"))  # a chamfer that bites less is no collision


@dataclass(frozen=True)
class Scene:
    """What a front view shows: `swept` in all positions, `pose` now, and sizes of round parts.

    Sizes are radii, `throw` the crank pin's; None, like a beam's width, where not measured.
    """

    swept: Sweep
    pose: Pose
    sizes: dict
    turn: int  # +1 clockwise


@dataclass(frozen=True)
class Spot:
    """The nearest place of a pair: a point on the block, one on the rod, and the limit's line.

    `toward` is the direction from rod to block, `reach` the greater of gap and limit.
    """

    here: pint.Quantity
    there: pint.Quantity
    limit: pint.Quantity
    toward: np.ndarray
    reach: pint.Quantity


class BlockPlan:
    """An engine, its clearances in the block and its front views.

    Parameters
    ----------
    name : str
        "plan A" or "plan B".
    engine : Engine
        With a whole layout.
    turned : collection
        Numbers of cylinders whose rod is turned round.
    """

    def __init__(self, name, engine, turned=()):
        self.name, self.engine, self.turned = name, engine, turned
        self.table = block_clearances(engine, turned)
        self.named = {each.name: each for each in results(engine, RESULTS)}
        self.rows = {(row.pair, row.cylinder): row for row in self.table.itertuples()}
        self._frames, self._swept, self._extents = {}, {}, {}
        self._curves, self._spots = {}, {}

    def own(self, number):
        """Return a cylinder's number, or the first one's where this engine has none such."""
        numbers = self.engine.layout.numbers
        return number if number in numbers else numbers[0]

    def status(self, row):
        """Return the word for a row of the table."""
        return limits.status(to_si(row.clearance), to_si(row.limit))

    def decides(self, row):
        """Say whether a row says yes or no: a circle that fails does not where the phase is known.

        The nose circle holds the lobes at every phase of the cam.
        """
        known = (PHASE, row.cylinder) in self.rows
        return row.pair != CIRCLE or not known or self.status(row) != limits.OUTSIDE

    def word(self, row):
        """Return the status, and whether that is the last word."""
        return self.status(row) + ("" if self.decides(row) else ", phase decides")

    def ranked(self, number=None):
        """Return the rows, of one cylinder or all, worst first.

        A chamfer that hardly bites comes after whatever else is outside.
        """
        some = [row for row in self.rows.values() if number in (None, row.cylinder)]
        return sorted(some, key=lambda row: (self._rank(row), round(room(row), 9)))

    def _rank(self, row):
        if not self.decides(row):
            return 3
        if self.status(row) != limits.OUTSIDE:
            return 2
        return int(row.pair == CHAMFER and to_si(row.clearance) > _SCRATCH)

    def frame(self, number):
        """Return the `Frame` of a cylinder."""
        if number not in self._frames:
            self._frames[number] = Frame(self.engine, number, self.turned)
        return self._frames[number]

    def scene(self, number, after_tdc):
        """Return the `Scene` of a cylinder at a crank angle."""
        frame, engine = self.frame(number), self.engine
        if number not in self._swept:
            self._swept[number] = frame.sweep() if engine.rod.outline else _nothing_swept(frame)
        halves = {
            "main": engine.crank.main_journal,
            "crank pin": engine.crank.rod_journal,
            "pin": engine.piston.pin_diameter,
        }
        sizes = {name: None if given is None else given / 2 for name, given in halves.items()}
        sizes |= {"throw": engine.crank.stroke / 2, "beam": engine.rod.beam_width}
        return Scene(self._swept[number], frame.pose(after_tdc), sizes, engine.layout.turn)

    def extent(self, number):
        """Return the least and greatest x and y of all that stands, is swept or moves, in mm."""
        if number not in self._extents:
            self._extents[number] = self._found_extent(number)
        return self._extents[number]

    def _found_extent(self, number):
        still = self.scene(number, Q(0, "deg")), self.scene(number, Q(180, "deg"))
        swept, radius = still[0].swept, 1.2 * to_si(self.engine.crank.stroke) / 2
        if self.engine.crank.counterweight_radius is not None:
            radius = max(radius, to_si(self.engine.crank.counterweight_radius))
        ends = [np.array([[-radius, radius], [-radius, radius]])]
        ends += [scene.pose.piston.m_as(_METER) for scene in still]
        ends += [each.m_as(_METER)[:, : 2 if words == "pan rail" else 1]
                 for words, each in swept.edges]  # fmt: skip
        discs = zip(np.moveaxis(swept.paths, 1, 0), swept.radii, strict=True)
        for middle, size in [*(circle[1:] for circle in swept.circles), *discs]:
            middle = np.reshape(middle.m_as(_METER), (2, -1))
            ends += [middle - size.m_as(_METER), middle + size.m_as(_METER)]
        points = 1000 * np.concatenate(ends, axis=1)
        return *np.min(points, axis=1), *np.max(points, axis=1)

    def doubtful_spot(self, pair, number):
        """Return the `Spot` of a pair that is outside or close here, else None."""
        row = self.rows.get((pair, number))
        doubtful = row is not None and self.status(row) != limits.WITHIN
        return self.spot(row) if doubtful else None

    def spot(self, row):
        """Return the `Spot` of a row, None where it has no place in the front view."""
        at = row.pair, row.cylinder
        if at not in self._spots:
            self._spots[at] = self._found_spot(row)
        return self._spots[at]

    def _found_spot(self, row):
        places = self.frame(row.cylinder).nearest(row.pair, row.crank_angle)
        if row.pair == WEIGHT_TO_CAM:
            places = self._weight_and_cam(row.cylinder)
        if places is None:
            return None
        here, there = (place.m_as(_METER) for place in places)
        gap, limit = to_si(row.clearance), to_si(row.limit)
        if "beam" in row.pair:
            toward = (here - there) / gap
            along = 5 * max(limit, abs(gap)) * np.array([toward[1], -toward[0]])
            line = (there + limit * toward)[:, None] + along[:, None] * [-1, 1]
        else:
            center = self._center(row, there)
            toward = (there - center) / np.hypot(*(there - center))
            reach = np.hypot(*(there - center)) + limit
            line = center[:, None] + reach * np.array([np.sin(_ROUND), np.cos(_ROUND)])
        return Spot(*places, Q(line, _METER), toward, Q(max(abs(gap), limit), _METER))

    def _weight_and_cam(self, number):
        """Return where the circle about the camshaft and the weight's rim stand nearest."""
        _, middle, radius = self.frame(number).circles()[-1]
        toward = middle / np.hypot(*middle)
        weight = to_si(self.engine.crank.counterweight_radius)
        return Q(middle - radius * toward, _METER), Q(weight * toward, _METER)

    def _center(self, row, there):
        """Return the middle of the disc, or of the counterweight, on whose rim a point lies."""
        if not row.pair.startswith("rod"):
            return np.zeros(2)
        frame = self.frame(row.cylinder)
        centers = frame.pose(row.crank_angle).discs.m_as(_METER)
        off = np.abs(np.hypot(*(centers - there[:, None])) - frame.seats.discs[2])
        return centers[:, np.argmin(off)]

    def curve(self, pair, number):
        """Return crank angles after top dead center and a pair's gap there; None for one gap."""
        if (pair, number) not in self._curves:
            frame, turns = self.frame(number), 2 if pair == PHASE else 1
            angles = np.radians(np.arange(360 * turns + 1))
            named = block.pairs(self.engine)[pair]
            gaps = named.gap_by_angle(frame.seats, frame.zero + angles)
            if pair == WEIGHT_TO_CAM:
                gap = self._while_it_goes_by(self.rows[pair, number], angles)
            else:
                gap = None if gaps is None else gaps[frame.at]
            made = None if gap is None else (Q(np.degrees(angles), "deg"), Q(gap, _METER))
            self._curves[pair, number] = made
        return self._curves[pair, number]

    def chamfer_leg(self, row):
        """Return the leg of the edge that faces the fillet: none where the rod is turned round."""
        return self.engine.rod.chamfer * (0 if row.feature.startswith("square") else 1)

    def _while_it_goes_by(self, row, angles):
        """Return the counterweight's gap to the cam, nan while its sector is elsewhere."""
        sector = self.engine.crank.counterweight_angle
        half = np.pi if sector is None else to_si(sector) / 2
        off = np.mod(angles - to_si(row.crank_angle) + np.pi, 2 * np.pi) - np.pi
        return np.where(np.abs(off) <= half, to_si(row.clearance), np.nan)


def common_window(extents):
    """Return least and greatest x and y of several extents, with a margin."""
    ends = np.array(extents)
    low, high = ends[:, :2].min(axis=0), ends[:, 2:].max(axis=0)
    margin = 0.045 * (high - low).max()
    return *(low - margin), *(high + margin)


def feature(row, system):
    """Return what comes nearest, a disc of the outline by its place in the page's unit."""
    unit, decimals = tables.LENGTH[system]

    def in_unit(found):
        x, y = (Q(float(each), found[3]).m_as(tables.UNITS[unit]) for each in found.group(1, 2))
        return f"{round(x, decimals):+g}, {round(y, decimals):+g} {unit}"

    return re.sub(r"([+-][\d.e-]+), ([+-][\d.e-]+) (\w+)", in_unit, row.feature)


def room(row):
    """Return how much a row's clearance exceeds its limit, in SI."""
    return to_si(row.clearance) - to_si(row.limit)


def _nothing_swept(frame):
    """Return the `Sweep` of a cylinder whose rod has no outline: what stands around it."""
    return Sweep(
        Q(np.zeros((2, 0, 1)), _METER),
        Q(np.zeros(0), _METER),
        [(words, Q(ends, _METER)) for words, ends in frame.edges()],
        [
            (words, Q(middle, _METER), Q(radius, _METER))
            for words, middle, radius in frame.circles()
        ],
        [],
    )
