"""What may touch in a block: each pair's gap over a turn, and what must be known for it."""

from dataclasses import dataclass

import numpy as np

from enginecalc import cam_gap, envelope, fillet, skirt
from enginecalc.lobes import CYCLE
from enginecalc.records import figures
from enginecalc.records.block_faults import cam_too_small
from enginecalc.records.seats import drive_of, follower_directions, lobe_tops
from enginecalc.units import to_si

TURN = 2 * np.pi
_SWEEP = 1e-3  # m: more than a disc moves towards the camshaft in a degree
_RAIL = "block.rail_offset block.rail_top block.rail_bottom"
_WEIGHT = "crank.counterweight_radius crank.counterweight_angle"
_CAM = "block.cam_height camshaft.largest_radius"


@dataclass(frozen=True)
class Curve:
    """A pair's gaps over a turn: `gap(angles)` is by seat, part and angle from the pin's top.

    `names` says by seat and part what comes near; `least` finds least gaps and their angles.
    """

    gap: object
    names: list
    turn: float = TURN
    least: object = None  # None: by a sweep of `gap`

    def nearest(self, seats):
        """Return the `Least` of the nearest part of each seat."""
        gap, angle = self.least() if self.least else envelope.least_over_turn(self.gap, self.turn)
        at = np.argmin(np.round(gap, 12), axis=1)  # of mirrored sides the first
        rows = np.arange(len(at))
        names = [named[part] for named, part in zip(self.names, at, strict=True)]
        return Least(gap[rows, at], seats.after_top(angle[rows, at], self.turn), names)


@dataclass(frozen=True)
class Least:
    """The least gaps of one pair, in SI, for each seat; `features` says what comes nearest."""

    gap: np.ndarray
    angle: np.ndarray  # after true TDC; nan where it is one all round
    features: list
    grind: np.ndarray | None = None  # None: what is missing to the limit


def _discs(seats):
    """Return x, y, radius of the outline's discs shaped for angles along a last axis."""
    x, y, radius = seats.discs
    return x[..., None], y[:, None], radius[:, None]


def _rail(side):
    def curve(seats):
        block, discs = seats.engine.block, _discs(seats)
        away, low, high = map(to_si, (block.rail_offset, block.rail_bottom, block.rail_top))
        face = np.array([side * seats.outward(at) * away for at in range(len(seats.keys))])
        ends = [seats.own(face, end)[..., None, None] for end in (low, high)]
        edge = *ends[0], *ends[1]
        return Curve(
            lambda at: envelope.rod_to_edge.kernel(at, *discs, *edge, *seats.crank),
            [seats.names] * len(seats.keys),
        )

    return curve


def _bore_edges(seats):
    """Return x of the bore's lower edges in the cylinder's frame, their height, their sides."""
    values, block = seats.engine.values, seats.engine.block
    half, offset = values["block.bore"] / 2, values["block.bore_offset"]
    sides = [[_side(seats, at, way * seats.turn) for way in (1, -1)]
             for at in range(len(seats.keys))]  # fmt: skip
    return np.array([offset + half, offset - half]), to_si(block.bore_bottom), sides


def _side(seats, at, side):
    """Return the word for a side of the front view, + right, as seen at a seat."""
    if seats.banks[at] == "inline":
        return "left side" if side > 0 else "right side"
    return "outer side" if side == seats.outward(at) else "inner side"


def _bore(seats):
    discs, (edges, height, sides) = _discs(seats), _bore_edges(seats)
    deck = seats.engine.values["block.deck_height"]

    def gap(at):
        parts = np.split(at, 2, axis=1) if np.ndim(at) > 1 else (at, at)
        return np.concatenate(
            [
                envelope.rod_to_edge.kernel(part, *discs, x, height, x, deck, *seats.crank)
                for part, x in zip(parts, edges, strict=True)
            ],
            axis=1,
        )

    names = [[f"{name}, {side}" for side in both for name in seats.names] for both in sides]
    return Curve(gap, names)


