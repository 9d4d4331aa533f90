"""Drawings of the turning torque, the box for a trace, and what is said of a log on a page."""

import os
import re

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.records.torque_log import torque_log
from enginecalc.views.figures import new_figure
from enginecalc.views.sheet import hand_over_sheet
from enginecalc.views.torque_figures import TorqueSteps, TorqueTrace
from enginecalc.views.torque_words import log_bars, log_words
from enginecalc.views.trace_form import TraceForm
from tests.bench_work import BY
from tests.builds import build_of
from tests.chapters import plain
from tests.figures import WORKED
from tests.test_torque_log import LOG, TRACE, line, log, traces

FALLING = [("crank", 1.0, None, False), ("cyl. 4", 2.9, 1.9, False), ("cyl. 7", 2.6, -0.3, False),
           ("cyl. 2", 9.9, 7.3, True), ("cyl. 3", 8.4, -1.5, False)]  # fmt: skip
NEWTON = WORKED["inputs"]["torque_conversion"]["lbfft_to_Nm"]


@pytest.fixture(autouse=True, scope="module")
def no_waiting():
    """Do without the disk's acknowledgment, which a busy machine gives late."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        yield


@pytest.fixture
def form(tmp_path):
    """Return a box for traces of cylinder 1, of which the crank and it are logged."""
    build = build_of(tmp_path, log(LOG[:2]))
    form = TraceForm(lambda: (build, form.at, form.system, BY), lambda: None)
    form.at, form.system, form.build = "1", "inch", build
    return form


def save(form, place, torques, way="forward"):
    form.at, form.way.value, form.step.value = place, way, "5 deg"
    form.text.value = " ".join(f"{each:.2f}" for each in torques)
    form.save.click()


# --- against a source -------------------------------------------------------------------------


def test_a_page_in_newton_meters_has_all_its_sentences_in_them(tmp_path):
    build = build_of(tmp_path, [*log(), *traces(5, TRACE)])
    added = NEWTON * WORKED["trq.inc"][4]
    rows, found = log_bars(build, "metric")
    assert_allclose(rows[5][2], added, atol=0.05 * NEWTON)  # printed to 0.1 lbf·ft
    assert f"Cylinder 5 added {added:.1f} N·m, the others 2.4 to 2.7" in log_words(build, found)
    page = re.sub("<style.*?</style>", "", hand_over_sheet(build, system="metric"), flags=re.S)
    said = re.sub("<.*?>", " ", page)
    assert f"Cylinder 5 added {added:.1f} N·m" in said
    assert "added 0.46 N·m at every angle" in said  # 0.34 lbf·ft of the worked trace
    of_log = said.partition("Torque log, in the order")[2].partition("Bob weight")[0]
    assert of_log.count("N·m") > 3
    assert "lbf·ft" not in of_log


# --- against geometry -------------------------------------------------------------------------


def test_figures_of_bars_that_fall_stand_clear_below_them():
    figure = new_figure(7, 2.6)
    ax = figure.subplots()
    TorqueSteps(ax).place(FALLING, "lbf·ft", 1)
    figure.canvas.draw()
    bars = {each.get_gid(): each.get_window_extent() for each in ax.patches if each.get_gid()}
    texts = {each.get_text(): each.get_window_extent() for each in ax.texts}
    for at, words in ((1, "1.9"), (2, "−0.3"), (3, "7.3 tight"), (4, "−1.5")):
        bar, text = bars[f"added {at}"], texts[words]
        assert text.y1 < bar.y0 if words[0] == "−" else text.y0 > bar.y1
        assert ax.bbox.y0 <= text.y0
        assert text.y1 <= ax.bbox.y1


@pytest.mark.parametrize("two_turns", [False, True])
def test_no_reading_stands_on_the_frame(two_turns):
    turn = 720 if two_turns else 360
    angles, ax = np.arange(0.0, turn + 1, 10), new_figure(7, 2.6).subplots()
    TorqueTrace(ax).place(angles, 2 + 0 * angles, 2 + 0 * angles, [], "N·m", two_turns=two_turns)
    assert ax.get_xlim() == (-5, turn + 5)
    assert ax.get_xticks()[-1] == turn


# --- behaviour --------------------------------------------------------------------------------


def test_nothing_logged_is_nothing_to_draw_but_words(tmp_path):
    build = build_of(tmp_path)
    rows, found = log_bars(build, "inch")
    assert rows == []
    assert "No turning torque is logged yet." in log_words(build, found)


def test_a_trace_is_typed_again_and_taken_back(form):
    flat, added = np.full(72, 6.0), 6.0 + np.array(TRACE)
    for way in ("forward", "back"):
        save(form, "engine", flat, way)
        save(form, "1", added, way)
    assert "saved: 72 figures, cylinder 1, back" in plain(form.answer)
    form.show(form.build, "1", "inch")
    assert "Cylinder 1 added 0.34 lbf·ft at every angle" in plain(form.words)
    assert "one sharp angle each turn. Back out at once; do not work it free. One turn was" in (
        plain(form.words)
    )
    assert ".;" not in plain(form.words)
    assert ".." not in plain(form.words)
    form.show(form.build, "1", "metric")
    assert "Cylinder 1 added 0.46 N·m at every angle" in plain(form.words)
    form.withdraw.click()
    assert "withdrawn: 72 figures, cylinder 1, back" in plain(form.answer)
    form.withdraw.click()
    assert "there is none of cylinder 1, back, to take back" in plain(form.answer)
    form.way.value = "forward"
    form.withdraw.click()
    form.show(form.build, "1", "inch")
    assert form.picture.value == ""
    assert "the trace of cylinder 1 is missing" in plain(form.words)


def test_figures_of_a_trace_belong_to_the_place_and_unit_they_were_typed_for(form):
    form.show(form.build, "1", "inch")
    assert form.text.description == "torques [lbf·ft]"
    form.text.value = " ".join(["1.00"] * 72)
    form.at, form.system = "engine", "metric"
    form.show(form.build, "engine", "metric")
    form.save.click()
    assert plain(form.answer) == (
        "trace: these figures were typed at cylinder 1 in lbf·ft: save them there, or type them"
        " again here"
    )
    assert form.text.value  # nothing typed is lost
    form.at, form.system = "1", "inch"
    form.show(form.build, "1", "inch")
    form.save.click()
    assert "saved: 72 figures, cylinder 1, forward" in plain(form.answer)
    form.show(form.build, "engine", "inch")
    assert form.answer.value == ""  # what was said of another place


def test_a_trace_of_a_piston_that_is_not_logged_is_refused(form):
    form.at = "6"
    form.show(form.build, "6", "inch")
    assert "cylinder 6: its turning torque is not logged; log it first" in plain(form.words).lower()
    save(form, "6", [1.0] * 72)
    assert "cylinder 6: log its turning torque first; nothing was saved" in plain(form.answer)


def test_a_trace_of_half_a_turn_stays_in_the_box(form):
    save(form, "1", [1.0] * 36)
    assert "36 figures by 5 deg cover 180 deg; a trace goes all round" in plain(form.answer)
    assert form.text.value.count("1.00") == 36


def test_the_sheet_says_what_was_read_one_way_only(tmp_path):
    build = build_of(tmp_path, [*log(LOG[:3]), line("3", 6.7, "back")])
    assert torque_log(build).entries[3].way == "back"
    cells = re.findall(r"<td[^>]*>(.*?)</td>", hand_over_sheet(build))
    assert "6.70, back only" in cells
