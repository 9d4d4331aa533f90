"""Engines: read from a file, refused in words, changed as a copy, saved whole."""

import math
import os
import re
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from enginecalc.records import Engine, load_engine, save_engine
from tests.figures import WORKED

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8, V8S, I4 = (
    load_engine(ENGINES / f"{name}.toml")
    for name in ("quarry-pump-v8", "quarry-pump-v8-long-stroke", "ferry-four")
)


# --- behaviour: reading ------------------------------------------------------------------------


def test_demo_engines_say_what_they_leave_in_doubt():
    fillet = "rod.chamfer is less than crank.fillet_radius: clear only while the rod stays off the"
    for engine in (V8, V8S):
        assert engine.remarks == [f"{fillet} cheek"]
    assert I4.remarks == []
    assert V8.altered({"rod.chamfer": "0.125 in"}).remarks == []


def test_fields_are_quantities_and_what_is_left_out_is_none():
    assert f"{V8.block.bore:~P}" == "4.11 in"
    assert V8.rod.outline[3].y.m_as("inch") == 0.55
    assert V8.intake.rocker_ratio == 1.55
    assert V8.piston.diameter is None
    assert V8.altered({"piston.ring_pack": "  "}).piston.ring_pack is None


def test_stated_gives_the_text_and_its_limits():
    text, plus, minus = V8.stated("block.deck_height")
    assert (text, plus.m_as("inch"), minus.m_as("inch")) == ("9.170 ± 0.0014 in", 0.0014, 0.0014)
    one_sided = V8.altered({"block.bore": "4.110 +0.001/-0.0002 in"})
    assert [each.m_as("inch") for each in one_sided.stated("block.bore")[1:]] == [0.001, 0.0002]
    assert one_sided.block.bore.m_as("inch") == 4.110
    assert V8.stated("piston.pin_offset") == ("0 in", None, None)
    for path in ("block.bore_offset", "intake.rocker_ratio", "rod.outline", "nothing.here"):
        with pytest.raises(ValueError, match=f"^{path} is not in the file, or not a figure with a"):
            V8.stated(path)


def test_altered_makes_a_copy_and_leaves_the_engine_as_it_was():
    before = V8.text()
    changes = {"crank.stroke": "3.650 in", "intake.lash": None, "piston.diameter": "4.1058 in",
               "limits.rod_ratio": {"low": 1.5, "source": "the builder"}}  # fmt: skip
    copy = V8.altered(changes)
    assert (V8.crank.stroke.m, V8.intake.lash.m, V8.limits) == (3.64, 0.016, {})
    assert (V8.text(), V8.text_at("crank.stroke")) == (before, "3.640 ± 0.0017 in")
    assert (copy.crank.stroke.m, copy.intake.lash, copy.piston.diameter.m) == (3.65, None, 4.1058)
    assert copy.limits["rod_ratio"].low == 1.5
    assert copy.altered({"crank.stroke": "3.640 in"}).intake.lash is None
    assert copy.stated("block.bore") == V8.stated("block.bore")
    with pytest.raises(ValueError, match="frozen"):
        V8.block.bore = copy.block.bore


def test_an_engine_does_not_share_the_tables_it_was_made_from():
    raw = {**I4._raw, "crank": dict(I4._raw["crank"])}
    engine = Engine.model_validate(raw)
    raw["crank"]["stroke"] = "1 mm"
    assert engine.text_at("crank.stroke") == "89.2 mm"


def test_parts_that_do_not_fit_may_be_taken_to_find_the_one_that_does():
    longer = {"crank.stroke": "3.840 in"}
    with pytest.raises(ValueError, match="piston meets the head"):
        V8.altered(longer)
    assert_allclose(V8.altered(longer, fitting=False).deck_clearance.m_as("inch"), -0.085)


# --- behaviour: refusing and doubting ----------------------------------------------------------


