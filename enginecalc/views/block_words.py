"""What chapter 05 says in words and tables of what it found."""

import itertools

import numpy as np

from enginecalc import limits
from enginecalc.records import Result
from enginecalc.units import to_si
from enginecalc.views import tables
from enginecalc.views.block_plan import CHAMFER, CIRCLE, PHASE, room

_CAUTIONS = (
    "A computed gap replaces no clay, wire or feeler check. A rod walks sideways by its side"
    " clearance; main caps and the oil pickup are not looked at, and of the camshaft only each"
    " cylinder's own lobes: a neighbour's lobe may stand nearer.",
    "Grinding a block, stop at the water jacket. Never grind a rod's bolt seat. Wash everything"
    " afterwards. Heavy metal in a counterweight, or much taken off it, is work for a balancing"
    " shop. The part makers' figures win.",
)
_HEADS = ("cylinders", "plan A", "plan B", "difference", "at [°]", "what comes nearest", "is",
          "grind or change", "should be · says who")  # fmt: skip
# cells wrap; on a narrow page a row becomes a card, each cell with its head before it
_STYLE = """
.enginecalc-pairs :is(th, td) { white-space: normal !important; padding: .25em .4em; }
.enginecalc-pairs table { font-size: .95em; }
.enginecalc-pairs td:last-child { min-width: 8em; }
@media (max-width: 900px) {
.enginecalc-pairs thead, .enginecalc-pairs td:empty { display: none !important; }
.enginecalc-pairs tr { display: block; padding: .4em 0; border-bottom: 2px solid #BFBFBF; }
.enginecalc-pairs tbody :is(th, td)
  { display: block; border: 0; padding: 0; text-align: left !important; font-size: 1em; }
.enginecalc-pairs td:nth-of-type(n+2):nth-of-type(-n+5)
  { display: inline-block; margin-right: 1em; }
""" + "\n".join(
    f'.enginecalc-pairs td:nth-of-type({at})::before {{ content: "{head}: "; }}'
    for at, head in enumerate(_HEADS, 1)
)  # fmt: skip


def say_gap(row, system, word, *, with_unit=True):
    """Return a gap in words, with digits enough to tell it from the limit it misses."""
    unit, most = tables.LENGTH[system]
    gap, low = (each.m_as(tables.UNITS[unit]) for each in (row.clearance, row.limit))
    decimals = next(
        each for each in itertools.count(most)
        if word != limits.OUTSIDE or each == most + 3 or round(gap, each) != round(low, each)
    )  # fmt: skip
    return f"{tables.number(gap, decimals)} {unit if with_unit else ''}".rstrip()


def say_angle(row):
    """Return "46° after TDC", or before it; where the camshaft matters "687° after firing TDC"."""
    angle = row.crank_angle.m_as("deg")
    if np.isnan(angle):
        return "all round"
    if row.pair == PHASE:
        return f"{angle:.0f}° after firing TDC"
    return f"{angle:.0f}° after TDC" if angle <= 180 else f"{360 - angle:.0f}° before TDC"


def remedy(plan, row, system):
    """Return what to grind or change, "" where nothing has to be."""
    short = tables.length(row.grind, system)
    if not row.grind.magnitude or not plan.decides(row):
        return ""
    if row.pair == CHAMFER:
        turned = row.feature.startswith("square")
        return "turn the rod round" if turned else f"{short} more chamfer"
    if row.pair.startswith("counterweight"):
        return f"take {short} off the weight"
    return f"grind {short}"


def groups(plan, other):
    """Return lists of rows with one pair and one gap in both plans, worst first.

    In each, lists of the rows that are alike in angle and feature too: mirrored banks differ.
    """
    made = {}
    for row in plan.ranked():
        beside = other.rows.get((row.pair, row.cylinder))
        sizes = (row, beside) if beside else (row,)
        key = row.pair, *(round(to_si(each.clearance), 8) for each in sizes)
        alike = f"{row.crank_angle.m_as('deg'):.2f}", row.feature
        made.setdefault(key, {}).setdefault(alike, []).append(row)
    return [list(each.values()) for each in made.values()]


def _who(plan, rows):
    """Return the cylinders of some rows, and their bank where they are the whole of one."""
    numbers = [row.cylinder for row in rows]
    if len(numbers) == len(plan.engine.layout.numbers):
        return "all", ""
    banks = {each.number: each.bank for each in plan.engine.layout.cylinder}
    bank = banks[numbers[0]]
    whole = {number for number, each in banks.items() if each == bank} == {*numbers}
    return ", ".join(map(str, numbers)), bank if whole else ""


# --- the answer ---------------------------------------------------------------------------------


