"""From the fields of an engine to its figures: which formula takes what, in one table.

All that an engine says of itself is worked out here in SI floats, or in columns of them, each
figure when it is first asked for; one whose inputs are missing is None, and `missing` says why.
"""

import functools

from enginecalc import camshaft, crank, cylinder, fits, forces, skirt, valve_gaps, valves
from enginecalc.records.reference import rows
from enginecalc.units import Q, to_si


def _closing_from_center(lobe, lift):
    """Return where a lobe has closed to `lift`, in crank angle from its center."""
    return lobe.closing(lift)


def _center(valve):
    """Return a formula for where that valve's lobe has its center."""
    return lambda centerline: camshaft.lobe_center.kernel(centerline, 0.0, valve)


def _lift_ratio(lobe, lobe_lift, rocker_ratio):
    """Return the rocker ratio, scaled as the lobe's lift is shifted for its uncertainty."""
    return rocker_ratio * lobe_lift / lobe.lobe_lift


def _less(one, other):
    return one - other


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
        (
            "pin_to_oil_groove",
            skirt.pin_to_oil_groove,
            "piston.compression_height piston.ring_pack piston.pin_diameter",
        ),
        (
            "skirt_below_bore",
            skirt.skirt_below_bore,
            f"block.bore_bottom piston.skirt_below_pin {_CRANK} pin_axis_offset",
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
            "mass_above_parting_line",
            forces.mass_above_parting_line,
            "rod.mass_big_end rod.cap_share",
        ),
        (
            "rod_bolt_load",
            forces.rod_bolt_load,
            f"reciprocating_mass mass_above_parting_line {_TURNING}",
        ),
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
for side in ("intake", "exhaust"):
    FIGURES += [
        (name.format(side), formula, takes.format(side=side).split())
        for name, formula, takes in (
            ("{}_center", _center(side), "{side}.centerline"),
            (
                "{}_lift_ratio",
                _lift_ratio,
                "{side}.lobe {side}.lobe_lift {side}.rocker_ratio",
            ),
            (
                "{}_piston_to_valve",
                valve_gaps.least_gap,
                "{side}.lobe {side}_center {side}.valve_angle {side}.drop_at_tdc crank.stroke"
                " rod.length {side}_lift_ratio {side}.lash pin_axis_offset",
            ),
            ("quench_loss", _less, "quench_distance running_quench"),
            (
                "{}_piston_to_valve_running",
                valves.running_gap,
                "{side}_piston_to_valve quench_loss {side}.valve_angle",
            ),
            ("{}_gross_lift", valves.gross_valve_lift, "{side}.lobe_lift {side}.rocker_ratio"),
            (
                "{}_coil_bind",
                valves.coil_bind_margin,
                "{side}.spring_installed {side}.spring_bind {side}_gross_lift",
            ),
        )
    ]
_FORMULAS = {name: (getattr(formula, "kernel", formula), takes) for name, formula, takes in FIGURES}
_TAKES = {name: takes for name, _, takes in FIGURES}
UNITS = {name: formula.returns for name, formula, _ in FIGURES if hasattr(formula, "returns")}

# What a person wants to see, in this order: of the plan, and of the valves.
PLAN_RESULTS = (
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
    "pin_to_oil_groove",
    "skirt_below_bore",
)
VALVE_RESULTS = (
    "intake_piston_to_valve",
    "exhaust_piston_to_valve",
    "intake_piston_to_valve_running",
    "exhaust_piston_to_valve_running",
    "intake_coil_bind",
    "exhaust_coil_bind",
)
RESULTS = PLAN_RESULTS + VALVE_RESULTS
# What the clearances in the block must keep: names for [limits], worked out by block_clearances.
BLOCK_LIMITS = ("rod_to_block", "rod_to_cam", "counterweight_to_anything", "chamfer_to_fillet")
# What the fits of a build must keep, worked out of its readings by fit_results.
FITS = (
    "least_piston_clearance",
    "greatest_piston_clearance",
    "rod_oil_clearance",
    "main_oil_clearance",
    "rod_side_clearance",
    "crank_end_play",
    "top_ring_gap",
    "second_ring_gap",
    "top_ring_side_clearance",
    "second_ring_side_clearance",
    "bore_taper",
    "bore_out_of_round",
    "pin_taper",
    "pin_out_of_round",
    "journal_taper",
    "journal_out_of_round",
)
# What the rod bolts must keep, worked out by bolts and, of measured lengths, by bolt_stretch.
BOLT_UNITS = {
    "rod_bolt_preload": "N",
    "rod_bolt_stretch": "m",
    "rod_bolt_stress": "Pa",
    "rod_bolt_shank_stress": "Pa",
    "rod_bolt_proof_share": "1",
    "rod_bolt_yield_share": "1",
    "rod_bolt_shank_share": "1",
    "rod_bolt_load": "N",
    "rod_bolt_clamp_left": "N",
    "rod_bolt_set": "m",
}
UNITS |= dict.fromkeys(BLOCK_LIMITS + FITS, "m") | BOLT_UNITS

