"""The hand-over sheet: what stands in it, that nothing breaks out of it, that it prints whole."""

import hashlib
import importlib.metadata
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from types import SimpleNamespace

import html5lib
import numpy as np
import pypdfium2
import pytest

from enginecalc.records.answers import right_answer
from enginecalc.records.assembly import Assembly
from enginecalc.records.build import load_build
from enginecalc.records.decks import deck_readings
from enginecalc.records.engine import load_engine
from enginecalc.records.hand_over import HandOver, sheet_gaps
from enginecalc.records.layout import layout_table
from enginecalc.records.places import measurements
from enginecalc.records.readings import Readings
from enginecalc.records.ring_placement import placements
from enginecalc.views.sheet import GUARANTEE, hand_over_sheet
from enginecalc.views.sheet_assembly import matching_section
from enginecalc.views.sheet_parts import first_figure, runs
from tests.builds import DEMO, bore, build_of, pistons, reading
from tests.figures import WORKED, printed, worked
from tests.lab import chromium

FOUR = Path(__file__).parent.parent / "data" / "engines" / "ferry-four.toml"
LOG = WORKED["inputs"]["torque"]["torque_log_lbfft"]
NASTY = "=<script>alert(\"x\")</script> & 'a', b\n<b>🔧</b> ](data:,x)"
SVG = "{http://www.w3.org/2000/svg}"


def parsed(page):
    """Return the body of a page that a strict parser takes without a complaint."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(page).find("body")


def text(element):
    return "".join(element.itertext()).strip()


def section(page, title):
    """Return the one section of a page whose heading begins so."""
    found = [each for each in parsed(page).iter("section") if text(each[0]).startswith(title)]
    assert len(found) == 1, title
    return found[0]


def cell(each):
    """Return a cell's text; "____" for a blank, "[ ]" and "[x]" for a box."""
    marks = {"blank": "____", "not done": "[ ]", "done": "[x]"}
    span = each.find("span")
    return text(each) if span is None else marks[span.get("aria-label")]


def rows(element):
    """Return the rows of all tables in an element, each a list of the texts of its cells."""
    return [[cell(each) for each in row] for row in element.iter("tr")]


def row(element, first, second=None):
    """Return the cells of the one row that begins so."""
    found = [each for each in rows(element) if each[0] == first and second in (None, each[1])]
    assert len(found) == 1, (first, second, found)
    return found[0]


def assembled(folder, wrong=None):
    """Return the demo's engine, all of its steps entered; `wrong` is {(place, step): answer}.

    The turning torque is the worked log, of which the fifth piston is tight.
    """
    build = build_of(folder)
    work, torques = Assembly(build), iter(LOG)
    for part in work.sections():
        for step in part.steps:
            if step.asks == "crank turning torque":
                torque = next(torques)
                for box, way in zip(work.boxes_of(step, part.place), (0.2, -0.2), strict=True):
                    work.append(box, f"{torque + way:.2f}", "lbf·ft", by="A. Mason",
                                resolution="0.25 lbf·ft")  # fmt: skip
            elif step.kind == "figure":
                due = {"length": "0.0055 in", "angle": "105 deg"}.get(step.asks, "45 lbf·ft")
                work.enter(part.place, step, due, by="A. Mason")
            elif step.kind != "reading":
                known = {"ring layout": placements()[0].name, "tang side": "outer",
                         "pocket side": "valley", "signature": f"Anna {step.name}"}  # fmt: skip
                answer = right_answer(build, step, part.place) or known.get(step.asks, "done")
                answer = (wrong or {}).get((part.place, step.name), answer)
                work.enter(part.place, step, answer, by="A. Mason")
    return build


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Return a build with all its steps entered, and its sheet."""
    build = assembled(tmp_path_factory.mktemp("built"))
    return build, hand_over_sheet(build)


@pytest.fixture(scope="module")
def demo():
    """Return the demonstration build, and its sheet."""
    build = load_build(DEMO)
    return build, hand_over_sheet(build)


@pytest.fixture
def empty(tmp_path):
    """Return a build of the demo's engine of which nothing was read or done."""
    return build_of(tmp_path)


