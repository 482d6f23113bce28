"""Small drawings as accessible SVG text: pure functions, no Django, no files.

Every figure has `role="img"`, a `<title>` and a `<desc>`, carries no style attribute (the site forbids
inline styles) and gives each shape a class (`fig-wide`, `fig-narrow`, `fig-mark`, `fig-ghost`, `fig-for`,
`fig-against`, `fig-text` …). On the site the stylesheet colours the classes; on paper the presentation
attributes, taken from a `Palette`, stand.
"""

from garden.figures.bands import BandLabels, BandRow, band_figure, describe_bands, gauge_svg
from garden.figures.evidence import EvidenceLabels, EvidenceRow, evidence_bars
from garden.figures.likelihood import likelihood_bar
from garden.figures.svg import PAPER, Palette

__all__ = [
    "PAPER",
    "BandLabels",
    "BandRow",
    "EvidenceLabels",
    "EvidenceRow",
    "Palette",
    "band_figure",
    "describe_bands",
    "evidence_bars",
    "gauge_svg",
    "likelihood_bar",
]
