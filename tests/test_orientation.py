"""Which way round everything goes: worked numbers, vectors in the front view, orders tried."""

import itertools
from types import SimpleNamespace

import numpy as np
import pytest

from enginecalc.records import load_engine
from enginecalc.records.layout import layout_names, layout_numberings, layout_table
from enginecalc.records.orientation import (
    backwards,
    next_angle,
    orientation,
    sequence,
    tang_side_like,
)
from enginecalc.units import Q
from tests.chapters import ENGINES, FOUR
from tests.chapters import V8 as EIGHT
from tests.figures import WORKED, worked

V8 = load_engine(ENGINES / f"{EIGHT}.toml")
I4 = load_engine(ENGINES / f"{FOUR}.toml")
ALL = [(name, each, turn) for name in layout_names() for each in layout_numberings(name)
       for turn in (1, -1)]  # fmt: skip


def with_layout(name, numbering="along the crank", turn=1):
    """Return the four-cylinder with another layout; in reverse the same crank turned back."""
    made = layout_table(name, numbering)
    if turn < 0:
        first, *rest = made["firing_order"]
        made |= {"rotation": "reverse", "firing_order": [first, *rest[::-1]]}
        made["crank_pins"] = [f"{-float(each.split()[0]):g} deg" for each in made["crank_pins"]]
    return I4.altered({"layout": made})


BACK = V8.altered({"layout": {**layout_table("V8 90°, cross-plane"), "rotation": "reverse",
                              "crank_pins": ["0 deg", "270 deg", "90 deg", "180 deg"],
                              "firing_order": [1, 3, 4, 8, 6, 2, 7, 5]}})  # fmt: skip


def words(lines, unit="inch"):
    """Return lines of words as one text, lengths with four decimals."""
    return "\n".join(text.format(*(f"{each.m_as(unit):.4f}" for each in lengths))
                     for text, lengths in lines)  # fmt: skip


# --- against the worked numbers of the invented engines ---------------------------------------


def mirrored():
    """The same leads turned the other way cannot fire, so no whole engine has them."""
    layout = V8.layout.model_copy(update={"rotation": "reverse"})
    return SimpleNamespace(layout=layout, piston=V8.piston)


@pytest.mark.parametrize(
    ("engine", "key"),
    [
        (V8, "tdc"),
        (BACK, "tdc_same_crank_reversed"),
        (mirrored(), "tdc_reverse_same_leads"),
    ],
)
def test_top_and_bottom_of_every_pin(engine, key):
    for number, top in WORKED[f"phase.{key}"].items():
        here = orientation(engine, int(number))
        assert here.top.m_as("deg") == pytest.approx(top)
        assert here.bottom.m_as("deg") == pytest.approx((top + 180) % 360)


def test_companions_are_those_of_the_table():
    for one, other in WORKED["phase.companions"]:
        assert orientation(V8, one).companions == (other,)
        assert orientation(V8, other).companions == (one,)


@pytest.mark.parametrize("cylinder", range(1, 9))
def test_a_rod_turned_round(cylinder):
    found = backwards(V8, cylinder)
    assert found.centered.m_as("inch") == worked("fillet.no_chamfer")
    assert found.at_cheek.m_as("inch") == worked("fillet.no_chamfer_worst")
    right, turned = found.changes["rod to rail, outer side"]
    assert right.m_as("inch") == worked("v8.env.L.rail+1")
    assert turned.m_as("inch") == worked("v8.env.L.rail+1_backwards_rod")
    assert [each.m_as("inch") for each in found.too_small] == [0.115, 0.125]


# --- against geometry and identities ----------------------------------------------------------

SIGN = {"left": 1, "right": -1, "inline": 0}


def bank_of(layout, each):
    """Return a bank's angle in rad from the file's words, clockwise in the front view."""
    half = {"V": layout.bank_angle.m_as("rad") / 2 if layout.kind == "V" else 0, "flat": np.pi / 2}
    return SIGN[each.bank] * half.get(layout.kind, 0.0)


def upright(angle):
    """Return the unit vector of the front view so far clockwise from vertical."""
    return np.array([np.sin(angle), np.cos(angle), 0.0])


