"""Which way round everything of a cylinder goes, and in which order the crank brings its pins.

Left and right are named as seen from the flywheel end, which is as seen from above with the front
up. Lines of words are (sentence, lengths): a length stands where the sentence has {}.
"""

from dataclasses import dataclass

import pint

from enginecalc import fillet, fits
from enginecalc.records import figures
from enginecalc.records.clearances import block_clearances
from enginecalc.units import Q, to_si, ureg

_DEG = ureg.Unit("deg")
SIDES = {"V": ("outer", "valley"), "flat": ("lower", "upper"), "inline": ("left", "right")}
_SAME = 1e-9  # m: gaps that differ by less are the same
CAP = (
    "Cap: its number is the rod's, numbers on one side, both tangs on one side; a cap never goes"
    " on another rod or turned round"
)
POCKETS = (
    "Valve pockets: not entered yet where they lie; hold a piston against its head, and keep"
    " pistons with pockets in their bank (common practice, no source)"
)


@dataclass(frozen=True)
class Orientation:
    """Which way round the parts of one cylinder go, and where the crank stands to fit them.

    `top` and `bottom` are the crank angles, from the first cylinder's top, at which this crank pin
    is at the top and at the bottom of its own bore. `sits` is "front" or "rear" of a shared pin,
    or "alone". `thrust` is the major thrust side seen from above, `thrust_angle` the same
    clockwise from the front mark, `thrust_side` what lies there. `offset_side` says which thrust
    side the pin offset lies on; `mark_misleads` is true where a piston made for standard rotation,
    its mark to the front, has it on the wrong one. `cheek_from` is "engine file", "pair" or
    "taken".
    """

    cylinder: object
    first: object
    kind: str
    bank: str
    pin: int
    sharing: tuple
    sits: str
    companions: tuple
    top: pint.Quantity
    bottom: pint.Quantity
    rotation: str
    thrust: str
    thrust_angle: pint.Quantity
    thrust_side: str
    pin_offset: pint.Quantity | None
    offset_side: str
    mark_misleads: bool
    cheek: str
    cheek_from: str

    @property
    def name(self):
        """The cylinder's number and, where there are two, its bank."""
        return f"Cylinder {self.cylinder}" + (f", {self.bank} bank" * (self.kind != "inline"))

    def lines(self):
        """Return everything as lines of words."""
        top, bottom, thrust = (f"{each.m_as(_DEG):g}°"
                               for each in (self.top, self.bottom, self.thrust_angle))  # fmt: skip
        pair = " to itself"
        if self.sharing:
            pair = f", shared with cylinder {self.sharing[0]}; this rod sits to the {self.sits}"
        together = ", ".join(map(str, self.companions))
        together = f"together with cylinder {together}" if together else "alone"
        return [
            (f"{self.name}: crank pin {self.pin}{pair}", ()),
            (f"It reaches its top {together}", ()),
            (f"Its pin is at the top of its bore at {top}, and at the bottom, where the piston goes"
             f" in, at {bottom}, counted from cylinder {self.first} at its top", ()),
            (f"Front mark to the front. Major thrust side: {self.thrust} seen from above with the"
             f" front up, {thrust} clockwise from the mark, the {self.thrust_side} side", ()),
            *self._offset_lines(),
            (f"Rod: chamfer to the {self.cheek}, {self._why()}", ()),
            (CAP, ()),
            (POCKETS, ()),
        ]  # fmt: skip

    def _why(self):
        if self.cheek_from == "engine file":
            return "as the engine file has it" + (
                ", against its neighbor: look again; a pair goes back to back"
                if self.sharing and not self.cheek.startswith(self.sits)
                else "; the pair goes back to back" * bool(self.sharing)
            )
        if self.cheek_from == "pair":
            return "because the pair on a pin goes back to back (common practice, no source)"
        return "taken so for all rods: it has its pin to itself, so look at its maker's mark"

    def _offset_lines(self):
        offset = self.pin_offset
        if offset is None:
            yield "Pin offset: not in the file (piston.pin_offset); ask the piston's maker", ()
        elif not offset.magnitude:
            yield "Pin offset: none; the pin is in the middle", ()
        else:
            yield f"Pin offset: {{}} to the {self.offset_side} thrust side", (abs(offset),)
            if self.mark_misleads:
                yield (
                    "Reverse rotation: a piston made for standard rotation, its mark to the front,"
                    " has its offset on the minor thrust side; measure from pin to skirt on both"
                    " sides, and ask its maker, before it goes in",
                    (),
                )
            elif self.offset_side == "minor":
                yield (
                    "The usual side is the major one: is the sign of piston.pin_offset right, or"
                    " the piston turned round?",
                    (),
                )


