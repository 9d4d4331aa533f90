"""Figures as a person reads them: unit, digits, limits and a word, and the tables made of them."""

import html
import math
from decimal import Decimal

from enginecalc.records.figures import FITS
from enginecalc.units import size_in, ureg

SYSTEMS = ("inch", "metric")

# Unit and decimals by unit system; decimals follow the instruments of the trade: dial indicator
# 0.001 in or 0.01 mm, burette 0.1 cc, degree wheel a fraction of a degree.
LENGTH = {"inch": ("in", 3), "metric": ("mm", 2)}
_SPEED = {"inch": ("m/s", 2), "metric": ("m/s", 2)}
_RATIO = {"inch": ("", 2), "metric": ("", 2)}
SHOWN = {
    "displacement": {"inch": ("in³", 1), "metric": ("cc", 1)},
    "swept_volume": {"inch": ("cc", 1), "metric": ("cc", 1)},
    "clearance_volume": {"inch": ("cc", 1), "metric": ("cc", 1)},
    "compression_ratio": _RATIO,
    "effective_compression_ratio": _RATIO,
    "deck_clearance": LENGTH,
    "quench_distance": LENGTH,
    "running_quench": LENGTH,
    "true_stroke": LENGTH,
    "pin_to_oil_groove": LENGTH,
    "skirt_below_bore": LENGTH,
    "rod_ratio": {"inch": ("", 3), "metric": ("", 3)},
    "greatest_rod_tilt": {"inch": ("deg", 2), "metric": ("deg", 2)},
    "mean_piston_speed": _SPEED,
    "peak_piston_speed": {"inch": ("m/s", 1), "metric": ("m/s", 1)},
    "intake_piston_to_valve": LENGTH,
    "exhaust_piston_to_valve": LENGTH,
    "intake_piston_to_valve_running": LENGTH,
    "exhaust_piston_to_valve_running": LENGTH,
    "intake_coil_bind": LENGTH,
    "exhaust_coil_bind": LENGTH,
    "peak_piston_acceleration": {"inch": ("m/s²", -1), "metric": ("m/s²", -1)},
    **{
        f"rod_bolt_{name}": {"inch": ("ksi", 1), "metric": ("MPa", 0)}
        for name in ("stress", "shank_stress")
    },
    "rod_bolt_proof_share": _RATIO,
    "rod_bolt_yield_share": _RATIO,
    "rod_bolt_shank_share": _RATIO,
    **{
        f"rod_bolt_{name}": {"inch": ("lbf", -1), "metric": ("kN", 1)}
        for name in ("preload", "load", "clamp_left")
    },
    **{f"rod_bolt_{name}": {"inch": ("in", 4), "metric": ("mm", 3)} for name in ("stretch", "set")},
    **{fit: {"inch": ("in", 4), "metric": ("mm", 3)} for fit in FITS},  # micrometer, bore gauge
}
UNITS = {
    "in": ureg.Unit("inch"),
    "mm": ureg.Unit("mm"),
    "in³": ureg.Unit("inch**3"),
    "cc": ureg.Unit("cm**3"),
    "deg": ureg.Unit("deg"),
    "rpm": ureg.Unit("rpm"),
    "m/s": ureg.Unit("m/s"),
    "m/s²": ureg.Unit("m/s**2"),
    "lbf": ureg.Unit("lbf"),
    "kN": ureg.Unit("kN"),
    "ksi": ureg.Unit("ksi"),
    "MPa": ureg.Unit("MPa"),
    "": ureg.Unit(""),
}


def name_of(result):
    """Return a result's name in words."""
    return result.replace("_", " ")


def decimals_for(u, most):
    """Return how many decimals a figure bears whose standard uncertainty is `u`, at most `most`.

    The last digit shown is the first one of the uncertainty, rounded to one figure.
    """
    if not u:
        return most
    first = -math.floor(math.log10(float(f"{u:.0e}")))
    return min(most, first)


def number(value, decimals, signed=False):
    """Return a number as text, with thousands set apart when it is long, never "-0.000".

    Half way between two it is the even one, judged by its first fifteen digits.
    """
    value = float(value)
    if math.isfinite(value):
        value = float(round(Decimal(f"{value:.15g}"), decimals)) + 0.0
    if signed and value == 0:
        return "0"
    return f"{value:{'+' if signed else ''},.{max(decimals, 0)}f}"


def say(name, quantity, system, u=None, *, signed=False, with_unit=True):
    """Return a result's quantity as a person reads it, "0.043 ± 0.002 in"; "" for None."""
    if quantity is None:
        return ""
    unit, most = SHOWN[name][system]
    size = size_in(quantity, UNITS[unit])
    spread = None if u is None else size_in(u, UNITS[unit])
    decimals = decimals_for(spread, most)
    text = number(size, decimals, signed)
    if spread:
        rounded = float(f"{spread:.0e}")
        text += f" ± {number(rounded, decimals) if rounded >= 10**-decimals else 'less'}"
        text = text.removesuffix(" ± less")
    return f"{text} {unit}".rstrip() if with_unit else text


def length(quantity, system):
    """Return a length as a person reads it in this unit system, "0.108 in"."""
    unit, decimals = LENGTH[system]
    return f"{number(size_in(quantity, UNITS[unit]), decimals)} {unit}"


def say_result(result, system):
    """Return a result's value with the digits it bears, without its ±; "" when not known."""
    return say(result.name, result.value, system, result.u).partition(" ± ")[0] + _unit_of(
        result, system
    )


def _unit_of(result, system):
    """Return the unit that goes with `say_result` where the ± was cut off before it."""
    unit = SHOWN[result.name][system][0]
    said = say(result.name, result.value, system, result.u)
    return f" {unit}" if " ± " in said and unit else ""


