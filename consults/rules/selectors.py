"""Reads the rules in force, and lays them out for the page about them."""

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.db.models import QuerySet
from django.utils.functional import Promise
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from consults.models import RulesetVersion
from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import Ruleset, load_bundled, reference_codes
from consults.ruleset.schema import Cause
from garden.reference.loader import text
from garden.reference.schema import NO_SOURCE, Source

log = logging.getLogger("desk.rules")

GROUPS: dict[str, Promise] = {
    "watering": gettext_lazy("Watering"),
    "nutrition": gettext_lazy("Nutrition"),
    "climate": gettext_lazy("Climate"),
    "light": gettext_lazy("Light"),
    "propagation": gettext_lazy("Propagation"),
    "pests": gettext_lazy("Pests"),
    "diseases": gettext_lazy("Diseases"),
    "chemical": gettext_lazy("Chemicals"),
    "other": gettext_lazy("Other"),
}
STRENGTH_WORDS: dict[str, Promise] = {
    "almost-always": gettext_lazy("almost always"),
    "often": gettext_lazy("often"),
    "sometimes": gettext_lazy("sometimes"),
    "rarely": gettext_lazy("rarely"),
}
PRIOR_WORDS: dict[str, Promise] = {
    "common": gettext_lazy("common"),
    "fairly-common": gettext_lazy("fairly common"),
    "uncommon": gettext_lazy("uncommon"),
    "rare": gettext_lazy("rare"),
}
STATUS_WORDS: dict[str, Promise] = {
    "read": gettext_lazy("read"),
    "read-in-copy": gettext_lazy("read in a copy"),
    "memory": gettext_lazy("from memory"),
    "common-practice": gettext_lazy("common practice"),
}


def ruleset_current() -> Ruleset:
    """The rules last published by a manager, else those that came with the program."""
    version = versions_published().values_list("version", flat=True).first()
    if version is None:
        return load_bundled()
    try:
        return ruleset_by_version(version)
    except RulesetError:
        # A newer program may refuse what an older one accepted: consults must go on, and someone must know.
        log.exception("The published rules %s cannot be used any more; the bundled ones are used", version)
        return load_bundled()


@lru_cache(maxsize=8)
def ruleset_by_version(version: str) -> Ruleset:
    """The stored rules of that version; content never changes under one version, so they are kept.

    Raises RulesetVersion.DoesNotExist, and RulesetError when the content can no longer be read.
    """
    bundled = load_bundled()
    if bundled.version == version:
        return bundled
    content = RulesetVersion.objects.values_list("content", flat=True).get(version=version)
    return Ruleset.from_json(content, reference_codes())


def versions_published() -> QuerySet[RulesetVersion]:
    """Published versions, the one in force first, without their long content."""
    rows = RulesetVersion.objects.filter(published_at__isnull=False).order_by("-published_at", "-pk")
    return rows.select_related("published_by").defer("content")


@dataclass(frozen=True)
class CauseEntry:
    """One cause as the page shows it."""

    code: str
    name: str
    definition: str
    prior: str
    findings: tuple[tuple[str, str], ...]
    wrong_cost: str
    sources: tuple[str, ...]


@dataclass(frozen=True)
class CauseGroup:
    name: str
    causes: tuple[CauseEntry, ...]


def rules_overview(ruleset: Ruleset) -> dict[str, Any]:
    """Counts and causes by group, in the reader's language."""
    lang = get_language() or "en"
    counts = [
        (_("causes"), len(ruleset.causes)),
        (_("findings"), len(ruleset.findings)),
        (_("practices"), len(ruleset.practices)),
        (_("reading conditions"), len(ruleset.conditions)),
        (_("cautions"), len(ruleset.cautions)),
        (_("sources"), len(ruleset.sources)),
    ]
    groups = []
    for code, name in GROUPS.items():
        found = [cause for cause in ruleset.causes.values() if cause.group == code]
        entries = sorted((_entry(cause, ruleset, lang) for cause in found), key=lambda entry: entry.name)
        if entries:
            groups.append(CauseGroup(str(name), tuple(entries)))
    return {"counts": counts, "groups": groups}


def _entry(cause: Cause, ruleset: Ruleset, lang: str) -> CauseEntry:
    order = list(STRENGTH_WORDS)
    links = sorted(cause.findings, key=lambda link: order.index(link.strength))
    return CauseEntry(
        code=cause.code,
        name=text(cause.name, lang),
        definition=text(cause.definition, lang),
        prior=str(PRIOR_WORDS[cause.prior]),
        findings=tuple(
            (text(ruleset.findings[link.finding].name, lang), str(STRENGTH_WORDS[link.strength]))
            for link in links
        ),
        wrong_cost=text(cause.wrong_cost, lang),
        sources=tuple(_source_lines(cause, ruleset)),
    )


def _source_lines(cause: Cause, ruleset: Ruleset) -> Iterator[str]:
    links = (cause.prior_factors, cause.findings, cause.readings, cause.practices)
    for code in dict.fromkeys(link.source for part in links for link in part):
        if code in ruleset.sources:
            yield _source_line(ruleset.sources[code])
        elif code == NO_SOURCE:
            yield _("Common practice, no source.")
        else:
            yield code


def _source_line(source: Source) -> str:
    year = f" ({source.year})" if source.year else ""
    status = _("How far we read it: %(status)s.") % {"status": STATUS_WORDS[source.status]}
    return f"{source.authors}{year}: {source.title}. {source.publisher}. {status}"
