"""The rod's envelope: worked numbers, scans of the front view by shapely, mirrors, refusals."""

import inspect
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose

from enginecalc import cam_gap, envelope, skirt
from enginecalc.lobes import CardLobe, SmoothLobe, TableLobe, card_lobe, flattest, table_lobe
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, random_cranks, worked

INCH, DEGREE, TURN, CYCLE = 0.0254, np.pi / 180, 2 * np.pi, 4 * np.pi
DOORS = {
    name: each
    for module in (envelope, cam_gap, skirt)
    for name, each in vars(module).items()
    if hasattr(each, "kernel")
}
floats = SimpleNamespace(**{name: each.kernel for name, each in DOORS.items()})


def least_of(gap, *fixed, turn=TURN):
    """Return the least of a formula's gaps over a turn, and their angles."""
    return envelope.least_over_turn(lambda angle: gap(angle, *fixed), turn)


# --- against the worked numbers of the invented engine ----------------------------------------

V8 = WORKED["inputs"]["v8"]
ENGINES = {"v8": V8, "v8s": {**V8, **WORKED["inputs"]["v8_stroker_changes"]}}
BANKS = {"L": (45 * DEGREE, 1), "R": (-45 * DEGREE, -1)}  # even rods are the same part turned round
X, Y, RADIUS = INCH * np.array([*V8["rod_outline_front_view_chamfer_front"].values()])[..., None]
both_banks = pytest.mark.parametrize("bank", BANKS)
both_engines = pytest.mark.parametrize("engine", ENGINES)


def inches(engine, *names):
    """Return some of an engine's lengths in m."""
    return tuple(ENGINES[engine][f"{name}_in"] * INCH for name in names)


def outline(facing):
    """Return x, y and radius of the rod's discs, one a row; `facing` -1 turns the rod round."""
    return facing * X, Y, RADIUS


def nearest(gap, *fixed, turn=TURN):
    """Return the least gap of all discs in inches, its angle in degrees, and the disc."""
    gaps, angles = least_of(gap, *fixed, turn=turn)
    disc = int(np.argmin(gaps))
    return np.ravel(gaps)[disc] / INCH, np.ravel(angles)[disc] / DEGREE, disc


def cam_center(engine, bank):
    return floats.to_own_frame(0.0, *inches(engine, "cam_height"), BANKS[bank][0], 1)


def around(engine, bank, facing):
    """Return the least gap, its angle and its disc from a rod to all about it, by names in keys."""
    bore, height, half = inches(engine, "bore", "bore_bottom_height", "rod_beam_half_width")
    out, base, lift = inches(engine, "rail_offset", "cam_base_radius", "exhaust_lobe_lift")
    ends = INCH * np.array(V8["rail_from_to_height_in"])
    discs, crank = outline(facing), inches(engine, "stroke", "rod_length")
    fixed = *discs, *cam_center(engine, bank), base + lift, *crank
    found = {"cam_circle": nearest(floats.rod_to_nose_circle, *fixed)}
    for side in (1, -1):
        edge = side * bore / 2, height
        rail = floats.to_own_frame(side * out, ends, BANKS[bank][0], 1).T.ravel()
        found[f"rail{side:+d}"] = nearest(floats.rod_to_edge, *discs, *rail, *crank)
        found[f"bore{side:+d}"] = nearest(floats.rod_to_edge, *discs, *edge, *edge, *crank)
        found[f"beam{side:+d}"] = nearest(floats.beam_to_point, 2 * half, *edge, *crank)
    return found


@both_engines
@both_banks
def test_rails_bore_edges_and_camshaft(engine, bank):
    facing = BANKS[bank][1]
    found = around(engine, bank, facing)
    for what, (gap, angle, _) in found.items():
        assert gap == worked(f"{engine}.env.{bank}.{what}")
        assert angle == worked(f"{engine}.env.{bank}.{what}_at")
    assert found[f"rail{facing:+d}"][2] == 3  # the shoulder at +1.20
    assert found[f"rail{-facing:+d}"][2] == 2  # the bolt head at -1.18


@both_engines
def test_a_rod_turned_the_wrong_way_round(engine):
    right, left = around(engine, "R", 1), around(engine, "L", -1)
    for rail in ("rail+1", "rail-1"):
        assert right[rail][0] == worked(f"{engine}.env.R.{rail}_if_not_turned")
    assert left["rail+1"][0] == worked(f"{engine}.env.L.rail+1_backwards_rod")