# A lash of 0.40 in is one of 0.40 mm typed with the lift's unit; a gap of nothing is no gap.
NO_LOBE = {"intake.lobe_lift": None, "intake.duration": None}
IN_ONE = r"is not a plain number; write it like 1\.55$"
UNITLESS = r'has no unit; write it like "83\.5 mm"$'
REFUSED = [
    ({"crank.stroke": "0 in"}, r"^crank\.stroke: must be greater than zero, got 0 in$"),
    ({"rod.length": "-5.96 in"}, r"^rod\.length: must be greater than zero, got -5\.96 in$"),
    ({"piston.mass": "0 g"}, r"^piston\.mass: must be greater than zero, got 0 g$"),
    ({"intake.lash": "-0.016 in"}, r"^intake\.lash: .*got -0\.016 in$"),
    ({"piston.crevice_volume": "-1 cc"}, r"^piston\.crevice_volume: .*got -1 cc$"),
    ({"intake.rocker_ratio": 0}, r"^intake\.rocker_ratio: must be greater than zero, got 0$"),
    ({"intake.rocker_ratio": math.nan}, rf"^intake\.rocker_ratio: nan {IN_ONE}"),
    ({"intake.rocker_ratio": math.inf}, rf"^intake\.rocker_ratio: inf {IN_ONE}"),
    ({"intake.rocker_ratio": True}, rf"^intake\.rocker_ratio: True {IN_ONE}"),
    ({"intake.rocker_ratio": "1.55"}, rf"^intake\.rocker_ratio: '1\.55' {IN_ONE}"),
    ({"crank.stroke": math.nan}, rf"^crank\.stroke: nan {UNITLESS}"),
    ({"crank.stroke": True}, rf"^crank\.stroke: True {UNITLESS}"),
    ({"crank.stroke": 3.64}, rf"^crank\.stroke: 3\.64 {UNITLESS}"),
    ({"crank.stroke": "nan in"}, r'^crank\.stroke: "nan in" is not a number with a unit'),
    ({"crank.stroke": "long"}, r'^crank\.stroke: "long" is not a number with a unit'),
    ({"block.bore": "83.5 deg"}, r'^block\.bore: 83\.5 deg is not a length; write it like "83'),
    ({"running.engine_speed": "100 Hz"}, r"^running\.engine_speed: .*not a unit known here"),
    ({"block.bore": ""}, r"^block\.bore is not measured, and nothing works without it: wall to"),
    ({"name": None}, "^name is missing"),
    ({"crank.stroek": "3.64 in"}, r"^crank\.stroek: no such key.*; did you mean stroke\?$"),
    ({"gaskets": {}}, r"^gaskets: no such key in an engine file; did you mean gasket\?$"),
    ({"rod.outline": [{"rad": "1 in"}]}, r"^rod\.outline\.row 1\.rad: .*did you mean radius\?$"),
    ({"head.colour": "red"}, r"^head\.colour: no such key in an engine file; here go chamber_"),
    ({"crank": "3.64 in"}, r"^crank: '3\.64 in' stands where a table with keys is due$"),
    ({"rod.outline": "round"}, r"^rod\.outline: 'round' stands where a list.* is due$"),
    ({"rod.material": "wood"}, r"^rod\.material: 'wood' is not known here; write one of iron, alu"),
    ({"running.deck_from": "guess"}, "'guess' is not one of drawing, measured$"),
    ({"block.bore": "104.4 in"}, re.escape(WORKED["bad.messages"][0]) + "$"),
    ({"block.bore": "3.287 mm"}, r"^block\.bore = 3\.287 mm is outside 40\.\.170 mm - entered"),
    ({"gasket.thickness": "0.7 in"}, r"^gasket\.thickness = 0\.7 in is outside 0\.010\.\.0\.15"),
    ({"rod.length": "3.1 in", "crank.stroke": "6.1 in", "piston.pin_offset": "-0.06 in"},
     r"^rod\.length: 3\.1 in is not longer than half the stroke of 6\.1 in plus.*cannot turn$"),
    ({"piston.compression_height": "1.425 in"}, "^" + re.escape(WORKED["bad.messages"][1])),
    ({"piston.compression_height": "1.418 in", "running.engine_speed": None}, "^quench -?0.0000"),
    ({"piston.compression_height": "1.414 in"}, re.escape(WORKED["bad.running_quench_message"])),
    ({"head.chamber_volume": "10 cc", "piston.dish_volume": "-60 cc"},
     r"^clearance volume -40\.4 cc: look at the dish / dome sign"),
    ({"piston.diameter": "4.1110 in"}, r"piston 4\.1110 is larger than bore 4\.1100: swapped\?$"),
    ({"piston.diameter": "104.394 mm"}, r"^piston\.diameter: piston 4\.1100 .* bore 4\.1100"),
    ({"bearings.rod_housing": "2.3220 in"}, r"^bearings\.rod_housing is smaller than its journal"),
    ({"bearings.main_housing": "2.7900 in"}, r"^bearings\.main_housing is smaller than its"),
    ({"intake.lash": "0.527 in"}, r"^intake\.lash: 0\.527 in is not less than the gross lift of "),
    ({"exhaust.lash": "0.6 in"}, r"^exhaust\.lash: .*: are lash and lift in one unit\?$"),
    ({"intake.lash": "0.40 in"}, r"^intake\.lash: .*: are lash and lift in one unit\?$"),
    ({"intake.duration": [{"angle": "284 deg"}]}, r"^intake\.duration\.row 1: at_lift is missing"),
    ({"intake.duration": [{"angle": "284 deg", "at_lift": "0.4 in"}]}, "at_lift 0.4 in must be l"),
    ({**NO_LOBE, "intake.closing": {"angle": "54 deg"}}, r"^intake\.closing: at_lift is missing"),
    ({"limits.quench_distance": {"low": 0.035}}, r"\.low: 0\.035 is not a figure of this kind$"),
    ({"limits.quench_distance": {"low": "35 deg"}}, r"\.low: 35.* is not a figure of this kind$"),
    ({"limits.rod_ratio": {"high": "2 in"}}, r"rod_ratio\.high: 2.* is not a figure of this kind$"),
    ({"limits.greatest_rod_tilt": {"high": 18}}, r"tilt\.high: 18 is not a figure of this kind$"),
    ({"limits.rod_ratio": {"low": math.nan}}, r"^limits\.rod_ratio\.low: nan is not "),
    ({"limits.rod_ratio": {"high": math.inf}}, r"^limits\.rod_ratio\.high: inf is not "),
    ({"limits.rod_ratio": {"low": True}}, r"^limits\.rod_ratio\.low: True is not "),
    ({"limits.rod_ratio": {"lwo": 1.5}}, r"^limits\.rod_ratio\.lwo: .*; did you mean low\?$"),
    ({"limits.rod_ratio": 1.5}, r"^limits\.rod_ratio: 1\.5 stands where a table with keys is due$"),
    ({"limits.squish": {"low": "1 mm"}}, r"^limits\.squish is not a result; the results are disp"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "match"), REFUSED, ids=[" ".join(each) for each, _ in REFUSED])