# --- against a source ---------------------------------------------------------------------------


def test_planned_results_are_the_worked_numbers(empty):
    found = section(hand_over_sheet(empty), "Results, planned beside measured")
    planned = {name: row(found, name)[1].partition(" ± ")[0]
               for name in ("compression ratio", "quench distance [in]", "rod ratio")}  # fmt: skip
    assert WORKED["v8.cr"] == printed(planned["compression ratio"])
    assert WORKED["v8.quench"] == printed(planned["quench distance [in]"])
    assert WORKED["v8.rod_ratio"] == printed(planned["rod ratio"])


def test_valve_events_and_least_gaps_are_the_worked_numbers(empty):
    found = section(hand_over_sheet(empty), "Valves")
    events = row(found, "intake", "6.5° before TDC")
    assert events[2:] == ["36.5° after BDC", "223.0°"]
    assert float(events[1][:3]) == worked("v8.cam050.ivo_btdc")
    assert WORKED["v8.ptv_i"] == printed(row(found, "intake", "0.108")[1])
    assert WORKED["v8.ptv_e"] == printed(row(found, "exhaust", "0.160")[1])
    # half of 105 and 113 together, and half of what they differ by
    assert "lobe separation 109° of the cam, installed 4° advanced." in text(found)


def test_the_torque_log_is_the_worked_one(built):
    found = section(built[1], "Turning torque")
    after = [each for each in rows(found) if each[0].startswith("cylinder")]
    # the increments printed with the worked log; the fifth piston fitted is tight
    assert [float(each[4]) for each in after] == [1.9, 1.8, 2.0, 1.8, 4.1, 1.9, 1.8, 1.9]
    assert [each[6] for each in after] == ["alike"] * 4 + ["apart"] + ["alike"] * 3
    assert row(found, "the crank alone")[1:6] == ["1.20", "0.80", "1.00", "____", "____"]


def test_the_bob_weight_is_the_worked_one(empty):
    found = section(hand_over_sheet(empty), "Bob weight")
    assert float(row(found, "bob weight")[3].replace(",", "")) == worked("bal.bob_g")


# --- against geometry and identities ------------------------------------------------------------


def test_a_bolt_is_drawn_harder_where_it_is_thinnest(empty):
    found = section(hand_over_sheet(empty), "Rod bolts")
    thread, shank = (float(row(found, f"rod bolt {each} [ksi]")[1])
                     for each in ("stress", "shank stress"))  # fmt: skip
    sizes = {each.diameter.m_as("inch") for each in empty.engine.rod_bolt.shank}
    assert shank / thread == pytest.approx((max(sizes) / min(sizes)) ** 2, abs=0.002)


def test_piston_to_valve_as_read_by_hand_stands_beside_what_is_worked_out(demo):
    found = section(demo[1], "Valves")  # by a curve of numpy's through the least of the stations
    for valve, about in (("intake", 8), ("exhaust", -7)):  # degrees of the worked least gaps
        stations = {}
        for each in demo[0].readings.latest_cells():
            if each["part"] == f"{valve} valve" and each["place"] == "1":
                stations.setdefault(float(each["angle"]), {})[each["feature"]] = float(
                    each["value"]
                )
        gaps = {at: each["drop"] - each["lift"] for at, each in stations.items()}
        least = min(gaps, key=gaps.get)
        near = sorted(gaps, key=lambda at: abs(at - least))[:3]
        bend, slope, level = np.polyfit(near, [gaps[at] for at in near], 2)
        said = row(found, f"{valve}, cylinder 1")
        assert float(said[1]) == pytest.approx(level - slope**2 / bend / 4, abs=0.0006)
        assert float(said[2]) == pytest.approx(gaps[least], abs=0.0006)
        assert float(said[3].partition("°")[0]) == pytest.approx(abs(slope / bend / 2), abs=0.06)
        assert said[3].endswith("after TDC" if about > 0 else "before TDC")
        assert abs(-slope / bend / 2 - about) < 1
        assert float(said[1]) == pytest.approx(WORKED[f"v8.ptv_{valve[0]}"], abs=0.002)