def answer(plan, other, system):
    """Return the worst pair and whatever else misses its limit, and what the nose circle says."""
    found = groups(plan, other)
    if not found:
        absent = plan.table.attrs["not_measured"].values()
        fields = [each.partition("needs ")[2].partition(": ")[0].split(", ") for each in absent]
        said = ", ".join(dict.fromkeys(itertools.chain(*fields)))
        said = said.replace(".", " ").replace("_", " ")
        return f"Plan B: no gap can be worked out yet. Still to be measured: {said}."
    worst, *rest = found
    row = worst[0][0]
    word, fix = plan.status(row), remedy(plan, row, system)
    said = (
        f"Plan B: {_cylinders(plan, worst)}: {row.pair} {say_gap(row, system, word)}"
        f" {at_place(plan, worst)}, {word}: at least {tables.length(row.limit, system)}"
        f" ({plan.table.attrs['sources'][row.pair]}){f'; {fix}' if fix else ''}."
    )
    more = [_also(plan, each, system) for each in rest
            if plan.decides(each[0][0]) and plan.status(each[0][0]) == limits.OUTSIDE]  # fmt: skip
    said += f" Also outside: {'; '.join(dict.fromkeys(more))}." if more else ""
    return f"{said} {nose_circle(plan, system)}".rstrip()


def _cylinders(plan, group):
    parts = [_who(plan, rows) for rows in group]
    if parts == [("all", "")]:
        return "all cylinders"
    said = " and ".join(f"{who}{f' ({bank} bank)' if bank else ''}" for who, bank in parts)
    return f"cylinder{'s' if sum(map(len, group)) > 1 else ''} {said}"


def at_place(plan, group):
    """Return where the first cylinders of a group come nearest, and where others differ."""
    said = say_angle(group[0][0])
    if said == "all round":
        return said
    for rows in group[1:]:
        who, bank = _who(plan, rows)
        if say_angle(rows[0]) != said:
            whose = f"{bank} bank" if bank else f"cylinder {who}"
            said += f" ({whose} {say_angle(rows[0]).removesuffix(' TDC')})"
    return f"at {said}"


def _also(plan, group, system):
    row, mine = group[0][0], {row.cylinder for rows in group for row in rows}
    numbers = [str(each) for each in plan.engine.layout.numbers if each in mine]
    whole = len(mine) == len(plan.engine.layout.numbers)
    whose = "" if whole else f" (cylinder{'s' if len(mine) > 1 else ''} {', '.join(numbers)})"
    gap = say_gap(row, system, plan.status(row))
    return f"{row.pair}{whose} {gap}, {remedy(plan, row, system)}"


def nose_circle(plan, system):
    """Return what the circle about the whole camshaft says, and what it does not."""
    rows = [row for row in plan.rows.values() if row.pair == CIRCLE]
    if not rows:
        return ""
    worst = min(rows, key=room)
    gap, limit = (tables.length(each, system) for each in (worst.clearance, worst.limit))
    largest = tables.length(plan.engine.camshaft.largest_radius, system)
    if plan.status(worst) != limits.OUTSIDE:
        return (
            f"Nose circle {gap}: clear of the cam at any phase, if nothing larger than {largest}"
            " stands near the rods."
        )
    phases = [row for row in plan.rows.values() if row.pair == PHASE]
    said = f"Nose circle {gap}, less than {limit}: that condemns no engine, its cam's phase decides"
    if not phases:
        return f"{said}, which cannot be worked out here: check with the cam in."
    lobe = min(phases, key=room)
    return (
        f"{said}: own lobes {tables.length(lobe.clearance, system)} {at_place(plan, [[lobe]])},"
        f" {plan.status(lobe)}; neighbours' lobes are to be checked with the cam in."
    )


# --- the tables ---------------------------------------------------------------------------------


def numbers(plan, other, system):
    """Return the tables and sentences below the pictures, as HTML."""
    unit, _ = tables.LENGTH[system]
    rows = [_row(plan, other, group, system) for group in groups(plan, other)]
    heads = f"gaps in {'inches' if unit == 'in' else unit}", *_HEADS
    table = tables.html_table(heads, rows, "Pair by pair, worst first", words=True)
    absent = [Result(name, None, reason=why)
              for name, why in plan.table.attrs["not_measured"].items()]  # fmt: skip
    return (
        (f'<style>{_STYLE} }}</style><div class="enginecalc-pairs">{table}</div>' if rows else "")
        + tables.paragraphs(
            "Angles count after each cylinder's own true top dead center; for the true phase after"
            " that of firing."
            if rows
            else "",
            *_CAUTIONS,
        )
        + tables.comparison_table(other.named.values(), plan.named.values(), system)
        + tables.not_worked_out([*absent, *plan.named.values()])
    )


def _row(plan, other, group, system):
    unit, decimals = tables.LENGTH[system]
    row = group[0][0]
    beside = other.rows.get((row.pair, row.cylinder))
    change = "" if beside is None else (row.clearance - beside.clearance).m_as(tables.UNITS[unit])
    who = [_who(plan, rows) for rows in group]
    angles = [f"{rows[0].crank_angle.m_as('deg'):.1f}" for rows in group]
    features = dict.fromkeys(rows[0].feature for rows in group)
    source = plan.table.attrs["sources"][row.pair]
    return (
        row.pair,
        "; ".join(f"{bank} {numbers}".strip() for numbers, bank in who),
        "not measured" if beside is None
        else say_gap(beside, system, other.status(beside), with_unit=False),
        say_gap(row, system, plan.status(row), with_unit=False),
        change if change == "" else tables.number(change, decimals, signed=True),
        "; ".join(dict.fromkeys(angles)).replace("nan", "all round"),
        "; ".join(features),
        plan.word(row),
        remedy(plan, row, system),
        f"at least {tables.length(row.limit, system)} · {source}",
    )  # fmt: skip