def say_limits(result, system, *, with_unit=True, with_source=True):
    """Return what a result must be, and who says so: "0.035 to 0.045 in · part maker"."""
    unit, decimals = SHOWN[result.name][system]
    low, high = (
        None if each is None else _limit(size_in(each, UNITS[unit]), decimals, unit)
        for each in (result.low, result.high)
    )
    if low is None and high is None:
        return ""
    if low is not None and high is not None:
        words = f"{low} to {high}"
    else:
        words = f"at least {low}" if low is not None else f"at most {high}"
    said = f"{words} {unit}".rstrip() if with_unit else words
    return f"{said} · {result.source}" if result.source and with_source else said


def _limit(value, decimals, unit):
    return f"{value:.{decimals}f}" if unit in ("in", "mm") else f"{round(value, decimals):g}"


def say_status(result):
    """Return the word for a result; "no limit" where there is nothing to keep."""
    if result.value is not None and result.low is None and result.high is None:
        return "no limit"
    return result.status


def main_causes(result, count=3):
    """Return what makes a result unsure: "chamber volume 33 %, gasket thickness 19 %"."""
    if result.spread is None:
        return ""
    shares = list(result.spread.shares().items())[:count]
    return ", ".join(
        f"{path.replace('.', ' ').replace('_', ' ')} {100 * share:.0f} %"
        for path, share in shares
        if share >= 0.005
    )


def upper(text):
    """Return a text that begins with a capital, the rest as it is."""
    return text[:1].upper() + text[1:]


def paragraphs(*texts):
    """Return texts as HTML paragraphs; empty ones are left out."""
    return "".join(f"<p>{html.escape(text)}</p>" for text in texts if text)


def note(text):
    """Return a sentence as HTML that a screen reader speaks when it changes."""
    return f'<div class="enginecalc-doubt" role="status">{html.escape(text)}</div>'


def refusal(text, head="", after=""):
    """Return why something is refused as HTML that a screen reader speaks at once; "" for no text.

    `head` stands in bold on a line before the text, `after` in italics on a line behind it.
    """
    before = f"<b>{html.escape(head)}</b>\n" if head else ""
    behind = f"\n<i>{html.escape(after)}</i>" if after else ""
    said = f"{before}{html.escape(text)}{behind}"
    return f'<div class="enginecalc-error" role="alert">{said}</div>' if text else ""


def html_table(heads, rows, caption, *, words=False):
    """Return an HTML table; every cell is escaped, the first of each row is its head.

    With `words` the last column holds sentences and may wrap.
    """
    head = "".join(f'<th scope="col">{html.escape(each)}</th>' for each in heads)
    body = "".join(
        f'<tr><th scope="row">{html.escape(first)}</th>'
        + "".join(f"<td>{html.escape(str(each))}</td>" for each in rest)
        + "</tr>"
        for first, *rest in rows
    )
    kind = "enginecalc-table enginecalc-words" if words else "enginecalc-table"
    return (
        f'<div class="{kind}"><table><caption>{html.escape(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def _least_sure(one, other):
    """Return the greater uncertainty of two results, or None."""
    known = [each.u for each in (one, other) if each.u is not None]
    return max(known) if known else None


def say_change(one, other, system, *, with_unit=True):
    """Return by how much a result differs from another, "+21.2 in³"; "" when one is not known."""
    if None in (one.value, other.value):
        return ""
    u = _least_sure(one, other)
    said = say(one.name, other.value - one.value, system, u, signed=True, with_unit=False)
    unit = SHOWN[one.name][system][0] if with_unit else ""
    return f"{said.partition(' ± ')[0]} {unit}".rstrip()


def not_worked_out(some):
    """Return what is not known, in a few words each, with all that is missing folded below."""
    said = ""
    for each in some:
        if each.reason:
            lacking = each.reason.partition("needs ")[2].partition(": ")[0].split(", ")
            shown = ", ".join(path.replace(".", " ").replace("_", " ") for path in lacking[:3])
            more = f" and {len(lacking) - 3} more" if len(lacking) > 3 else ""
            summary = f"Not worked out: {name_of(each.name)}, which needs {shown}{more}"
            said += (
                f"<details><summary>{html.escape(summary)}</summary>"
                f"<p>{html.escape(each.reason)}.</p></details>"
            )
    return said


def _both(one, other):
    """Return two words, once when they are the same."""
    return one if one == other else f"{one} → {other}"


def results_table(some, system, caption):
    """Return the HTML table of a list of results: value, word, limits."""
    rows = []
    for each in some:
        unit = SHOWN[each.name][system][0]
        rows.append(
            (
                f"{name_of(each.name)} [{unit}]" if unit else name_of(each.name),
                say(each.name, each.value, system, each.u, with_unit=False) or "not measured",
                say_status(each),
                say_limits(each, system, with_unit=False),
            )
        )
    return html_table(("", "value", "is", "should be · says who"), rows, caption, words=True)


def comparison_table(a, b, system, heads=("plan A", "plan B")):
    """Return the HTML table of two lists of results: A, B, difference, words, limits.

    Where the words for A and B differ both are given, A's first.
    """
    rows = []
    for one, other in zip(a, b, strict=True):
        unit = SHOWN[one.name][system][0]
        rows.append(
            (
                f"{name_of(one.name)} [{unit}]" if unit else name_of(one.name),
                *(say(each.name, each.value, system, each.u, with_unit=False) or "not measured"
                  for each in (one, other)),
                say_change(one, other, system, with_unit=False),
                _both(say_status(one), say_status(other)),
                say_limits(other, system, with_unit=False),
            )
        )  # fmt: skip
    first, second = heads
    return html_table(
        ("", first, second, "difference", "is", "should be · says who"),
        rows,
        f"{first} and {second}, result by result",
        words=True,
    )