def side_named(layout, each, way):
    """Return the name of the side of a bore to which a vector of the front view points."""
    if layout.kind == "inline":
        return "left" if way[0] > 0 else "right"  # as seen from behind
    if layout.kind == "flat":
        return "upper" if way[1] > 0 else "lower"
    return "outer" if way[0] * SIGN[each.bank] > 0 else "valley"


@pytest.mark.parametrize(("name", "numbering", "turn"), ALL)
def test_the_pin_is_on_its_bores_axis_at_top_and_bottom(name, numbering, turn):
    engine = with_layout(name, numbering, turn)
    layout = engine.layout
    leads = np.radians([each.m_as("deg") for each in layout.crank_pins])
    first = layout.cylinder[0]
    for each in layout.cylinder:
        here, axis = orientation(engine, each.number), upright(bank_of(layout, each))
        lead = leads[each.pin - 1] - leads[first.pin - 1]
        for angle, sign in ((here.top, 1), (here.bottom, -1)):
            pin = upright(bank_of(layout, first) + turn * (angle.m_as("rad") + lead))
            assert pin == pytest.approx(sign * axis, abs=1e-9)
            assert 0 <= angle.m_as("deg") < 360


@pytest.mark.parametrize(("name", "numbering", "turn"), ALL)
def test_the_rod_presses_the_piston_on_the_side_called_major(name, numbering, turn):
    engine = with_layout(name, numbering, turn)
    layout = engine.layout
    for each in layout.cylinder:
        here, bank = orientation(engine, each.number), bank_of(layout, each)
        axis, pin = upright(bank), upright(bank + turn * np.radians(30))  # after firing TDC
        rod = 4 * axis - pin
        press = rod - (rod @ axis) * axis  # pushed along the rod, the wall takes what is across
        right = np.cross(-axis, [0, 0, 1])  # looking down the bore, front up
        assert here.thrust == ("right" if press @ right > 0 else "left")
        clockwise = np.degrees(np.arctan2(press @ right, press[2])) % 360
        assert here.thrust_angle.m_as("deg") == pytest.approx(clockwise)
        assert here.thrust_side == side_named(layout, each, press)


@pytest.mark.parametrize(("name", "numbering", "turn"), ALL)
def test_pairs_go_back_to_back(name, numbering, turn):
    engine = with_layout(name, numbering, turn)
    pins = {}
    for each in engine.layout.cylinder:
        pins.setdefault(each.pin, []).append(orientation(engine, each.number))
    for on_pin in pins.values():
        if len(on_pin) == 1:
            assert (on_pin[0].sits, on_pin[0].sharing, on_pin[0].cheek_from) == (
                "alone",
                (),
                "taken",
            )
            continue
        # common practice, no source: each chamfer faces the cheek beside its rod
        assert [(each.sits, each.cheek) for each in on_pin] == [
            ("front", "front cheek"), ("rear", "rear cheek")]  # fmt: skip
        one, other = on_pin
        assert (one.sharing, other.sharing) == ((other.cylinder,), (one.cylinder,))


@pytest.mark.parametrize(("name", "numbering", "turn"), ALL)
def test_tangs_go_with_the_part_as_it_is_turned(name, numbering, turn):
    engine = with_layout(name, numbering, turn)
    layout = engine.layout
    for part in (1, -1):  # where the tangs lie on the part, its chamfer in front
        sides = {}
        for each in layout.cylinder:
            turned = 1 if orientation(engine, each.number).cheek == "front cheek" else -1
            bank = bank_of(layout, each)
            across = np.array([np.cos(bank), -np.sin(bank), 0.0])
            sides[each.number] = side_named(layout, each, part * turned * across)
        for known, asked in itertools.product(sides, repeat=2):
            assert tang_side_like(engine, known, sides[known], asked) == sides[asked]
        if "shared" in name or "V8" in name:
            assert len(set(sides.values())) == 1  # the usual pairs: all outer, or all in the valley


def turned_in(angles, start):
    """Return how far the crank turns, forward only, to come to all angles in this order."""
    return sum((after - before) % 360 for before, after in itertools.pairwise([start, *angles]))


@pytest.mark.parametrize("start", [0.0, 33.0, 180.0, 300.0])
@pytest.mark.parametrize(("name", "turn"), [(name, turn) for name in layout_names()
                                            for turn in (1, -1)])  # fmt: skip
