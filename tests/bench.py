"""`make bench`: how fast, as ratios taken inside one run, each beside its aim.

Variants take turns and the median ratio is kept, so a busy machine slows both sides alike.
"""

import math
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from nbformat import write
from nbformat.v4 import new_code_cell, new_notebook

from enginecalc.crank import (
    motion,
    piston_acceleration,
    piston_position,
    piston_velocity,
    rod_ratio,
)
from enginecalc.records import block_clearances, folder, load_engine, phase_map
from enginecalc.records.clearances import valve_train
from enginecalc.units import Q, to_si, ureg
from enginecalc.views import figures
from enginecalc.views.apps.block_clearance import BlockClearanceChapter
from enginecalc.views.apps.piston_to_valve import PistonToValveChapter
from enginecalc.views.apps.plan import PlanChapter
from tests import bench_ledger, bench_sheet
from tests.lab import ROOT, lab, open_and_run, page, why_not
from tests.timing import ratio


def decorated_over_raw():
    angles = np.linspace(0, 2 * np.pi, 1_000_000)
    typed, stroke, rod = Q(angles, "rad"), Q(86, "mm"), Q(143, "mm")
    return ratio(
        lambda: piston_position(typed, stroke, rod),
        lambda: piston_position.kernel(angles, 0.086, 0.143),
    )


def call_over_quantity():
    stroke, rod, unit = Q(86.0, "mm"), Q(143.0, "mm"), ureg.Unit("mm")
    return ratio(lambda: rod_ratio(stroke, rod), lambda: Q(86.0, unit), calls=2000)


def fused_over_three():
    angles = np.linspace(0, 2 * np.pi, 1_000_000)
    crank = angles, 0.086, 0.143
    three = (piston_velocity.kernel, piston_acceleration.kernel)
    return ratio(
        lambda: motion(*crank, 628.0),
        lambda: (piston_position.kernel(*crank), *(each(*crank, 628.0) for each in three)),
    )


def import_over_pint():
    def run(code):
        return lambda: subprocess.run([sys.executable, "-c", code], check=True)

    ours = run("import enginecalc.crank")
    theirs = run("import pint; pint.UnitRegistry(cache_folder=':auto:').Unit('mm')")
    return ratio(ours, theirs, rounds=9)


def compute_over_draw(chapter, path, sizes):
    """Return what a changed field costs to work out over what it costs to draw."""
    texts = (f"{size:.4f} in" for size in np.linspace(*sizes, 1000))

    def compute():
        chapter.drafts()[path] = next(texts)  # as a person's typing does: nothing is kept for it
        engine = chapter.base.altered(chapter.typed())
        return engine.remarks, chapter.results(engine)

    found = compute()[1]

    def draw():
        for figure, words in zip(chapter.figures, chapter.draw(found)[1], strict=True):
            figures.svg(figure, words)

    return ratio(compute, draw)


def map_over_broadcast():
    """Return the time of a 41 x 41 phase map over a plain one, and its error in mm.

    The plain one is the gap of both valves at every cell over the cam's whole turn, by 0.25 deg.
    """
    engine = load_engine(folder("engines") / "quarry-pump-v8.toml")
    advance, separation = np.linspace(-6, 14, 41), np.linspace(99, 119, 41)
    angle = np.radians(np.arange(-360, 360, 0.25))

    def ours():
        return phase_map(engine, Q(advance, "deg"), Q(separation, "deg"))

    def broadcast(angle=angle):
        found = {}
        for valve, sign in (("intake", 1), ("exhaust", -1)):
            lobe, _, train = valve_train(engine, valve)
            center = np.radians(sign * separation - advance[:, None])[..., None]
            off = np.mod(angle - center + 2 * np.pi, 4 * np.pi) - 2 * np.pi
            lift = np.maximum(train["rocker_ratio"] * lobe.lift(off) - train["lash"], 0)
            room = train["drop_at_tdc"] + np.cos(train["valve_angle"]) * piston_position.kernel(
                angle, train["stroke"], train["rod_length"]
            )
            found[valve] = np.min(room - lift, axis=-1)
        return found

    made, error = ours(), 0.0
    for row in (0, 20, 40):  # against a grid a thousand times finer about the plain one's minimum
        for valve in ("intake", "exhaust"):
            lobe, _, train = valve_train(engine, valve)
            sign = 1 if valve == "intake" else -1
            center = np.radians(sign * separation[row] - advance[row])
            fine = np.radians(np.arange(-30, 30, 0.00025))
            lift = np.maximum(train["rocker_ratio"] * lobe.lift(fine - center) - train["lash"], 0)
            depth = piston_position.kernel(fine, train["stroke"], train["rod_length"])
            room = train["drop_at_tdc"] + np.cos(train["valve_angle"]) * depth
            exact = np.min(room - lift)
            error = max(error, abs(getattr(made, valve)[row, row].m_as("m") - exact))
    return ratio(ours, broadcast, rounds=5), Q(error, "m").m_as("mm")


