"""What the tests of builds share: the demo build, and ledgers of their own beside its engine."""

import shutil
from pathlib import Path

from enginecalc.records.build import load_build
from enginecalc.records.places import measurements

DEMO = Path(__file__).parent.parent / "data" / "builds" / "quarry-pump"
SPOTS = [(way, height) for way in ("thrust", "axial") for height in ("top", "middle", "bottom")]


def build_of(folder, rows=()):
    """Return a build of the demo's engine with a ledger of its own; its first row is line 2."""
    shutil.copy(DEMO / "engine.toml", folder)
    build = load_build(folder)
    build.readings.append_many(rows)
    return build


def reading(place, name, value, direction="", height="", **more):
    """Return a row of what a `Measurement` of that name is read to be at a place."""
    (what,) = (each for each in measurements() if each.name == name)
    return {"place": place, "part": what.part, "feature": what.feature, "value": value,
            "direction": direction, "height": height, **more}  # fmt: skip


def bore(number, size, spots=SPOTS, **more):
    """Return readings of a bore: one size for all, or {height: size}."""
    size = size if isinstance(size, dict) else dict.fromkeys(("top", "middle", "bottom"), size)
    more = {"temperature": "20 degC", "resolution": "0.0001 in", **more}
    return [reading(number, "bore diameter", f"{size[height]:.4f} in", way, height, **more)
            for way, height in spots]  # fmt: skip


def pistons(sizes):
    """Return a reading of each piston, from cylinder 1 on."""
    return [reading(number, "piston diameter", f"{size:.4f} in", "", "gauge point",
                    temperature="20 degC") for number, size in enumerate(sizes, 1)]  # fmt: skip
