"""From the fields of an engine to its figures: which formula takes what, in one table.

All that an engine says of itself is worked out here, once, in SI floats or in columns of them:
`work_out` walks the table downwards, and a figure whose inputs are missing is None, for a reason.
"""

from enginecalc import camshaft, crank, cylinder, fits, forces
from enginecalc.lobes import SmoothLobe
from enginecalc.records.reference import rows
from enginecalc.units import Q, to_si


def _closing_from_center(lobe, lift):
    """Return where a lobe has closed to `lift`, in crank angle from its center."""
    return lobe.closing(lift)


_CRANK = "crank.stroke rod.length"
_TURNING = "crank.stroke rod.length running.engine_speed pin_axis_offset"

# name, formula, what it takes: fields of the engine file, or figures further up
FIGURES = [
    (name, formula, takes.split())
    for name, formula, takes in (
        ("pin_axis_offset", crank.pin_axis_offset, "piston.pin_offset block.bore_offset"),
        ("rod_ratio", crank.rod_ratio, _CRANK),
        ("true_stroke", crank.true_stroke, f"{_CRANK} pin_axis_offset"),
        ("greatest_rod_tilt", crank.greatest_rod_tilt, f"{_CRANK} pin_axis_offset"),
        ("swept_volume", cylinder.swept_volume, "block.bore true_stroke"),
        ("displacement", cylinder.displacement, "block.bore true_stroke layout.cylinders"),
        (
            "deck_clearance",
            cylinder.deck_clearance,
            f"block.deck_height {_CRANK} piston.compression_height pin_axis_offset",
        ),
        ("quench_distance", cylinder.quench_distance, "deck_clearance gasket.thickness"),
        (
            "clearance_volume",
            cylinder.clearance_volume,
            "block.bore deck_clearance head.chamber_volume piston.dish_volume"
            " gasket.bore gasket.thickness piston.crevice_volume",
        ),
        ("compression_ratio", cylinder.compression_ratio, "swept_volume clearance_volume"),
        ("seat_lobe_lift", camshaft.seat_lobe_lift, "intake.lash intake.rocker_ratio"),
        ("closing_from_center", _closing_from_center, "intake.lobe seat_lobe_lift"),
        ("intake_closing", camshaft.intake_closing, "intake.centerline closing_from_center"),
        (
            "effective_compression_ratio",
            cylinder.effective_compression_ratio,
            f"block.bore {_CRANK} clearance_volume intake_closing pin_axis_offset",
        ),
        ("mean_piston_speed", crank.mean_piston_speed, "true_stroke running.engine_speed"),
        ("peak_piston_speed", crank.peak_piston_speed, _TURNING),
        ("peak_piston_acceleration", crank.peak_piston_acceleration, _TURNING),
        (
            "reciprocating_mass",
            forces.reciprocating_mass,
            "piston.mass piston.mass_pin piston.mass_rings piston.mass_locks rod.mass_small_end",
        ),
        ("inertia_force", forces.greatest_inertia_force, f"reciprocating_mass {_TURNING}"),
        (
            "rod_stretch",
            forces.elastic_stretch,
            "inertia_force rod.length rod.beam_area rod.elastic_modulus",
        ),
        ("rod_growth", forces.thermal_growth, "rod.length rod.expansion running.rod_rise"),
        ("stroke_growth", forces.thermal_growth, "crank.stroke crank.expansion running.crank_rise"),
        (
            "piston_growth",
            forces.thermal_growth,
            "piston.compression_height piston.expansion running.piston_rise",
        ),
        (
            "block_growth",
            forces.thermal_growth,
            "block.deck_height block.expansion running.block_rise",
        ),
        (
            "rod_clearance",
            fits.oil_clearance,
            "bearings.rod_housing crank.rod_journal bearings.rod_shell bearings.rod_shell",
        ),
        (
            "main_clearance",
            fits.oil_clearance,
            "bearings.main_housing crank.main_journal bearings.main_shell bearings.main_shell",
        ),
        (
            "running_quench",
            forces.running_quench,
            "quench_distance rod_growth stroke_growth piston_growth block_growth rod_stretch"
            " rod_clearance main_clearance piston.pin_clearance running.deck_from"
            " running.piston_rock running.crank_bend",
        ),
    )
]
_TAKES = {name: takes for name, _, takes in FIGURES}
UNITS = {name: formula.returns for name, formula, _ in FIGURES if hasattr(formula, "returns")}

