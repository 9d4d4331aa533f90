"""The piston's motion step by step in symbols, from the right triangle under the rod.

The steps need sympy, an extra of the developers; without it a sentence says so.
"""

_WITHOUT = (
    "The steps are worked out by sympy, which is not installed here: type `pip install sympy` in a"
    " terminal and run this cell again."
)
_TERMS = 7  # highest power of the crank radius over the rod length


class Prose(str):
    """A text that a notebook shows as Markdown, formulas included."""

    __slots__ = ()

    def _repr_markdown_(self):
        return str(self)


def formulas():
    """Return {name: sympy expression} of the motion, worked out from the right triangle alone.

    `position`, `velocity` and `acceleration` in the symbols t, r, L, e, omega; `orders` as
    {order: series in x}, x = r / L, of the acceleration over r omega^2 with e = 0.
    """
    import sympy as sp

    t, r, rod, e, omega, x = sp.symbols("t r L e omega x", real=True)
    position = (
        sp.sqrt((rod + r) ** 2 - e**2) - r * sp.cos(t) - sp.sqrt(rod**2 - (r * sp.sin(t) - e) ** 2)
    )
    velocity = omega * sp.diff(position, t)
    # the root as a power series in x sin t, each even power of the sine as cosines
    root = sum(
        (sp.binomial(sp.Rational(1, 2), k) * (-1) ** k * x ** (2 * k) * _even_power(sp, k, t)
         for k in range(1, _TERMS // 2 + 2)), sp.Integer(0),
    )  # fmt: skip
    shape = sp.expand(sp.diff(-sp.cos(t) - root / x, t, 2))
    orders = {order: sp.expand(shape.coeff(sp.cos(order * t))) for order in (1, 2, 4, 6)}
    return {"position": position, "velocity": velocity,
            "acceleration": omega * sp.diff(velocity, t), "orders": orders}  # fmt: skip


def _even_power(sp, k, t):
    """Return sin(t)**(2k) as a sum of cosines."""
    rest = sum((-1) ** (k - j) * sp.binomial(2 * k, j) * sp.cos(2 * (k - j) * t) for j in range(k))
    return sp.Rational(1, 4**k) * (sp.binomial(2 * k, k) + 2 * rest)


def step_by_step():
    """Return the derivation as text with formulas, or a sentence where sympy is missing."""
    try:
        import sympy as sp
    except ImportError:
        return Prose(_WITHOUT)
    made = formulas()
    orders = "\n\n".join(
        f"$$A_{order} = {_rising(sp, series)} + \\dots$$"
        for order, series in made["orders"].items()
        if order > 1
    )
    position, velocity, acceleration = (
        _short(sp, made[name]) for name in ("position", "velocity", "acceleration")
    )
    return Prose(
        "**1. Position.** Crank pin at $(r \\sin t,\\; r \\cos t)$, piston pin at $(e,\\; y)$, the"
        " rod $L$ between them: the big end stands $u = r \\sin t - e$ off the pin's line, so the"
        " rod rises $q = \\sqrt{L^2 - u^2}$. Measured down from the top, where crank and rod are in"
        f" one line,\n\n$$s = {position}$$\n\n"
        "**2. Velocity.** One derivative by $t$, with $\\dot u = \\omega r \\cos t$ and"
        f" $\\dot q = -u \\dot u / q$:\n\n$$v = {velocity}$$\n\n"
        f"**3. Acceleration.** One more:\n\n$$a = {acceleration}$$\n\n"
        "**4. Orders.** With $e = 0$ and $x = r/L$ the root is a power series in"
        " $x^2 \\sin^2 t$. Each even power of the sine is a sum of cosines of $2t$, $4t$, $6t$; two"
        " derivatives later\n\n"
        "$$\\frac{a}{r\\omega^2} = \\cos t + A_2 \\cos 2t + A_4 \\cos 4t + A_6 \\cos 6t + \\dots$$"
        f"\n\n{orders}\n\n"
        "The usual formula keeps $\\cos t + x \\cos 2t$: the first term of $A_2$ and nothing else."
    )


def _short(sp, formula):
    """Return a formula in LaTeX, written with u and q."""
    t, r, rod, e = sp.symbols("t r L e", real=True)
    u, q = sp.Symbol("u", real=True), sp.Symbol("q", positive=True)
    lean = r * sp.sin(t) - e
    short = formula.subs(rod**2 - lean**2, q**2).subs(lean, u)
    return sp.latex(short, fold_func_brackets=True)


def _rising(sp, series):
    """Return a series in LaTeX, lowest power first."""
    terms = sorted(sp.Add.make_args(series), key=lambda term: sp.degree(term))
    text = " + ".join(sp.latex(term) for term in terms)
    return text.replace("+ -", "-")