def test_a_piston_clearance_is_bore_less_piston(tmp_path):
    # 4.1100 less 4.1058, and 4.1100 less 4.1062 in, in the order of cylinders 1 and 2
    made = [*bore("1", 4.1100), *bore("2", 4.1100), *pistons([4.1058, 4.1062])]
    found = section(hand_over_sheet(build_of(tmp_path, made)), "Fits")
    assert row(found, "least piston clearance")[1:3] == ["0.0042", "0.0038\nclose"]


def test_deck_clearance_is_the_mean_of_front_and_rear(tmp_path):
    made = [reading("3", "piston below deck", f"{size} in", way)
            for way, size in (("front", "0.0140"), ("rear", "0.0160"))]  # fmt: skip
    found = section(hand_over_sheet(build_of(tmp_path, made)), "Decks")
    assert row(found, "3")[1:] == ["0.0150", "-0.0020", "____", "in line"]


def test_a_mean_of_repeats_stands_in_the_readings(tmp_path):
    made = [reading("pin 2", "crank stroke", f"{size} in", repeat=at, instrument="dial indicator",
                    by="B. Cole", resolution="0.001 in")
            for at, size in enumerate(("3.640", "3.642", "3.641"), 1)]  # fmt: skip
    found = section(hand_over_sheet(build_of(tmp_path, made)), "Readings")
    _, mean, span, u, count, instrument, date, by = row(found, "pin 2")
    assert (mean, span, count, instrument, by) == ("3.641", "–", "3", "dial indicator", "B. Cole")
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", date)
    # standard deviation 0.001 of three, and a step of 0.001 in: 0.00065, to its first figure
    assert float(u) == pytest.approx(np.hypot(0.001 / 3**0.5, 0.001 / 12**0.5), abs=0.0001)


def test_metric_and_inch_sheets_say_the_same_clearance(tmp_path):
    build = build_of(tmp_path, [*bore("1", 4.1100), *pistons([4.1058])])
    sizes = [float(row(section(hand_over_sheet(build, system=system), "Fits"),
                       "least piston clearance")[1].split()[0])
             for system in ("inch", "metric")]  # fmt: skip
    assert sizes[0] * 25.4 == pytest.approx(sizes[1], abs=0.0005 + 0.00005 * 25.4)


@pytest.mark.parametrize(("text_", "some"), [("1 to 4", [1, 2, 3, 4]), ("1, 2", [1, 2]),
                                         ("1 to 3, 5, 7", [7, 1, 2, 3, 5]),
                                         ("1L, 2R, 3L", ["1L", "2R", "3L"])])  # fmt: skip
def test_numbers_in_a_row_are_said_as_a_run(text_, some):
    assert runs(some) == text_


@pytest.mark.parametrize(("size", "text_"), [(0.000144, "0.0001"), (0.00065, "0.0006"), (0.0, ""),
                                         (2.4, "2"), (0.096, "0.1")])  # fmt: skip
def test_an_uncertainty_is_said_to_its_first_figure(size, text_):
    assert first_figure(size) == text_


# --- behaviour ----------------------------------------------------------------------------------


def test_the_page_is_whole_and_stands_alone(demo, built):
    for _, page in (demo, built):
        body = parsed(page)
        assert len([*body.iter("h1")]) == 1
        assert "http" not in page
        assert "//" not in page
        assert "<script" not in page
        assert not re.search(r"<[^>]* on\w+=", page)
        assert len(page) < 1_000_000
        for each in body.iter():
            assert each.get("src") is None
            assert (each.get("href") or "#").startswith("#")


