"""All results of a build as one CSV: what it says, how sure, and that any program reads it."""

import csv
import io
import shutil

import pandas as pd
import pytest

from enginecalc.records import figures
from enginecalc.records.build import load_build
from enginecalc.records.clearances import block_clearances
from enginecalc.records.reference import rows
from enginecalc.records.results_csv import COLUMNS, results_csv
from enginecalc.units import ureg
from tests.builds import DEMO, bore, build_of, pistons, reading
from tests.figures import WORKED, printed, worked

NAME = b'name = "Quarry pump V8, rebuild"'


def read(data):
    return list(csv.DictReader(io.StringIO(data.decode(), newline=""), strict=True))


def row(listed, name, state="as planned", place="engine"):
    key = (state, place, name)
    (found,) = [each for each in listed if (each["state"], each["place"], each["name"]) == key]
    return found


def altered(folder, *changes):
    """Return a build without readings, of the demo's engine with parts of its text changed."""
    text = (DEMO / "engine.toml").read_bytes()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / "engine.toml").write_bytes(text)
    return load_build(folder)


@pytest.fixture(scope="module")
def demo():
    return read(results_csv(load_build(DEMO)))


# --- against worked numbers ---------------------------------------------------------------------


def test_the_planned_engine_comes_to_the_worked_numbers(demo):
    for name, key, unit in (
        ("compression_ratio", "v8.cr", "1"),
        ("rod_ratio", "v8.rod_ratio", "1"),
        ("swept_volume", "v8.swept", "cc"),
        ("displacement", "v8.disp_cc", "cc"),
        ("clearance_volume", "v8.vc", "cc"),
        ("quench_distance", "v8.quench", "in"),
        ("greatest_rod_tilt", "v8.tilt_max_deg", "deg"),
        ("peak_piston_speed", "v8.vmax_m_s", "m/s"),
    ):
        found = row(demo, name)
        assert float(found["value"]) == worked(key)
        assert found["unit"] == unit


def test_the_rods_as_measured_come_to_the_worked_numbers(demo):
    found = [float(row(demo, "rod_oil_clearance", "as measured", f"cylinder {at}")["value"])
             for at in range(1, 9)]  # fmt: skip
    low, high = WORKED["sel.rods_asis_min_max"]
    assert min(found) == printed(f"{low}")
    assert max(found) == printed(f"{high}")


def test_a_bore_and_its_piston_by_hand(tmp_path):
    # 4.1002 - 4.0960 and 4.1000 - 4.0960 in
    build = build_of(tmp_path, [*bore(1, {"top": 4.1002, "middle": 4.1001, "bottom": 4.1000}),
                                *pistons([4.0960])])  # fmt: skip
    listed = read(results_csv(build))
    for name, value in (
        ("least_piston_clearance", 0.0040),
        ("greatest_piston_clearance", 0.0042),
        ("bore_taper", 0.0002),
        ("bore_out_of_round", 0),
    ):
        found = row(listed, name, "as measured", "cylinder 1")
        assert float(found["value"]) == pytest.approx(value, abs=1e-12)
        assert found["unit"] == "in"
        assert found["origin"] == "measured"


# --- what stands in it --------------------------------------------------------------------------


def test_every_result_stands_in_it_once_for_each_engine(demo):
    keys = [(each["state"], each["place"], each["name"]) for each in demo]
    assert len(set(keys)) == len(keys)
    states = ["as planned", *(f"cylinder {at} as measured" for at in (1, 2, 3, 4, 5, 6, 8))]
    for state in states:
        named = [each["name"] for each in demo if each["state"] == state]
        assert named[: len(figures.RESULTS)] == list(figures.RESULTS)
    pairs = {each["name"] for each in demo if each["nearest part"]}
    gaps = block_clearances(load_build(DEMO).engine)
    assert pairs == set(gaps["pair"])
    assert sum(each["name"] in pairs for each in demo) == len(gaps)
    assert {each["name"] for each in demo if each["state"] == "as measured"} <= {*figures.FITS}