@both_banks
@pytest.mark.parametrize(("valve", "top"), [("intake", 360 + 105), ("exhaust", 360 - 113)])
@pytest.mark.parametrize(("drive", "train"), [(1, "chain"), (-1, "gear")])
def test_lobes_at_their_true_phase(bank, valve, top, drive, train):
    base, lift = inches("v8s", "cam_base_radius", f"{valve}_lobe_lift")
    lobe = SmoothLobe(lift, V8[f"{valve}_half_duration_crank_deg"] * DEGREE)
    follower = V8["follower_direction_left_right_deg"][bank == "R"] * DEGREE - BANKS[bank][0]
    given = *outline(BANKS[bank][1]), lobe, base, top * DEGREE, follower, drive
    center, crank = cam_center("v8s", bank), inches("v8s", "stroke", "rod_length")
    gap, angle, disc = nearest(floats.rod_to_lobe, *given, *center, *crank, turn=CYCLE)
    gaps, angles = cam_gap.least_to_lobe(*given, center, crank)
    key = f"v8s.lobe.{bank}.{valve[0]}.{train}"
    assert [gap, min(gaps) / INCH] == [worked(key)] * 2
    if f"{key}_at" in WORKED:  # with no lobe near, the base circle stands as near twice a cycle
        assert [angle, angles[disc] / DEGREE] == [worked(f"{key}_at")] * 2
        assert disc == np.argmin(gaps) == WORKED[f"{key}_disc"]
    circle, _, _ = nearest(floats.rod_to_nose_circle, *given[:3], *center, base, *crank)
    assert circle == worked("v8s.base_circle_gap")


@both_engines
def test_counterweight_skirt_and_ring_pack(engine):
    crank = inches(engine, "stroke", "rod_length")
    rim, below = inches(engine, "counterweight_radius", "boss_or_skirt_below_pin")
    sector = 2 * V8["counterweight_half_angle_deg"] * DEGREE
    gap, _, _ = nearest(floats.counterweight_to_skirt, 0.0, below, rim, sector, *crank)
    assert gap == worked(f"{engine}.cw_gap")
    hanging = floats.skirt_below_bore(*inches(engine, "bore_bottom_height"), below, *crank)
    assert hanging / INCH == worked(f"plan.{engine}.skirt_below_bore")
    height, pin = inches(engine, "compression_height", "piston_pin_diameter")
    pack = sum(V8["ring_pack_from_crown_in"]) * INCH
    left = floats.pin_to_oil_groove(height, pack, pin)
    assert left / INCH == worked(f"plan.pin_to_oil_groove_{engine}")


# --- against geometry and identities ----------------------------------------------------------


def toward(angle):
    """Return a step of one to a direction clockwise from vertical, as right + up * 1j."""
    return 1j * np.exp(-1j * angle)


def random_lobe(draw, number):
    """Return a closed law, a card's with unlike flanks or a table, and a base radius for it."""
    lift, half = draw.uniform(0.006, 0.011), draw.uniform(125, 165) * DEGREE
    lobe = SmoothLobe(lift, half)
    if number % 3 == 1:
        flanks = half * draw.uniform([0.85, 0.66], [1.0, 0.72], (2, 2))
        lobe = card_lobe(lift, [0.02 * lift, 0.3 * lift], *flanks)
    if number % 3 == 2:
        rows = np.arange(-180, 181, draw.choice([1, 2, 5])) * DEGREE
        lobe = table_lobe(rows, lobe.lift(rows), 0.0)
    return lobe, draw.uniform(0.002, 0.012) - flattest(lobe, 0.0)


def random_engines(count=25, seed=21):
    """Return engines as seen from the front, either way round, banks leant to either side."""
    for number, crank in enumerate(zip(*random_cranks(count, seed), strict=True)):
        draw = np.random.default_rng([seed, number])
        x, y, radius = crank[0] * draw.uniform([-0.35, -0.25, 0.1], [0.35, 0.2, 0.25], (3, 3)).T
        engine = SimpleNamespace(number=number, crank=crank, reach=crank[0] / 2)
        engine.reach += max(np.hypot(x, y) + radius)
        engine.discs = x[:, None], y[:, None], radius[:, None]
        engine.lobe, engine.base = random_lobe(draw, number)
        engine.bank, engine.follower, cam = draw.uniform(-1, 1, 3) * [60, 70, 80] * DEGREE
        away = engine.reach + engine.base + engine.lobe.lobe_lift * draw.uniform(0.2, 1.1)
        engine.cam, engine.top = away * toward(cam), draw.uniform(0, 720) * DEGREE
        engine.rotation, engine.drive = draw.choice([-1, 1], 2)
        yield engine


