"""The pages on which a manager edits the draft of the rules, one piece at a time."""

from collections.abc import Callable
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from pydantic import ValidationError

from consults.errors import DeskError
from consults.models.rules import RulesDraft
from consults.rules import draft_selectors as reads
from consults.rules import drafts, words
from consults.rules.describe import Line, Names, body_lines, lines_of, name_of, part_label, part_lines
from consults.rules.differences import line_differences
from consults.rules.entry_forms import ENTRY_FORMS
from consults.rules.part_forms import PART_FORMS
from consults.rules.piece_forms import PieceForm
from consults.rules.removing import RemoveForm, entry_restore, remove_refused
from consults.rules.tables import (
    NEW,
    PARTS,
    Entry,
    StaleError,
    Tables,
    body,
    drop,
    drop_part,
    find,
    find_part,
    fingerprint,
    linking_to,
    load,
    put,
    put_part,
)
from garden.access import Right, right_required, staff_of

_form_view = require_http_methods(["GET", "HEAD", "POST"])
_manager = right_required(Right.EDIT_RULES)


def draft_or_404() -> tuple[RulesDraft, Tables]:
    """The draft and its tables; without a draft there is nothing to see here."""
    draft = reads.draft_get()
    if draft is None:
        raise Http404(_("There is no draft of the rules. Start one on the page of the rules."))
    return draft, load(draft.content)


def _entry_or_404(tables: Tables, table: str, code: str) -> Entry:
    entry = find(tables, table, code) if table in words.TABLES else None
    if entry is None:
        raise Http404(_("The draft has no such entry."))
    return entry


@require_safe
@_manager
def entries(request: HttpRequest, table: str) -> HttpResponse:
    """The entries of one table, searched by `?q=`."""
    draft, _tables = draft_or_404()
    if table not in words.TABLES:
        raise Http404
    wanted = request.GET.get("q", "").strip()[:100]
    context = {
        "table": table,
        "name": words.TABLES[table],
        "tables": words.TABLES,
        "q": wanted,
        "rows": reads.draft_rows(draft, table, wanted),
    }
    return render(request, "rules/entries.html", context)


@require_safe
@_manager
def entry(request: HttpRequest, table: str, code: str) -> HttpResponse:
    """One entry as it stands in the draft, and what links to it."""
    draft, tables = draft_or_404()
    found = _entry_or_404(tables, table, code)
    names = Names.of(tables)
    lines = list(body_lines(found)) if table == "causes" else lines_of(table, found, names)
    if table == "causes":
        told = words.prior_explained(found["prior"])
        lines = [line._replace(said=told) if line.key == "prior" else line for line in lines]
    context = {
        **_where(table, code, found),
        "lines": [line for line in lines if line.said],
        "sections": reads.cause_sections(found, names) if table == "causes" else [],
        "linked": [(c, names.name("causes", c)) for c in linking_to(tables, table, code)],
        "problems": [p for p in reads.draft_problems(draft) if (p.table, p.code) == (table, code)],
    }
    return render(request, "rules/entry.html", context)


@_form_view
@_manager
def entry_new(request: HttpRequest, table: str) -> HttpResponse:
    _draft, tables = draft_or_404()
    if table not in words.TABLES:
        raise Http404
    form = ENTRY_FORMS[table](
        request.POST or None,
        tables=tables,
        old=None,
        refuse=lambda code: reads.code_problem(tables, table, code),
    )

    def save(tables: Tables) -> None:
        put(tables, table, form.piece(), NEW)

    context = {
        "table": table,
        "table_name": words.TABLES[table],
        "title": words.ONE_OF[table],
        "is_new": True,
    }
    return _piece_page(request, form, save, context, lambda: _entry_url(table, form.piece()[form.code_name]))


@_form_view
@_manager
def entry_edit(request: HttpRequest, table: str, code: str) -> HttpResponse:
    _draft, tables = draft_or_404()
    found = _entry_or_404(tables, table, code)
    old = body(found) if table == "causes" else found
    form = ENTRY_FORMS[table](request.POST or None, tables=tables, old=old)

    def save(tables: Tables) -> None:
        put(tables, table, form.piece(), form.seen_mark, code=code)

    def said(piece: Entry) -> list[Line]:
        return list(body_lines(piece)) if table == "causes" else lines_of(table, piece, Names.of(tables))

    return _piece_page(request, form, save, _where(table, code, found), lambda: _entry_url(table, code), said)


@_form_view
@_manager
def part_new(request: HttpRequest, code: str, part: str) -> HttpResponse:
    """A new line of a list of a cause."""
    _draft, tables = draft_or_404()
    cause = _entry_or_404(tables, "causes", code)
    if part not in PARTS:
        raise Http404
    form = PART_FORMS[part](request.POST or None, tables=tables, old=None, cause=cause)
    context = {**_where("causes", code, cause), "title": words.ONE_LINE[part], "part": part, "is_new": True}
    return _part_page(request, form, code, part, "", context, Names.of(tables))


@_form_view
@_manager
def part_edit(request: HttpRequest, code: str, part: str, key: str) -> HttpResponse:
    """One line of a list of a cause."""
    _draft, tables = draft_or_404()
    cause = _entry_or_404(tables, "causes", code)
    line = find_part(cause, part, key) if part in PARTS else None
    if line is None:
        raise Http404
    names = Names.of(tables)
    form = PART_FORMS[part](request.POST or None, tables=tables, old=line, cause=cause)
    context = {
        **_where("causes", code, cause),
        "title": part_label(part, line, names) if part == "actions" else reads.said_label(part, line, names),
        "part": part,
        "key": key,
        "seen": fingerprint(line),
        "shared": _sharing(tables, code, key) if part == "actions" else [],
    }
    return _part_page(request, form, code, part, key, context, names)