def orientation(engine, cylinder):
    """Return the `Orientation` of a cylinder, by number.

    Raises
    ------
    ValueError
        When the engine has no such cylinder; names those it has.
    """
    layout, each = engine.layout, _cylinder(engine, cylinder)
    on_pin = [other.number for other in layout.cylinder if other.pin == each.pin]
    group = [group for group in layout.companions() if cylinder in group]
    top = _tops(layout)[cylinder]
    offset = engine.piston.pin_offset
    sits, how = layout.chamfers()[cylinder], "pair" if len(on_pin) > 1 else "taken"
    return Orientation(
        cylinder=cylinder,
        first=layout.cylinder[0].number,
        kind=layout.kind,
        bank=each.bank,
        pin=each.pin,
        sharing=tuple(other for other in on_pin if other != cylinder),
        sits=sits if len(on_pin) > 1 else "alone",
        companions=tuple(other for of in group for other in of if other != cylinder),
        top=Q(top, _DEG),
        bottom=Q((top + 180) % 360, _DEG),
        rotation=layout.rotation,
        thrust="right" if layout.turn > 0 else "left",
        thrust_angle=Q(90.0 if layout.turn > 0 else 270.0, _DEG),
        thrust_side=_side(layout, each, -layout.turn),
        pin_offset=offset,
        offset_side="" if not offset else "major" if offset.magnitude < 0 else "minor",
        mark_misleads=bool(offset) and layout.turn < 0,
        cheek=f"{each.chamfer or sits} cheek",
        cheek_from="engine file" if each.chamfer else how,
    )


def tang_side_like(engine, known_cylinder, known_side, cylinder):
    """Return on which side a rod's tangs lie, from the side seen on another rod of the same part.

    Sides are "outer" and "valley" of a V, "upper" and "lower" of a flat engine, "left" and "right"
    of an inline one, as seen from the flywheel end. A rod turned round has its tangs across.
    """
    layout = engine.layout
    known, asked = _cylinder(engine, known_cylinder), _cylinder(engine, cylinder)
    names = SIDES[layout.kind]
    if known_side not in names:
        raise ValueError(
            f"tang_side_like: known_side must be {' or '.join(names)}, got {known_side!r}"
        )
    right = _outward(known) * (1 if known_side == names[0] else -1)  # in the front view, upright
    faces = {each.chamfer or layout.chamfers()[each.number] for each in (known, asked)}
    return _side(layout, asked, right if len(faces) == 1 else -right)


@dataclass(frozen=True)
class Backwards:
    """What happens when a cylinder's rod is fitted turned round; gaps are - where parts meet.

    `centered` and `at_cheek` are the gaps from its square edge to the fillet, None where not
    known: all side clearance shared alike, and none left with no oil film. `changes` is {pair:
    (gap as it should be, gap turned round)}; `missing` {what is not worked out: a sentence}.
    """

    cylinder: object
    cheek: str
    centered: pint.Quantity | None
    at_cheek: pint.Quantity | None
    too_small: tuple  # chamfer and fillet radius, where the chamfer is less than the radius
    changes: dict
    missing: dict

    def lines(self):
        """Return everything as lines of words."""
        said = []
        for gap, where in ((self.centered, "with the side clearance shared alike"),
                           (self.at_cheek, "against the cheek with no oil film")):  # fmt: skip
            if gap is not None:
                verb = "bites the fillet by" if gap.magnitude < 0 else "clears the fillet by"
                said.append((f"Its square edge at the {self.cheek} {verb} {{}} {where}",
                             (abs(gap),)))  # fmt: skip
        said += [(f"{pair.capitalize()}: {{}} instead of {{}}", (turned, right))
                 for pair, (right, turned) in self.changes.items()]  # fmt: skip
        if self.too_small:
            said.append(("Its chamfer of {} is less than the fillet's radius of {}: even the right"
                         " way round it is clear only while the rod stays off the cheek",
                         self.too_small))  # fmt: skip
        if self.missing:
            said.append((f"Not worked out: {'; '.join(self.missing.values())}", ()))
        return said


