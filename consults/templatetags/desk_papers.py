"""The links to what can be printed about a case, a plan or a question."""

from typing import Any

from django import template
from django.urls import reverse

from consults.cases.papers import papers_about

register = template.Library()


@register.inclusion_tag("cases/_papers.html")
def papers(about: str, pk: int) -> dict[str, Any]:
    """A list of links; nothing where nothing can be printed. `about` is "case", "plan" or "question"."""
    return {
        "papers": [(paper.name, reverse(paper.url_name, args=[pk])) for paper in papers_about(about)],
    }
