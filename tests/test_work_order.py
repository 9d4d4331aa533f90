"""The order of work as data: every step can be answered, warned of and counted."""

import pytest

from enginecalc.records import work_order
from enginecalc.records.places import measurements
from enginecalc.records.ring_placement import placements
from enginecalc.records.work_order import FINAL, order_of_work, steps_of
from enginecalc.units import KINDS
from tests.bench_work import STEP

STEPS = order_of_work()
READ = {each.name: each for each in measurements()}
BY_ENGINE = {"chamfer", "cap number", "tang side", "lubricant", "ring layout", "signature",
             "pocket side"}  # fmt: skip


def at(name):
    return STEPS.index(STEP[name])


# --- against a source -------------------------------------------------------------------------

# common practice, no source: what must come before what
ORDER = [
    "block washed", "oilway plugs", "main shells", "main caps", "bare crank", "end play",
    "ring gaps filed", "oil ring", "second ring", "top ring", "gaps placed", "pin down",
    "front mark", "rod chamfer", "bolts sleeved", "piston home", "cap number", "tang side",
    "bolt lubricant", "bolt torque", "side play", "two turns",
]  # fmt: skip
# common practice, no source: what is looked at before a short block is handed on
LAST = [
    "witness marks", "end play again", "decks read", "piston to valve read", "cam phase",
    "timing mark", "valve lash",
]  # fmt: skip
AIDS = ["positive stop", "checking springs", "clay", "solid lifter", "plugs", "rags", "wheel",
        "bar"]  # fmt: skip
CAUTIONS = [  # common practice, no source
    ("block washed", "Eye protection"),
    ("main shells", "Oil behind a shell"),
    ("main caps", "with help"),
    ("bare crank", "by the fingers"),
    ("second ring", "eye protection"),
    ("top ring", "eye protection"),
    ("gaps placed", "in line"),
    ("pin down", "Nobody turns the crank"),
    ("pin down", "Take the bar off"),
    ("rod chamfer", "binds"),
    ("bolts sleeved", "nicks the crank pin"),
    ("piston home", "Eye protection"),
    ("piston home", "Stop if it stops"),
    ("cap number", "belongs to one rod"),
    ("bolt lubricant", "one lubricant"),
    ("bolt torque", "second click"),
    ("two turns", "back out: never work it free"),
    ("valve lash", "hot figure set cold"),
    ("oil pump primed", "Fire extinguisher"),
    ("oil pump primed", "nobody in line with belts and flywheel"),
    ("wheel and bar off", "kills"),
]


def test_the_order_of_the_work():
    assert [each.name for each in STEPS if each.name in ORDER] == ORDER
    assert at("ring gap layout") < at("ring gaps filed")
    assert at("two turns") < at(LAST[0])


def test_the_final_checks_are_all_there():
    names = [each.name for each in steps_of("engine", final=True)]
    assert names[: len(LAST)] == LAST
    inside = [name for name in names if name.endswith("out")]
    assert max(map(at, inside)) < at("last two turns") < at("oil pump primed")
    assert at("oil pump primed") < at("wheel and bar off") < at("builder signs")


@pytest.mark.parametrize("aid", AIDS)
def test_every_aid_is_counted_out_at_the_end(aid):
    out = [each for each in STEPS[at("valve lash") + 1 :] if aid in each.name]
    assert [each.kind for each in out] == ["done"]


@pytest.mark.parametrize(("step", "words"), CAUTIONS)
def test_a_step_warns_of_what_it_can_hurt(step, words):
    assert words in STEP[step].caution


@pytest.mark.parametrize(
    ("step", "words"),
    [("bolt torque", "two or three steps"), ("bolt torque", "one click only"),
     ("piston home", "One steady push"), ("two turns", "two full turns"),
     ("top ring", "spread only enough to pass the crown"),
     ("cam phase", "intake centerline"), ("timing mark", "true top dead center")],
)  # fmt: skip
def test_a_step_says_how(step, words):
    assert words in STEP[step].words


# --- against geometry and identities ----------------------------------------------------------


def test_a_name_stands_once():
    names = [each.name for each in STEPS]
    assert len({*names}) == len(names) == 41


def test_every_step_belongs_to_one_of_the_three_lists():
    lists = [steps_of("engine"), steps_of("cylinder"), steps_of("engine", final=True)]
    assert sorted(sum(lists, ()), key=STEPS.index) == list(STEPS)
    assert [len(each) for each in lists] == [8, 16, 17]
    assert steps_of("cylinder", final=True) == ()


def test_a_stage_is_not_left_and_come_back_to():
    stages = [each.stage for each in STEPS]
    runs = [one for one, before in zip(stages, [None, *stages], strict=False) if one != before]
    assert len({*runs}) == len(runs)
    assert runs[-1] == FINAL


@pytest.mark.parametrize("step", STEPS, ids=list(STEP))
def test_a_step_has_what_its_kind_needs(step):
    assert step.scope in ("engine", "cylinder")
    assert step.words.endswith((".", "?"))
    assert not step.caution or step.caution.endswith(".")
    asked = {
        "done": not step.asks and not step.answers and not step.otherwise,
        "figure": step.asks in KINDS and not step.answers,
        "reading": step.asks in READ and not step.answers,
        "word": step.asks in BY_ENGINE or (step.answers and step.otherwise and not step.asks),
    }
    assert asked[step.kind]
    if step.answers:  # the first letter is enough
        right, wrong = step.answers
        assert right[0] != wrong[0]


def test_a_reading_is_asked_for_at_places_it_has():
    for step in (each for each in STEPS if each.kind == "reading"):
        places = READ[step.asks].places.split(";")
        assert step.scope in places or places == ["cylinder"]
    assert READ[STEP["two turns"].asks].directions == ("forward", "back")


def test_no_ring_layout_begins_with_a_number_that_counts_them():
    assert not any(each.name[0].isdigit() for each in placements())


ASKED = {name: each for name, each in vars(work_order).items() if name.isupper()}
LITERAL = {"FINAL", "DONE", "HOME", "SIGNATURE"}  # a stage, answers, what a step asks


@pytest.mark.parametrize("name", sorted(ASKED.keys() - LITERAL))
def test_a_step_that_code_asks_for_by_name_stands_in_the_table(name):
    assert ASKED[name] in STEP


def test_the_words_of_the_table_that_code_knows_stand_in_it():
    assert {*ASKED} > LITERAL
    assert work_order.SIGNATURE in {each.asks for each in STEPS}
    assert work_order.DONE in {each.kind for each in STEPS}
    assert work_order.HOME in STEP[work_order.PISTON_HOME].answers


# --- behaviour --------------------------------------------------------------------------------


def test_the_table_is_read_once(monkeypatch):
    order_of_work()
    monkeypatch.setattr(work_order, "table", None)
    assert order_of_work() is order_of_work()