def test_ids_differ_and_every_reference_meets_one(built):
    body = parsed(built[1])
    ids = [each.get("id") for each in body.iter() if each.get("id")]
    assert len(ids) == len({*ids})
    wanted = {*re.findall(r"url\(#([^)]+)\)", built[1]), *re.findall(r' href="#([^"]+)"', built[1])}
    assert wanted
    assert wanted <= {*ids}
    drawings = [*body.iter(f"{SVG}svg"), *body.iter("svg")]
    assert len(drawings) >= 2
    for drawing in drawings:
        assert drawing.get("role") == "img"
        assert len(drawing.get("aria-label")) > 30


def test_it_is_named_dated_and_says_what_it_is(built):
    build, page = built
    head = text(parsed(page).find("h1"))
    assert head.splitlines() == ["Hand-over sheet", f"{build.engine.name} · build {build.name}"]
    newest = build.readings.rows()["time"].max()[:10]
    assert row(parsed(page), "newest row of the ledger")[1] == newest
    version = importlib.metadata.version("enginecalc")
    assert row(parsed(page), "version of the workbook")[1] == f"enginecalc {version}"
    assert page.count(GUARANTEE) == 2
    assert "Left and right bank are named as seen from the flywheel end." in page


def test_the_same_build_gives_the_same_page(built):
    assert hand_over_sheet(built[0]) == built[1]


def test_what_is_wrong_comes_first(demo):
    build, page = demo
    titles = [text(each[0]) for each in parsed(page).iter("section")]
    found = HandOver(build)
    assert titles[0] == f"Open warnings: {len(found.warnings)}"
    assert titles[1] == "Not known or not done"
    told = [each[1] for each in rows(section(page, "Open warnings"))[1:]]
    assert len(told) == len(found.warnings)
    assert any("cylinder 7: piston 4.1101 in is not less than bore" in each for each in told)
    assert any(each.startswith("rod oil clearance is outside its limits") for each in told)
    off = [each.cylinder for each in deck_readings(build) if each.off]
    assert f"cylinder {off[0]} stands off the line of its bank's deck" in told


def test_a_fit_outside_says_so_beside_its_limit_and_who_says_it(demo):
    found = row(section(demo[1], "Fits"), "rod oil clearance")
    assert [each.partition("\n")[2] for each in found[7:9]] == ["outside", "outside"]
    assert found[-1] == "0.0022 to 0.0027 · shell maker"


def test_planned_stands_beside_the_least_and_greatest_that_was_read(demo):
    found = row(section(demo[1], "Results"), "quench distance [in]")
    assert found[1] == "0.043 ± 0.002"
    assert found[5] == "outside"
    assert found[6].startswith("0.035 to 0.045 · common practice")
    assert found[3].endswith("(4)")  # the cylinder that stands off its bank


def test_every_step_is_entered_or_an_empty_box(built, empty):
    build, page = built
    done = [
        each for part in ("Assembly, step", "Final checks") for each in rows(section(page, part))
    ]
    steps = sum(len(each.steps) for each in Assembly(build).sections())
    first = [each[0] for each in done if each[0].startswith("[")]
    assert len(first) == steps - 2  # the signatures stand at the end
    left = first.count("[ ]")
    wrong = sum(each.step.asks != "signature" for each in Assembly(build).wrong())
    unread = len([each for each in done if each[0] == "[ ]" and each[2:] == ["____"] * 3])
    assert left == wrong + unread
    assert first.count("[x]") > 130
    blank = [
        each
        for part in ("Assembly, step", "Final checks")
        for each in rows(section(hand_over_sheet(empty), part))
        if each[0].startswith("[")
    ]
    assert {(each[0], *each[2:]) for each in blank} == {("[ ]", "____", "____", "____")}


