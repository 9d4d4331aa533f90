"""What an engine file says that cannot be, and what it says that makes one doubt."""

import functools

from enginecalc import crank
from enginecalc.records import figures
from enginecalc.records.block_faults import block_faults, block_remarks, outline_faults
from enginecalc.records.cams import lobe_remarks
from enginecalc.records.layout import layout_faults, layout_remarks
from enginecalc.records.reference import rows, sizes
from enginecalc.units import Q, read, same_kind, short, to_si, ureg

REQUIRED = (
    "block.bore",
    "block.deck_height",
    "crank.stroke",
    "rod.length",
    "piston.compression_height",
    "piston.dish_volume",
    "gasket.bore",
    "gasket.thickness",
    "head.chamber_volume",
)
_IN, _MM = ureg.Unit("inch"), ureg.Unit("mm")
_INCHES = (_IN, ureg.Unit("thou"))
_ROUNDING = 1e-9  # m: below this two sizes are the same


def faults(engine, unread=(), fitting=True):
    """Return a sentence for everything that cannot be, for those parts of the file that read well.

    Parameters
    ----------
    engine : Engine
        As far as it could be read.
    unread : collection of str
        Fields already reported; they are not called missing as well.
    fitting : bool
        False leaves out whether the parts meet one another.
    """

    def reported(path):
        return _reported(path, unread)

    found = []
    if not engine.name and "name" not in unread:
        found.append('name is missing; write it like "Ferry four"')
    for path in ("layout.kind", "layout.crank_pins", "layout.firing_order", "layout.cylinder"):
        if figures.field(engine, path) is None and not _reported(path, unread):
            found.append(f"{path} is missing; start from a layout to have it written for you")
    for path in REQUIRED:
        if figures.field(engine, path) is None and not _reported(path, unread):
            where = figures.where_to_measure(path)
            found.append(f"{path} is not measured, and nothing works without it: {where}")
    found += layout_faults(engine.layout, reported)
    found += _materials(engine)
    found += _valves(engine, reported)
    found += outline_faults(engine, reported)
    found += _limits(engine)
    other_unit = list(_other_unit(engine))
    return found + (other_unit or (list(_meeting_parts(engine)) if fitting else []))


def _reported(path, unread):
    return any(each == path or each.startswith(f"{path}.") for each in unread) or (
        path.partition(".")[0] in unread
    )


def _out_of_range(engine):
    """Yield a sentence for each size that no real part has, and the unit in which one has it."""
    for path, ranges in sizes().items():
        value = figures.field(engine, path)
        if value is None:
            continue
        unit = "cc" if "cc" in ranges else "in" if value.units in _INCHES else "mm"
        low, high = _ends(path, unit)
        if low <= to_si(value) <= high:
            continue
        meant = [
            other
            for other, (least, greatest) in ranges.items()
            if other != unit and float(least) <= value.magnitude <= float(greatest)
        ]
        outside = f"{path} = {short(value)} is outside {'..'.join(ranges[unit])} {unit}"
        yield outside, meant if value.units in (_IN, _MM) else []


@functools.cache
def _ends(path, unit):
    """Return the least and greatest size of a field in SI, with room for rounding."""
    low, high = (to_si(read(f"{end} {unit}")) for end in sizes()[path][unit])
    slack = 1e-12 * max(abs(low), abs(high))
    return low - slack, high + slack


def _other_unit(engine):
    for outside, other in _out_of_range(engine):
        if other:
            meant = "inches" if other[0] == "in" else other[0]
            yield f"{outside} - entered in {meant}?"


def _materials(engine):
    known = rows("materials", "material")
    for part in ("block", "crank", "rod", "piston"):
        name = figures.field(engine, f"{part}.material")
        if name is not None and name not in known:
            yield f"{part}.material: {name!r} is not known here; write one of {', '.join(known)}"


def _valves(engine, reported):
    for side in ("intake", "exhaust"):
        valve = getattr(engine, side)
        for at, pair in enumerate(valve.duration or [], 1):
            for key in ("angle", "at_lift"):
                if getattr(pair, key) is None and not reported(f"{side}.duration.row {at}.{key}"):
                    yield f"{side}.duration.row {at}: {key} is missing; a duration needs its lift"
            if None not in (pair.at_lift, valve.lobe_lift) and pair.at_lift >= valve.lobe_lift:
                yield (
                    f"{side}.duration.row {at}: at_lift {short(pair.at_lift)} must be less than"
                    f" the lobe lift of {short(valve.lobe_lift)}"
                )
        if None not in (valve.lash, valve.lobe_lift, valve.rocker_ratio):
            gross = valve.lobe_lift * valve.rocker_ratio
            for lift, called in ((gross, "gross"), (valve.lobe_lift, "lobe")):
                if valve.lash >= lift:
                    yield (
                        f"{side}.lash: {short(valve.lash)} is not less than the {called} lift of"
                        f" {lift:.4g~P}: are lash and lift in one unit?"
                    )
                    break
    closing = engine.intake.closing
    if closing is not None and closing.at_lift is None and not reported("intake.closing.at_lift"):
        yield "intake.closing: at_lift is missing; a closing angle without its lift says nothing"


def _limits(engine):
    names = (*figures.UNITS, *figures.RESULTS)
    for name, limit in engine.limits.items():
        if name not in names:
            known = figures.RESULTS + figures.BLOCK_LIMITS + figures.FITS + (*figures.BOLT_UNITS,)
            yield f"limits.{name} is not a result; the results are {', '.join(known)}"
            continue
        unit = ureg.Unit(figures.UNITS[name])
        ends = []
        for side in ("low", "high"):
            given = getattr(limit, side)
            if given is None:
                continue
            if same_kind(getattr(given, "units", ureg.Unit("")), unit):
                ends.append(to_si(given) if hasattr(given, "units") else given)
            else:
                shown = short(given) if hasattr(given, "units") else f"{given:g}"
                yield f"limits.{name}.{side}: {shown} is not a figure of this kind"
        if ends != sorted(ends):
            yield f"limits.{name}: low is greater than high: swapped?"