# May be left out and are then taken as 0, which the engine's remarks say in words.
TAKEN_AS_ZERO = (
    "piston.pin_offset",
    "block.bore_offset",
    "piston.crevice_volume",
    "intake.lash",
    "exhaust.lash",
)
_CLOSING = "intake.closing or a lobe"
CARD_SEAT_LIFT = Q(0.006, "inch")  # common practice: the lift at which cards call a valve shut
_CLEARANCE_SHARE = {"drawing": 0.5, "measured": 1.0}


def field(engine, path):
    """Return what the engine file says at "block.bore", or None."""
    table, _, key = path.partition(".")
    return getattr(getattr(engine, table), key)


_NOT_FIELDS = (".expansion", ".elastic_modulus", ".lobe", ".cylinders")
FIELDS = sorted(
    {
        path
        for takes in _TAKES.values()
        for path in takes
        if "." in path and not path.endswith(_NOT_FIELDS)
    }
)


@functools.cache
def material(name):
    """Return expansion and elastic modulus of a material in SI, None for one not known."""
    row = rows("materials", "material").get(name)
    if row is None:
        return None, None
    modulus = Q(float(row["elastic_modulus_GPa"]), "GPa")
    return float(row["expansion_per_degC"]), to_si(modulus)


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
        name = field(engine, f"{part}.material")
        values[f"{part}.expansion"], values[f"{part}.elastic_modulus"] = material(name)
    for side, lobe in engine.lobes.items():
        values[f"{side}.lobe"] = lobe
        if lobe is not None and values[f"{side}.lobe_lift"] is None:
            values[f"{side}.lobe_lift"] = lobe.lobe_lift
    closing = engine.intake.closing
    if engine.lobes["intake"] is None and closing is not None and closing.angle is not None:
        values["intake_closing"] = to_si(closing.angle)
    elif values["intake.lash"] == 0:
        values["seat_lobe_lift"] = to_si(CARD_SEAT_LIFT)
    return values


class Figures(dict):
    """Fields and figures by name, in SI; a figure is worked out when it is first asked for."""

    def __missing__(self, name):
        kernel, takes = _FORMULAS[name]
        given = [self[each] for each in takes]
        self[name] = None if any(each is None for each in given) else kernel(*given)
        return self[name]


def missing(name, values):
    """Return the fields that a figure lacks, in words a person can act on."""
    if name == "intake_closing" and values["intake.lobe"] is None:
        return [_CLOSING]
    lacking = []
    for each in _TAKES[name]:
        if values[each] is None:
            found = missing(each, values) if each in _TAKES else [_to_give(each)]
            lacking += [one for one in found if one not in lacking]
    return lacking


@functools.cache
def rests_on(name):
    """Return what a figure is worked out from, however far back: figures, and fields of a file."""
    found = dict.fromkeys(_TAKES.get(name, ()))
    for each in [*found]:
        found |= dict.fromkeys(rests_on(each))
    return tuple(found)


def _to_give(path):
    """Return what to write in the engine file for an input that is not itself a field."""
    side, _, key = path.partition(".")
    if key == "lobe":
        return f"{side}.lobe_lift with {side}.duration, or {side}.table"
    return f"{side}.material" if key in ("expansion", "elastic_modulus") else path


def where_to_measure(path):
    """Return in a few words what a field is and from where to where it is measured."""
    table, _, key = path.partition(" ")[0].partition(".")
    glossary = rows("glossary", "name")
    row = glossary.get(f"{table}_{key}") or glossary.get(key)
    where = "" if row is None else row["sketch"] or row["meaning"]
    lobe = ", stated with its lift; or intake.lobe_lift with intake.duration, or intake.table"
    return where + lobe if path == _CLOSING else where
