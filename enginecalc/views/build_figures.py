"""Drawings of a build: what is measured, the form of its bores, its clearances, before and after.

They compute nothing but where to put things, and are drawn anew whenever they are placed; `place`
returns in words what a drawing shows, for those who cannot see it.
"""

import numpy as np

from enginecalc.records.doubts import cannot_be
from enginecalc.records.figures import FITS
from enginecalc.records.fit_results import worst_first
from enginecalc.units import Q
from enginecalc.views import tables
from enginecalc.views.build_map import BANKS, BOLD, BlockMap, Drawing
from enginecalc.views.figures import CRANK, LIMIT, PISTON

__all__ = ["BeforeAfter", "BlockMap", "BoreMap", "FitStrip"]

_STEPS = {"inch": ("inch", 1e4, "0.0001 in"), "metric": ("mm", 1e3, "0.001 mm")}


class BoreMap(Drawing):
    """How far each bore's readings are off the planned bore: thrust and axial, by height.

    Cylinders stand as in the block from above. Made for a figure 7.5 in wide and 6 in high.
    """

    def place(self, build, system, about_mean=False):
        """Draw all bores, off the planned one or off their mean; return the farthest in words."""
        (unit, steps, fine), banks = _STEPS[system], build.engine.layout.by_bank()
        means = {each: build.mean("bore", "diameter", each) for each in build.cylinders}
        sizes = {(number, *spot[:2]): Q(size, "m") for number, mean in means.items() if mean
                 for spot, size in mean.spots.items()}  # fmt: skip
        zero = sum(sizes.values()) / len(sizes) if about_mean and sizes else build.engine.block.bore
        off = {spot: (size - zero).m_as(unit) * steps for spot, size in sizes.items()}
        reach = max(5.0, 1.5 * np.quantile(np.abs([*off.values()] or [0]), 0.9))
        low = -4.2 * max(map(len, banks.values()))
        self._wipe((-0.2, 11.0 * len(banks) - 0.6), (low - 1.3, 2.7))
        said = f"{'mean' if about_mean else 'planned'} {tables.say(FITS[0], zero, system)}"
        said = f"bores in {fine}, over (+) or under (−) the {said}"
        self._write(11.0 * len(banks) / 2 - 0.4, 2.3, said, 11)
        for at, (bank, numbers) in enumerate(banks.items()):
            front = "▲ front" + f" · {bank} bank" * (len(banks) > 1)
            self._write(11.0 * at + 6.2, 1.1, front, 10, **BOLD)
            for row, number in enumerate(numbers):
                self._bore(11.0 * at, -4.2 * row, number, off, reach)
        self._write(0.0, low - 0.2, "● thrust · □ axial · ◀ ▶ beyond the frame", ha="left")
        self._write(0.0, low - 0.9, BANKS if len(banks) > 1 else "Seen from above.", ha="left")
        if not off:
            return "no bore is measured"
        spot = max(off, key=lambda each: abs(off[each]))
        where = ", ".join(filter(None, spot[1:]))
        return f"{said}; farthest: cylinder {spot[0]}, {where}, {_signed(off[spot])}"

    def _bore(self, left, top, number, off, reach):
        """Draw one bore: a line for each height and direction, its figure beside the dot."""
        self._write(left + 0.5, top - 1.5, str(number), 14, **BOLD)
        self._box(left + 2.6, top - 3.5, 7.2, 3.9, "#F7F7F7")
        self.ax.plot([left + 6.2] * 2, [top - 3.5, top + 0.4], color=LIMIT, lw=1, ls="--")
        for at, height in enumerate(("top", "middle", "bottom")):
            self._write(left + 2.4, top - 1.25 * at - 0.27, height, ha="right")
            for way, y in (("thrust", top - 1.25 * at), ("axial", top - 1.25 * at - 0.55)):
                size = off.get((number, way, height))
                if size is None:
                    self._write(left + 6.4, y, "missing", 8, ha="left", style="italic")
                    continue
                x = left + 6.2 + 2.6 * np.clip(size / reach, -1, 1)
                mark = {"thrust": "o", "axial": "s"}[way] if abs(size) <= reach else "<>"[size > 0]
                self.ax.plot(x, y, mark, ms=5, color=PISTON, gid=f"{number} {way} {height}",
                             mfc="white" if mark == "s" else PISTON)  # fmt: skip
                over = {"fc": "#F7F7F7", "ec": "none", "pad": 0.5}
                side, ha = (-0.25, "right") if size > reach else (0.25, "left")
                self._write(x + side, y, _signed(size), 8.5, ha=ha, bbox=over)