def _sharing(tables: Tables, code: str, key: str) -> list[str]:
    """Names of the other causes that have this action too."""
    return [
        name_of("causes", cause)
        for cause in tables["causes"]
        if cause["code"] != code and find_part(cause, "actions", key) is not None
    ]


def _part_page(
    request: HttpRequest,
    form: PieceForm,
    code: str,
    part: str,
    key: str,
    context: dict[str, Any],
    names: Names,
) -> HttpResponse:
    def line_key() -> str:
        return key or (str(form.piece()[PARTS[part]]) if PARTS[part] else "")

    def save(tables: Tables) -> None:
        put_part(tables, code, part, line_key(), form.piece(), form.seen_mark)

    def said(piece: Entry) -> list[Line]:
        return list(part_lines(part, piece, names))

    return _piece_page(request, form, save, context, lambda: _entry_url("causes", code) + f"#{part}", said)


@require_POST
@_manager
def part_remove(request: HttpRequest, code: str, part: str, key: str) -> HttpResponse:
    if part not in PARTS:
        raise Http404
    seen = request.POST.get("seen", "")

    def change(tables: Tables) -> None:
        drop_part(tables, code, part, key, seen)

    _try(request, change, _("The line is removed."))
    return redirect(_entry_url("causes", code) + f"#{part}")


@_form_view
@_manager
def entry_remove(request: HttpRequest, table: str, code: str) -> HttpResponse:
    """Asks before an entry goes, and what a published cause goes on as."""
    _draft, tables = draft_or_404()
    found = _entry_or_404(tables, table, code)
    refused = remove_refused(tables, table, code)
    published = code in reads.codes_published(table)
    form = RemoveForm(request.POST or None, tables=tables, table=table, entry=found, published=published)
    if request.method == "POST" and form.is_valid() and not refused:
        sent = form.cleaned_data

        def change(tables: Tables) -> None:
            drop(tables, table, code, sent["seen"], successor=sent.get("successor", ""))

        if _try(request, change, _("%(name)s is removed from the draft.") % {"name": name_of(table, found)}):
            return redirect("rules-list", table=table)
        return redirect(_entry_url(table, code))
    linked = linking_to(tables, table, code)
    context = {**_where(table, code, found), "form": form, "refused": refused, "published": published}
    context["linked"] = [name_of("causes", _entry_or_404(tables, "causes", other)) for other in linked]
    return render(request, "rules/remove.html", context, status=422 if form.is_bound else 200)


@require_POST
@_manager
def entry_restore_view(request: HttpRequest, table: str, code: str) -> HttpResponse:
    """Bring back into the draft what it took out of the rules in force."""

    def change(tables: Tables) -> None:
        entry_restore(tables, table, code)

    if table not in words.TABLES:
        raise Http404
    if _try(request, change, _("It is in the draft again.")):
        return redirect(_entry_url(table, code))
    return redirect("rules-differences")


# --- saving ---------------------------------------------------------------------------------------
def _try(request: HttpRequest, change: Callable[[Tables], None], done: str) -> bool:
    """Change the draft; what is refused is said at the head of the next page."""
    try:
        drafts.draft_change(by=staff_of(request), change=change)
    except DeskError as error:
        messages.error(request, str(error))
    except (StaleError, KeyError):
        messages.error(request, _("Nothing was removed: somebody changed it meanwhile. Look at it again."))
    else:
        messages.success(request, done)
        return True
    return False


def _piece_page(
    request: HttpRequest,
    form: PieceForm,
    save: Callable[[Tables], None],
    context: dict[str, Any],
    then: Callable[[], str],
    said: Callable[[Entry], list[Line]] | None = None,
) -> HttpResponse:
    """Show the form of a piece, or save it. A save over somebody else's shows both and asks."""
    if request.method == "POST" and form.is_valid():
        try:
            drafts.draft_change(by=staff_of(request), change=save)
        except StaleError as stale:
            context = {**context, **_both(form, stale.now, said)}
        except ValidationError as error:
            form.show_problems(error)
        except KeyError:
            messages.error(request, _("The cause was removed meanwhile."))
            return redirect("rules-list", table="causes")
        except DeskError as error:
            messages.error(request, str(error))
            return redirect("rules-draft")
        else:
            messages.success(request, _("Saved in the draft."))
            return redirect(then())
    context = {**context, "form": form}
    return render(request, "rules/piece.html", context, status=422 if request.method == "POST" else 200)


def _both(form: PieceForm, now: Entry | None, said: Callable[[Entry], list[Line]] | None) -> dict[str, Any]:
    """What stands in the draft and what was sent, side by side; sent again, the form writes over it."""
    sent = cast(QueryDict, form.data).copy()
    sent["seen"] = fingerprint(_as_seen(now))
    form.data = sent
    who = reads.draft_get()
    lines = line_differences(said(now), said(form.piece())) if now is not None and said else ()
    return {"stale": True, "who": who.changed_by if who else None, "gone": now is None, "both": lines}


def _as_seen(now: Entry | None) -> Entry | None:
    return body(now) if now is not None and "findings" in now and "prior" in now else now


def _where(table: str, code: str, found: Entry) -> dict[str, Any]:
    return {
        "table": table,
        "table_name": words.TABLES[table],
        "kind_of": words.ONE_OF[table],
        "code": code,
        "name": name_of(table, found),
        "title": name_of(table, found),
    }


def _entry_url(table: str, code: str) -> str:
    return reverse("rules-entry", args=[table, code])