def test_what_cannot_be_is_refused_in_one_sentence(changes, match):
    with pytest.raises(ValueError, match=match) as refusal:
        V8.altered(changes)
    assert len(str(refusal.value).splitlines()) == 1


def test_parts_that_only_just_go_together_are_not_refused():
    touching = {"bearings.main_housing": "2.7910 in", "bearings.rod_housing": "2.3226 in"}
    assert abs(V8.altered(touching).values["main_clearance"]) < 1e-12


@pytest.mark.parametrize("raw", [[], "V8", 3, None])
def test_an_engine_is_made_from_a_table(raw):
    with pytest.raises(ValueError, match="table"):
        Engine.model_validate(raw)


def test_all_faults_come_in_one_message_each_with_its_path_and_in_our_words(tmp_path):
    text = (ENGINES / "ferry-four.toml").read_text(encoding="utf-8")
    for old, new in (
        ('name = "Ferry four"', "name = 4"),
        ('kind = "inline"', 'kind = "W"'),
        ('bore = "83.5 mm"', 'bore = "3.287 mm"'),
        ('stroke = "89.2 mm"', "stroke = 89.2"),
        ('length = "143.0 mm"', 'lenght = "143.0 mm"'),
        ("rocker_ratio = 1.0", "rocker_ratio = true"),
        ("[running]", "[runing]"),
    ):
        text = text.replace(old, new)
    (tmp_path / "four.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=r"four\.toml: name: 4 is not a text") as refusal:
        load_engine(tmp_path / "four.toml")
    told = str(refusal.value)
    paths = ["name", "layout.kind", "crank.stroke", "rod.lenght", "intake.rocker_ratio",
             "exhaust.rocker_ratio", "runing", "rod.length", "block.bore"]  # fmt: skip
    assert sorted(re.findall(r"^four\.toml: ([\w.]+)[: ]", told, re.MULTILINE)) == sorted(paths)
    assert len(told.splitlines()) == len(paths)
    assert not re.search(r"pydantic|validation error|Input should|type=|input_value|https?:", told)


def test_an_empty_file_is_told_everything_that_is_needed(tmp_path):
    (tmp_path / "new.toml").write_text("")
    with pytest.raises(ValueError, match=r"new\.toml: name is missing") as refusal:
        load_engine(tmp_path / "new.toml")
    named = re.findall(r"^new\.toml: ([\w.]+) is ", str(refusal.value), re.MULTILINE)
    needed = """name layout.kind layout.crank_pins layout.firing_order layout.cylinder block.bore
        block.deck_height crank.stroke rod.length piston.compression_height piston.dish_volume
        gasket.bore gasket.thickness head.chamber_volume"""
    assert sorted(named) == sorted(needed.split())


@pytest.mark.parametrize(
    "data", [b'name = "V8\n', b'name = "a"\nname = "b"\n', 'name = "Größe"'.encode("latin-1")]
)
def test_a_file_that_is_no_toml_or_not_utf_8_is_named(tmp_path, data):
    (tmp_path / "bad.toml").write_bytes(data)
    with pytest.raises(ValueError, match=r"^bad\.toml: is not a TOML text in UTF-8: "):
        load_engine(tmp_path / "bad.toml")


# --- behaviour: saving -------------------------------------------------------------------------


@pytest.fixture
def four(tmp_path):
    """Return the path of a copy of the ferry four's file."""
    path = tmp_path / "four.toml"
    path.write_bytes((ENGINES / "ferry-four.toml").read_bytes())
    return path


@pytest.mark.parametrize(("old", "new"), [("", ""), ("\n", "\r\n"), ("Ferry", "Fährschiff № 4 –")])
def test_saving_an_unchanged_engine_leaves_every_byte(four, old, new):
    data = four.read_text(encoding="utf-8").replace(old, new).encode() if old else four.read_bytes()
    four.write_bytes(data)
    engine = load_engine(four)
    save_engine(engine, four)
    assert four.read_bytes() == data
    save_engine(engine.altered({}), four.with_name("other.toml"))
    assert four.with_name("other.toml").read_bytes() == data


@pytest.mark.parametrize("end", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_comments_order_and_line_ends_survive_a_change(four, end):
    text = four.read_text(encoding="utf-8")
    four.write_bytes(text.replace("\n", end).encode())
    changes = {"gasket.thickness": "1.00 mm", "bearings.mass_oil": None,
               "head.chamber_volume": "45.0 cc", "limits.rod_ratio": {"low": 1.5}}  # fmt: skip
    changed = load_engine(four).altered(changes)
    save_engine(changed, four)
    saved = four.read_bytes().decode()
    assert saved.count("\n") == saved.count(end), "line ends are mixed"
    text = text.replace('"0.90 mm"  # as', '"1.00 mm"  # as').replace('mass_oil = "3 g"\n', "")
    text = text.replace('"44.0 cc"', '"45.0 cc"')
    body, added = saved.replace(end, "\n")[: len(text)], saved.replace(end, "\n")[len(text) :]
    assert body == text
    assert added.split("\n") == ["", "[limits.rod_ratio]", "low = 1.5", ""]
    assert load_engine(four).gasket == changed.gasket


def test_an_engine_made_from_tables_can_be_saved_and_read(four):
    made = Engine.model_validate(load_engine(four)._raw)
    new = four.with_name("new.toml")
    save_engine(made, new)
    assert load_engine(new).block == made.block
    save_engine(made.altered({"head.chamber_volume": "45 cc"}), new)
    assert load_engine(new).head.chamber_volume.m_as("cm**3") == 45


def test_a_file_that_changed_since_it_was_read_is_left_alone(four):
    engine = load_engine(four).altered({"head.chamber_volume": "45.0 cc"})
    four.write_bytes(four.read_bytes() + b"# by another hand\n")
    theirs = four.read_bytes()
    for name in ("four-2.toml", "four-3.toml"):
        with pytest.raises(
            ValueError, match=rf"^four\.toml holds something else.* beside it as {name}$"
        ):
            save_engine(engine, four)
        assert four.read_bytes() == theirs
        assert load_engine(four.with_name(name)).head == engine.head
    with pytest.raises(ValueError, match=r"^four-2\.toml holds something else"):
        save_engine(load_engine(four), four.with_name("four-2.toml"))  # never read from there


def test_saving_again_works(four):
    engine = load_engine(four).altered({"head.chamber_volume": "45.0 cc"})
    save_engine(engine, four)
    save_engine(engine, four)
    save_engine(engine.altered({"head.chamber_volume": "46.0 cc"}), four)
    assert load_engine(four).head.chamber_volume.m_as("cm**3") == 46
    assert [each.name for each in four.parent.iterdir()] == ["four.toml"]


def test_an_interrupted_write_leaves_the_old_file_and_nothing_else(four, monkeypatch):
    before = four.read_bytes()
    engine = load_engine(four).altered({"head.chamber_volume": "45.0 cc"})

    def interrupt(*_):
        raise OSError("the disk is full")

    with monkeypatch.context() as broken:
        broken.setattr(os, "replace", interrupt)
        with pytest.raises(OSError, match="the disk is full"):
            save_engine(engine, four)
    assert four.read_bytes() == before
    assert [each.name for each in four.parent.iterdir()] == ["four.toml"]
    save_engine(engine, four)
    assert load_engine(four).head == engine.head
