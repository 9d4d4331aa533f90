"""The pictures of the hand-over sheet, each as SVG that stands in a page by itself."""

import re

import matplotlib

from enginecalc.records.assembly import ENGINE
from enginecalc.records.orientation import orientation
from enginecalc.records.torque_readings import torque_text
from enginecalc.records.torque_trace import trace_of
from enginecalc.records.work_order import TANG_SIDE
from enginecalc.views.assembly_words import pocket_side
from enginecalc.views.build_figures import BoreMap, FitStrip
from enginecalc.views.figures import new_figure, svg
from enginecalc.views.orientation_figures import OrientationFigure
from enginecalc.views.sheet_parts import Picture, Text
from enginecalc.views.torque_figures import TorqueSteps, TorqueTrace
from enginecalc.views.torque_words import sentences

_WORST = 10  # fits in the picture, as many as stay readable in that height
_ASIDE = re.compile(r"<metadata>.*?</metadata>|<style.*?</style>", re.S)


def picture(name, figure, words, caption):
    """Return a `Picture` that stands in a page by itself.

    Every id within it gets `name` in front, as two drawings may have the same ones. What a page
    needs none of is taken out: metadata, addresses of name spaces, a style of its own.
    """

    def alone(tag):
        tag = re.sub(r' xmlns(:\w+)?="[^"]*"', "", tag[0])
        tag = re.sub(r' id="', f' id="{name}-', tag).replace("url(#", f"url(#{name}-")
        return re.sub(r' (?:xlink:)?href="#', f' href="#{name}-', tag)

    with matplotlib.rc_context({"svg.hashsalt": name}):  # the same build gives the same page
        drawing = _ASIDE.sub("", svg(figure, words))
    return Picture(re.sub(r"<\w[^>]*>", alone, drawing), caption)


def fit_picture(found, system):
    """Return the picture of the fits against their limits."""
    figure = new_figure(7.0, 3.4)
    words = FitStrip(figure.add_subplot()).place(found.fits, system, most=_WORST)
    return picture("fits", figure, words, "Fits against their limits, the least room first.")


def bore_picture(found, system):
    """Return the picture of how far every reading of a bore lies off the planned bore."""
    figure = new_figure(7.5, 6.0)
    words = BoreMap(figure.add_subplot()).place(found.build, system)
    return picture("bores", figure, words, "Every reading of the bores, against the planned bore.")


def torque_picture(found):
    """Return the picture of the turning torque that each piston added."""
    figure, entries = new_figure(7.0, 2.6), found.torque.entries
    bars = [(each.place if each.place != ENGINE else "crank", each.torque.m,
             None if each.increment is None else each.increment.m,
             each.tight) for each in entries]  # fmt: skip
    unit = torque_text(entries[0].torque).partition(" ")[2]
    words = TorqueSteps(figure.add_subplot()).place(bars, unit, 1)
    return picture("torque", figure, words, "A hatched bar is a piston that added too much.")


def trace_pictures(found):
    """Yield a picture for each cylinder whose torque was traced, or why there is none."""
    entries = found.torque.entries
    places = {*found.build.readings.latest(feature="turning torque trace")["place"]}
    unit, to = torque_text(entries[0].torque).partition(" ")[2], entries[0].torque.units
    for at, number in enumerate(found.build.cylinders):
        if str(number) not in places:
            continue
        try:
            trace = trace_of(found.build, number, found.torque_unit)
        except ValueError as fault:
            yield Text(sentences([str(fault)]))
            continue
        figure = new_figure(7.0, 2.6)
        sizes = (each.m_as(to) for each in (trace.added, trace.fitted))
        angles, touches = (each.m_as("deg") for each in (trace.angles, trace.contacts))
        words = TorqueTrace(figure.add_subplot()).place(
            angles, *sizes, touches, unit, two_turns=trace.two_turns
        )
        yield picture(f"trace-{at}", figure, words, sentences(trace.words))


def clock_picture(found, gaps, system):
    """Return the picture of how everything of the first cylinder goes in, ring gaps included."""
    number = found.engine.layout.numbers[0]
    tang = found.assembly.entry(str(number), TANG_SIDE)
    drawing = OrientationFigure()
    here, side = orientation(found.engine, number), tang.said if tang else ""
    words = drawing.place(found.engine, here, gaps, side, system, pocket_side(found.build))
    return picture("clock", drawing.figure, words, "True-scale clocks are printed apart.")