def test_a_wrong_answer_stays_open_and_is_told_in_front(tmp_path):
    build = assembled(tmp_path, {("3", "rod chamfer"): "rear"})
    page = hand_over_sheet(build)
    parts = section(page, "Assembly, step").iter("table")
    (mine,) = (each for each in parts if text(each.find("caption")) == "cylinder 3")
    assert row(mine, "[ ]", "rod chamfer")[2] == "rear: OPEN, see the warnings"
    told = [each[1] for each in rows(section(page, "Open warnings"))]
    assert any(each.startswith("cylinder 3: rod chamfer is rear, and must face front")
               for each in told)  # fmt: skip
    tight = [each for each in told if "take that piston out again" in each]
    assert len(tight) == 1  # once, though the step and the log say it


def test_the_last_checks_name_every_aid_that_must_come_out(built):
    said = text(section(built[1], "Final checks"))
    for aid in (
        "positive stop",
        "springs",
        "clay",
        "solid lifter",
        "plugs and rags",
        "turning bar",
    ):
        assert aid in said


def test_blank_is_never_zero(empty):
    page = hand_over_sheet(empty)
    found = section(page, "Results, planned beside measured")
    assert all(each[2:5] == ["____"] * 3 for each in rows(found)[1:])
    assert row(found, "exhaust coil bind [in]")[1] == "____"
    assert "Nothing has been read on this engine yet" in text(section(page, "Readings"))
    assert "no turning torque is logged yet" in text(section(page, "Turning torque"))
    assert "No fit is known yet" in text(section(page, "Fits"))
    assert row(parsed(page), "newest row of the ledger")[1] == "____"
    assert "Nothing is wrong" not in page


def test_places_not_read_are_blank_rows(tmp_path):
    made = [reading(str(at), "rod width", "0.9420 in") for at in (1, 2, 3, 5)]
    found = section(hand_over_sheet(build_of(tmp_path, made)), "Readings")
    assert row(found, "4, 6 to 8: 4 of 8 not read")[1:] == ["____"] * 7
    assert rows(found).count(["none of 48 read", *["____"] * 7]) == 1  # bores


def test_what_a_build_lacks_is_said_with_where_to_do_it(empty):
    gaps = dict(sheet_gaps(empty))
    assert gaps["bore diameter: 48 of 48 places not read"] == "chapter 06, measure and match"
    assert gaps["intake valve drop: 72 of 72 places not read"] == "chapter 04, piston to valve"
    assert gaps["cylinder 3: 16 of 16 steps open"] == "chapter 08, assemble"
    assert gaps["exhaust coil bind needs exhaust.spring_installed, exhaust.spring_bind"] == (
        "engine file"
    )
    known = {name for each in measurements() for name in [each.name]}
    assert len([each for each in gaps if each.partition(": ")[0] in known]) == len(known)


def test_what_rests_on_a_reading_in_doubt_is_outside_and_says_so(demo):
    said = [each for each, _ in HandOver(demo[0]).warnings]
    assert any("lines 23, 53" in each and "look exchanged" in each for each in said)
    for fit, place in (("bore taper", "cylinder 7 on readings in doubt ("),
                       ("rod oil clearance", "cylinder 7, cylinder 8 (")):  # fmt: skip
        assert any(f"{fit} is outside its limits: {place}" in each for each in said)


def test_a_matching_is_kept_beside_one_that_cannot_be(demo):
    found = HandOver(demo[0])
    choice = SimpleNamespace(before=[1e-4, 1e-4], after=[1e-4, 1e-4])
    places, orders = ["cylinder 1", "cylinder 2"], ["rods 1 and 2 change"]
    done = SimpleNamespace(choice=choice, places=places, orders=orders)
    found.matchings = {"rods": done, "pistons": "Not measured IN"}
    said = [getattr(each, "words", getattr(each, "title", "")) for each in
            matching_section(found, "inch").parts]  # fmt: skip
    assert "rods: rods 1 and 2 change." in said
    assert "pistons: not matched" in said
    found.matchings = dict.fromkeys(("rods", "pistons"), "no part was measured IN here")
    (said,) = matching_section(found, "inch").parts
    assert said.words == "Which part goes where: no part was measured IN here."


