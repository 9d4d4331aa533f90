"""What a file says of its rod bolts: what cannot be, the friction, the pieces that stretch."""

import numpy as np

from enginecalc.records.reference import rows
from enginecalc.units import Q, short

NOT_NAMED = (
    "rod_bolt.lubricant: not named. A torque belongs to one lubricant; name the one the bolt's"
    " maker gives it for"
)
INTO_YIELD = (
    "rod_bolt.yield_tightened: a bolt turned into yield, by torque and then an angle, follows no"
    " preload, stretch or stress given here and is used once; follow its maker"
)


def bolt_faults(bolt):
    """Yield a sentence for each figure of a rod bolt that cannot be."""
    low, middle, high = bolt.friction_low, bolt.friction, bolt.friction_high
    if None not in (low, high) and low > high:
        yield f"rod_bolt.friction_low: {low:g} is more than friction_high, {high:g}: swapped?"
    elif middle is not None and not (low or 0) <= middle <= (high or np.inf):
        yield f"rod_bolt.friction: {middle:g} is not between friction_low and friction_high"
    for key in ("friction_low", "friction", "friction_high"):
        if (getattr(bolt, key) or 0) >= 1:
            yield f"rod_bolt.{key}: {getattr(bolt, key):g} is not below 1; write 8 % as 0.08"
    yield from piece_faults(bolt)
    snug, torque = bolt.snug_torque, bolt.torque
    if None not in (snug, torque) and snug >= torque:
        yield (
            f"rod_bolt.snug_torque: {short(snug)} is not less than the torque of {short(torque)}:"
            " swapped?"
        )


def piece_faults(bolt):
    """Yield a sentence for each size that a piece of a rod bolt's shank lacks."""
    for at, piece in enumerate(bolt.shank or [], 1):
        for key in ("length", "diameter"):
            if getattr(piece, key) is None:
                yield f"rod_bolt.shank.row {at}: {key} is missing; measure it or take the piece out"


def bolt_pieces(bolt):
    """Return lengths and areas of the pieces of a rod bolt that stretch; None, None without any."""
    if not bolt.shank:
        return None, None
    lengths, diameters = (
        Q(np.array([getattr(each, key).m_as("m") for each in bolt.shank]), "m")
        for key in ("length", "diameter")
    )
    return lengths, np.pi / 4 * diameters**2


def known_friction(lubricant):
    """Return the row of a lubricant in the table of friction, or None."""
    found = rows("friction", "lubricant").items()
    return next((row for name, row in found if name and same_words(name, lubricant)), None)


def friction_of(bolt):
    """Return (least, middle, greatest) friction of a rod bolt, and where they come from.

    Of the file, else of its lubricant in the table; None and "" where neither has them.
    """
    given, whence = (bolt.friction_low, bolt.friction_high), "the engine file"
    row = known_friction(bolt.lubricant)
    if given == (None, None) and row is not None:
        given = _ends(row)
        whence = f"the table of friction, {row['lubricant']} on {row['surface']}: {row['source']}"
    if None in given:
        return None, ""
    low, high = given
    return (low, (low + high) / 2 if bolt.friction is None else bolt.friction, high), whence


def friction_doubts(bolt, friction_from):
    """Yield what is doubtful in the friction that was taken."""
    row = known_friction(bolt.lubricant)
    if friction_from.startswith("the table"):
        yield f"rod_bolt.friction_low and friction_high are not in the file: from {friction_from}"
    elif friction_from and row and _ends(row) != (bolt.friction_low, bolt.friction_high):
        low, high = _ends(row)
        yield (
            "rod_bolt.friction_low and friction_high are not those known of"
            f" {row['lubricant']}, {low:g} and {high:g}: of another lubricant?"
        )


def no_lubricant(text):
    """Say whether a text names no lubricant: it is None, or says that nobody knows."""
    return text is None or text.strip().casefold() in ("none", "unknown", "?", "-", "n/a", "")


def same_words(one, other):
    """Say whether two texts are the same but for capitals and spaces."""
    return one.casefold().split() == other.casefold().split()


def _ends(row):
    return float(row["friction_low"]), float(row["friction_high"])
