"""What stands around a cylinder's crank in its block, and what its big end sweeps past."""

import functools
from dataclasses import dataclass

import numpy as np

from enginecalc import crank, envelope, fillet
from enginecalc.records import figures
from enginecalc.records.block_faults import cam_too_small
from enginecalc.units import to_si

_RAIL = "block.rail_offset block.rail_top block.rail_bottom"
_WEIGHT = "crank.counterweight_radius crank.counterweight_angle"
_CAM = "block.cam_height camshaft.largest_radius"


@dataclass(frozen=True)
class Least:
    """The least gaps of one pair, in SI, for each seat; `features` says what comes nearest."""

    gap: np.ndarray
    angle: np.ndarray  # after true TDC; nan where it is one all round
    features: list
    grind: np.ndarray | None = None  # None: what is missing to the limit


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

    def after_top(self, angle, turn=2 * np.pi):
        """Return crank angles from the crank pin's top as ones after true top dead center."""
        return np.mod(angle - crank.tdc_angle.kernel(*self.crank), turn)


def seats(engine, turned=()):
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


def _nearest(seats, found):
    """Return gap, angle and disc of the nearest disc of each seat, from arrays by seat and disc."""
    gap, angle = found
    at = np.argmin(gap, axis=1)
    rows = np.arange(len(at))
    names = [disc_name(seats.engine.rod.outline[disc]) for disc in at]
    return gap[rows, at], seats.after_top(angle[rows, at]), names


def _columns(seats):
    """Return x, y, radius of the discs shaped for angles along a last axis."""
    x, y, radius = seats.discs
    return x[..., None], y[:, None], radius[:, None]


def _rail(side):
    def least(seats):
        x, y, radius = _columns(seats)
        block = seats.engine.block
        away, low, high = map(to_si, (block.rail_offset, block.rail_bottom, block.rail_top))
        faces = [side * seats.outward(at) * away for at in range(len(seats.keys))]
        ends = [seats.own(np.array(faces), end)[..., None, None] for end in (low, high)]
        edge = *ends[0], *ends[1]
        return Least(
            *_nearest(
                seats,
                envelope.least_over_turn(
                    lambda angle: envelope.rod_to_edge.kernel(
                        angle, x, y, radius, *edge, *seats.crank
                    )
                ),
            )
        )

    return least


def _bore_edges(seats):
    """Return x of the bore's two lower edges in the cylinder's frame, and their height."""
    values, block = seats.engine.values, seats.engine.block
    half, offset = values["block.bore"] / 2, values["block.bore_offset"]
    return np.array([offset + half, offset - half]), to_si(block.bore_bottom)


def _bore(seats):
    x, y, radius = _columns(seats)
    edges, height = _bore_edges(seats)
    made = []
    for edge in edges:
        point = edge, height
        made.append(
            envelope.least_over_turn(
                lambda angle, point=point: envelope.rod_to_edge.kernel(
                    angle, x, y, radius, *point, *point, *seats.crank
                )
            )
        )
    return _of_two_edges(seats, [_nearest(seats, each) for each in made])


def _of_two_edges(seats, pair):
    """Return the `Least` of the nearer edge, named by its side in the front view."""
    (one, *_), (other, *_) = pair
    first = one <= other + 1e-12  # mirrored sides are alike
    gap, angle = (np.where(first, *(each[at] for each in pair)) for at in (0, 1))
    names = []
    for at, here in enumerate(first):
        side = 1 if here == (seats.turn > 0) else -1  # right or left in the front view
        names.append(f"{pair[not here][2][at]}, {_side(seats, at, side)}")
    return Least(gap, angle, names)


def _side(seats, at, side):
    """Return the word for a side of the front view, + right, as seen at a seat."""
    if seats.banks[at] == "inline":
        return "left side" if side > 0 else "right side"
    return "outer side" if side == seats.outward(at) else "inner side"


def _beam(seats):
    edges, height = _bore_edges(seats)
    width = to_si(seats.engine.rod.beam_width)
    gap, angle = envelope.least_over_turn(
        lambda at: envelope.beam_to_point.kernel(at, width, edges[:, None], height, *seats.crank)
    )
    count = len(seats.keys)
    return _of_two_edges(
        seats,
        [
            (np.full(count, gap[at]), np.full(count, seats.after_top(angle[at])), ["beam"] * count)
            for at in (0, 1)
        ],
    )


def _cam_center(seats):
    return seats.own(0.0, to_si(seats.engine.block.cam_height))


def _nose_circle(seats):
    x, y, radius = _columns(seats)
    center = _cam_center(seats)[..., None, None]
    largest = to_si(seats.engine.camshaft.largest_radius)
    found = envelope.least_over_turn(
        lambda angle: envelope.rod_to_nose_circle.kernel(
            angle, x, y, radius, *center, largest, *seats.crank
        )
    )
    return Least(*_nearest(seats, found))


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


