"""How sure we are, as a bar of tenths; the word and the number stand beside it in the page's own text."""

from garden.figures.svg import PAPER, Palette, finish, finite, frame, shape


def likelihood_bar(
    probability: float, *, title: str, desc: str = "", palette: Palette = PAPER, key: str = ""
) -> str:
    """A bar filled from the left, with a tick at each tenth.

    probability: 0..1; what lies outside is drawn as the nearer end, not-a-number as 0.
    title: the accessible name, which must say the likelihood in words. key: see `svg.frame`. Raises nothing.
    """
    width, height = 200.0, 14.0
    share = min(max(finite(probability) or 0.0, 0.0), 1.0)
    svg = frame("likelihood", width, height, title, desc or title, key=key)
    shape(
        svg, "rect", "fig-track",
        x=0.5, y=0.5, width=199, height=13, fill=palette.ground, stroke=palette.line, stroke_width=1,
    )  # fmt: skip
    if share:
        shape(svg, "rect", "fig-for", x=0.5, y=0.5, width=199 * share, height=13, fill=palette.leans_for)
    for tenth in range(1, 10):
        x = 0.5 + 19.9 * tenth
        stroke = palette.ground if x < 0.5 + 199 * share else palette.line
        shape(svg, "line", "fig-tick", x1=x, y1=1, x2=x, y2=13, stroke=stroke, stroke_width=0.8)
    return finish(svg)
