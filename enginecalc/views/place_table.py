"""How the entry form looks, and its table of places as the block is seen from above."""

import functools
import html

import numpy as np

from enginecalc.records.ledger_rows import figure
from enginecalc.records.places import Place, boxes, places_of
from enginecalc.units import read

ENTRY_STYLE = """
<style>
.enginecalc-asked { font-size: 1.7em; font-weight: 700; line-height: 1.25; margin: .3em 0 .1em; }
.enginecalc-saved { font-size: 1.4em; line-height: 1.3; margin: .2em 0; min-height: 1.3em; }
.enginecalc-entry textarea { font-size: 2em !important; line-height: 1.7em !important;
  height: 1.75em !important; overflow: hidden; resize: none; white-space: pre;
  padding: 0 .3em !important; }
.enginecalc-entry .widget-label { font-size: 1.2em; }
.enginecalc-unit { font-size: 1.7em; line-height: 1.9; }
.enginecalc-measure :is(p, li) { line-height: 1.4 !important; max-width: 60em; }
.enginecalc-measure .enginecalc-error { line-height: 1.4; }
.enginecalc-measure .widget-button { width: auto; }
.enginecalc-places [aria-current] { outline: 2px solid; }
.enginecalc-places th[rowspan]
  { font-size: 1.15em; vertical-align: top; padding-left: 1em !important; }
.enginecalc-places thead th { white-space: normal !important; }
.enginecalc-places th[scope=colgroup] { text-align: left; }
.enginecalc-places table { min-width: 24em; font-size: 1em; }
.enginecalc-places :is(th, td) { padding: .25em .4em !important; }
.enginecalc-measure a[download] { text-decoration: underline; color: #0072B2; }
.enginecalc-where svg { max-width: 36em; }
@media (max-width: 900px) {
  .enginecalc-measure .enginecalc-words th { white-space: normal; min-width: 0 !important; }
  .enginecalc-measure .enginecalc-words td:last-child { min-width: 8em; } }
</style>
"""
_MINUS = str.maketrans("-", "−")


def places_table(layout, what, found, asked, system):
    """Return the HTML table of all places of a measurement, as the block is seen from above.

    Readings by angle have a row for each angle and a column for each cylinder, front to rear.

    Parameters
    ----------
    found : dict
        From `EntryRound.found`.
    asked : Place
        Marked with ▶ and in bold; None for none.
    """
    cell = functools.partial(_cell, what, found, asked, system)
    head, body = (_by_angle if what.angles else _from_above)(layout, what, cell)
    return (
        '<div class="enginecalc-table enginecalc-places"><table>'
        f"<caption>{html.escape(_caption(layout, what, found, system))}</caption>"
        f"<thead>{head}</thead><tbody>{body}</tbody></table></div>"
    )


def _from_above(layout, what, cell):
    """Return head and rows: banks side by side, a place below the other."""
    across, down = what.directions, what.heights
    upright = 0 < len(across) < 4  # directions side by side, heights below each other
    if not upright:
        across, down = down, across
    across, down = list(across) or [""], list(down) or [""]
    lead = 1 + (down != [""])
    groups, banks, names, body = _groups(layout, what, across), "", "", ""
    for bank, _, ways in groups:
        banks += f'<th scope="colgroup" colspan="{lead + len(ways)}">{html.escape(bank)}</th>'
        names += "".join(f'<th scope="col">{html.escape(way)}</th>' for way in [""] * lead + ways)
    for at, line in np.ndindex(max(len(places) for _, places, _ in groups), len(down)):
        cells, low = "", down[line]
        for bank, places, ways in groups:
            if at >= len(places):
                cells += f'<td colspan="{lead + len(ways)}"></td>'
                continue
            if line == 0:
                place = "" if bank.startswith(places[at]) else places[at]
                cells += f'<th scope="row" rowspan="{len(down)}">{html.escape(place)}</th>'
            if lead > 1:
                cells += f'<th scope="row">{html.escape(low)}</th>'
            spots = ((way, low) if upright else (low, way) for way in ways)
            cells += "".join(cell(places[at], *spot) for spot in spots)
        body += f"<tr>{cells}</tr>"
    head = f"<tr>{banks}</tr>" if groups[0][0] else ""
    return head + (f"<tr>{names}</tr>" if across != [""] else ""), body


def _by_angle(layout, what, cell):
    groups = _groups(layout, what, [])
    banks = "".join(f'<th scope="colgroup" colspan="{len(places)}">{html.escape(bank)}</th>'
                    for bank, places, _ in groups)  # fmt: skip
    places = [place for _, some, _ in groups for place in some]
    names = "".join(f'<th scope="col">{html.escape(place)}</th>' for place in places)
    body = "".join(
        f'<tr><th scope="row">{angle.translate(_MINUS)}°</th>'
        + "".join(cell(place, "", "", angle) for place in places)
        + "</tr>"
        for angle in what.angles
    )
    head = f"<tr><th></th>{banks}</tr>" if groups[0][0] else ""
    return f"{head}<tr><th></th>{names}</tr>", body


def _groups(layout, what, across):
    """Return [(heading, places, columns)] side by side, each front to rear, seen from above."""
    places = iter(places_of(layout, what.places))
    if what.places not in ("cylinder", "bank"):
        return [("", list(places), across)]
    made = []
    for bank, numbers in layout.by_bank().items():
        mine = [next(places) for _ in (numbers if what.places == "cylinder" else "1")]
        outer_first = bank == "left" and "outer" in across  # its valley is on the right
        ways = across[::-1] if outer_first else across
        made.append(("" if bank == "inline" else f"{bank} bank", mine, ways))
    return made


def _caption(layout, what, found, system):
    places = boxes(layout, what)
    own = sum(len(repeats) for at, repeats in found.items() if at not in places)
    view = "seen from above, front at the top" if not what.angles else "each bank front to rear"
    view = f", {view}" if not what.places.startswith("engine") else ""
    banks = "; banks as seen from the flywheel end" if len(layout.by_bank()) > 1 else ""
    return (
        f"{what.name.capitalize()} [{what.units[system]}]{view}{banks}:"
        f" {sum(at in found for at in places)} of {len(places)} places read"
        + (f"; {own} more readings at places of your own" if own else "")
        + "."
    )


def _cell(what, found, asked, system, *spot):
    place = Place(spot[0], what.part, what.feature, *spot[1:], *[""] * (4 - len(spot)))
    rows = found.get(place, {}).values()
    text = html.escape(" · ".join(_figure(row, what, system) for row in rows))
    if place == asked:
        return f'<td aria-current="true"><b>▶ {text or "____"}</b></td>'
    return f"<td>{text}</td>"


def _figure(row, what, system):
    """Return a reading without its unit: as typed, or converted to the unit of the system."""
    unit, value = what.units[system], row["value"]
    if figure("1", unit) != figure("1", row["unit"]):
        size = read(f"{value} {row['unit']}").m_as(read(f"1 {unit}").units)
        value = f"{size:.{len(what.resolutions[system].partition('.')[2])}f}"
    return value.translate(_MINUS)