def test_no_other_order_turns_the_crank_less(name, turn, start):
    engine = with_layout(name, turn=turn)
    steps = sequence(engine, Q(start, "deg"))
    assert sorted(map(str, dict(steps))) == sorted(map(str, engine.layout.numbers))
    for number, angle in steps:
        assert angle == orientation(engine, number).bottom
    angles = [angle.m_as("deg") for _, angle in steps]
    tried = itertools.permutations(set(angles))
    assert turned_in(angles, start) == pytest.approx(min(turned_in(each, start) for each in tried))


def test_the_order_of_the_v8_by_hand():
    # pins at the bottom: 4, 7 at 0; 2, 3 at 90; 1, 6 at 180; 5, 8 at 270
    assert [number for number, _ in sequence(V8)] == [4, 7, 2, 3, 1, 6, 5, 8]
    assert [number for number, _ in sequence(V8, Q(91, "deg"))] == [1, 6, 5, 8, 4, 7, 2, 3]
    assert next_angle(V8, [1, 6], Q(180, "deg")) == (5, Q(270.0, "deg"))
    assert next_angle(V8, [5, 8], Q(-90, "deg")) == (4, Q(0.0, "deg"))
    assert next_angle(V8, []) == (4, Q(0.0, "deg"))
    assert next_angle(V8, range(1, 9), Q(10, "deg")) is None


def test_a_rod_turned_round_and_back_is_the_same_part():
    for cylinder, side in ((1, "outer"), (2, "valley")):
        other = {"outer": "valley", "valley": "outer"}[side]
        cylinders = layout_table("V8 90°, cross-plane")["cylinder"]
        cylinders[cylinder - 1]["chamfer"] = "rear" if cylinder == 1 else "front"
        wrong = V8.altered({"layout.cylinder": cylinders})
        assert tang_side_like(wrong, 5, side, cylinder) == other


# --- behaviour --------------------------------------------------------------------------------


def test_what_it_says_of_the_first_cylinder():
    said = words(orientation(V8, 1).lines())
    for part in (
        "Cylinder 1, left bank: crank pin 1, shared with cylinder 2; this rod sits to the front",
        "reaches its top together with cylinder 6",
        "at the top of its bore at 0°, and at the bottom, where the piston goes in, at 180°",
        "Major thrust side: right seen from above with the front up, 90° clockwise",
        "the valley side",
        "chamfer to the front cheek, as the engine file has it; the pair goes back to back",
        "a cap never goes on another rod or turned round",
        "not entered yet where they lie",
    ):
        assert part in said
    assert "the outer side" in words(orientation(V8, 2).lines())
    assert "reaches its top alone" in words(orientation(with_layout("inline 3"), 2).lines())


def test_an_offset_lies_on_the_side_its_sign_says():
    here = orientation(I4, 2)
    assert (here.offset_side, here.mark_misleads) == ("major", False)
    assert "Pin offset: 0.6000 to the major thrust side" in words(here.lines(), "mm")
    here = orientation(I4.altered({"piston.pin_offset": "0.6 mm"}), 2)
    assert (here.offset_side, here.mark_misleads) == ("minor", False)
    assert "is the sign of piston.pin_offset right" in words(here.lines(), "mm")
    assert "none; the pin is in the middle" in words(orientation(V8, 3).lines())
    here = orientation(I4.altered({"piston.pin_offset": None}), 2)
    assert (here.offset_side, here.mark_misleads) == ("", False)
    assert "not in the file (piston.pin_offset)" in words(here.lines())


@pytest.mark.parametrize("offset", ["-0.6 mm", "0.6 mm"])
def test_in_reverse_the_front_mark_misleads(offset):
    engine = I4.altered({"layout.rotation": "reverse", "layout.firing_order": [1, 2, 4, 3],
                         "piston.pin_offset": offset})  # fmt: skip
    here = orientation(engine, 3)
    assert here.mark_misleads
    assert (here.thrust, here.thrust_side, here.thrust_angle) == ("left", "left", Q(270.0, "deg"))
    assert "has its offset on the minor thrust side; measure" in words(here.lines(), "mm")
    assert not orientation(BACK, 3).mark_misleads  # no offset, nothing to mislead