DRAWN = list(random_engines())
of_any_engine = pytest.mark.parametrize("engine", DRAWN, ids=range(25))


def front_view(engine, angle):
    """Return crank pin, piston pin and the discs' centers as right + up * 1j, by no code here."""
    (stroke, rod, offset), (x, y, _) = engine.crank, engine.discs
    up, right = toward(engine.bank), toward(engine.bank + np.pi / 2)
    foot = stroke / 2 * toward(engine.bank + engine.rotation * angle)
    aside = (foot * np.conj(right)).real - engine.rotation * offset
    head = foot - aside * right + np.sqrt(rod**2 - aside**2) * up
    return foot, head, foot + (head - foot) / rod * (y - 1j * x)


def own_place(engine, place):
    """Return x and y of a place in the front view in the cylinder's own frame."""
    return floats.to_own_frame(place.real, place.imag, engine.bank, engine.rotation)


def own_discs(engine):
    return engine.rotation * engine.discs[0], *engine.discs[1:]


def points(places):
    return shapely.points(places.real, places.imag)


def lines(start, end):
    both = np.stack([start, end], -1)
    return shapely.linestrings(np.stack([both.real, both.imag], -1))


def agree(gap, found, turn=TURN, step=0.1, hair=1e-11, far=None):
    """Require that `gap`, stepped through, never shows less than was found, and shows it there."""
    least, angle = (np.atleast_1d(each) for each in found)
    assert_allclose(np.ravel(gap(angle[:, None])), least, rtol=0, atol=far or hair)
    coarse = np.arange(0, turn, step * DEGREE)
    lowest = np.atleast_1d(coarse[np.argmin(gap(coarse), axis=-1)])
    fine = gap(lowest[:, None] + np.arange(-step, step, 0.02) * DEGREE)
    stepped, between = np.min(fine, axis=-1), np.max(abs(np.diff(fine)), axis=-1)
    assert np.all(stepped > least - hair)
    assert np.all(stepped < least + between + (far or hair))


@of_any_engine
def test_rod_against_edges_by_a_scan_of_the_front_view(engine):
    draw, discs, crank = np.random.default_rng(engine.number), own_discs(engine), engine.crank
    start, point = engine.reach * draw.uniform(0.9, 1.4, 2) * toward(draw.uniform(0, TURN, 2))
    end = start + crank[0] * draw.uniform(0.05, 0.5) * toward(draw.uniform(0, TURN))
    for one, two, shape in ((start, end, lines(start, end)), (point, point, points(point))):

        def beside(angle, shape=shape):
            return shapely.distance(points(front_view(engine, angle)[2]), shape) - discs[2]

        edge = *own_place(engine, one), *own_place(engine, two)
        agree(beside, least_of(floats.rod_to_edge, *discs, *edge, *crank))

    def beside_beam(angle):
        return shapely.distance(lines(*front_view(engine, angle)[:2]), points(point)) - 0.006

    agree(beside_beam, least_of(floats.beam_to_point, 0.012, *own_place(engine, point), *crank))


def polar(places):
    """Return the corners of what the lines place . z = 1 leave round about zero."""
    hull = shapely.get_coordinates(shapely.MultiPoint(points(places)).convex_hull) @ [1, 1j]
    one, two = hull[:-1], hull[1:]
    return -1j * (two - one) / (np.conj(one) * two).imag


def cut_lobe(engine, faces=7200):
    """Return the outline that a follower's face leaves in a cycle, as if it cut; nose up to it."""
    after = np.arange(faces) * (CYCLE / faces) - TURN
    height = engine.base + engine.lobe.lift(after)
    way = engine.rotation * engine.drive
    corners = polar(toward(engine.follower - way * after / 2) / height)
    return shapely.STRtree(lines(corners, np.roll(corners, -1)))