def test_every_name_is_explained_and_its_unit_can_be_read(demo):
    glossary = rows("glossary", "name")
    for name in figures.RESULTS + figures.FITS:
        assert glossary[name]["meaning"]
        kind = ureg.Unit(figures.UNITS[name]).dimensionality
        unit = glossary[name]["unit"]
        assert ureg.Unit("" if unit == "1" else unit).dimensionality == kind, name
    for each in demo:
        assert bool(each["meaning"]) == bool(each["name"])
        if each["value"]:
            assert each["unit"].isascii()
            ureg.Unit("" if each["unit"] == "1" else each["unit"])


def test_limits_come_in_their_own_unit_and_with_their_source(demo):
    found = row(demo, "rod_oil_clearance", "as measured", "cylinder 1")
    assert (found["low"], found["high"], found["unit"]) == ("0.0022", "0.0027", "in")
    assert found["limit source"] == "shell maker"
    assert found["status"] == "within"
    assert row(demo, "main_oil_clearance", "as measured", "main 4")["status"] == "outside"
    assert row(demo, "peak_piston_acceleration")["unit"] == "m/s^2"
    plain = row(demo, "true_stroke")
    assert (plain["low"], plain["high"], plain["limit source"]) == ("", "", "")
    assert (plain["unit"], plain["status"]) == ("mm", "no limit")


def test_all_digits_are_there_and_a_unit_changes_no_figure(demo):
    engine = load_build(DEMO).engine
    for name in ("displacement", "running_quench", "greatest_rod_tilt", "mean_piston_speed"):
        found = row(demo, name)
        unit = "" if found["unit"] == "1" else found["unit"]
        there = ureg.Quantity(float(found["value"]), unit).to_base_units().magnitude
        assert there == pytest.approx(engine.values[name], rel=1e-14)
        assert float(found["standard uncertainty"]) > 0
    assert row(demo, "quench_distance")["value"] == repr(float(engine.quench_distance.m_as("inch")))


def test_where_a_figure_comes_from(tmp_path):
    assert {each for each in figures.rests_on("quench_distance") if "." in each} == {
        *("block.deck_height", "crank.stroke", "rod.length", "piston.compression_height"),
        *("piston.pin_offset", "block.bore_offset", "gasket.thickness"),
    }  # deck, half stroke, rod, piston and where the pin stands, and the gasket
    build = build_of(tmp_path, [reading(3, "rod length", "5.9610 in"), *bore(5, 4.1102)])
    listed = read(results_csv(build))
    for number, name, origin in (
        (3, "deck_clearance", "measured: rod.length"),
        (3, "compression_ratio", "measured: rod.length"),
        (3, "intake_coil_bind", "planned"),
        (5, "deck_clearance", "planned"),
        (5, "compression_ratio", "measured: block.bore"),
    ):
        state = f"cylinder {number} as measured"
        assert row(listed, name, state, f"cylinder {number}")["origin"] == origin
    states = {"as planned", "as measured", *(f"cylinder {at} as measured" for at in (3, 5))}
    assert {each["state"] for each in listed} == states
    assert {each["origin"] for each in listed if each["state"] == "as planned"} == {"planned", ""}


def test_a_displacement_of_one_cylinder_says_what_it_is(demo):
    said = row(demo, "displacement", "cylinder 2 as measured", "cylinder 2")["meaning"]
    assert said == row(demo, "displacement")["meaning"] + " As if all cylinders were like this one."


def test_a_gap_in_the_block_says_what_comes_near_and_when(demo):
    found = row(demo, "rod to rail, outer side", place="cylinder 1")
    assert "shoulder" in found["nearest part"]
    assert 0 < float(found["crank angle [deg]"]) < 90
    edge = row(demo, "rod chamfer to fillet", place="cylinder 1")
    assert edge["crank angle [deg]"] == ""  # the same all round
    assert edge["status"] == "outside"


# --- blanks and what cannot be ------------------------------------------------------------------


