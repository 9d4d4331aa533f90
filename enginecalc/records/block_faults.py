"""What cannot be, or makes one doubt, of rod outline, pan rails, counterweight and camshaft."""

import numpy as np

from enginecalc.units import short, to_si


def outline_faults(engine, reported=lambda path: False):
    """Yield a sentence for every disc that is not whole.

    `reported(path)` says whether a field was complained of already.
    """
    for at, disc in enumerate(engine.rod.outline or [], 1):
        where = f"rod.outline.row {at}"
        absent = [key for key in ("x", "y", "radius") if getattr(disc, key) is None]
        if absent and not reported(where):
            yield f"{where}: {' and '.join(absent)} missing; a disc has x, y and radius"


def block_faults(engine):
    """Yield a sentence for everything around the crank that cannot be."""
    block, stroke = engine.block, engine.crank.stroke
    top, bottom = block.rail_top, block.rail_bottom
    if None not in (top, bottom) and top <= bottom:
        yield (
            f"block.rail_top: {short(top)} is not above block.rail_bottom of {short(bottom)}:"
            " swapped, or the sign of one reversed? + is above the crank's center"
        )
    elif None not in (top, bottom, block.rail_offset, stroke):
        height = max(to_si(bottom), -to_si(top), 0.0)
        if to_si(block.rail_offset) ** 2 + height**2 <= (to_si(stroke) / 2) ** 2:
            yield (
                f"block.rail_offset: {short(block.rail_offset)} puts the rail inside the crank"
                f" pins' circle of {stroke / 2:.4g~P}; measure it from the crank's center line"
            )
    sector = engine.crank.counterweight_angle
    if sector is not None and not 0 < to_si(sector) < 6.2832:
        yield (
            f"crank.counterweight_angle: {short(sector)} is not between 0 and 360 deg; give the"
            " whole angle of the sector"
        )


def cam_too_small(engine):
    """Return the sentence for a largest radius that its own lobes exceed, "" for a good one."""
    base, largest = engine.camshaft.base_radius, engine.camshaft.largest_radius
    for side, lobe in engine.lobes.items():
        if (
            None not in (base, largest, lobe)
            and to_si(largest) < to_si(base) + lobe.lobe_lift - 1e-9
        ):
            reach = (to_si(base) + lobe.lobe_lift) * largest.magnitude / to_si(largest)
            return (
                f"camshaft.largest_radius of {short(largest)} is less than base circle and {side}"
                f" lobe lift together, {reach:.4g} {largest.units:~P}"
            )
    return ""


def block_remarks(engine):
    """Yield sentences of doubt about camshaft and rod outline."""
    if said := cam_too_small(engine):
        yield said
    outline = engine.rod.outline
    if not outline:
        return
    if len(outline) < 3:
        yield f"rod.outline has {len(outline)} of the 3 discs or more that shoulders and bolts need"
    elif all(disc.y.magnitude >= 0 for disc in outline):
        yield "rod.outline has no disc below the crank pin: bolt heads missing?"
    discs = np.array([[to_si(getattr(disc, key)) for key in ("x", "y", "radius")]
                      for disc in outline])  # fmt: skip
    away, radii = np.hypot(discs[:, 0], discs[:, 1]), discs[:, 2]
    journal = engine.crank.rod_journal
    if journal is not None and max(radii - away) < to_si(journal) / 2:
        yield (
            "rod.outline has no disc that holds the crank pin of crank.rod_journal"
            f" {short(journal)}: the big end missing, or its radius in another unit?"
        )
    apart = np.hypot(*(discs[:, None, :2] - discs[:, :2]).T) - radii[:, None] - radii
    for at in np.flatnonzero(np.sum(apart < 0, axis=1) == 1) if len(outline) > 1 else ():
        yield f"rod.outline row {at + 1} touches no other disc: misread?"
    big = np.median(away + radii)
    for at in np.flatnonzero(away + radii > 1.6 * big):
        yield f"rod.outline row {at + 1} reaches far beyond the others: misread?"
