"""True-scale drawings to lay on an engine: a degree wheel and a timing tape."""

import math

import matplotlib
import numpy as np
from matplotlib.patches import Circle, FancyArrowPatch, Rectangle

from enginecalc.views.sheets import (
    CUT,
    MARGIN,
    MIDDLE,
    ON_WHITE,
    STYLE,
    TURNS,
    choice_fault,
    lines,
    magnitudes,
    paper_faults,
    range_fault,
    refuse,
    room_of,
    sheet,
)
from enginecalc.views.tiles import TILED, crosses, overview, text_width, tiles

RINGS, LEADER, CENTER = 18.5, 5.0, 18.0  # a wheel's rings, the way in to its labels, its middle
STRIP, PITCH, TAB = 18.0, 26.0, 9.0  # a tape's width, from strip to strip, what is glued under
_SENSE = {1: "clockwise", -1: "anticlockwise"}


@matplotlib.rc_context(STYLE)
def degree_wheel(
    events, diameter, *, mounted="crank", rotation="standard", engine="", paper="A4", scale=1.0
):
    """Return the sheets of a degree wheel seen from the front; a large one comes in tiles.

    Parameters
    ----------
    events : sequence of (str, quantity)
        What to write, and the crank angle after true TDC; before it is negative.
    diameter : quantity
        Of the outer circle.
    mounted : str
        "crank", the wheel turns under a fixed pointer; "fixed", the pointer turns.
    rotation : str
        "standard", clockwise seen from the front, or "reverse".
    engine : str
        Its name, for the heading.
    paper : str
        "A4" or "Letter".
    scale : float
        From `scale_factor`.

    Returns
    -------
    list of Figure
        One a sheet.

    Raises
    ------
    UnitError
        When the diameter is not a length or an event's angle not an angle.
    ValueError
        When the labels do not fit a wheel of this diameter, or an argument is impossible.

    Notes
    -----
    On the crank the numbers run against the running direction, on a fixed wheel with it.
    """
    title = "degree_wheel"
    (size,) = magnitudes(title, "mm", [("diameter", diameter)])
    angles = magnitudes(title, "deg", events)
    labels = sorted(
        (angle % 360, f"{label}\n{_readings(angle)}")
        for (label, _), angle in zip(events, angles, strict=True)
    )
    grow = min(max(size / 180, 1.0), 1.6)  # larger figures on a larger wheel
    lines = [line for _, label in labels for line in label.split("\n")]
    long = max((text_width(line, 6.5 * grow) for line in lines), default=0.0)
    middle = max(CENTER, 6.5 * grow * len(labels) / math.tau)
    taken = long + (RINGS + LEADER) * grow
    least = math.ceil(2 * (middle + taken))
    faults = [range_fault("diameter", size, least, " to hold its labels")]
    faults.append(choice_fault("mounted", mounted, ("crank", "fixed")))
    refuse(title, faults + paper_faults(rotation, paper, scale))

    turns = TURNS[rotation]
    runs = -turns if mounted == "crank" else turns
    where = "on the crank, pointer fixed" if mounted == "crank" else "fixed, pointer on the crank"
    notes = (
        f"wheel {where}: numbers run {_SENSE[runs]}, crank turns {_SENSE[turns]}, seen from the"
        f" front\ndiameter {size:.1f} mm ({size / 25.4:.3f} in): measure it across and up as well"
    )
    room = room_of(paper, scale)
    corners = _wheel_tiles(size / 2, room)
    if len(corners) > 1:
        notes += f"\n{TILED}"
    figures = []
    for at, corner in enumerate(corners.values(), 1):
        number = at, len(corners)
        page, drawing = sheet("Degree wheel", engine, notes, number, paper, scale, corner)
        _wheel(drawing, size / 2, grow, runs, turns)
        _events(drawing, labels, size / 2, grow, runs, long)
        if len(corners) > 1:
            crosses(drawing, corners, room, _clear_of(size / 2 - taken, size / 2))
            origin, shrink = overview(page, corners, at, room, MARGIN / scale)
            page.add_patch(Circle(origin, size / 2 * shrink, fill=False, lw=0.8))
        figures.append(page.figure)
    return figures