def _meeting_parts(engine):
    """Yield what cannot be among the dimensions that read well: parts that meet or cannot move."""
    stroke, rod = engine.crank.stroke, engine.rod.length
    yield from block_faults(engine)
    values = engine.values
    offset = values["piston.pin_offset"] + values["block.bore_offset"]
    if None not in (stroke, rod) and not crank.can_turn(to_si(stroke), to_si(rod), offset):
        yield (
            f"rod.length: {short(rod)} is not longer than half the stroke of {short(stroke)} plus"
            " the offset of the pin: the crank cannot turn"
        )
        return
    bore, diameter = engine.block.bore, engine.piston.diameter
    if None not in (bore, diameter) and diameter >= bore:
        larger = "larger than" if diameter > bore else "as large as"
        yield (
            f"piston.diameter: piston {diameter.m_as(bore.units):.4f} is {larger} bore"
            f" {bore.magnitude:.4f}: swapped?"
        )
    for part in ("rod", "main"):
        if (values[f"{part}_clearance"] or 0) < -_ROUNDING:
            yield (
                f"bearings.{part}_housing is smaller than its journal and two shells together:"
                " swapped?"
            )
    cold, hot, volume = (
        values[name] for name in ("quench_distance", "running_quench", "clearance_volume")
    )
    if cold is not None:
        unit = _IN if engine.gasket.thickness.units in _INCHES else _MM
        said = (
            f"(in {'inches' if unit is _IN else 'mm'}, from block.deck_height, crank.stroke,"
            " rod.length, piston.compression_height and gasket.thickness): take a shorter"
            " compression height, stroke or rod, or a thicker gasket"
        )
        quench = round(Q(cold, "m").m_as(unit), 6) + 0.0
        if cold <= _ROUNDING:
            yield f"quench {quench:.4f}: piston meets the head {said}"
        elif hot is not None and hot <= _ROUNDING:
            running = Q(hot, "m").m_as(unit)
            yield f"quench {quench:.3f} cold, {running:.3f} running: piston meets the head {said}"
    if volume is not None and volume <= 0:
        yield (
            f"clearance volume {Q(volume, 'm**3').m_as('cm**3'):.1f} cc: look at the dish / dome"
            " sign of piston.dish_volume, and at head.chamber_volume"
        )


def remarks(engine, values):
    """Return sentences of doubt that do not stop the work."""
    said = [outside for outside, other in _out_of_range(engine) if not other]
    said += layout_remarks(engine.layout)
    said += lobe_remarks(engine.lobes)
    absent = [path for path in figures.TAKEN_AS_ZERO
              if figures.field(engine, path) is None and path != "block.bore_offset"]  # fmt: skip
    if absent:
        said.append(f"not given and taken as 0: {', '.join(absent)}")
    if engine.gasket.bore < engine.block.bore:
        said.append("gasket.bore is smaller than block.bore: the gasket hangs in the chamber")
    sign = "look at the dish / dome sign of piston.dish_volume"
    if not 5 <= values["compression_ratio"] <= 16:
        said.append(f"compression ratio {values['compression_ratio']:.1f}: {sign}")
    if values["rod_ratio"] < 1.4:
        said.append(f"rod ratio {values['rod_ratio']:.2f} is under 1.4: stroke or rod misread?")
    running = values["running_quench"]
    if engine.running.engine_speed is None:
        said.append("running quench is not known: no running.engine_speed is given")
    elif running is not None and Q(running, "m") < Q(0.020, "inch"):
        said.append(f"running quench {Q(running, 'm').m_as('inch'):.3f} is under 0.020 in")
    said += _valve_remarks(engine, values)
    said += block_remarks(engine)
    chamfer, fillet = engine.rod.chamfer, engine.crank.fillet_radius
    if None not in (chamfer, fillet) and chamfer < fillet:
        said.append("rod.chamfer is less than crank.fillet_radius: clear only while the rod"
                    " stays off the cheek")  # fmt: skip
    return said


def _valve_remarks(engine, values):
    intake, exhaust = (valve.centerline for valve in (engine.intake, engine.exhaust))
    for side, angle in (("intake", intake), ("exhaust", exhaust)):
        if angle is not None and not 95 <= angle.m_as("deg") <= 125:
            yield f"{side}.centerline {short(angle)} is outside 95..125: crank or cam degrees?"
    if None not in (intake, exhaust):
        separation = (intake + exhaust) / 2
        if not 98 <= separation.m_as("deg") <= 122:
            yield f"lobe separation {short(separation)} is outside 98..122: crank or cam degrees?"
    closing, seat = engine.intake.closing, values["seat_lobe_lift"]
    if values["effective_compression_ratio"] is None or values["intake.lobe"] is not None:
        if values["intake.lobe"] is not None and values["intake.lash"] == 0:
            yield (
                "effective ratio: with no lash the intake counts as shut at a lobe lift of"
                f" {short(figures.CARD_SEAT_LIFT)} (common practice)"
            )
    elif seat and closing.at_lift.m_as("m") < seat * (1 - 1e-9):
        shut = Q(seat, "m").to(closing.at_lift.units)
        yield (
            f"intake.closing is stated at {short(closing.at_lift)}, but the valve is shut below"
            f" {shut.magnitude:.4f} {shut.units:~P} (lash / rocker ratio)"
        )