def test_what_is_not_known_is_blank_and_says_why(demo):
    assert {each["value"] == "" for each in demo if each["reason"]} == {True}
    assert {each["reason"] == "" for each in demo if each["value"]} == {True}
    found = row(demo, "exhaust_coil_bind")
    assert found["reason"].startswith("exhaust_coil_bind needs exhaust.spring_installed")
    assert (found["value"], found["standard uncertainty"], found["origin"]) == ("", "", "")
    assert found["status"] == "not measured"
    assert (found["low"], found["unit"]) == ("0.05", "in")


def test_the_swapped_pair_costs_its_own_cylinder_only(demo):
    found = [each for each in demo if each["state"] == "cylinder 7 as measured"]
    assert [(each["status"], each["name"], each["value"]) for each in found] == [
        ("cannot be", "", "")]  # fmt: skip
    assert found[0]["reason"].startswith("cylinder 7 as measured: piston.diameter: piston 4.1101")
    fit = row(demo, "least_piston_clearance", "as measured", "cylinder 7")
    assert (fit["status"], fit["value"]) == ("cannot be", "")
    assert "swapped?" in fit["reason"]


def test_a_build_without_readings_and_one_just_begun(tmp_path):
    bare = altered(tmp_path)
    assert {each["state"] for each in read(results_csv(bare))} == {"as planned"}
    bare.readings.append("4.1100", "in", place="1", part="bore", feature="diameter")
    found = row(read(results_csv(bare)), "least_piston_clearance", "as measured", "cylinder 1")
    assert (found["status"], found["value"]) == ("not measured", "")
    assert found["reason"] == "piston clearance needs readings of piston"


def test_a_pair_that_cannot_be_looked_at_says_what_it_needs(tmp_path):
    build = altered(tmp_path, (b'cam_height = "4.470 in"\n', b""))
    found = row(read(results_csv(build)), "counterweight to cam")
    assert (found["value"], found["unit"], found["status"]) == ("", "", "not measured")
    assert found["reason"].startswith("counterweight to cam needs block.cam_height")


# --- any program reads it -----------------------------------------------------------------------


def test_two_programs_read_the_same_and_every_time_it_is_the_same(demo):
    data = results_csv(load_build(DEMO))
    assert data == results_csv(load_build(DEMO))
    assert b"\r" not in data
    assert data.endswith(b"\n")
    frame = pd.read_csv(io.BytesIO(data), dtype=str, keep_default_na=False)
    assert tuple(frame.columns) == COLUMNS
    assert frame.to_dict("records") == demo
    assert pd.read_csv(io.BytesIO(data))["value"].dtype == float


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("<script>alert(1)</script>", "<script>alert(1)</script>"),
        ("one, two; three", "one, two; three"),
        ('a "pump"', 'a "pump"'),
        ("two\nlines", "two\nlines"),
        ("two\r\nlines\rof it", "two\nlines\nof it"),
        ("pump 🚂 ä", "pump 🚂 ä"),
        ("a\0b", "a\ufffdb"),
        ("=1+1", "'=1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
        ("-2+3", "'-2+3"),
        ("\t=1+1", "'\t=1+1"),
        ("'=1+1", "''=1+1"),
    ],
)
def test_whatever_a_person_typed_comes_out_whole_and_inert(tmp_path, typed, kept):
    signs = "".join(f"\\U{ord(sign):08X}" for sign in typed).encode()
    limit = b'[limits]\nrod_ratio = { low = 1.5, source = "' + signs + b'" }'
    build = altered(tmp_path, (NAME, b'name = "' + signs + b'"'), (b"[limits]", limit))
    assert build.engine.name == typed
    data = results_csv(build)
    frame = pd.read_csv(io.BytesIO(data), dtype=str, keep_default_na=False)
    for listed in (read(data), frame.to_dict("records")):
        assert {each["engine"] for each in listed} == {kept}
        assert row(listed, "rod_ratio")["limit source"] == kept


def test_readings_of_any_sort_give_the_same_rows_for_a_copy_of_the_folder(tmp_path):
    shutil.copytree(DEMO, tmp_path / "copy")
    build = load_build(tmp_path / "copy")
    build.readings.remark('=1+1, "so" <b>\n🚂', place="1", by="=A")
    assert results_csv(build) == results_csv(load_build(DEMO))  # a remark is no result