def test_readings_in_two_units_are_shown_as_fine_as_each_was_read(tmp_path):
    build = build_of(tmp_path, [reading("3", "rod width", "0.9420 in"),
                                reading("3", "rod width", "23.93 mm", repeat=2)])  # fmt: skip
    page = hand_over_sheet(build)
    assert row(section(page, "Readings"), "cylinder 3")[1] == "0.9421"  # 0.9420 and 0.94213
    page = hand_over_sheet(build, system="metric")
    assert row(section(page, "Readings"), "cylinder 3")[1] == "23.928"


def test_open_warnings_stand_at_the_signatures_and_ask_who_accepts_them(demo):
    _, page = demo
    head, count = section(page, "Open warnings"), 13  # counted by hand
    assert rows(head)[0][-1] == "accepted by, and why"
    assert [each[-1] for each in rows(head)[1:]] == ["____"] * count
    assert f"{count} warnings are open at the head of this sheet." in text(
        section(page, "Papers and signatures")
    )
    mark = hashlib.sha256((DEMO / "engine.toml").read_bytes()).hexdigest()[:8]
    assert row(parsed(page), "mark of the engine file")[1] == mark


@pytest.mark.parametrize(("note", "told"), [("", "the piston came out again"), ("tight", "tight")])
def test_a_piston_that_came_out_again_is_told_in_one_row(tmp_path, note, told):
    build = load_build(shutil.copytree(DEMO, tmp_path / DEMO.name))
    assert Assembly(build).take_out(1, by="B. Keel", note=note) > 10
    page = hand_over_sheet(build)
    _, row_ = rows(section(page, "Remarks"))
    assert row_[2:] == ["B. Keel", "withdrawn", "cylinder 1 piston home", told]
    assert "the trace of cylinder 1 is missing" not in text(section(page, "Turning torque"))


def test_a_finished_build_is_short_of_no_step(built):
    said = [each for each, _ in sheet_gaps(built[0])]
    steps = [each for each in said if each.endswith("steps open")]
    assert len(steps) == 10  # readings of rings, end play and decks, which this build has none of
    assert all(re.search(r": [1-4] of \d+ steps", each) for each in steps)


CUT = {  # tables and fields of the demo's engine that a file may lack
    "valves": ["intake", "exhaust"],
    "rod bolts": ["rod_bolt"],
    "block": ["block.rail_offset", "block.bore_bottom", "block.cam_height", "rod.outline"],
    "masses": ["rod.mass_big_end", "piston.mass", "bearings"],
    "running": ["running"],
    "limits": ["limits"],
}


@pytest.mark.parametrize("lacking", [*CUT])
def test_an_engine_that_lacks_tables_gives_an_honest_sheet(tmp_path, lacking):
    build = build_of(tmp_path, [*bore("1", 4.1100), *pistons([4.1058])])
    engine = load_engine(DEMO / "engine.toml").altered(dict.fromkeys(CUT[lacking]))
    (tmp_path / "engine.toml").write_text(engine.text(), encoding="utf-8")
    page = hand_over_sheet(load_build(tmp_path))
    said = {
        "valves": ("Valves", "intake piston to valve needs intake.lobe_lift"),
        "rod bolts": ("Rod bolts", "rod_bolt.lubricant: not named"),
        "block": ("Clearances in the block", "rod to rail, outer side needs rod.outline"),
        "masses": ("Bob weight", "No card: bob weight needs rod.mass_big_end"),
        "running": ("Not known or not done", "running quench needs running.rod_rise"),
        "limits": ("Not known or not done", "least piston clearance has no limit"),
    }[lacking]
    assert said[1] in text(section(page, said[0]))
    assert build.name in page


