"""What chapter 04 says in words and tables of what it found."""

import numpy as np

from enginecalc import camshaft, crank, valves
from enginecalc.records import clearances, valve_timing
from enginecalc.units import Q, read, to_si
from enginecalc.views import tables
from enginecalc.views.tables import length

EVENT_LIFT = {"inch": "0.050 in", "metric": "1 mm"}
_EVENTS = {"intake": ("before TDC", "after BDC"), "exhaust": ("before BDC", "after TDC")}
_ONE_SIDED_95 = 1.645  # standard deviations below which 5 % of a normal distribution lie
_CAUTION = (
    "Turn by hand with the plugs out and stop at the first resistance. A computed gap replaces no"
    " clay: check the first cylinder with clay or solder and light springs, and every cylinder"
    " whose deck differs. After the cam is moved, check again. The cam maker's figures win."
)


def side_of_top(angle):
    """Return "7.8° after TDC"."""
    return f"{abs(angle.m_as('deg')):.1f}° {'after' if angle.m >= 0 else 'before'} TDC"


def answer(found, system):
    """Return both least gaps, their limits, and how far the cam may go, in one line."""
    said = []
    for side in clearances.VALVES:
        gap, limit = found["least"][side], found["limits"][side]
        text = f"{side} {length(gap.clearance, system)} at {side_of_top(gap.crank_angle)}"
        if limit is not None:
            word = "within" if gap.clearance >= limit else "OUTSIDE"
            text += f", {word} its limit of {length(limit, system)}"
        running = found["named"][f"{side}_piston_to_valve_running"].value
        if running is not None and not found["advance"].m:
            text += f", {length(running, system)} running"
        said.append(text)
    moves = " and ".join(
        f"{abs(angle.m):.1f}° {'earlier' if angle.m > 0 else 'later'} ({side})"
        for side, angle in found["reached"].items()
        if angle is not None
    )
    line = f"Least gaps: {'; '.join(said)}."
    return line + (f" From the file's phase the cam reaches a limit {moves}." if moves else "")


def numbers(found, system):
    """Return the tables and sentences below the pictures, as HTML."""
    lift = EVENT_LIFT[system]
    return (
        tables.results_table(found["named"].values(), system, "Where the file has the cam")
        + tables.paragraphs(_per_degree(found, system), *_how_sure(found, system))
        + tables.html_table(
            ("", "intake", "exhaust", "its change", "its change", "both limits"),
            _tried(found, system),
            "Changes tried, one by one",
        )
        + tables.html_table(
            ("", "opens", "closes", "duration"),
            event_rows(found["engine"], read(lift)),
            f"Events at {lift} of lobe lift",
        )
        + tables.paragraphs(
            overlap_words(found["engine"], read(lift)),
            *_in_the_pocket(found, system),
            *_manifold(found, system),
            _CAUTION,
        )
        + tables.not_worked_out(found["named"].values())
    )


def _per_degree(found, system):
    unit, decimals = tables.LENGTH[system]
    per_degree = tables.UNITS[unit] / tables.UNITS["deg"]
    said = "; ".join(
        f"{side} {tables.number(gap.per_degree.m_as(per_degree), decimals + 1, signed=True)} {unit}"
        for side, gap in found["least"].items()
    )
    return f"One degree of cam advance changes the gaps by: {said}."


def _how_sure(found, system):
    for side in clearances.VALVES:
        result = found["named"][f"{side}_piston_to_valve"]
        if result.u is not None:
            low = length(result.value - _ONE_SIDED_95 * result.u, system)
            yield (
                f"How sure: the {side} gap lies above {low} with 95 % probability; it is unsure by"
                f" {tables.main_causes(result)}."
            )


def _tried(found, system):
    limits = found["limits"].values()
    for name, row in zip(found["tried"].index, found["tried"].to_numpy(), strict=True):
        kept = all(low is None or gap >= low for gap, low in zip(row, limits, strict=False))
        changes = (("+" if each.m > 0 else "") + length(each, system) for each in row[2:])
        yield (
            name,
            *(length(each, system) for each in row[:2]),
            *changes,
            "kept" if kept else "NOT kept",
        )