class FitStrip(Drawing):
    """Clearances against their limits, worst first, the room between limits drawn alike for all.

    Made for a figure 7.5 in wide and 5 in high.
    """

    def place(self, found, system, most=16):
        """Draw the worst of a list of `Fit`; return in words how they stand."""
        never = [fit for fit in found[::-1] if cannot_be(fit.result)]
        never = {(fit.place, fit.result.reason): fit for fit in never}
        known = [fit for fit in worst_first(found) if fit.result.value is not None
                 and (fit.result.low, fit.result.high) != (None, None)]  # fmt: skip
        rows = [*never.values(), *known]
        rows, rest = rows[:most], rows[most:]
        low = -max(len(rows), 1)
        self._wipe((-1, 106), (low - 0.7, 2.2))
        self._write(54, 1.9, "fits against their limits, worst first", 11)
        for x, words in ((43, "least"), (65, "greatest")):
            self.ax.plot([x, x], [0.55, low + 0.45], color="black", lw=2.5)
            self._write(x, 0.9, words)
        unit = tables.SHOWN[FITS[0]][system][0]
        self._write(74, 0.9, f"value and limits [{unit}]", ha="left")
        for at, fit in enumerate(rows):
            self._write(35, -at, f"{fit.place}: {tables.name_of(fit.result.name)}", ha="right")
            if fit.result.value is not None:
                self._strip(-at, fit.result, system)
            else:
                over = {"fc": "white", "ec": "none", "pad": 1}
                self._write(38, -at, fit.result.reason, ha="left", bbox=over)
        more = "these are all that are known" if rows else "nothing is known yet"
        more = f"and {len(rest)} more: {_tally(rest)}" if rest else more
        self._write(-1, low - 0.15, more, ha="left")
        self._write(43, low - 0.15, "line through a dot: ± standard uncertainty", ha="left")
        cannot = f"{len(never)} cannot be, " if never else ""
        worst = f"; worst: {rows[0].place}, {tables.name_of(rows[0].result.name)}" if rows else ""
        return f"fits against their limits: {cannot}{_tally(known)}{worst}"

    def _strip(self, y, result, system):
        """Draw the strip of a clearance, its dot, and its figures in words."""
        value, low, high, u = (None if each is None else each.m_as("mm") for each in
                               (result.value, result.low, result.high, result.u))  # fmt: skip
        wide = high - low if None not in (low, high) else abs(high if low is None else low)
        ends = 43 if low is not None else 38, 65 if high is not None else 70
        self._box(ends[0], y - 0.3, ends[1] - ends[0], 0.6, "#E5E5E5", lw=0)
        x = 43 + 22 * (value - low) / wide if low is not None else 65 - 22 * (high - value) / wide
        spread = np.clip([x - 22 * (u or 0) / wide, x + 22 * (u or 0) / wide], 38, 70)
        self.ax.plot(spread, [y, y], color="black", lw=1.2)
        mark = "<" if x < 38 else ">" if x > 70 else "o"
        self.ax.plot(np.clip(x, 38, 70), y, mark, ms=7, color="black", gid=f"row {-y}",
                     mfc=LIMIT if result.status == "outside" else "black")  # fmt: skip
        told = tables.say(result.name, result.value, system, result.u, with_unit=False)
        should = tables.say_limits(result, system, with_unit=False, with_source=False)
        for words, sign in (("at least", "≥"), ("at most", "≤"), (" to ", "–")):
            should = should.replace(words, sign)
        self._write(74, y, f"{told}, {result.status}: {should}", ha="left")


class BeforeAfter(Drawing):
    """Clearances place by place before and after matching, with limits and target as lines.

    Made for a figure 6.5 in wide and 3.5 in high.
    """

    def place(self, matching, name="clearance", system=None):
        """Draw a `Matching`; return in words from what to what it goes.

        In the unit of its readings when no unit system is given.
        """
        ax, choice, x = self.ax, matching.choice, np.arange(len(matching.places))
        ax.clear()
        unit = tables.SHOWN[FITS[0]][system][0] if system else matching.unit
        decimals, scale = {"in": (4, 0.0254), "mm": (3, 0.001)}[unit]
        before, after, target = (each / scale for each in
                                 (choice.before, choice.after, choice.target))  # fmt: skip
        ax.vlines(x, before, after, color=CRANK, lw=1)
        ax.plot(x, before, "o", color=CRANK, mfc="white", ms=10, mew=1.5, label="before")
        ax.plot(x, after, "D", color=PISTON, ms=6, label="after")
        ax.plot(x, target, ls=":", color="black", lw=1.4, label="target")
        for limit, words in ((matching.low, "least"), (matching.high, "greatest")):
            if limit is not None:
                ax.axhline(limit / scale, color=LIMIT, ls="--", lw=1.2)
                words = f"{words} {limit / scale:.{decimals}f}"
                ax.text(x[-1] + 0.4, limit / scale, words, fontsize=9, va="bottom")
        if np.ptp(target) == 0:
            at = f"target {target[0]:.{decimals + 1}f}"
            ax.text(x[-1] + 0.4, target[0], at.removesuffix("0"), fontsize=9, va="center")
        kind = matching.places[0].rpartition(" ")[0]
        ax.set_xticks(x, [place.rpartition(" ")[2] for place in matching.places])
        ax.set(xlim=(-0.6, 1.25 * x[-1] + 1), xlabel=kind, ylabel=f"{name} [{unit}]")
        ax.yaxis.set_major_formatter(f"{{x:.{decimals}f}}")
        ax.grid(axis="y", alpha=0.3)
        ax.margins(y=0.15)
        ax.legend(loc="lower center", bbox_to_anchor=(0.5, 1), ncols=3, fontsize=9, frameon=False)
        spans = [f"{each.min():.{decimals}f} to {each.max():.{decimals}f} {unit}"
                 for each in (before, after)]  # fmt: skip
        return f"{name} before: {spans[0]}; after: {spans[1]}"


def _signed(size):
    return tables.number(size, 0, signed=True).replace("-", "−")


def _tally(fits):
    """Return "3 outside, 2 close" of a list of fits."""
    words = [fit.result.status for fit in fits]
    counts = [f"{words.count(each)} {each}" for each in ("outside", "close", "within")]
    return ", ".join(each for each in counts if not each.startswith("0 ")) or "none is known"
