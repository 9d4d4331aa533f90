"""What chapter 05 says in words and tables of what it found."""

import html
import itertools
import re

from enginecalc import limits
from enginecalc.records.block_view import said_angle
from enginecalc.records.figures import where_to_measure
from enginecalc.units import to_si
from enginecalc.views import tables
from enginecalc.views.block_plan import CHAMFER, CIRCLE, PHASE, WEIGHT_TO_CAM, feature, room

_CAUTIONS = (
    "A computed gap replaces no clay, wire or feeler check. A rod walks sideways by its side"
    " clearance; main caps and the oil pickup are not looked at, and of the camshaft only each"
    " cylinder's own lobes: a neighbour's lobe may stand nearer.",
    "Grinding a block, stop at the water jacket. Never grind a rod's bolt seat. Wash everything"
    " afterwards. Heavy metal in a counterweight, or much taken off it, is work for a balancing"
    " shop. The part makers' figures win.",
)
_INTO_THE_FILE = (
    "What is not looked at, fewest figures first. What you measure goes into the engine file under"
    ' these keys: block.rail_top is a line rail_top = "… {}" below [block]. What has a field on'
    " this page can be tried there first."
)
_HEADS = ("cylinders", "plan A", "plan B", "difference", "at", "what comes nearest", "is",
          "grind or change", "should be · says who")  # fmt: skip
# cells wrap; on a narrow page a row becomes a card, each cell with its head before it
_STYLE = """
.enginecalc-pairs :is(th, td) { white-space: normal !important; padding: .25em .3em; }
.enginecalc-pairs table { font-size: .92em; }
.enginecalc-pairs td:last-child { min-width: 7em; }
.enginecalc-pairs td:nth-of-type(5) { min-width: 6.2em; }
.enginecalc-pairs td:nth-of-type(8) { min-width: 7.5em; text-align: left; }
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


def say_angle(row, digits=0):
    """Return where a row's gap is, as `said_angle` says it."""
    return said_angle(row.pair, row.crank_angle, digits)


def remedy(plan, row, system):
    """Return what to change, and what never to, "" where nothing has to be."""
    if not row.grind.magnitude or not plan.decides(row):
        return ""
    short = _short(row.grind, system)
    if row.pair == CHAMFER:
        if row.feature.startswith("square"):
            return (
                "this rod is in the wrong way round: turn it back, its chamfer belongs to the cheek"
            )
        return f"{short} more chamfer: ask the rod maker"
    if row.pair.startswith("counterweight"):
        other = "" if row.pair == WEIGHT_TO_CAM else ", or another piston"
        return f"take {short} off the weight{other}; a balancing shop's work"
    never = "never grind a lobe or a bolt seat"
    if row.pair == CIRCLE:
        return f"{short} short: check the lobes with the cam in; {never}"
    if row.pair == PHASE:
        return f"{short} short: another rod, a smaller base circle or another cam phase; {never}"
    return f"grind the block {short} there, at the {block_part(row)}"


def block_part(row):
    """Return which part of the block a rod comes near."""
    return "pan rail" if "rail" in row.pair else "bore's lower edge"


def _short(missing, system):
    """Return what is missing to a limit, with digits enough to be something."""
    unit, most = tables.LENGTH[system]
    size = missing.m_as(tables.UNITS[unit])
    decimals = next(
        each for each in itertools.count(most) if each == most + 3 or round(size, each) > 0
    )
    return f"{tables.number(size, decimals)} {unit}"


def whose(plan, number):
    """Return which cylinders stand as this one does, "left bank: cylinders 1, 3, 5, 7"."""
    frame = plan.frame(number)
    said = f"cylinder{'s' if len(frame.alike) > 1 else ''} {', '.join(map(str, frame.alike))}"
    bank, (*_, away) = frame.seats.banks[frame.at], frame.seats.keys[frame.at]
    heads = ["" if bank == "inline" else f"{bank} bank", "rod turned round" if away else ""]
    heads = ", ".join(filter(None, heads))
    return f"{heads}: {said}" if heads else said


