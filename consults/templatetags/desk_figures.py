"""Figures of the ground floor as template tags."""

from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from consults.cases.sentences import SaidCause
from garden.figures.bands import gauge_svg
from garden.figures.evidence import EvidenceLabels, EvidenceRow, evidence_bars
from garden.figures.likelihood import likelihood_bar

register = template.Library()


@register.simple_tag
def gauge(row: dict[str, Any]) -> SafeString:
    """A reading on its band, as a strip."""
    if row["low"] is None:
        return mark_safe("")
    verdicts = {"below": _("below"), "inside": _("inside"), "above": _("above")}
    value = (
        f"{row['shown']} {row['unit']}, {verdicts.get(row['verdict'], '')}"
        if row["shown"]
        else _("not measured")
    )
    title = _("%(name)s: %(value)s; comfortable %(band)s") % {
        "name": row["name"],
        "value": value,
        "band": row["band_shown"],
    }
    # The figure is built as XML from numbers and escaped text: safe to show.
    return mark_safe(  # noqa: S308
        gauge_svg(
            row["value"],
            row["low"],
            row["high"],
            row["wide_low"],
            row["wide_high"],
            row.get("previous"),
            title=title,
        )
    )


@register.simple_tag
def likelihood(cause: SaidCause) -> SafeString:
    """A bar as long as the cause is likely."""
    return mark_safe(likelihood_bar(cause.probability, title=f"{cause.name}: {cause.word}, {cause.chance}"))  # noqa: S308


@register.simple_tag
def evidence(cause: SaidCause) -> SafeString:
    """Reasons for leaning right, against leaning left."""
    rows = [EvidenceRow(reason.sentence, reason.bits) for reason in (*cause.supports[:6], *cause.against[:4])]
    if not rows:
        return mark_safe("")
    labels = EvidenceLabels(speaks_for=_("speaks for it"), speaks_against=_("speaks against it"))
    title = _("Reasons for and against %(cause)s") % {"cause": cause.name}
    return mark_safe(evidence_bars(rows, title=title, labels=labels))  # noqa: S308