@matplotlib.rc_context(STYLE)
def timing_tape(diameter, tape_thickness, *, rotation="standard", engine="", paper="A4", scale=1.0):
    """Return the sheets of a timing tape for a damper under a fixed pointer, cut into strips.

    Parameters
    ----------
    diameter, tape_thickness : quantity
        Of the bare damper, and of the paper with its glue.
    rotation, engine, paper, scale
        As of `degree_wheel`.

    Returns
    -------
    list of Figure
        One a sheet.

    Raises
    ------
    UnitError
        When an argument is not a length.
    ValueError
        When the damper is too small or too large for a tape, or an argument is impossible.

    Notes
    -----
    A turn is pi (diameter + thickness) long: bent round, a tape keeps the length of the middle of
    its thickness. Its outer face comes out at pi (diameter + 2 thickness). Marks before TDC lie
    ahead of the zero mark in the running direction.
    """
    title = "timing_tape"
    given = [("diameter", diameter), ("tape_thickness", tape_thickness)]
    size, thick = magnitudes(title, "mm", given)
    faults = [range_fault("diameter", size, 90, " to hold its numbers")]
    if not 0 <= thick <= 3:
        faults.append(f"tape_thickness must be from 0 to 3 mm, got {thick:.6g} mm")
    refuse(title, faults + paper_faults(rotation, paper, scale))

    turns, degree = TURNS[rotation], math.pi * (size + thick) / 360
    width, height = room_of(paper, scale)
    tens = math.ceil(36 / math.ceil(36 / ((width - TAB - 1) // (10 * degree))))
    first = -5 * (tens - 1 + tens % 2)  # no joint falls on a number
    strips = [(first + low, first + min(low + 10 * tens, 360)) for low in range(0, 360, 10 * tens)]
    rows = int(height // PITCH)
    side = "right" if turns > 0 else "left"
    notes = (
        f"damper {size:.2f} mm ({size / 25.4:.3f} in), tape {thick:.2f} mm thick:"
        f" {360 * degree:.2f} mm a turn, {degree / 25.4:.5f} in a degree\n"
        f"crank turns {_SENSE[turns]} seen from the front; before TDC lies ahead of the zero mark,"
        f" {_SENSE[turns]}:\n{side} of it with FRONT down. At true TDC the pointer shows zero"
    )
    figures = []
    for start in range(0, len(strips), rows):
        number = start // rows + 1, math.ceil(len(strips) / rows)
        page, drawing = sheet("Timing tape", engine, notes, number, paper, scale, (0, 0))
        for at, ends in enumerate(strips[start : start + rows]):
            bottom = height - STRIP - 2 - PITCH * at
            _strip(drawing, ends, degree, -turns, bottom, start + at + 1, len(strips))
        figures.append(page.figure)
    return figures


# --- the degree wheel -------------------------------------------------------------------------


def _polar(radius, angle):
    """Return x, y at so many degrees clockwise from the top."""
    return radius * math.sin(math.radians(angle)), radius * math.cos(math.radians(angle))


def _half(angle):
    """Return an angle as a scale of 0-180-0 reads it: 353 is 7, "BTDC"."""
    full = angle % 360
    word = {0: "TDC", 180: "BDC"}.get(full, "ATDC" if full < 180 else "BTDC")
    return min(full, 360 - full), word


def _readings(angle):
    """Return an angle as both scales of a wheel read it, "353.5 = 6.5 BTDC"."""
    full = round(angle % 360, 1) % 360
    half = "{:.1f} {}".format(*_half(full))
    return f"{full:.1f} = {half}" if full > 180 else half


def _depth(degree):
    return 6.0 if degree % 10 == 0 else 4.5 if degree % 5 == 0 else 3.0  # of a tick


def _wheel(ax, radius, grow, runs, turns):
    ax.add_patch(Circle((0, 0), radius, fill=False, lw=0.8, gid="wheel"))
    ax.add_patch(Circle((0, 0), radius - RINGS * grow, fill=False, lw=0.5))
    ends = [(radius, radius - _depth(at) * grow) for at in range(360)]
    ticks = [[_polar(end, at) for end in pair] for at, pair in enumerate(ends)]
    ax.add_collection(lines(ticks, [0.5 if at % 5 else 0.8 for at in range(360)], gid="ticks"))
    for at in range(0, 360, 10):
        half, word = _half(at)
        rows = [(f"{at}", "normal"), (f"{half}", "bold"), (word, "normal")]
        rows = rows if at % 30 == 0 else rows[:2]
        for row, (text, weight) in enumerate(rows):
            spot = _polar(radius - (8.2 + 3.9 * row) * grow, runs * at)
            style = {"rotation": -runs * at, "fontsize": 6.5 * grow, "weight": weight}
            ax.text(*spot, text, **style, **ON_WHITE)
    ax.add_patch(Circle((0, 0), 1, fill=False, lw=0.8))
    ax.add_collection(lines([[(-6, 0), (6, 0)], [(0, -6), (0, 6)]], 0.8, gid="center"))
    bow = {"connectionstyle": f"arc3,rad={-0.55 * turns}", "arrowstyle": "-|>"}
    ends = [_polar(11, side * turns) for side in (-60, 60)]
    arrow = FancyArrowPatch(*ends, mutation_scale=10, color="black", gid="running", **bow)
    ax.add_patch(arrow)
    ax.text(0, -10.5, "crank turns this way,\nseen from the front", fontsize=6.5, **MIDDLE)


def _events(ax, labels, radius, grow, runs, long):
    rim, head = radius - RINGS * grow, radius - (RINGS + LEADER) * grow
    room = math.degrees(6.2 * grow / (head - long))
    spread = apart([angle for angle, _ in labels], room)
    for (angle, label), at in zip(labels, spread, strict=True):
        way = [_polar(radius, runs * angle)]
        for part in np.linspace(0, 1, 20):  # a spiral: leaders neither meet nor cut a label
            way.append(_polar(rim + (head - rim) * part, runs * (angle + (at - angle) * part)))
        ax.plot(*zip(*way, strict=True), color="black", lw=0.9, solid_capstyle="butt")
        turned = runs * at % 360
        right = turned < 180
        style = {"rotation": (90 if right else 270) - turned, "ha": "right" if right else "left"}
        style |= {"rotation_mode": "anchor", "va": "center", "fontsize": 6.5 * grow}
        ax.text(*_polar(head - 0.7, turned), label, linespacing=1.05, **style, **CUT)


def apart(angles, least):
    """Return rising angles pushed apart round the circle until none is nearer than `least`."""
    spread = np.array(angles)
    for _ in range(2000):
        gaps = np.diff(spread, append=spread[:1] + 360)
        push = np.maximum(least - gaps, 0) / 2
        if not push.any():
            break
        spread += np.roll(push, 1) - push
    return spread


def _wheel_tiles(radius, room):
    def touches(low, high):
        nearest = [max(first, 0, -last) for first, last in zip(low, high, strict=True)]
        return math.hypot(*nearest) <= radius

    return tiles((-radius, -radius), (radius, radius), room, touches)


def _clear_of(inner, outer):
    """Return what tells whether a cross is clear of the middle and of what is written outside."""

    def free(x, y):
        away = math.hypot(x, y)
        return CENTER + 7 < away < inner - 5 or away > outer + 5

    return free


# --- the timing tape --------------------------------------------------------------------------


def _strip(ax, ends, degree, runs, bottom, number, count):
    """Draw one strip; `ends` count degrees to the right, angles are `runs` times that."""
    low, high = ends
    left, long = 0.5, (high - low) * degree
    ax.add_patch(Rectangle((left, bottom), long, STRIP, fill=False, lw=0.6, gid=f"strip_{number}"))
    tab = {"fill": False, "lw": 0.6, "ls": "--", "hatch": "///", "ec": "0.6"}
    ax.add_patch(Rectangle((left + long, bottom), TAB, STRIP, **tab))
    under = f"under\nstrip {number % count + 1}"
    middle = left + long + TAB / 2, bottom + STRIP / 2
    ax.text(*middle, under, fontsize=6, rotation=90, **ON_WHITE)
    spots = {at: left + (at - low) * degree for at in range(low, high + 1)}
    ticks = [[(x, bottom), (x, bottom + 1 + _depth(at))] for at, x in spots.items()]
    ax.add_collection(lines(ticks, [0.5 if at % 5 else 0.8 for at in spots]))
    for at, x in spots.items():
        if at % 10:
            continue
        half, word = _half(runs * at)
        ax.text(x, bottom + 9, f"{half}", fontsize=7.5, weight="bold", **ON_WHITE)
        ax.text(x, bottom + 11.8, word, fontsize=6, **ON_WHITE)
        if word == "TDC":
            zero = [[(x, bottom), (x, bottom + STRIP)]]
            ax.add_collection(lines(zero, 1.6, gid="zero_mark"))
    words = f"▼ FRONT ▼ strip {number} of {count}"
    ax.text(left + 1, bottom + STRIP - 3, words, fontsize=6, **CUT)
