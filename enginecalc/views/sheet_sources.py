"""The formulas of the hand-over sheet and the sources they stand on."""

import functools
import re

from enginecalc import bob_weight, bolted_joint, deck, fasteners, fits, measured, ring_gaps
from enginecalc import turning_torque as torque
from enginecalc.records import figures
from enginecalc.records.reference import rows
from enginecalc.records.ring_placement import placements
from enginecalc.views.sheet_parts import Section, Table

# what the sheet rests on beside the table of figures
_FORMULAS = (
    *(fits.piston_clearance, fits.oil_clearance, fits.rod_side_clearance),
    *(measured.reference_size, measured.taper, measured.out_of_round),
    *(deck.mean_deck_clearance, deck.piston_rock, deck.plane_slope_along),
    *(deck.plane_slope_across, deck.plane_residuals, bob_weight.bob_weight),
    *(fasteners.tensile_stress_area, fasteners.preload_from_torque, fasteners.bolt_stretch),
    *(fasteners.preload_from_stretch, bolted_joint.preload_uncertainty, bolted_joint.bolt_stress),
    *(bolted_joint.strength_share, bolted_joint.separation_margin, bolted_joint.turn_angle),
    *(torque.friction_torque, torque.torque_increments, torque.increment_scores),
    *(ring_gaps.least_gap_separation, ring_gaps.axis_distance),
)


def source_section(found):
    """Return the section of formulas and the sources they stand on."""
    known = {name: formula for name, formula, _ in figures.FIGURES}
    shown = [each.name for each in found.planned.values() if each.value is not None]
    wanted = dict.fromkeys(each for name in shown for each in (name, *figures.rests_on(name)))
    by_key = {}
    for each in dict.fromkeys([*(known[name] for name in wanted if name in known), *_FORMULAS]):
        if hasattr(each, "kernel"):  # else a step between two formulas
            for key in dict.fromkeys(_cited(each) or ["geometry"]):
                name = each.__name__.replace("_", " ")
                by_key.setdefault(key, []).append(f"{name} ({each.__module__.rpartition('.')[2]})")
    for key in dict.fromkeys(_keys(" ".join(each.source for each in placements()))):
        by_key.setdefault(key, []).append("placement of ring gaps")
    sources = rows("sources", "key")
    made = [(key, _book(sources[key]), "; ".join(by_key[key])) for key in sorted(by_key)]
    heads = ("key", "source · how it is known here", "formulas used, in brackets their module")
    return Section("Formulas and sources", [Table("", heads, made, (36, 78, 68), "dense")])


def _book(row):
    about = [row[name] for name in ("authors", "edition", "publisher", "year", "identifier")]
    about[1] = about[1] and f"edition {about[1]}"
    return f"{', '.join(filter(None, [row['title'], *about]))} · {row['how_known']}"


def _keys(text):
    """Return the keys of sources that stand in brackets in a text."""
    return [key for key in re.findall(r"\[([a-z][a-z0-9_]{2,})\]", text)
            if key in rows("sources", "key")]  # fmt: skip


@functools.cache
def _cited(formula):
    """Return the keys of the sources in a formula's docstring."""
    _, _, said = (formula.__doc__ or "").partition("Sources\n")
    return _keys(said)
