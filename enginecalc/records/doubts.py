"""What is doubtful in the readings of a build: sentences with the ledger's line numbers."""

import functools
from itertools import combinations
from statistics import median
from types import SimpleNamespace

import numpy as np

from enginecalc.records import figures
from enginecalc.records.fit_results import fit_results
from enginecalc.records.ledger_rows import KEY
from enginecalc.records.means import size_of
from enginecalc.records.places import Place, measurement
from enginecalc.units import Q, read, to_si

_APART = 3 * (1 + 1e-6)  # finest digits by which repeats may differ
_FAR = 10 * (1 + 1e-6)  # finest digits and robust standard deviations that set a reading apart
_ROBUST = 1.4826  # a normal distribution's standard deviation over its median absolute deviation
_NEAR = 1.2 * (1 + 1e-6)  # how near the ratio of two sizes comes to that of a slip
_MM = 25.4  # in an inch
_SIGNED = ("below deck", "crown volume", "lift", "drop")  # these may be below zero
_GAPS = ("end gap", "side clearance", "end play")  # these may be none at all
_RESTS = {  # {in the name of a fit: what is read for it}
    "piston_clearance": ("bore diameter", "piston diameter"),
    "rod_oil": ("rod housing", "rod shell wall", "crank pin diameter"),
    "main_oil": ("main housing diameter", "main shell wall", "main journal diameter"),
    "rod_side": ("rod width", "crank pin width"),
    "end_play": ("crank end play",),
    "ring_gap": ("ring end gap",),
    "ring_side": ("ring side clearance",),
    "bore_": ("bore diameter",),
    "pin_": ("crank pin diameter",),
    "journal_": ("main journal diameter",),
}
_SURE = to_si(Q(0.0005, "inch"))


def reading_doubts(build, fits=None):
    """Return a list of sentences on what is doubtful in a build's readings.

    The ledger's own problems come first. `fits` is `fit_results(build)`, where it is known already.
    """
    fits = fit_results(build) if fits is None else fits
    reasons = [f"{fit.place}: {fit.result.reason}" for fit in fits if cannot_be(fit.result)]
    told = [*build.readings.problems, *_single(build).values(), *dict.fromkeys(reasons)]
    return told + _no_temperature(build)


def doubtful_lines(build):
    """Return {ledger line: sentence} of the readings that are best taken again before use."""
    return {line: sentence for lines, sentence in _single(build).items() for line in lines}


def sure_fits(build, fits):
    """Return those of a list of `Fit` that rest on no reading in doubt."""
    lines, rows = doubtful_lines(build), build.readings.latest_cells()
    pins = {str(each.number): f"pin {each.pin}" for each in build.engine.layout.cylinder}
    rows = [row for row in rows if row["line"] in lines]

    def rests(fit, row):
        name, at = fit.result.name, fit.place.removeprefix("cylinder ")
        places = {at, pins.get(at), *(number for number, pin in pins.items() if pin == at)}
        read = f"{row['part']} {row['feature']}"
        return (row["place"] in places and (row["part"] != "ring" or row["height"] in name)
                and any(key in name and read in some for key, some in _RESTS.items()))  # fmt: skip

    return [fit for fit in fits if not any(rests(fit, row) for row in rows)]


def impossible(what, size):
    """Return "cannot be zero or less" of a size that a `Measurement` cannot have, "" of others."""
    if what is None or what.feature in _SIGNED or size > 0:
        return ""
    if what.feature in _GAPS:
        return "cannot be less than zero" if size < 0 else ""
    return "cannot be zero or less"


def slip(row, usual, than):
    """Return how far a row's size is off a usual one, and what to ask then; "" when it is not."""
    times, apart = abs(row.size) / usual, abs(abs(row.size) - usual)
    far = max(times, 1 / times)
    if far <= (10.001 if row.at.feature in _SIGNED else 10 / _NEAR) or apart <= _FAR * row.step:
        return ""
    return f"is {far:,.0f} times {'more' if times > 1 else 'less'} than {than}: {ask(row, times)}"


def ask(row, times):
    """Return the question about a row whose size is so many times what it should be."""
    far, number = max(times, 1 / times), float(row.value)
    near = [each for each in (_MM, 10, 100, 1000) if 1 / _NEAR <= far / each <= _NEAR]
    if near in ([], [_MM]) and not (near and row.is_length):
        return "misread?"
    if near != [_MM]:
        return f"the decimal point{': thou, tenths or hundredths of mm' * row.is_length}?"
    would = {
        ("in", True): f" {row.value} mm would be {number / _MM:.4f} in",
        ("mm", False): f" {row.value} in would be {number * _MM:.3f} mm",
    }
    return f"inches or millimeters?{would.get((row.unit, times > 1), '')}"


def cannot_be(result):
    """Say whether a result has no value though nothing it needs is missing."""
    return result.value is None and " needs readings of " not in result.reason


def _single(build):
    """Return {lines: sentence} of readings in another unit, exchanged, alone or ill repeated."""
    return build.kept("single doubts", lambda: _singled_out(build))