def on_paper(plan, row, system):
    """Return what a print says at a gap; where it is outside, the limit and what to do."""
    word, at = plan.status(row), say_angle(row)
    said = f"{say_gap(row, system, word)} {at if at == 'all round' else f'at {at}'}"
    fix = remedy(plan, row, system)
    return f"{said}\n{word}, limit {tables.length(row.limit, system)}\n{fix}" if fix else said


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
    """Return the worst pair, what else misses its limit, what the nose circle says, what lacks."""
    found = groups(plan, other)
    if not found:
        return (
            f"Plan B: no gap can be worked out yet. {not_looked_at(plan)} Fewest figures first;"
            " what you measure goes into the engine file under the keys that stand below, such as"
            " block.rail_top."
        )
    worst, *rest = found
    row = worst[0][0]
    word, fix = plan.status(row), remedy(plan, row, system)
    said = (
        f"Plan B: {_cylinders(plan, worst)}: {row.pair} {say_gap(row, system, word)}"
        f" {at_place(plan, worst)}, {word}: at least {tables.length(row.limit, system)}"
        f" ({plan.table.attrs['sources'][row.pair]}){f'; {fix}' if fix else ''}."
    )
    also = _also_outside(plan, rest, fix, system)
    return " ".join(filter(None, (said, also, nose_circle(plan, system), not_looked_at(plan))))


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
            said += f" ({f'{bank} bank' if bank else f'cylinder {who}'} {say_angle(rows[0])})"
    return f"at {said}"


def _also_outside(plan, some, told, system):
    """Return what else misses its limit; advice that stands in `told` or before is not repeated."""
    said = []
    for group in some:
        row = group[0][0]
        if not plan.decides(row) or plan.status(row) != limits.OUTSIDE:
            continue
        mine = {row.cylinder for rows in group for row in rows}
        numbers = [str(each) for each in plan.engine.layout.numbers if each in mine]
        whole = len(mine) == len(plan.engine.layout.numbers)
        whose = "" if whole else f" (cylinder{'s' if len(mine) > 1 else ''} {', '.join(numbers)})"
        fix = remedy(plan, row, system)
        head, _, advice = fix.partition(": ")
        if advice and advice in told:
            fix = head
        told += fix
        gap = say_gap(row, system, plan.status(row))
        said.append(f"{row.pair}{whose} {gap}{f' ({fix})' if fix else ''}")
    return f"Also outside: {', '.join(said)}." if said else ""


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
    said = f"Nose circle {gap}, less than {limit}"
    if not phases:
        return (
            f"{said}: that condemns no engine, its cam's phase decides, which cannot be worked out"
            " here: check with the cam in."
        )
    lobe = min(phases, key=room)
    stand = f"{tables.length(lobe.clearance, system)} {at_place(plan, [[lobe]])}"
    last = "neighbours' lobes are to be checked with the cam in."
    if plan.status(lobe) != limits.OUTSIDE:
        return (
            f"{said}: that condemns no engine, its cam's phase decides: own lobes {stand},"
            f" {plan.status(lobe)}; {last}"
        )
    meet = lobe.clearance.magnitude < 0
    miss = "meet the rod" if meet else f"miss their limit of {tables.length(lobe.limit, system)}"
    return f"{said}, and in this cam's own phase the lobes {miss} too: {stand}; {last}"


# --- what is missing ----------------------------------------------------------------------------


def missing(plan):
    """Return {pair: what it needs} of all that was not looked at, fewest first."""
    found = {}
    for pair, told in plan.table.attrs["not_measured"].items():
        needs, _, why = told.removeprefix(pair).partition("needs ")[2].partition(": ")
        if needs == "another figure":
            needs = f"another {why.partition(' ')[0]}"
        found[pair] = needs.split(", ")
    return dict(sorted(found.items(), key=lambda each: len(each[1])))


def not_looked_at(plan):
    """Return the sentence that says what was not looked at for want of which figures."""
    absent, families = missing(plan), {}
    known = {row.pair.partition(",")[0] for row in plan.rows.values()}
    for pair in absent:
        family = pair.partition(",")[0]
        families.setdefault(pair if family in known else family, []).append(pair)
    if not absent:
        return ""
    # of a family nothing is known of, the pair that needs least stands for all
    said = [f"{name} (needs {_some(absent[pairs[0]])})" for name, pairs in families.items()]
    shown = list(itertools.chain(*list(families.values())[:3]))
    more = sum(not {*pairs} & {*shown} for pairs in _alike(absent))
    return f"Not looked at: {', '.join(said[:3])}{f', and {more} more below' if more else ''}."