@of_any_engine
def test_rod_against_lobe_by_a_scan_of_the_front_view(engine):
    follower = engine.rotation * (engine.follower - engine.bank)
    given = engine.lobe, engine.base, engine.top, follower, engine.drive
    discs, center, crank = own_discs(engine), own_place(engine, engine.cam), engine.crank
    outline = cut_lobe(engine)

    def to_outline(places, angle):
        turned = engine.rotation * engine.drive * (angle - engine.top) / 2
        still = points((places - engine.cam) * np.exp(1j * turned))
        far = outline.query_nearest(still.ravel(), return_distance=True, all_matches=False)[1]
        return far.reshape(still.shape)

    def beside(angle):
        return to_outline(front_view(engine, angle)[2], angle) - discs[2]

    # a cubic through readings is no flat follower's to the last micron: the gap then errs to less
    table = isinstance(engine.lobe, TableLobe)
    far = 2e-5 if table else 5e-8
    found = cam_gap.least_to_lobe(*discs, *given, center, crank)
    agree(beside, found, CYCLE, 0.5, 5e-8, far)
    angle = np.linspace(0, CYCLE, 41)
    gap = floats.rod_to_lobe(angle, *discs, *given, *center, *crank)
    assert_allclose(gap, beside(angle), rtol=0, atol=far)
    nose, base = (
        floats.rod_to_nose_circle(angle, *discs, *center, engine.base + lift, *crank)
        for lift in (engine.lobe.lobe_lift, 0.0)
    )
    assert np.all((nose - 1e-12 < gap) & (gap < base + 1e-12))
    # the outline has no point beyond the follower's face, and one on it
    x, y = floats.lobe_outline(np.linspace(-3, 3, 31)[:, None] + follower, angle, *given)
    reach = np.max(x * np.sin(follower) + y * np.cos(follower), axis=0) - engine.base
    lift = engine.lobe.lift((angle - engine.top + TURN) % CYCLE - TURN)
    assert_allclose(reach, lift, rtol=0, atol=far if table else 1e-12)
    if not table:
        right, up = floats.to_front_view(x, y, engine.bank, engine.rotation)
        assert np.max(to_outline(right + 1j * up + engine.cam, angle)) < far


@pytest.mark.parametrize("engine", [e for e in DRAWN if not isinstance(e.lobe, TableLobe)])
def test_a_disc_put_square_to_the_outline_stands_as_far_off_as_it_was_put(engine):
    draw, (x, y, radius), crank = np.random.default_rng(engine.number), engine.discs, engine.crank
    angle, direction = draw.uniform(0, [[CYCLE], [TURN]], (2, 200))
    off = 10 ** draw.uniform(-4, -1, 200)
    given = engine.lobe, engine.base, engine.top, engine.follower, engine.drive
    touching = floats.lobe_outline(direction, angle, *given)
    put = touching + off * np.stack([np.sin(direction), np.cos(direction)])
    center = floats.rod_points(angle, x, y, *crank) - put[:, None]
    gap = floats.rod_to_lobe(angle, x, y, radius, *given, *center, *crank)
    assert_allclose(gap, off - radius, rtol=0, atol=1e-14)


def test_a_lobe_that_an_unguarded_newton_step_leaves_short():
    lobe = CardLobe(0.0067, (105.6 * DEGREE, 119 * DEGREE), ((3.455, 2.0), (2.0, 2.05)))
    place = -103.65 * DEGREE, 0.0218333, 0.0570730, 0.0
    made = floats.rod_to_lobe(*place, lobe, 0.037, 0.0, 0.0, 1, 0.0, 0.0, 0.08, 0.15)
    around = np.linspace(-np.pi, np.pi, 720_001)
    x, y = floats.lobe_outline(around, place[0], lobe, 0.037, 0.0, 0.0, 1)
    at = floats.rod_points(*place[:3], 0.08, 0.15)
    assert made == pytest.approx(np.min(np.hypot(x - at[0], y - at[1])), abs=1e-8)


@of_any_engine
def test_counterweight_by_a_scan_of_the_front_view(engine):
    draw, (stroke, rod, _) = np.random.default_rng(engine.number), engine.crank
    side, below = stroke * draw.uniform(-0.6, 0.6), rod * draw.uniform(0.1, 0.3)
    radius, span = (rod - stroke / 2) * draw.uniform(0.3, 0.7), draw.uniform(60, 340) * DEGREE
    rim = radius * toward(np.linspace(-span / 2, span / 2, 2001))
    weight = shapely.Polygon(np.stack([[0, *rim.real], [0, *rim.imag]], -1))
    up, right = toward(engine.bank), toward(engine.bank + np.pi / 2)

    def beside(angle):
        height = (front_view(engine, angle)[1] * np.conj(up)).real - below
        skirt = engine.rotation * side * right + height * up
        middle = engine.bank + engine.rotation * (angle + np.pi)
        return shapely.distance(points(skirt * np.exp(1j * middle)), weight)

    least, angle = least_of(floats.counterweight_to_skirt, side, below, radius, span, *engine.crank)
    chord = radius * (span / 2000) ** 2 / 8  # how far the polygon's sides lie inside the rim
    agree(beside, (np.maximum(least, 0), angle), hair=chord + 1e-11)