def test_the_ferry_four_in_millimeters(tmp_path):
    shutil.copy(FOUR, tmp_path / "engine.toml")
    page = hand_over_sheet(load_build(tmp_path), system="metric")
    found = section(page, "Results, planned beside measured")
    assert WORKED["i4.cr"] == printed(row(found, "compression ratio")[1])
    assert row(section(page, "Which engine"), "layout")[1] == "inline, 4 cylinders"
    assert " in]" not in page.replace("[in³]", "")


@pytest.mark.parametrize("name", ["a, b", 'say "x"', "=1+2", "🔧 first\nsecond", NASTY])
def test_names_and_notes_come_out_inert_and_whole(tmp_path, name):
    build = build_of(tmp_path)
    engine = build.engine.altered({"name": name})
    (tmp_path / "engine.toml").write_text(engine.text(), encoding="utf-8")
    build = load_build(tmp_path)
    build.readings.append("4.1102 in", place="1", part="bore", feature="diameter", by=name,
                          instrument=name, note=name)  # fmt: skip
    build.readings.append("3 mm", place=name, part=name, feature="own")
    build.readings.remark(name, by=name)
    page = hand_over_sheet(build)
    assert "<script" not in page
    assert "<b>" not in page
    body = parsed(page)
    assert text(body.find("h1")) == f"Hand-over sheet\n{name} · build {build.name}"
    notes = [each[5] for each in rows(section(page, "Remarks"))[1:]]
    assert notes == [name, name]
    found = rows(section(page, "Readings"))
    assert any(each[5:6] == [name] and each[7:] == [name] for each in found)
    assert any(each == [f"{name} own"] for each in found)
    css = re.search(r'@bottom-left { content: "([^"]*)"', page)[1]
    back = re.sub(r"\\([0-9a-f]{6})", lambda found: chr(int(found[1], 16)), css)
    assert back == f"{name} · build {build.name}"


def test_cylinders_of_any_name_come_out_inert_and_whole(tmp_path):
    names = ['"><script>1</script>', "2 & 3", "=4", '5"']
    layout = {
        "kind": "inline",
        "crank_pins": ["0 deg", "180 deg", "180 deg", "0 deg"],
        "firing_order": [names[at] for at in (0, 2, 3, 1)],
        "cylinder": [{"number": name, "bank": "inline", "pin": at}
                     for at, name in enumerate(names, 1)],
    }  # fmt: skip
    engine = load_engine(FOUR).altered({"layout": layout})
    (tmp_path / "engine.toml").write_text(engine.text(), encoding="utf-8")
    build = load_build(tmp_path)
    log = [(name, "turning torque", "") for name in ("engine", *names)]
    log += [(name, "turning torque trace", str(angle)) for name in names[:2]
            for angle in range(0, 360, 10)]  # fmt: skip
    size = {name: 2 * at for at, name in enumerate(("engine", *names), 1)}
    build.readings.append_many([
        {"place": name, "part": "crank", "feature": feature, "angle": angle, "direction": way,
         "value": f"{size[name]} N·m"}
        for name, feature, angle in log for way in ("forward", "back")
    ])  # fmt: skip
    page = hand_over_sheet(build, system="metric")
    assert "<script" not in page
    found = section(page, "Ring gaps and which way round")
    assert [each[0] for each in rows(found) if each[0] in names] == names
    drawings = [each.get("aria-label") for each in parsed(page).iter() if each.get("aria-label")]
    assert any(f"{names[0]} 2.0" in each for each in drawings)  # what each piston added


@pytest.mark.parametrize("name", ["inline 1", "V6 60°, split pins", "flat 4"])
def test_engines_of_other_layouts_get_their_sheet(tmp_path, name):
    changes = {"layout": layout_table(name), "camshaft": None, "block.rail_offset": None}
    engine = load_engine(DEMO / "engine.toml").altered(changes, fitting=False)
    (tmp_path / "engine.toml").write_text(engine.text(), encoding="utf-8")
    page = hand_over_sheet(load_build(tmp_path))
    parts = section(page, "Assembly, step").iter("table")
    assert len([*parts]) == 1 + len(engine.layout.numbers)