def block_over_loop():
    """Return the time of all pairs of a V8 over a plain loop by the degree through two turns.

    The loop does what a first draft would: every cylinder, disc and degree in Python, rails, bore
    edges, nose circle and both lobes, each lobe as the greatest over 72 directions.
    """
    engine = load_engine(folder("engines") / "quarry-pump-v8.toml")
    return ratio(lambda: block_clearances(engine), lambda: plain_block(engine), rounds=3)


def plain_block(engine):
    values, block = engine.values, engine.block
    throw, rod = values["crank.stroke"] / 2, values["rod.length"]
    away, low, high = (to_si(e) for e in (block.rail_offset, block.rail_bottom, block.rail_top))
    edge, half = to_si(block.bore_bottom), values["block.bore"] / 2
    cam, base = to_si(block.cam_height), to_si(engine.camshaft.base_radius)
    discs = [[to_si(e) for e in (d.x, d.y, d.radius)] for d in engine.rod.outline]
    least = {}
    for number, cylinder in enumerate(engine.layout.cylinder, 1):
        bank = math.radians(45 if cylinder.bank == "left" else -45)
        face = 1 if number % 2 else -1
        for degree in range(720):
            angle = math.radians(degree)
            swing, foot = throw * math.sin(angle), throw * math.cos(angle)
            rise = math.sqrt(rod * rod - swing * swing)
            for x, y, radius in discs:
                px = swing + face * x * rise / rod - y * swing / rod
                py = foot + face * x * swing / rod + y * rise / rod
                right = px * math.cos(bank) + py * math.sin(bank)
                up = py * math.cos(bank) - px * math.sin(bank)
                gaps = [
                    math.hypot(right - side * away, up - min(max(up, low), high)) - radius
                    for side in (-1, 1)
                ]
                gaps += [math.hypot(px - side * half, py - edge) - radius for side in (-1, 1)]
                gaps.append(math.hypot(right, up - cam) - radius - base - 0.345 * 0.0254)
                for lift, wide, center in ((0.340, 142, 105), (0.345, 146, -113)):
                    top, most = math.radians(360 + center), -math.inf
                    for turned in range(0, 360, 5):
                        at = math.radians(turned)
                        on = (angle - top - 2 * (at - bank)) % (4 * math.pi)
                        part = min(on, 4 * math.pi - on) / math.radians(wide)
                        raised = lift * 0.0254 * (1 - part * part) ** 2 if part < 1 else 0.0
                        reach = right * math.sin(at) + (up - cam) * math.cos(at)
                        most = max(most, reach - base - raised)
                    gaps.append(most - radius)
                for pair, gap in enumerate(gaps):
                    least[number, pair] = min(gap, least.get((number, pair), math.inf))
    return least


REPLOTTED = """%matplotlib inline
import ipywidgets, matplotlib.pyplot as plt
from enginecalc.views.apps.plan import PlanChapter
chapter = PlanChapter()
def plot(stroke):
    chapter.figures = [
        plt.figure(figsize=size, layout="constrained") for size in chapter.figure_sizes
    ]
    chapter.make_artists()
    chapter.draw(chapter.results(chapter.base.altered({"crank.stroke": f"{stroke} in"})))
    plt.show()
slider = ipywidgets.FloatSlider(min=3.6, max=3.9, step=0.001, value=3.7)
ipywidgets.VBox([slider, ipywidgets.interactive_output(plot, {"stroke": slider})])"""
WATCH = """picture => {
    window.waits = [];
    const all = () => [...document.querySelectorAll(picture)];
    const look = () => all().map(each => each.innerHTML || each.src).join();
    document.addEventListener('keydown', () => {
        const start = performance.now(), before = look();
        const frame = () => look() === before
            ? requestAnimationFrame(frame) : window.waits.push(performance.now() - start);
        requestAnimationFrame(frame);
    }, true);
}"""