def event_rows(engine, lift):
    """Yield valve, opening, closing and duration at a lobe lift, in words."""
    for side, (first, last) in _EVENTS.items():
        opening, closing, duration = valve_timing.events(engine, side, lift)
        yield side, _event(opening, first), _event(closing, last), f"{duration.m:.1f}°"


def _event(angle, side):
    """Return "6.5° before TDC"; a negative angle lies on the other side."""
    if angle.m < 0:
        side = (
            side.replace("before", "after") if "before" in side else side.replace("after", "before")
        )
    return f"{abs(angle.m):.1f}° {side}"


def overlap_words(engine, lift):
    """Return how long both valves are open at a lobe lift, as a sentence."""
    opens, _, _ = valve_timing.events(engine, "intake", lift)
    _, closes, _ = valve_timing.events(engine, "exhaust", lift)
    angle = camshaft.valve_overlap(opens, closes).m_as("deg")
    return f"Valve overlap at that lift: {angle:.1f}° of crank."


def lobe_words(engine):
    """Return where the lobes stand, as a sentence; "" where a centerline is not known."""
    centers = engine.intake.centerline, engine.exhaust.centerline
    if None in centers:
        return ""
    apart, advance = (formula(*centers).m_as("deg") for formula in
                      (camshaft.lobe_separation_angle, camshaft.installed_advance))  # fmt: skip
    intake, exhaust = (f"{each.m_as('deg'):g}°" for each in centers)
    way = "advanced" if advance >= 0 else "retarded"
    return (f"Intake centerline {intake} after, exhaust {exhaust} before overlap TDC: lobe"
            f" separation {apart:g}° of the cam, installed {abs(advance):g}° {way}.")  # fmt: skip


def _in_the_pocket(found, system):
    """Yield what a pocket cut at another angle, and its own diameter, leave of the room."""
    off = found["pocket off"]
    lean = np.array([np.sin(to_si(off)), 0.0, np.cos(to_si(off))])
    for side in clearances.VALVES:
        valve, gap = getattr(found["engine"], side), found["least"][side]
        if valve.valve_diameter is None:
            continue
        center = Q(np.array([0.0, 0.0, to_si(gap.clearance)]), "m")
        floor = Q(np.zeros(3), "m"), lean
        rim = valves.rim_gap(center, np.array([0.0, 0.0, 1.0]), valve.valve_diameter, *floor)
        text = (
            f"In the pocket, {side}: with its floor {off.m:g}° off the valve's angle the rim has"
            f" {length(rim, system)} where the center has {length(gap.clearance, system)}."
        )
        if valve.pocket_diameter is not None:
            depth = _depth(found["engine"], gap.crank_angle)
            stem = np.array([np.sin(to_si(valve.valve_angle)), np.cos(to_si(valve.valve_angle)), 0])
            shift = valves.side_shift(depth, Q(np.zeros(2), "m"), stem)
            room = valves.radial_gap(shift, valve.valve_diameter, valve.pocket_diameter)
            text += (
                f" Beside the rim {length(room, system)} is left there, if valve and pocket are in"
                " line at top dead center (common practice, no source: at least 0.050 in, 1.3 mm)."
            )
        yield text


def _depth(engine, after_tdc):
    geometry = [engine.values[name] for name in ("crank.stroke", "rod.length", "pin_axis_offset")]
    angle = crank.tdc_angle.kernel(*geometry) + to_si(after_tdc)
    return Q(crank.piston_position.kernel(angle, *geometry), "m")


def _manifold(found, system):
    """Yield what a cut of both heads of a V engine asks of its intake manifold."""
    if found["manifold"] is not None:
        lower, off = found["manifold"]
        yield (
            f"With both heads cut by {found['head cut']}, the intake manifold sits"
            f" {length(lower, system)} lower; {length(off, system)} off each of its sides"
            " lines the ports up again. Check the end rails."
        )