def test_the_wheel_takes_the_template_along(tmp_path):
    code = f"from hatchling.build import build_wheel; build_wheel({str(tmp_path)!r})"
    root = Path(__file__).parent.parent
    subprocess.run([sys.executable, "-c", code], cwd=root, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    assert "enginecalc/views/templates/sheet.html.jinja" in zipfile.ZipFile(wheel).namelist()


def test_signs_that_are_no_text_are_shown_as_such(tmp_path):
    build = build_of(tmp_path)
    raw = (tmp_path / "engine.toml").read_text(encoding="utf-8")
    raw = re.sub('name = ".*?"', r'name = "a\\u0000b\\u000bc"', raw, count=1)
    (tmp_path / "engine.toml").write_text(raw, encoding="utf-8")
    page = hand_over_sheet(load_build(build.folder))
    assert "a\ufffdb\ufffdc · build" in text(parsed(page).find("h1"))


def test_formulas_name_their_sources(empty):
    found = rows(section(hand_over_sheet(empty), "Formulas and sources"))
    by_key = {key: (book, formulas) for key, book, formulas in found[1:]}
    assert "compression ratio (cylinder)" in by_key["solberg_heat"][1]
    assert "rod ratio (crank)" in by_key["geometry"][1]
    assert by_key["gum"][0].startswith("Evaluation of measurement data")


def test_another_unit_system_is_refused(empty):
    with pytest.raises(ValueError, match="system must be inch or metric, got 'feet'"):
        hand_over_sheet(empty, system="feet")


def test_a_ledger_that_was_torn_is_told(tmp_path):
    build = build_of(tmp_path, bore("1", 4.1100))
    with (tmp_path / "readings.csv").open("a", encoding="utf-8") as file:
        file.write("2026-10-12T09:05:59+02:00,reading,1,bo")
    assert Readings(tmp_path / "readings.csv").problems
    told = text(section(hand_over_sheet(load_build(build.folder)), "Open warnings"))
    assert "line 8: has no line end" in told


_FOOT = 48  # points from the edge: below are the lines of the page itself
PRINTS = pytest.mark.skipif(
    not chromium() and os.environ.get("ENGINECALC_BROWSER") != "required",
    reason="there is no chromium on this machine",
)


@PRINTS
@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_it_prints_whole_on_both_papers(built, tmp_path, paper, size):
    source, made = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page = built[1].replace("@page {", f"@page {{ size: {paper};", 1)
    source.write_text(page, encoding="utf-8")
    subprocess.run(
        [chromium(), "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={made}", source.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    document = pypdfium2.PdfDocument(made)
    assert 10 < len(document) < 30
    pages, body = [], parsed(built[1])
    heads = [text(each[0]) for each in body.iter("section")]
    above = {*heads, *map(text, body.iter("h3")), *map(text, body.iter("caption"))}
    above -= {text(each) for each in body.iter("th")}  # such as a cylinder, in another table
    for at, leaf in enumerate(document, 1):
        assert [round(each) for each in leaf.get_size()] == pytest.approx(size, abs=1)
        words = leaf.get_textpage()
        boxes = [words.get_rect(number) for number in range(words.count_rects())]
        assert min(box[0] for box in boxes) > 30  # points: within the margins
        assert max(box[2] for box in boxes) < size[0] - 30
        lines = words.get_text_bounded().splitlines()
        assert f"{at} of {len(document)}" in lines[-1] + lines[0]
        lowest = min((box for box in boxes if box[1] > _FOOT), key=lambda box: box[1])
        assert words.get_text_bounded(*lowest).strip() not in above  # no heading at a page's foot
        pages.append(" ".join(lines))
    whole = re.sub(r"\s+", " ", " ".join(pages))
    for title in heads:
        assert title in whole
    first = re.sub(r"\s+", " ", pages[0])
    assert "Open warnings" in first