def test_piston_at_its_lowest():
    stroke, rod, offset = (each[:, None] for each in random_cranks(30, 5))
    below, radius = 0.25 * (rod - stroke / 2), 0.6 * (rod - stroke / 2)
    lowest, _ = least_of(lambda *given: floats.rod_points(*given)[1], 0, rod, stroke, rod, offset)
    hanging = floats.skirt_below_bore(0.2, below, stroke, rod, offset)
    assert_allclose(np.ravel(hanging), 0.2 - (lowest - np.ravel(below)), rtol=0, atol=1e-12)
    gap, angle = least_of(floats.counterweight_to_skirt, 0.0, below, radius, 2.1, stroke, rod)
    assert_allclose(gap, np.ravel(rod - stroke / 2 - below - radius), rtol=0, atol=1e-12)
    assert_allclose(angle, np.pi, atol=1e-4)


@of_any_engine
def test_frames_undo_one_another_and_the_rod_is_rigid(engine):
    angle, (stroke, rod, offset) = np.linspace(0.2, 6, 40), engine.crank
    x, y, _ = own_discs(engine)
    spots = floats.rod_points(angle, x, y, *engine.crank)
    right, up = floats.to_front_view(*spots, engine.bank, engine.rotation)
    assert_allclose(right + 1j * up, front_view(engine, angle)[2], rtol=0, atol=1e-14)
    assert_allclose(own_place(engine, right + 1j * up), spots, rtol=0, atol=1e-15)
    apart = np.hypot(*(spots[:, 1:] - spots[:, :-1]))
    assert_allclose(apart, np.hypot(np.diff(x, axis=0), np.diff(y, axis=0)) + 0 * apart, rtol=1e-11)
    foot, head = (floats.rod_points(angle, 0.0, along, *engine.crank) for along in (0.0, rod))
    assert_allclose(head[0], offset, rtol=0, atol=1e-15)
    assert_allclose(np.hypot(*foot), stroke / 2, rtol=1e-14)
    assert_allclose(np.hypot(*(head - foot)), rod, rtol=1e-14)


@of_any_engine
def test_parts_turned_the_other_way_meet_the_same_at_minus_the_angle(engine):
    """In the front view all stays where it is: so x, offset and angles change sign, both ways."""
    (stroke, rod, offset), (x, y, radius), lobe = engine.crank, engine.discs, engine.lobe
    swapped = lobe
    if isinstance(lobe, CardLobe):
        swapped = CardLobe(lobe.lobe_lift, lobe.widths[::-1], lobe.powers[::-1])

    def gaps(way, lobe):
        angle, crank = way * np.linspace(0.1, 12, 60), (stroke, rod, way * offset)
        disc, follower = (way * x, y, radius), way * (engine.follower - engine.bank)
        seen = SimpleNamespace(bank=engine.bank, rotation=way)
        near, cam = own_place(seen, engine.cam * 0.8), own_place(seen, engine.cam)
        fixed = lobe, engine.base, way * engine.top, follower, engine.drive
        yield floats.rod_to_edge(angle, *disc, *near, *cam, *crank)
        yield floats.beam_to_point(angle, 0.02, *near, *crank)
        yield floats.rod_to_nose_circle(angle, *disc, *cam, 0.03, *crank)
        yield floats.counterweight_to_skirt(angle, way * 0.03, 0.02, 0.04, 2.5, *crank)
        yield floats.rod_to_lobe(angle, *disc, *fixed, *cam, *crank)

    for one, other in zip(gaps(1, lobe), gaps(-1, swapped), strict=True):
        assert_allclose(other, one, rtol=0, atol=1e-13)


PLACES = np.random.default_rng(8).uniform(0, TURN, (200, 1))
VALLEYS = {  # the least is 0 and stands at 0
    "two waves": lambda t: 0.02 * (1 - np.cos(t)) + 0.01 * (1 - np.cos(3 * t)),
    "kink": lambda t: 0.01 * abs((t + np.pi) % TURN - np.pi),
    "leaning kink": lambda t: np.where(np.sin(t) > 0, 0.01, -0.0005) * np.sin(t) + 1 - np.cos(t),
    "another, a hair higher": lambda t: np.minimum(1 - np.cos(t), 1 - np.cos(t - 2) + 1e-8),
}