def _beam(seats):
    edges, height, sides = _bore_edges(seats)
    width, x = to_si(seats.engine.rod.beam_width), np.tile(edges[:, None], (len(sides), 1, 1))
    return Curve(
        lambda at: envelope.beam_to_point.kernel(at, width, x, height, *seats.crank),
        [[f"beam, {side}" for side in both] for both in sides],
    )


def _cam_center(seats):
    """Return the camshaft's center in each seat's frame."""
    return seats.own(0.0, to_si(seats.engine.block.cam_height))


def _nose_circle(seats):
    discs, center = _discs(seats), _cam_center(seats)[..., None, None]
    largest = to_si(seats.engine.camshaft.largest_radius)
    return Curve(
        lambda at: cam_gap.rod_to_nose_circle.kernel(at, *discs, *center, largest, *seats.crank),
        [seats.names] * len(seats.keys),
    )


def _lobes(seats):
    engine, discs = seats.engine, _discs(seats)
    center = tuple(_cam_center(seats)[..., None, None])
    base, drive = to_si(engine.camshaft.base_radius), drive_of(engine)
    follower = follower_directions(seats)[:, None, None]
    trains = [(engine.lobes[valve], base, top, follower, drive)
              for valve, top in lobe_tops(engine).items()]  # fmt: skip

    def gap(at):
        return np.concatenate(
            [cam_gap.rod_to_lobe.kernel(at, *discs, *train, *center, *seats.crank)
             for train in trains], axis=1,
        )  # fmt: skip

    def least():
        x, y, radius = discs
        lift = max(lobe.lobe_lift for lobe, *_ in trains)
        circle = cam_gap.rod_to_nose_circle.kernel(
            np.linspace(0, TURN, 181), *discs, *center, base + lift, *seats.crank
        )
        nearest = np.min(circle, axis=2)
        bound = np.min(nearest, axis=1, keepdims=True) + lift + _SWEEP
        may = np.any(nearest <= bound, axis=0)  # the others stand farther than the base circle
        made = np.full((2, len(trains), *nearest.shape), np.inf)
        for at, train in enumerate(trains):
            made[:, at, :, may] = np.moveaxis(
                cam_gap.least_to_lobe(x[:, may], y[may], radius[may], *train, center, seats.crank),
                2,
                0,
            )
        return tuple(np.concatenate(each, axis=1) for each in made)

    names = [f"{name}, {valve} lobe" for valve in lobe_tops(engine) for name in seats.names]
    return Curve(gap, [names] * len(seats.keys), CYCLE, least)


def _skirt(seats):
    engine, weight = seats.engine, seats.engine.crank
    half = to_si(engine.piston.diameter or engine.block.bore) / 2
    ends = engine.values["block.bore_offset"] + half * np.array([-1, 1])
    points = np.array([ends[0], np.clip(0.0, *ends), ends[1]])
    points = np.tile(points[:, None], (len(seats.keys), 1, 1))
    hangs = engine.piston.skirt_below_pin
    sizes = tuple(map(to_si, (hangs, weight.counterweight_radius, weight.counterweight_angle)))
    return Curve(
        lambda at: skirt.counterweight_to_skirt.kernel(at, points, *sizes, *seats.crank),
        [["lowest edge of skirt or boss"] * 3] * len(seats.keys),
    )


def _weight_to_cam(seats):
    engine, (x, y) = seats.engine, _cam_center(seats)
    radii = to_si(engine.crank.counterweight_radius), to_si(engine.camshaft.largest_radius)
    angle = seats.after_top(np.arctan2(x, y) - np.pi)  # the middle of the weight goes by
    return Least(np.hypot(x, y) - sum(radii), angle, ["rim of the counterweight"] * len(angle))


