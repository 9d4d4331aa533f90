"""`make bench`: how fast, as ratios taken inside one run, each beside its aim.

Variants take turns and the median is kept, so a busy machine slows both sides alike.
"""

import statistics
import subprocess
import sys
import tempfile
import time
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
from enginecalc.units import Q, ureg
from enginecalc.views import figures
from enginecalc.views.apps.plan import PlanChapter
from tests.lab import ROOT, lab, open_and_run, page, why_not


def ratio(one, other, rounds=15, calls=1):
    """Return the median time of `one` over that of `other`, taking turns."""
    times = ([], [])
    for _ in range(rounds):
        for run, kept in zip((one, other), times, strict=True):
            start = time.perf_counter()
            for _ in range(calls):
                run()
            kept.append(time.perf_counter() - start)
    return statistics.median(times[0]) / statistics.median(times[1])


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


def compute_over_draw():
    chapter = PlanChapter()
    strokes = iter(np.linspace(3.6, 3.9, 1000))

    def compute():
        engine = chapter.base.altered({"crank.stroke": f"{next(strokes):.4f} in"})
        return engine.remarks, chapter.results(engine)

    found = compute()[1]

    def draw():
        for figure, words in zip(chapter.figures, chapter.draw(found)[1], strict=True):
            figures.svg(figure, words)

    return ratio(compute, draw)


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
        ("chapter 01 refresh: compute part / draw part", compute_over_draw(), 0.1),
    ]
    if why_not():
        print(f"No browser figures: {why_not()}.")
    else:
        median, p95 = browser_over_replot()
        rows += [("slider to new picture / plotted anew, median", median, 0.6)]
        rows += [("slider to new picture / plotted anew, p95", p95, 0.6)]
    print(f"{'ratio':52} {'measured':>9} {'aim':>7}")
    for name, measured, aim in rows:
        print(
            f"{name:52} {measured:9.3f} {'≤ ' + str(aim):>7} {'' if measured <= aim else ' over'}"
        )


if __name__ == "__main__":
    main()