def _alike(absent):
    """Return lists of the pairs of one family that need the same."""
    made = {}
    for pair, needs in absent.items():
        made.setdefault((pair.partition(",")[0], *needs), []).append(pair)
    return list(made.values())


def _some(needs):
    """Return the first of some fields in words, and how many there are beside."""
    words = [re.sub(r"^(block|crank|piston)\.", "", each) for each in needs]
    words = [each.replace(".", " ").replace("_", " ") for each in words]
    if len(words) < 3:
        return " and ".join(words)
    return f"{', '.join(words[:2])} and {len(words) - 2} more"


def _still_missing(plan, unit):
    """Return HTML that says pair by pair which keys of the engine file are still to be filled."""
    absent = missing(plan)
    if not absent:
        return ""
    said = ""
    for pairs in _alike(absent):
        keys = [key for each in absent[pairs[0]] for key in _keys(each)]
        name = pairs[0] if len(pairs) == 1 else pairs[0].partition(",")[0]
        where = [f"<li>{html.escape(key)}: {html.escape(where_to_measure(key))}</li>"
                 for key in keys if where_to_measure(key)]  # fmt: skip
        why = plan.table.attrs["not_measured"][pairs[0]].removeprefix(f"{pairs[0]} ")
        body = f"<ul>{''.join(where)}</ul>" if where else f"<p>{html.escape(why)}.</p>"
        summary = html.escape(f"Not looked at: {name}, which needs {', '.join(keys)}")
        said += f"<details><summary>{summary}</summary>{body}</details>"
    return tables.paragraphs(_INTO_THE_FILE.format(unit)) + said


def _keys(need):
    """Return the keys of an engine file that fill a need: a lobe is lift and duration."""
    side, _, key = need.partition(".")
    return [f"{side}.lobe_lift", f"{side}.duration"] if key == "lobe" else [need]


# --- the tables ---------------------------------------------------------------------------------


def numbers(plan, other, system):
    """Return the tables and sentences below the pictures, as HTML."""
    unit, _ = tables.LENGTH[system]
    rows = [_row(plan, other, group, system) for group in groups(plan, other)]
    heads = f"gaps in {'inches' if unit == 'in' else unit}", *_HEADS
    table = tables.html_table(heads, rows, "Pair by pair, worst first", words=True)
    return (
        (f'<style>{_STYLE} }}</style><div class="enginecalc-pairs">{table}</div>' if rows else "")
        + tables.paragraphs(
            "Angles count from each cylinder's own true top dead center, TDC; for the true phase"
            " from that of firing."
            if rows
            else "",
            *_CAUTIONS,
        )
        + _still_missing(plan, unit)
        + tables.comparison_table(other.named.values(), plan.named.values(), system)
        + tables.not_worked_out(plan.named.values())
    )


def _row(plan, other, group, system):
    unit, decimals = tables.LENGTH[system]
    row = group[0][0]
    beside = other.rows.get((row.pair, row.cylinder))
    change = "" if beside is None else (row.clearance - beside.clearance).m_as(tables.UNITS[unit])
    who = [_who(plan, rows) for rows in group]
    angles = [say_angle(rows[0], 1) for rows in group]
    features = dict.fromkeys(feature(rows[0], system) for rows in group)
    source = plan.table.attrs["sources"][row.pair]
    return (
        row.pair,
        "; ".join(f"{bank} {numbers}".strip() for numbers, bank in who),
        "not measured" if beside is None
        else say_gap(beside, system, other.status(beside), with_unit=False),
        say_gap(row, system, plan.status(row), with_unit=False),
        change if change == "" else tables.number(change, decimals, signed=True),
        "; ".join(dict.fromkeys(angles)),
        "; ".join(features),
        plan.word(row),
        remedy(plan, row, system),
        f"at least {tables.length(row.limit, system)} · {source}",
    )  # fmt: skip
