"""The bob-weight card of an engine's crank pins, and what must be known for it."""

from enginecalc.bob_weight import bob_weight, bob_weight_lines
from enginecalc.records import figures

_LINES = {  # arguments of a bob weight: the field of each, and its words on the card
    "big_end": ("rod.mass_big_end", "big end"),
    "rod_shells": ("bearings.mass_rod_shells", "pair of rod shells"),
    "oil": ("bearings.mass_oil", "oil"),
    "piston": ("piston.mass", "piston"),
    "pin": ("piston.mass_pin", "piston pin"),
    "rings": ("piston.mass_rings", "set of rings"),
    "locks": ("piston.mass_locks", "set of locks"),
    "small_end": ("rod.mass_small_end", "small end"),
}
MASSES = tuple(path for path, _ in _LINES.values())
SHARE = "balance.reciprocating_share"
_TYPE_IT = (
    "only a 90° V with two rods on each pin has a rule, 0.5; for this engine type the figure of the"
    " crank's maker or of the balancing shop"
)


def bob_card(engine, pin=1):
    """Return the lines of the bob-weight card of a crank pin, the last one their sum.

    Parameters
    ----------
    engine : Engine
        With masses, and the share of the reciprocating mass unless it is a 90° V with two rods
        on each pin, where 0.5 is taken when none is typed.
    pin : int
        Counted from the front.

    Returns
    -------
    list
        (words, mass) for each line, in the unit of the big end's mass.

    Raises
    ------
    ValueError
        When a mass or the share is missing, or no rod sits on that pin.
    """
    rods = rods_by_pin(engine.layout)
    if pin not in rods:
        known = ", ".join(map(str, sorted(rods)))
        raise ValueError(f"bob weight: no rod sits on crank pin {pin!r}; take one of {known}")
    must_have(engine, "bob weight", (*MASSES, SHARE))
    card = card_of(engine, rods[pin], share_of(engine))
    unit = engine.rod.mass_big_end.units
    every, some = f"{rods[pin]} × ", f"{share_of(engine):g} × {rods[pin]} × "
    counts = [every, every, "", *[some] * 5]
    words = [count + each for count, (_, each) in zip(counts, _LINES.values(), strict=True)]
    total = f"bob weight of crank pin {pin}", bob_weight(**card).to(unit)
    return [*zip(words, bob_weight_lines(**card).to(unit), strict=True), total]


def must_have(engine, what, needed):
    """Raise ValueError that names every field missing, and says where to measure it."""
    absent = [path for path in needed if figures.field(engine, path) is None]
    if _right_angle_pairs(engine.layout):
        absent = [path for path in absent if path != SHARE]
    if absent:
        where = [_TYPE_IT if path == SHARE else figures.where_to_measure(path) for path in absent]
        told = "; ".join(each for each in dict.fromkeys(where) if each)
        raise ValueError(f"{what} needs {', '.join(absent)}" + (f": {told}" if told else ""))


def share_of(engine):
    """Return the share of the reciprocating mass: as typed, else the half of a 90° V."""
    typed = engine.balance.reciprocating_share
    return 0.5 if typed is None else typed


def card_of(engine, rods, share):
    """Return the arguments of `bob_weight`."""
    masses = {name: figures.field(engine, path) for name, (path, _) in _LINES.items()}
    return {"rods": rods, "reciprocating_share": share, **masses}


def rods_by_pin(layout):
    """Return {crank pin: how many rods sit on it}."""
    pins = [each.pin for each in layout.cylinder]
    return {pin: pins.count(pin) for pin in pins}


def _right_angle_pairs(layout):
    """Return True for a 90° V with two rods on each crank pin."""
    right = layout.kind == "V" and abs(layout.bank_angle.m_as("deg") - 90.0) < 1e-6
    return right and set(rods_by_pin(layout).values()) == {2}