def _lobes(seats):
    engine = seats.engine
    x, y, radius = _columns(seats)
    center = tuple(_cam_center(seats)[..., None, None])
    follower = follower_directions(seats)[:, None, None]
    base, drive = to_si(engine.camshaft.base_radius), drive_of(engine)
    made = {}
    for valve, top in lobe_tops(engine).items():
        lobe = engine.lobes[valve]
        gap, angle = envelope.least_to_lobe(
            x, y, radius, lobe, base, top, follower, drive, center, seats.crank
        )
        at = np.argmin(gap, axis=1)
        rows = np.arange(len(at))
        names = [disc_name(engine.rod.outline[disc]) for disc in at]
        made[valve] = gap[rows, at], seats.after_top(angle[rows, at], 4 * np.pi), names
    (one, *_), (other, *_) = made.values()
    nearer = np.where(one <= other, "intake", "exhaust")
    return Least(
        *(np.array([made[valve][part][at] for at, valve in enumerate(nearer)]) for part in (0, 1)),
        [f"{made[valve][2][at]}, {valve} lobe" for at, valve in enumerate(nearer)],
    )


def _skirt(seats):
    engine = seats.engine
    weight, offset = engine.crank, engine.values["block.bore_offset"]
    half = to_si(engine.piston.diameter or engine.block.bore) / 2
    ends = np.array([offset - half, offset + half])
    points = np.array([ends[0], np.clip(0.0, *ends), ends[1]])[:, None]
    hangs = engine.piston.skirt_below_pin
    sizes = tuple(map(to_si, (hangs, weight.counterweight_radius, weight.counterweight_angle)))
    gap, angle = envelope.least_over_turn(
        lambda at: envelope.counterweight_to_skirt.kernel(at, points, *sizes, *seats.crank)
    )
    at, count = np.argmin(gap), len(seats.keys)
    return Least(
        np.full(count, gap[at]),
        np.full(count, seats.after_top(angle[at])),
        ["lowest edge of skirt or boss"] * count,
    )


def _weight_to_cam(seats):
    engine, (x, y) = seats.engine, _cam_center(seats)
    radii = to_si(engine.crank.counterweight_radius), to_si(engine.camshaft.largest_radius)
    gap = np.hypot(x, y) - sum(radii)
    angle = seats.after_top(np.arctan2(x, y) - np.pi)  # the middle of the weight goes by
    return Least(gap, angle, ["rim of the counterweight"] * len(gap))


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
    """Two things that may touch: what has to be known, whose limit holds, and how it is found."""

    needs: list
    limit: str
    least: object


def pairs(engine):
    """Return {name: Pair} of everything that is looked at in this engine's block."""
    sides = ("left side", "right side") if engine.layout.kind == "inline" else (
        "outer side", "inner side")  # fmt: skip
    lobes = " ".join(f"{valve}.lobe {valve}.centerline" for valve in ("intake", "exhaust"))
    named = {
        f"rod to rail, {sides[0]}": (f"rod.outline {_RAIL}", "rod_to_block", _rail(1)),
        f"rod to rail, {sides[1]}": (f"rod.outline {_RAIL}", "rod_to_block", _rail(-1)),
        "rod to bore edge": ("rod.outline block.bore_bottom", "rod_to_block", _bore),
        "rod beam to bore edge": ("rod.beam_width block.bore_bottom", "rod_to_block", _beam),
        "rod to cam, nose circle": (f"rod.outline {_CAM}", "rod_to_cam", _nose_circle),
        "rod to cam, true phase": (
            "rod.outline block.cam_height camshaft.base_radius camshaft.follower camshaft.drive"
            f" camshaft.follower_angle {lobes}",
            "rod_to_cam",
            _lobes,
        ),
        "counterweight to skirt": (
            f"{_WEIGHT} piston.skirt_below_pin",
            "counterweight_to_anything",
            _skirt,
        ),
        "counterweight to cam": (
            f"crank.counterweight_radius {_CAM}",
            "counterweight_to_anything",
            _weight_to_cam,
        ),
        "rod chamfer to fillet": (
            "rod.chamfer crank.fillet_radius",
            "chamfer_to_fillet",
            _chamfer,
        ),
    }
    return {name: Pair(needs.split(), *rest) for name, (needs, *rest) in named.items()}


def lacking(engine, pair):
    """Return the sentence that says why a pair cannot be worked out, "" when it can."""
    absent = [path for path in pair.needs if _absent(engine, path)]
    if absent:
        where = [figures.where_to_measure(path) for path in absent]
        told = "; ".join(each for each in dict.fromkeys(where) if each)
        return f"needs {', '.join(absent)}" + (f": {told}" if told else "")
    if pair.least is _nose_circle and (said := cam_too_small(engine)):
        return f"needs another figure: {said}"
    if pair.least is _lobes and engine.camshaft.follower != "flat":
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
    return given is None or given == []
