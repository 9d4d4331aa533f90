"""The base of drawings that are not to scale: axes without a frame, and artists that are kept."""

from matplotlib.patches import Circle, FancyArrowPatch, Polygon

NEIGHBOR = "#D9D9D9"  # of the rod that shares a crank pin


class Schematic:
    """Axes without a frame, equal scales, and the artists that a drawing keeps."""

    def __init__(self, ax, title, x, y):
        self.ax = ax
        ax.set_aspect("equal")
        ax.set_axis_off()
        ax.set(xlim=x, ylim=y)
        self.title = ax.set_title(title, fontsize=9.5, pad=3, parse_math=False)

    def _text(self, size=9, **style):
        style = {"ha": "center", "va": "center", "parse_math": False, **style}
        return self.ax.text(0, 0, "", fontsize=size, **style)

    def _polygon(self, **style):
        return self.ax.add_patch(Polygon([(0, 0)] * 3, closed=True, **style))

    def _circle(self, radius, **style):
        return self.ax.add_patch(Circle((0, 0), radius, **style))

    def _line(self, **style):
        return self.ax.plot([], [], **style)[0]

    def _arrow(self, size, **style):
        style = {"arrowstyle": "-|>", "mutation_scale": size, "color": "black", **style}
        return self.ax.add_patch(FancyArrowPatch((0, 0), (1, 0), shrinkA=0, shrinkB=0, **style))