def waits(opened, address, notebook, slider, picture, presses=30):
    """Return the times in ms from a key press on a slider to another picture on the page."""
    open_and_run(opened, address, notebook)
    opened.locator(picture).first.wait_for(timeout=60_000)
    opened.wait_for_timeout(1500)
    opened.evaluate(WATCH, picture)
    opened.locator(slider).first.focus()
    for count in range(1, presses + 1):
        opened.keyboard.press("ArrowRight")
        opened.wait_for_function(f"() => window.waits.length >= {count}")
        opened.wait_for_timeout(60)
    return sorted(opened.evaluate("() => window.waits"))


def browser_over_replot():
    """Return median and p95 of the chapter over those of the same figure plotted anew."""
    with tempfile.TemporaryDirectory() as folder:
        books = Path(folder) / "books"
        books.mkdir()
        (books / "chapter.ipynb").write_bytes(
            (ROOT / "notebooks/01_plan_the_combination.ipynb").read_bytes()
        )
        kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
        replotted = new_notebook(cells=[new_code_cell(REPLOTTED)], metadata=kernel)
        write(replotted, books / "replotted.ipynb")
        with lab(folder, books) as address, page() as opened:
            field = ".enginecalc-field:has-text('stroke') .noUi-handle"
            kept = waits(opened, address, "chapter.ipynb", field, ".enginecalc-picture svg")
            anew = waits(opened, address, "replotted.ipynb", ".noUi-handle", ".jp-OutputArea img")
    at = int(0.95 * len(kept))
    print(f"  slider to picture: {kept[len(kept) // 2]:.0f} ms median, {kept[at]:.0f} ms p95;"
          f" plotted anew: {anew[len(anew) // 2]:.0f} and {anew[at]:.0f} ms")  # fmt: skip
    return kept[len(kept) // 2] / anew[len(anew) // 2], kept[at] / anew[at]


def main():
    rows = [
        ("decorated / raw kernel, 1e6 angles", decorated_over_raw(), 1.1),
        ("one call with two scalars / building one Quantity", call_over_quantity(), 2.5),
        ("position, velocity, acceleration fused / three", fused_over_three(), 0.6),
        ("import enginecalc.crank / pint, registry, one unit", import_over_pint(), 1.1),
        (
            "chapter 01 refresh: compute part / draw part",
            compute_over_draw(PlanChapter(), "crank.stroke", (3.6, 3.9)),
            0.1,
        ),
        (
            "chapter 04 refresh: compute part / draw part",
            compute_over_draw(PistonToValveChapter(), "intake.lash", (0.010, 0.020)),
            0.2,
        ),
        (
            "chapter 05 refresh: compute part / draw part",
            compute_over_draw(BlockClearanceChapter(), "crank.stroke", (3.7, 3.9)),
            0.3,
        ),
    ]
    took, error = map_over_broadcast()
    rows += [("41 x 41 phase map, both valves / 0.25 deg broadcast", took, 0.01)]
    rows += [("error of that map [mm]", error, 1e-6)]
    rows += [("all pairs in a V8's block / plain loop by the degree", block_over_loop(), 1 / 50)]
    rows += [(name, measure(), aim) for name, measure, aim in bench_ledger.ROWS]
    rows += [(name, measure(), aim) for name, measure, aim in bench_sheet.ROWS]
    if why_not():
        print(f"No browser figures: {why_not()}.")
    else:
        median, p95 = browser_over_replot()
        rows += [("slider to new picture / plotted anew, median", median, 0.6)]
        rows += [("slider to new picture / plotted anew, p95", p95, 0.6)]
    print(f"{'ratio':52} {'measured':>9} {'aim':>7}")
    for name, measured, aim in rows:
        print(f"{name:52} {measured:9.3g} {f'≤ {aim:g}':>7} {'' if measured <= aim else ' over'}")


if __name__ == "__main__":
    main()