# What a person wants to see, in this order.
RESULTS = (
    "displacement",
    "compression_ratio",
    "effective_compression_ratio",
    "deck_clearance",
    "quench_distance",
    "running_quench",
    "swept_volume",
    "clearance_volume",
    "rod_ratio",
    "greatest_rod_tilt",
    "true_stroke",
    "mean_piston_speed",
    "peak_piston_speed",
    "peak_piston_acceleration",
)

# May be left out and are then taken as 0, which the engine's remarks say in words.
TAKEN_AS_ZERO = (
    "piston.pin_offset",
    "block.bore_offset",
    "piston.crevice_volume",
    "intake.lash",
    "exhaust.lash",
)
CARD_SEAT_LIFT = Q(0.006, "inch")  # common practice: the lift at which cards call a valve shut
_CLEARANCE_SHARE = {"drawing": 0.5, "measured": 1.0}
_INSTEAD = {"intake.lobe": "intake.closing or a lobe (intake.lobe_lift with duration)"}


def field(engine, path):
    """Return what the engine file says at "block.bore", or None."""
    table, _, key = path.partition(".")
    return getattr(getattr(engine, table), key)


def lobe(valve):
    """Return the lobe of the intake or exhaust side, or None when the file does not give it."""
    pairs = valve.duration or []
    if valve.lobe_lift is None or len(pairs) != 1 or None in (pairs[0].angle, pairs[0].at_lift):
        return None
    if not pairs[0].at_lift < valve.lobe_lift:
        return None
    return SmoothLobe.through(
        to_si(valve.lobe_lift), to_si(pairs[0].angle), to_si(pairs[0].at_lift)
    )


_NOT_FIELDS = (".expansion", ".elastic_modulus", ".lobe", ".cylinders")
FIELDS = sorted(
    {
        path
        for takes in _TAKES.values()
        for path in takes
        if "." in path and not path.endswith(_NOT_FIELDS)
    }
)


def inputs(engine):
    """Return {field: SI float} for every field a figure takes, None where not measured."""
    values = {}
    for path in FIELDS:
        given = field(engine, path)
        values[path] = to_si(given) if hasattr(given, "units") else given
    for path in TAKEN_AS_ZERO:
        values[path] = values.get(path) or 0.0
    values["running.deck_from"] = _CLEARANCE_SHARE.get(engine.running.deck_from)
    values["layout.cylinders"] = len(engine.layout.cylinder or []) or None
    for part in ("block", "crank", "rod", "piston"):
        known = rows("materials", "material").get(field(engine, f"{part}.material"))
        values[f"{part}.expansion"] = known and float(known["expansion_per_degC"])
        values[f"{part}.elastic_modulus"] = known and to_si(
            Q(float(known["elastic_modulus_GPa"]), "GPa")
        )
    values["intake.lobe"] = lobe(engine.intake)
    if values["intake.lobe"] is None and engine.intake.closing is not None:
        angle = engine.intake.closing.angle
        values["intake_closing"] = None if angle is None else to_si(angle)
    elif values["intake.lash"] == 0:
        values["seat_lobe_lift"] = to_si(CARD_SEAT_LIFT)
    return values


def work_out(values):
    """Return `values` with every figure added, in SI; None where an input is missing."""
    values = dict(values)
    for name, formula, takes in FIGURES:
        if values.get(name) is None:
            given = [values.get(each) for each in takes]
            known = all(each is not None for each in given)
            values[name] = getattr(formula, "kernel", formula)(*given) if known else None
    return values


def missing(name, values):
    """Return the fields that a figure lacks, in words a person can act on."""
    lacking = []
    for each in _TAKES[name]:
        if values.get(each) is None:
            found = missing(each, values) if each in _TAKES else [_INSTEAD.get(each, each)]
            lacking += [one for one in found if one not in lacking]
    return [one.replace(".expansion", ".material").replace(".elastic_modulus", ".material")
            for one in lacking]  # fmt: skip


def where_to_measure(path):
    """Return in a few words what a field is and from where to where it is measured."""
    table, _, key = path.partition(" ")[0].partition(".")
    glossary = rows("glossary", "name")
    row = glossary.get(f"{table}_{key}") or glossary.get(key)
    return "" if row is None else row["sketch"] or row["meaning"]