def backwards(engine, cylinder):
    """Return the `Backwards` of a cylinder: its rod turned round from how `orientation` has it."""
    here = orientation(engine, cylinder)
    right, turned = (block_clearances(engine, each) for each in ((), [cylinder]))
    gaps = [dict(zip(table["pair"][mine], table["clearance"][mine], strict=True))
            for table in (right, turned) for mine in [table["cylinder"] == cylinder]]  # fmt: skip
    missing = {pair: why.partition(": ")[0] for pair, why in right.attrs["not_measured"].items()
               if pair.startswith("rod to")}  # fmt: skip
    radius, chamfer = engine.crank.fillet_radius, engine.rod.chamfer
    known = None not in (radius, chamfer)
    centered, at_cheek = _bites(engine, here, missing)
    return Backwards(
        cylinder,
        here.cheek,
        centered,
        at_cheek,
        (chamfer, radius) if known and chamfer < radius else (),
        {pair: (gap, gaps[1][pair]) for pair, gap in gaps[0].items()
         if pair.startswith("rod to") and abs(to_si(gaps[1][pair] - gap)) > _SAME},
        missing,
    )  # fmt: skip


def _bites(engine, here, missing):
    """Return the square edge's gaps, centered and at the cheek; say in `missing` what lacks."""
    what, radius = "square edge to fillet", engine.crank.fillet_radius
    if here.cheek_from == "taken":
        missing[what] = f"{what} needs chamfer of layout.cylinder {here.cylinder}, front or rear"
        return None, None
    if here.sharing and not here.cheek.startswith(here.sits):
        missing[what] = f"{what}, as the file has this rod turned round already"
        return None, None
    paths = ("crank.fillet_radius", "crank.pin_width", "rod.width")
    lacking = [path for path in paths if figures.field(engine, path) is None]
    lacking += figures.missing("rod_clearance", engine.values)
    if lacking:
        missing[what] = f"{what} needs {', '.join(lacking)}"
    if radius is None:
        return None, None
    at_cheek = _in_unit_of(radius, fillet.chamfer_to_fillet.kernel(to_si(radius), 0.0))
    if lacking:
        return None, at_cheek
    widths = [to_si(engine.rod.width)] * (1 + len(here.sharing))
    room = fits.rod_side_clearance.kernel(to_si(engine.crank.pin_width), *widths)
    sizes = to_si(radius), 0.0, room / (len(widths) + 1), engine.values["rod_clearance"] / 2
    return _in_unit_of(radius, fillet.chamfer_to_fillet.kernel(*sizes)), at_cheek


def next_angle(engine, fitted, crank_angle=None):
    """Return (cylinder, crank angle) of the pin that is next at the bottom of its bore, or None.

    Of the cylinders not yet `fitted`; `crank_angle`, 0 when not given, and what is returned count
    from the first cylinder's top. The crank turns in its running direction only.
    """
    for number in fitted:
        _cylinder(engine, number)
    left = [step for step in sequence(engine, crank_angle) if step[0] not in fitted]
    return left[0] if left else None


def sequence(engine, crank_angle=None):
    """Return [(cylinder, crank angle to set)] in the order that turns the crank least.

    Each working pin is at the bottom of its own bore; angles as in `next_angle`. Of cylinders that
    share an angle the file's first comes first.
    """
    start = 0.0 if crank_angle is None else crank_angle.m_as(_DEG)
    at = {number: (top + 180) % 360 for number, top in _tops(engine.layout).items()}
    order = sorted(at, key=lambda number: round(at[number] - start, 6) % 360)
    return [(number, Q(at[number], _DEG)) for number in order]


def _tops(layout):
    """Return {number: degrees at its top}, without the last digits' noise."""
    return {number: round(top, 9) % 360 for number, top in layout.tdc_angles().items()}


def _cylinder(engine, number):
    found = [each for each in engine.layout.cylinder if each.number == number]
    if not found:
        known = ", ".join(map(str, engine.layout.numbers))
        raise ValueError(f"cylinder {number!r} is not in the engine; take one of {known}")
    return found[0]


def _outward(cylinder):
    """Return which way is out, or left, in the front view with the bore upright: + right."""
    return -1 if cylinder.bank == "right" else 1


def _side(layout, cylinder, right):
    """Return the name of a side of a cylinder: `right` is + to the right in the front view."""
    outer, inner = SIDES[layout.kind]
    return outer if right * _outward(cylinder) > 0 else inner


def _in_unit_of(quantity, value):
    return Q(float(value), "m").to(quantity.units)
