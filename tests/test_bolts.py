"""The rod bolts of an engine file and of a build: preload, stretch, stress, and what is refused."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from uncertainties import ufloat

from enginecalc.fasteners import preload_from_torque, torque_for_preload
from enginecalc.records import load_engine
from enginecalc.records.bolt_stretch import bolt_stretches
from enginecalc.records.bolts import bolt_card, bolt_results, carried_over
from enginecalc.units import Q, read
from enginecalc.views import tables
from tests.builds import build_of, reading
from tests.figures import WORKED, printed, worked

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8 = load_engine(ENGINES / "quarry-pump-v8.toml")
FOUR = load_engine(ENGINES / "ferry-four.toml")
BOLT = WORKED["inputs"]["bolt"]
CARD = bolt_card(V8, friction_uncertainty=BOLT["u_friction"])
SNUG = V8.altered({"rod_bolt.snug_torque": "4.5 lbf·ft"})  # a tenth of the torque
SIDES = ("tang side", "other side")


def changed(**fields):
    """Return the V8 with fields of its rod bolt changed."""
    return V8.altered({f"rod_bolt.{key}": value for key, value in fields.items()})


def lengths(number, new=None, tightened=None, loosened=None, bolt=SIDES[0], **more):
    """Return readings of a rod bolt, each as typed, "1.7500 in"."""
    given = {"new": new, "tightened": tightened, "loosened": loosened}
    return [reading(str(number), f"rod bolt length {when}", text, bolt, **more)
            for when, text in given.items() if text]  # fmt: skip


def read_bolts(folder, *rows, engine=None, **asked):
    """Return what a build with these readings says of its rod bolts."""
    build = build_of(folder, [row for some in rows for row in some])
    if engine is not None:
        build.engine = engine
    return bolt_stretches(build, **asked)


def first(folder, *rows, **more):
    return read_bolts(folder, *rows, **more).rows[0]


# --- against a source -------------------------------------------------------------------------

FIGURES = {
    "T_Nm": lambda: CARD.torque.m_as("N*m"),
    "F_lbf_mu0.08": lambda: CARD.preload.most.m_as("lbf"),
    "F_lbf_mu0.10": lambda: CARD.preload.middle.m_as("lbf"),
    "F_lbf_mu0.12": lambda: bolt_card(changed(friction=0.12)).preload.middle.m_as("lbf"),
    "F_lbf_mu0.14": lambda: CARD.preload.least.m_as("lbf"),
    "K_equiv_mu0.10": lambda: CARD.nut_factor.m,
    "F_rel_u": lambda: CARD.preload_u.m,
    "stretch_in_at_mu0.10": lambda: CARD.stretch.middle.m_as("inch"),
    "stress_ksi": lambda: CARD.stress.middle.m_as("ksi"),
    "angle_after_snug_deg": lambda: bolt_card(SNUG).angle.m_as("deg"),
    "angle_from_nothing_deg": lambda: bolt_card(changed(snug_torque="0.000045 lbf·ft")).angle.m_as(
        "deg"
    ),
    "load_per_bolt_lbf": lambda: CARD.load.m_as("lbf"),
    "mass_above_parting_line_g": lambda: V8.figure("mass_above_parting_line").m_as("g"),
}


@pytest.mark.parametrize("figure", FIGURES)
def test_worked_bolt_of_the_engine_file(figure):
    assert FIGURES[figure]() == worked(f"bolt.{figure}")


def test_worked_stretch_window_and_what_holds_the_joint():
    low, high = WORKED["bolt.stretch_window"]
    assert CARD.stretch.least.m_as("inch") == printed(f"{low:.4f}")
    assert CARD.stretch.most.m_as("inch") == printed(f"{high:.4f}")
    left = WORKED["bolt.F_lbf_mu0.14"] - WORKED["bolt.load_per_bolt_lbf"]
    assert CARD.clamp_left.m_as("lbf") == pytest.approx(left, abs=1)


def test_stress_where_the_bolt_is_thinnest():
    thinner = WORKED["bolt.tensile_area_in2"] / WORKED["bolt.shank_area_in2"]
    ratio = (CARD.shank_stress.middle / CARD.stress.middle).m_as("")
    assert ratio == pytest.approx(thinner, abs=0.0015)


def test_friction_of_the_lubricant_where_the_file_has_none():
    # [vdi2230_friction] oils 0.08 to 0.16; their middle is a friction of the worked numbers
    engine = changed(lubricant="Engine  oil", friction=None, friction_low=None, friction_high=None)
    card = bolt_card(engine)
    assert card.friction == pytest.approx((0.08, 0.12, 0.16))
    assert card.preload.middle.m_as("lbf") == worked("bolt.F_lbf_mu0.12")
    assert "engine oil on steel" in card.friction_from
    assert "[vdi2230_friction]" in card.friction_from
    assert card.doubts[0].startswith("rod_bolt.friction_low and friction_high are not in the file")


def test_a_rod_bolt_of_3_8_24_at_40_foot_pounds():
    # common practice, no source: alloy steel of 150 ksi yield, moly lubricant, lands between 50
    # and 90 % of yield
    share = bolt_card(changed(torque="40 lbf·ft", yield_strength="150 ksi")).yield_share
    assert 0.5 < share.least.m < share.middle.m < share.most.m < 0.9


def test_published_scatter_of_ten_bolts_from_their_lengths(tmp_path):
    # [shigley9] Table 8-14, p. 439: kN at 90 N m; mean 34.18 and standard deviation 2.88 kN
    ten = [30.3, 32.5, 32.5, 32.9, 32.9, 33.8, 34.3, 34.7, 37.4, 40.5]
    rows = [
        lengths(at // 2 + 1, "1.75 in", f"{1.75 + kn * 2e-4:.7f} in", bolt=SIDES[at % 2])
        for at, kn in enumerate(ten)
    ]
    assert read_bolts(tmp_path, *rows).scatter.m * 34.18 == printed("2.88")


def test_a_stretch_of_the_worked_bolt(tmp_path):
    u = Q(BOLT["u_stretch_reading_in"], "inch")
    row = first(tmp_path, lengths(1, "1.7500 in", "1.7575 in"), stretch_uncertainty=u)
    expected = WORKED["bolt.F_lbf_mu0.10"] * 0.0075 / WORKED["bolt.stretch_in_at_mu0.10"]
    assert row.preload.value.m_as("lbf") == pytest.approx(expected, rel=1e-3)
    assert (row.preload.u / row.preload.value).m_as("") == worked("bolt.stretch_rel_u")
    assert row.stretch.status == "within"
    assert row.stretch.source == "what the torque gives with moly paste at friction 0.08 to 0.14"


def test_a_used_bolt_a_thousandth_longer_is_thrown_away(tmp_path):
    # common practice, no source: 0.001 in
    rows = [
        lengths(1, "1.7500 in", None, "1.7510 in"),
        lengths(2, "1.7500 in", None, "1.7515 in"),
    ]
    found = read_bolts(tmp_path, *rows)
    status = {row.place: row.stayed_longer.status for row in found.rows}
    assert status["cylinder 1, tang side"] == "close"
    assert status["cylinder 2, tang side"] == "outside"
    (said,) = found.doubts
    assert said.startswith("cylinder 2, tang side: 0.0015 in longer than new, more than 0.0010 in")
    assert "common practice, no source" in said
    assert "thrown away" in said


# --- against geometry and identities ----------------------------------------------------------


def test_the_stretch_is_that_of_many_thin_slices():
    ends = np.cumsum([0, 1.10, 0.6375])
    middles = (np.arange(17375) + 0.5) * 1e-4  # in
    area = np.pi / 4 * np.where(middles < ends[1], 0.320, 0.3344) ** 2
    force = CARD.preload.middle.m_as("lbf")
    assert_allclose(CARD.stretch.middle.m_as("inch"), np.sum(force / area / 30e6) * 1e-4, rtol=1e-6)


def test_head_and_thread_have_a_friction_of_their_own():
    # statics of each alone: a screw is a plane that climbs one pitch in a turn, pushed up against
    # the flank's friction, which counts for 1 / cos 30 deg; a head is dragged round its mean radius
    pitch, mean, face, in_thread, at_head = 1 / 24, 0.347937, 0.2375, 0.16, 0.06  # inch, 1
    climb = np.arctan(pitch / (np.pi * mean))
    screw = mean / 2 * np.tan(climb + np.arctan(in_thread / np.cos(np.pi / 6)))
    thread, radius = (Q(0.375, "inch"), Q(pitch, "inch")), Q(face, "inch")
    torque = torque_for_preload(Q(10000, "lbf"), *thread, in_thread, at_head, radius)
    assert torque.m_as("lbf*inch") == pytest.approx(10000 * (screw + at_head * face), rel=0.01)
    wider = torque_for_preload(Q(10000, "lbf"), *thread, in_thread, at_head, 2 * radius)
    assert_allclose((wider - torque).m_as("lbf*inch"), 10000 * at_head * face, rtol=1e-9)
    back = preload_from_torque(torque, *thread, in_thread, at_head, radius)
    assert_allclose(back.m_as("lbf"), 10000, rtol=1e-12)
    swapped = torque_for_preload(Q(10000, "lbf"), *thread, at_head, in_thread, radius)
    assert abs(swapped - torque) > 0.05 * torque


@pytest.mark.parametrize(("proof", "asked"), [(1.02, True), (1.20, True), (1.22, False)])
def test_a_bolt_is_doubted_where_the_least_friction_asks_too_much_of_it(proof, asked):
    # from 0.10 to 0.08 of friction the worked preload grows by 1.21; at 0.10 none of them is asked
    # for as much as its proof strength
    grown = WORKED["bolt.F_lbf_mu0.08"] / WORKED["bolt.F_lbf_mu0.10"]
    strength = proof * WORKED["bolt.stress_ksi"]
    doubts = bolt_card(changed(proof_strength=f"{strength:.3f} ksi")).doubts
    told = [each for each in doubts if "proof strength in its thread" in each]
    due = f"with the least friction the bolt is asked for {grown / proof:.2f} of its proof strength"
    assert told == [f"{due} in its thread: it would stay longer"] * asked


def test_the_short_form_with_the_nut_factor_gives_the_torque_back():
    torque = CARD.nut_factor * V8.rod_bolt.diameter * CARD.preload.middle
    assert_allclose(torque.m_as("lbf*ft"), 45, rtol=1e-12)


@pytest.mark.parametrize("torque", ["540 lbf·in", "61.0118 N·m", "6.22147 kgf·m"])
def test_the_same_torque_in_other_units(torque):
    # 1 lbf = 4.4482216 N = 0.45359237 kgf, 1 ft = 0.3048 m
    assert_allclose(
        bolt_card(changed(torque=torque)).preload.most.m, CARD.preload.most.m, rtol=2e-6
    )


def test_twice_the_torque_is_twice_of_everything_but_the_load():
    one, two = bolt_card(SNUG), bolt_card(changed(torque="90 lbf·ft", snug_torque="9 lbf·ft"))
    for name in ("preload", "stretch", "stress", "shank_stress"):
        for end in ("least", "middle", "most"):
            value = getattr(getattr(two, name), end)
            assert_allclose(value.m, 2 * getattr(getattr(one, name), end).m, rtol=1e-12)
    assert_allclose(two.angle.m, 2 * one.angle.m, rtol=1e-12)
    assert two.load == one.load


def test_the_cap_parts_where_the_load_has_grown_to_the_least_preload():
    # the load grows with the square of the speed
    at = 6200 * np.sqrt(CARD.preload.least.m / CARD.load.m)
    for share, word in ((0.99, "within"), (1.01, "outside")):
        engine = V8.altered({"running.engine_speed": f"{share * at:.2f} rpm"}, fitting=False)
        (left,) = (each for each in bolt_results(engine) if each.name == "rod_bolt_clamp_left")
        assert left.status == word
        expected = CARD.preload.least.m * (1 - share**2)
        assert_allclose(left.value.m, expected, atol=1e-4 * CARD.load.m)


def test_the_uncertainty_of_a_measured_preload_against_another_propagation(tmp_path):
    step = 0.0005 / np.sqrt(12)  # [gum] F.2.2.1
    stretch = ufloat(1.7575, step) - ufloat(1.7500, step)
    force = stretch * ufloat(30e6, 1e6 / np.sqrt(3)) / (1.10 / 0.0804248 + 0.6375 / 0.0878252)
    engine = changed(elastic_modulus="30000 ± 1000 ksi")
    rows = lengths(1, "1.7500 in", "1.7575 in", resolution="0.0005 in")
    preload = first(tmp_path, rows, engine=engine).preload
    assert_allclose(preload.value.m_as("lbf"), force.n, rtol=1e-5)
    assert_allclose(preload.u.m_as("lbf"), force.s, rtol=1e-5)


def test_inches_and_millimeters_give_the_same_bolt(tmp_path):
    inch, metric = tmp_path / "inch", tmp_path / "metric"
    inch.mkdir()
    metric.mkdir()
    one = first(inch, lengths(1, "1.7500 in", "1.7575 in", "1.7504 in"))
    other = first(metric, lengths(1, "44.4500 mm", "44.6405 mm", "44.46016 mm"))
    for name in ("stretch", "preload", "stayed_longer"):
        found = [getattr(each, name).value.m for each in (one, other)]
        assert_allclose(*found, rtol=1e-9)


# --- behaviour: the engine's card -------------------------------------------------------------


def test_no_lubricant_no_preload():
    said = r"^rod_bolt\.lubricant: not named\. A torque belongs to one lubricant; name the one"
    for engine in (changed(lubricant=None), FOUR):
        with pytest.raises(ValueError, match=said):
            bolt_card(engine)
    assert carried_over(changed(lubricant=None), "moly paste").startswith("rod_bolt.lubricant: not")


def test_a_bolt_tightened_into_yield_is_refused(tmp_path):
    said = r"^rod_bolt\.yield_tightened: .* is used once; follow its maker$"
    engine = changed(yield_tightened=True)
    with pytest.raises(ValueError, match=said):
        bolt_card(engine)
    found = read_bolts(tmp_path, lengths(1, "1.7500 in", "1.7600 in"), engine=engine)
    assert found.rows[0].stretch.value.m_as("inch") == pytest.approx(0.01)
    assert found.rows[0].preload.value is None
    assert found.rows[0].preload.reason.startswith("rod_bolt.yield_tightened: ")
    assert found.doubts[0].startswith("rod_bolt.yield_tightened: ")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"torque": "45"}, r"^rod_bolt\.torque: 45 has no unit; write it like"),
        ({"torque": "45 lb"}, r"^rod_bolt\.torque: 45 lb is not a torque"),
        ({"series": "whitworth"}, r"^rod_bolt\.series: 'whitworth' is not one of unified, metric"),
        ({"lubricant": " "}, r"^rod_bolt\.lubricant: ' ' is not a text"),
    ],
)
def test_what_the_engine_file_refuses(fields, said):
    with pytest.raises(ValueError, match=said):
        changed(**fields)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"friction_low": 0.2}, r"^rod_bolt\.friction_low: 0\.2 is more than friction_high, 0\.14"),
        ({"friction": 0.2}, r"^rod_bolt\.friction: 0\.2 is not between"),
        (
            {"friction_low": 8.0, "friction": None, "friction_high": 14.0},
            r"^rod_bolt\.friction_low: 8 is not below 1; write 8 % as 0\.08\n.*high: 14 is not",
        ),
        ({"snug_torque": "50 lbf·ft"}, r"^rod_bolt\.snug_torque: 50 lbf·ft is not less than .* 45"),
        ({"shank": [{"length": "1.1 in"}]}, r"^rod_bolt\.shank\.row 1: diameter is missing"),
        ({"pitch": "24 in"}, r"^tensile_stress_area: pitch must be less than diameter"),
    ],
)
def test_what_the_card_refuses(fields, said):
    with pytest.raises(ValueError, match=said):
        bolt_card(changed(**fields))


@pytest.mark.parametrize(
    ("fields", "name", "said"),
    [
        ({}, "angle", "rod_bolt_angle needs rod_bolt.snug_torque: from the bolt's maker"),
        ({}, "proof_share", "needs rod_bolt.proof_strength: from the bolt's maker; of a grade"),
        ({"torque": None}, "preload", "rod_bolt_preload needs rod_bolt.torque: from the bolt's"),
        ({"washer_inside": None}, "nut_factor", "nut_factor needs rod_bolt.washer_inside: edge to"),
        ({"shank": None}, "stretch", "rod_bolt_stretch needs rod_bolt.shank: lengths and diameter"),
        ({"shank": []}, "shank_stress", "rod_bolt_shank_stress needs rod_bolt.shank: lengths"),
        ({"series": None}, "stress", "rod_bolt_stress needs rod_bolt.series"),
        (
            {"joint_stiffness_ratio": None},
            "angle",
            "rod_bolt.joint_stiffness_ratio, rod_bolt.snug_torque: fr",
        ),
        ({"friction_low": None}, "preload", "rod_bolt_preload needs rod_bolt.friction_low: from "),
        (
            {"lubricant": "graphite", "friction_low": None, "friction_high": None},
            "preload",
            "needs rod_bolt.friction_low, rod_bolt.friction_high: from the lubricant's maker;"
            " those of moly paste, engine oil",
        ),
    ],
)
def test_what_is_missing_is_named_and_where_to_get_it(fields, name, said):
    card = bolt_card(changed(**fields))
    assert getattr(card, name) is None
    assert said in card.reasons[name]


def test_what_a_missing_field_takes_with_it_and_what_not():
    card = bolt_card(changed(torque=None))
    assert {name for name in card.reasons if "rod_bolt.torque" in card.reasons[name]} == {
        "preload", "stretch", "stress", "shank_stress", "proof_share", "yield_share",
        "shank_share", "angle", "clamp_left"}  # fmt: skip
    assert card.nut_factor == CARD.nut_factor
    assert card.load == CARD.load
    masses = V8.altered({"rod.cap_share": None})
    assert bolt_card(masses).reasons["load"].startswith("rod_bolt_load needs rod.cap_share: Part")
    assert (
        bolt_card(masses)
        .reasons["clamp_left"]
        .startswith("rod_bolt_clamp_left needs rod.cap_share")
    )
    assert bolt_card(masses).preload == CARD.preload


def test_without_a_most_likely_friction_the_middle_is_taken():
    card = bolt_card(changed(friction=None))
    assert card.friction == pytest.approx((0.08, 0.11, 0.14))
    tighter = bolt_card(changed(friction_low=0.09))
    assert tighter.preload_u.m < bolt_card(V8).preload_u.m


def test_a_torque_is_not_carried_over_to_another_lubricant():
    assert carried_over(V8, " Moly  Paste ") == ""
    assert carried_over(V8, "engine oil").startswith(
        "rod_bolt.torque: 45 lbf·ft was given for moly paste and is not carried over to engine oil"
    )
    for nothing in ("", None):
        assert carried_over(V8, nothing).startswith("which lubricant was used?")
    # the friction of the other lubricant stayed in the file
    (said,) = bolt_card(changed(lubricant="engine oil")).doubts
    assert said.endswith("not those known of engine oil, 0.08 and 0.16: of another lubricant?")
    assert bolt_card(V8).doubts == ()


def test_what_is_doubtful_of_a_bolt_is_said():
    (said,) = bolt_card(changed(yield_tightened=None)).doubts
    assert said.startswith("rod_bolt.yield_tightened is not said")
    thread, shank = bolt_card(changed(proof_strength="120 ksi")).doubts
    assert "asked for 1.23 of its proof strength in its thread" in thread
    assert "in its thinnest place: it would stay longer" in shank


def test_results_of_the_card_keep_their_limits():
    named = {each.name: each for each in bolt_results(changed(proof_strength="130 ksi"))}
    assert named["rod_bolt_proof_share"].value.m == pytest.approx(121.8 / 130, abs=1e-3)
    assert named["rod_bolt_proof_share"].status == "close"
    assert named["rod_bolt_shank_share"].status == "outside"
    assert named["rod_bolt_clamp_left"].low.m == 0
    maker = {"low": "0.0055 in", "high": "0.0060 in", "source": "bolt maker"}
    engine = V8.altered({"limits": {"rod_bolt_stretch": maker}})
    named = {each.name: each for each in bolt_results(engine)}
    assert (named["rod_bolt_stretch"].status, named["rod_bolt_stretch"].source) == (
        "outside",
        "bolt maker",
    )
    assert named["rod_bolt_proof_share"].reason == bolt_card(V8).reasons["proof_share"]


@pytest.mark.parametrize(
    ("name", "inch", "metric"),
    [
        ("rod_bolt_load", "2,730 lbf", "12.1 kN"),
        ("rod_bolt_clamp_left", "5,210 lbf", "23.2 kN"),
        ("rod_bolt_proof_share", "0.9", "0.9"),
    ],
)
def test_results_read_as_a_person_reads_them(name, inch, metric):
    (each,) = (each for each in bolt_results(changed(proof_strength="130 ksi"))
               if each.name == name)  # fmt: skip
    assert [tables.say_result(each, system) for system in tables.SYSTEMS] == [inch, metric]


# --- behaviour: lengths as measured -----------------------------------------------------------


def test_every_bolt_has_its_row_and_says_what_is_missing(tmp_path):
    found = read_bolts(tmp_path, lengths(1, "1.7500 in", "1.7575 in"), lengths(3, "1.7490 in"))
    assert [row.place for row in found.rows[:4]] == [
        f"cylinder {number}, {side}" for number in (1, 3) for side in SIDES
    ]
    assert len(found.rows) == 16
    assert found.rows[0].new == read("1.7500 in")
    assert found.rows[0].loosened is None
    said = "cylinder 3, tang side: needs a reading of length tightened"
    assert (found.rows[2].stretch.reason, found.rows[2].preload.reason) == (said, said)
    assert found.rows[1].stretch.reason.endswith("a reading of length new and of length tightened")
    assert found.rows[0].stayed_longer.reason.endswith("needs a reading of length loosened")
    assert found.scatter is None
    assert found.doubts == ()


def test_a_build_without_bolts_read_has_no_rows(tmp_path):
    found = read_bolts(tmp_path)
    assert (found.rows, found.scatter, found.doubts) == ((), None, ())


def test_a_length_typed_in_the_wrong_unit_gives_no_stretch(tmp_path):
    found = read_bolts(tmp_path, lengths(1, "1.7500 in", "1.7575 mm"))
    assert found.rows[0].stretch.value is None
    (said,) = found.doubts
    assert said.startswith(
        "line 3: 1.7575 mm (cylinder 1, rod bolt length tightened, tang side) is"
    )
    assert "25 times less than new, 1.7500 in: inches or millimeters?" in said
    assert "1.7575 in would be 44.640 mm" in said
    assert found.rows[0].preload.reason.startswith("cylinder 1, tang side: length tightened is 25")


def test_a_length_that_is_none_gives_no_stretch(tmp_path):
    found = read_bolts(tmp_path, lengths(1, "1.7500 in", "45 lbf·ft"))
    assert found.rows[0].stretch.reason.endswith("is in a unit that is no length")


def test_lengths_exchanged_are_asked_about(tmp_path):
    found = read_bolts(tmp_path, lengths(1, "1.7575 in", "1.7500 in"))
    assert found.rows[0].preload.value is None
    assert found.doubts == (
        "lines 2, 3: cylinder 1, tang side, tightened is not longer than new: exchanged, or not"
        " tightened?",
    )


@pytest.mark.parametrize(
    ("tightened", "way"), [("1.7545 in", "0.0045 in, less"), ("1.7600 in", "0.0100 in, more")]
)
def test_a_stretch_out_of_its_window_is_said(tmp_path, tightened, way):
    found = read_bolts(tmp_path, lengths(1, "1.7500 in", tightened))
    assert found.rows[0].stretch.status == "outside"
    window = "0.0055 in to 0.0090 in (what the torque gives with moly paste"
    assert found.doubts[0].startswith(f"cylinder 1, tang side: stretched {way} than {window}")


def test_the_maker_s_window_goes_before_that_of_the_torque(tmp_path):
    maker = {"low": "0.0055 in", "high": "0.0060 in", "source": "bolt maker"}
    engine = V8.altered({"limits": {"rod_bolt_stretch": maker}})
    found = read_bolts(tmp_path, lengths(1, "1.7500 in", "1.7575 in"), engine=engine)
    assert found.doubts[0].endswith("more than 0.0055 in to 0.0060 in (bolt maker)")


def test_a_stretch_shows_its_preload_whatever_the_lubricant(tmp_path):
    rows = lengths(1, "1.7500 in", "1.7575 in")
    found = read_bolts(tmp_path, rows, engine=changed(lubricant=None))
    assert found.rows[0].preload.value.m_as("lbf") == pytest.approx(10_747, abs=5)
    assert found.rows[0].stretch.low is None
    assert found.doubts[0].startswith("rod_bolt.lubricant: not named")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"elastic_modulus": None}, "rod_bolt_preload needs rod_bolt.elastic_modulus: "),
        ({"shank": None}, "rod_bolt_preload needs rod_bolt.shank: "),
        ({"shank": [{"length": "1 in"}]}, "rod_bolt.shank.row 1: diameter is missing"),
    ],
)
def test_a_stretch_without_the_bolt_s_shape_shows_no_preload(tmp_path, fields, said):
    row = first(tmp_path, lengths(1, "1.7500 in", "1.7575 in"), engine=changed(**fields))
    assert row.stretch.value.m_as("inch") == pytest.approx(0.0075)
    assert row.preload.reason.startswith(said)


def test_a_bolt_read_warm_is_doubted(tmp_path):
    rows = [
        lengths(1, "1.7500 in", temperature="20 °C"),
        lengths(1, None, "1.7575 in", temperature="30 °C"),
    ]
    (said,) = read_bolts(tmp_path, *rows).doubts
    assert said.startswith(
        "cylinder 1, tang side: read at 20 °C new and at 30 °C tightened; warmth"
    )


def test_the_newest_reading_of_a_bolt_counts_and_repeats_are_averaged(tmp_path):
    rows = [
        lengths(1, "1.7500 in", "1.7675 in"),
        lengths(1, None, "1.7575 in"),  # typed again: the same repeat
        lengths(1, None, "1.7577 in", repeat=2),
    ]
    row = first(tmp_path, *rows)
    assert row.stretch.value.m_as("inch") == pytest.approx(0.0076)


@pytest.mark.parametrize("word", ["none", "?", "-", "unknown", "N/A"])
def test_a_word_for_nothing_names_no_lubricant(word):
    with pytest.raises(ValueError, match="not named"):
        bolt_card(V8.altered({"rod_bolt.lubricant": word}))


def test_the_share_of_yield_is_among_the_results():
    # 121.8 ksi on the stress area of the worked bolt, of an alloy steel's 150 ksi
    engine = V8.altered({"rod_bolt.yield_strength": "150 ksi"})
    (found,) = (each for each in bolt_results(engine) if each.name == "rod_bolt_yield_share")
    assert_allclose(found.value.m_as(""), WORKED["bolt.stress_ksi"] / 150, rtol=1e-3)
    assert found.status == "within"