def _singled_out(build):
    rows, made, told = _rows(build), {}, set()

    def tell(sentence, *some):
        lines = tuple(sorted(row.line for row in some))
        if not told & {*lines}:
            made[lines] = f"{numbered(lines)}: {sentence}"
            told.update(lines)

    for row in rows:
        if said := impossible(measurement(row.at.part, row.at.feature), row.size):
            tell(f"{row.said} {said}: measure again", row)
    alone = [row for row in rows if row.fellows and not any(_fits(row.size, row))]
    for one, other in combinations(alone, 2):
        if all([*_fits(one.size, other), *_fits(other.size, one)]):
            said = f"{one.said} and {other.said} look exchanged"
            tell(f"{said}: each would fit in the other's place", one, other)
    for row in (each for each in rows if each.size and each.usual):
        if said := slip(row, row.usual, "usual"):
            tell(f"{row.said} {said}", row)
    for row in alone:
        usual = row.text(row.fellows[0][0])
        tell(f"{row.said} is far from its fellows, about {usual}: swapped or misread?", row)
    for some in _sets(rows, lambda at: at):
        low, high = (pick(some, key=lambda row: row.size) for pick in (min, max))
        if high.size - low.size > _APART * high.step:
            far = f"{low.said} and its repeat {high.text(high.size)}"
            tell(f"{far} are more than three finest digits apart: measure again", low, high)
    return dict(sorted(made.items()))


def _fits(size, row):
    """Return for each set of a row's fellows whether a size is usual there."""
    return (abs(size - usual) <= _FAR * max(spread, row.step) for usual, spread in row.fellows)


def _rows(build):
    """Return the lengths and volumes that count, with median and spread of their fellows."""
    cells = build.readings.latest_cells()
    rows = [row_of(build, each) for each in cells if _unit(each["unit"])[1]]
    # fellows: those around it on the same part, and those at the same spot of other parts
    around = _sets([row for row in rows if not row.at.angle],
                   lambda at: (at.part, at.feature, at.place))  # fmt: skip
    alike = _sets(rows, lambda at: (at.part, at.feature, at.direction, at.height, at.angle))
    for some in (*around, *alike):
        usual = median(row.size for row in some)
        way = usual, _ROBUST * median(abs(row.size - usual) for row in some)
        for row in some if len({row.at for row in some}) > 2 else ():
            row.fellows.append(way)
    for some in _sets(rows, lambda at: (at.part, at.feature, at.angle)):
        for row in some if len(some) > 2 and some[0].is_length else ():
            row.usual = median(abs(each.size) for each in some)
    return rows


def row_of(build, cells):
    """Return a row of a ledger with its size and finest digit in SI, at 20 °C."""
    (scale, kind), digits = _unit(cells["unit"]), len(cells["value"].partition(".")[2])
    at = Place(*(cells[key] for key in KEY[:-1]))
    step = scale * 10.0**-digits
    what, note = measurement(at.part, at.feature), f"; {cells['note']}" if cells["note"] else ""
    grows = None
    if what is not None and what.material:
        grows = figures.material(figures.field(build.engine, f"{what.material}.material"))[0]
    return SimpleNamespace(
        **{name: cells[name] for name in ("line", "value", "unit")}, at=at,
        size=size_of(cells, grows),
        is_length=kind == "length", fellows=[], usual=0.0,
        step=to_si(read(cells["resolution"])) if cells["resolution"] else step,
        said=f"{cells['value']} {cells['unit']} ({at.words}{note})",
        text=lambda size: f"{size / scale:.{digits}f} {cells['unit']}",
    )  # fmt: skip


@functools.cache
def _unit(text):
    """Return a unit's size in SI, and "length", "volume" or ""."""
    unit = read(f"1 {text}")
    kind = next((each for each in ("length", "volume") if unit.check(f"[{each}]")), "")
    return to_si(unit), kind


def _sets(rows, key):
    made = {key(row.at): [] for row in rows}
    for row in rows:
        made[key(row.at)].append(row)
    return made.values()


def _no_temperature(build):
    """Return what is doubtful where a piston or its bore was measured at no known temperature."""
    rows, lines = build.readings.latest(), set()
    for number in build.cylinders:
        means = [build.mean(part, "diameter", number) for part in ("bore", "piston")]
        if None not in means and np.hypot(*(to_si(mean.u) for mean in means)) < _SURE:
            lines |= {line for mean in means for line in mean.lines}
    lines &= {*rows.loc[rows["temperature"] == "", "line"]}
    said = "no temperature stands with a bore or piston whose clearance is to hold to less than"
    said += " 0.0005 in (0.013 mm): a warm piston in a cold bore shows too little"
    return [f"{numbered(lines)}: {said}"] if lines else []


def numbered(lines):
    """Return "lines 2 to 7, 50" of some lines of a ledger."""
    lines = np.sort([*lines])
    runs = [run.tolist() for run in np.split(lines, np.flatnonzero(np.diff(lines) > 1) + 1)]
    said = ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else f"{run}"[1:-1] for run in runs)
    return f"line{'s' if len(lines) > 1 else ''} {said}"