def test_a_chamfer_in_the_file_is_followed_and_doubted():
    cylinders = layout_table("V8 90°, cross-plane")["cylinder"]
    here = orientation(V8.altered({"layout.cylinder": cylinders}), 2)
    assert (here.cheek, here.cheek_from) == ("rear cheek", "pair")
    assert "because the pair on a pin goes back to back" in words(here.lines())
    cylinders[1]["chamfer"] = "front"
    engine = V8.altered({"layout.cylinder": cylinders})
    here = orientation(engine, 2)
    assert (here.cheek, here.cheek_from, here.sits) == ("front cheek", "engine file", "rear")
    assert "against its neighbor: look again" in words(here.lines())
    found = backwards(engine, 2)
    assert (found.centered, found.at_cheek) == (None, None)
    assert "the file has this rod turned round already" in words(found.lines())


def test_what_it_says_of_a_rod_turned_round():
    said = words(backwards(V8, 2).lines())
    for part in (
        "Its square edge at the rear cheek bites the fillet by 0.0467 with the side clearance",
        "bites the fillet by 0.0518 against the cheek with no oil film",
        "Rod to rail, outer side: 0.1644 instead of 0.1121",
        "Its chamfer of 0.1150 is less than the fillet's radius of 0.1250",
    ):
        assert part in said
    assert "Not worked out" not in said
    said = words(backwards(V8.altered({"rod.chamfer": "0.130 in"}), 2).lines())
    assert "less than the fillet's radius" not in said
    assert "bites the fillet by 0.0467" in said  # a square edge, whatever the chamfer


def test_a_square_edge_that_stands_off_clears():
    wide = V8.altered({"crank.pin_width": "2.3 in"})
    gap = backwards(wide, 1).centered.m_as("inch")
    aside, film = (2.3 - 2 * 0.942) / 3, (2.325 - 2 * 0.0613 - 2.2) / 2
    assert aside > 0.125 > film  # past the round: only the journal is below
    assert gap == pytest.approx(film, rel=1e-9)
    assert "at the front cheek clears the fillet by 0.0012" in words(backwards(wide, 1).lines())


@pytest.mark.parametrize(
    ("taken", "lacks", "known"),
    [
        ("crank.pin_width", "square edge to fillet needs crank.pin_width", True),
        ("rod.width", "square edge to fillet needs rod.width", True),
        ("crank.rod_journal", "square edge to fillet needs crank.rod_journal", True),
        ("crank.fillet_radius", "square edge to fillet needs crank.fillet_radius", False),
        ("rod.outline", "rod to rail, outer side needs rod.outline", True),
    ],
)
def test_what_is_missing_is_named(taken, lacks, known):
    found = backwards(V8.altered({taken: None}), 1)
    assert lacks in words(found.lines())
    assert (found.at_cheek is not None) == known
    assert (found.centered is None) == lacks.startswith("square")
    assert bool(found.changes) == (taken != "rod.outline")


def test_a_rod_with_a_pin_to_itself_is_asked_about():
    said = words(orientation(I4, 2).lines())
    assert "crank pin 2 to itself" in said
    assert "taken so for all rods: it has its pin to itself, so look at its maker's mark" in said
    assert "needs chamfer of layout.cylinder 2, front or rear" in words(backwards(I4, 2).lines())


def test_what_is_refused_and_how():
    for asked in (orientation, backwards):
        with pytest.raises(
            ValueError, match=r"^cylinder 9 is not in the engine; take one of 1, 2,"
        ):
            asked(V8, 9)
    with pytest.raises(
        ValueError, match=r"^cylinder '1' is not in the engine; take one of 1, 2, 3"
    ):
        next_angle(I4, ["1"])
    with pytest.raises(ValueError, match="known_side must be outer or valley, got 'left'"):
        tang_side_like(V8, 1, "left", 2)
    with pytest.raises(ValueError, match="known_side must be left or right, got 'outer'"):
        tang_side_like(I4, 1, "outer", 2)
    with pytest.raises(ValueError, match="cylinder 7 is not in the engine"):
        tang_side_like(I4, 1, "left", 7)