def _chamfer(seats):
    engine = seats.engine
    leg, round_ = to_si(engine.rod.chamfer), to_si(engine.crank.fillet_radius)
    away = np.array([key[2] for key in seats.keys])
    chamfer = np.where(away, 0.0, leg)
    gap = fillet.chamfer_to_fillet.kernel(round_, chamfer)
    words = ["square edge of a rod turned round" if each else "chamfer" for each in away]
    missing = np.maximum(fillet.least_chamfer.kernel(round_) - chamfer, 0.0)
    return Least(gap, np.full(len(gap), np.nan), words, missing)


@dataclass(frozen=True)
class Pair:
    """Two things that may touch: what has to be known, whose limit holds, and how it is found.

    `found(seats)` is a `Curve`, or the `Least` itself where the gap does not change with the angle.
    """

    needs: list
    limit: str
    found: object

    def least(self, seats):
        """Return the `Least` of each seat."""
        found = self.found(seats)
        return found.nearest(seats) if isinstance(found, Curve) else found

    def gap_by_angle(self, seats, angles):
        """Return the gap by seat and angle from the crank pin's top, in SI; None for one all round.

        It is that of the disc, edge or lobe which stands nearest then.
        """
        found = self.found(seats)
        return np.min(found.gap(angles), axis=1) if isinstance(found, Curve) else None


def pairs(engine):
    """Return {name: Pair} of everything that is looked at in this engine's block."""
    inline = engine.layout.kind == "inline"
    outer, inner = ("left side", "right side") if inline else ("outer side", "inner side")
    lobes = " ".join(f"{valve}.lobe {valve}.centerline" for valve in ("intake", "exhaust"))
    phase = "camshaft.base_radius camshaft.follower camshaft.drive camshaft.follower_angle"
    block, cam, weight = "rod_to_block", "rod_to_cam", "counterweight_to_anything"
    rows = (
        (f"rod to rail, {outer}", f"rod.outline {_RAIL}", block, _rail(1)),
        (f"rod to rail, {inner}", f"rod.outline {_RAIL}", block, _rail(-1)),
        ("rod to bore edge", "rod.outline block.bore_bottom", block, _bore),
        ("rod beam to bore edge", "rod.beam_width block.bore_bottom", block, _beam),
        ("rod to cam, nose circle", f"rod.outline {_CAM}", cam, _nose_circle),
        ("rod to cam, true phase", f"rod.outline block.cam_height {phase} {lobes}", cam, _lobes),
        ("counterweight to skirt", f"{_WEIGHT} piston.skirt_below_pin", weight, _skirt),
        (
            "counterweight to cam",
            f"crank.counterweight_radius {_CAM}",
            weight,
            _weight_to_cam,
        ),
        (
            "rod chamfer to fillet",
            "rod.chamfer crank.fillet_radius",
            "chamfer_to_fillet",
            _chamfer,
        ),
    )
    return {name: Pair(needs.split(), *rest) for name, needs, *rest in rows}


def lacking(engine, pair):
    """Return the sentence that says why a pair cannot be worked out, "" when it can."""
    absent = [path for path in pair.needs if _absent(engine, path)]
    if absent:
        where = [figures.where_to_measure(path) for path in absent]
        told = "; ".join(each for each in dict.fromkeys(where) if each)
        return f"needs {', '.join(absent)}" + (f": {told}" if told else "")
    if pair.found in (_nose_circle, _weight_to_cam) and (said := cam_too_small(engine)):
        return f"needs another figure: {said}"
    if pair.found is _lobes and engine.camshaft.follower != "flat":
        return "needs a flat follower: for a roller only the nose circle is looked at"
    return ""


def _absent(engine, path):
    side, _, key = path.partition(".")
    if key == "lobe":
        return engine.lobes[side] is None
    given = figures.field(engine, path)
    if path == "camshaft.follower_angle" and hasattr(given, "left"):
        banks = {"left" if each.bank == "inline" else each.bank for each in engine.layout.cylinder}
        return any(getattr(given, bank) is None for bank in banks)
    return given is None or (isinstance(given, list) and not given)