@pytest.mark.parametrize("shape", VALLEYS)
@pytest.mark.parametrize(("turn", "step"), [(TURN, DEGREE), (CYCLE, 2 * DEGREE)])
def test_least_of_valleys_known_beforehand(shape, turn, step):
    times = turn / TURN
    gap, angle = envelope.least_over_turn(lambda t: VALLEYS[shape](t / times - PLACES), turn, step)
    assert_allclose(gap, 0, atol=6e-7 if shape == "kink" else 1e-9)  # as its docstring says
    off = (angle - PLACES[:, 0] * times + turn / 2) % turn - turn / 2
    assert_allclose(off / DEGREE, 0, atol=0.01)


# --- behaviour --------------------------------------------------------------------------------

CRANKED = [name for name, each in DOORS.items() if "stroke" in each.takes]
OTHERS = {"lobe": SmoothLobe(0.008, 2.5), "drive": -1, "rotation": -1}
SIZES = {"stroke": 0.09, "rod_length": 0.15, "pin_offset": -0.002, "base_radius": 0.02, "y": -0.02}


def arguments(name, wrap=lambda value, unit: value, **changes):
    """Return arguments for a function: 0.03 m or rad, or as in SIZES or the changes."""
    sizes, takes = {**SIZES, **changes}, DOORS[name].takes
    given = {each: wrap(sizes.get(each, 0.03), unit) for each, unit in takes.items()}
    asked = inspect.signature(DOORS[name].kernel).parameters
    return {**given, **{each: OTHERS[each] for each in OTHERS if each in asked}}


@pytest.mark.parametrize("name", DOORS)
def test_inches_and_degrees_at_the_door_and_bare_numbers_outside_it(name):
    given = arguments(name, lambda value, unit: Q(value, unit).to({"m": "inch"}.get(unit, "deg")))
    expected = DOORS[name].kernel(**arguments(name))
    assert_allclose(DOORS[name](**given).m_as("m"), expected, rtol=1e-11)
    first, unit = next(iter(DOORS[name].takes.items()))
    for wrong, said in ((2.5, "the bare 2.5"), (Q(2.5, "kg"), "2.5 kg")):
        with pytest.raises(
            UnitError, match=f"{name}: {first} needs a unit like {unit}, got {said}"
        ):
            DOORS[name](**{**given, first: wrong})


@pytest.mark.parametrize("name", CRANKED)
def test_a_rod_too_short_is_refused_at_the_door_and_nan_in_a_sweep(name):
    sentence = (
        f"^{name}: rod_length must be longer than half the stroke plus the pin offset, or the crank"
        " cannot turn, got 46 mm against 47 mm"
    )
    with pytest.raises(ValueError, match=sentence):
        DOORS[name](**arguments(name, Q, rod_length=0.046))
    swept = DOORS[name].kernel(**arguments(name, rod_length=np.array([0.15, 0.046])))
    assert np.isnan(swept[..., 1]).all()
    assert_allclose(swept[..., 0], DOORS[name].kernel(**arguments(name)), rtol=1e-13)


def test_the_least_gap_of_a_crank_that_cannot_turn_is_nan():
    x, y, rods = np.array([[[0.01], [0.02]], [[0.02], [-0.01]], [[0.15], [0.046]]])
    given = 0.03, SmoothLobe(0.008, 2.5), 0.02, 7.0, 0.3, -1, (0.01, 0.12)
    gaps, angles = cam_gap.least_to_lobe(x, y, *given, (0.09, rods, 0.002))
    assert np.isnan(gaps).tolist() == [False, True]
    alone = cam_gap.least_to_lobe(0.01, 0.02, *given, (0.09, 0.15, 0.002))
    assert_allclose(alone, [gaps[0], angles[0]], rtol=1e-7)


@pytest.mark.parametrize("name", DOORS)
def test_arrays_equal_loops(name):
    draw = np.random.default_rng(3)
    sizes = {each: draw.uniform(0.02, 0.04, 6) for each in DOORS[name].takes}
    sizes |= {"stroke": draw.uniform(0.07, 0.1, 6), "rod_length": draw.uniform(0.13, 0.16, 6)}
    together = DOORS[name].kernel(**arguments(name, **sizes))
    for at in range(6):
        alone = arguments(name, **{each: values[at] for each, values in sizes.items()})
        assert_allclose(together[..., at], DOORS[name].kernel(**alone), rtol=1e-12, atol=1e-16)
