"""The pages about the draft as a whole: where it stands, what differs, files in and out, publishing."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from consults.errors import DeskError
from consults.models.rules import RulesDraft
from consults.rules import draft_selectors as reads
from consults.rules import drafts, words
from consults.rules.bundle import write_zip
from consults.rules.editing import draft_or_404
from consults.rules.forms import DraftFileForm, NoteForm, PublishForm
from consults.rules.replay_selectors import replay_of_draft
from consults.rules.selectors import ruleset_current
from consults.rules.tables import check, load
from garden.access import Right, right_required, staff_of

_manager = right_required(Right.EDIT_RULES)


@require_safe
@_manager
def draft(request: HttpRequest) -> HttpResponse:
    """Where the draft stands: what is to be mended, what differs, what can be done next."""
    found = reads.draft_get()
    if found is None:
        return render(request, "rules/no_draft.html", {"version": ruleset_current().version})
    return _page(request, found)


def _page(request: HttpRequest, found: RulesDraft, status: int = 200, **more: Any) -> HttpResponse:
    tables, current, checked = load(found.content), ruleset_current(), check(found.content)
    changes = reads.draft_differences(found)
    context = {
        "draft": found,
        "counts": [(table, name, len(tables[table])) for table, name in words.TABLES.items()],
        "problems": reads.draft_problems(found),
        "changes": changes,
        "lines": sum(len(entry.lines) or 1 for entry in changes),
        "in_force": current.version,
        "overtaken": current.version != found.based_on.version,
        "version": checked.ruleset.version if checked.ruleset else "",
        "replay": replay_of_draft(checked.ruleset),
        "publish_form": PublishForm(draft=found, in_force=current.version),
        "note_form": NoteForm(initial={"note": found.note}),
        "file_form": DraftFileForm(initial={"revision": found.revision}),
    }
    return render(request, "rules/draft.html", {**context, **more}, status=status)


@require_POST
@_manager
def draft_start(request: HttpRequest) -> HttpResponse:
    drafts.draft_start(by=staff_of(request))
    return redirect("rules-draft")


@require_POST
@_manager
def draft_note(request: HttpRequest) -> HttpResponse:
    form = NoteForm(request.POST)
    if form.is_valid():
        _tell(request, lambda: drafts.draft_note(by=staff_of(request), **form.cleaned_data), _("Saved."))
    return redirect("rules-draft")


@require_POST
@_manager
def draft_publish(request: HttpRequest) -> HttpResponse:
    found, _tables = draft_or_404()
    form = PublishForm(request.POST, draft=found, in_force=ruleset_current().version)
    if not form.is_valid():
        return _page(request, found, status=422, publish_form=form)
    try:
        row = drafts.draft_publish(by=staff_of(request), **form.cleaned_data)
    except DeskError as error:
        messages.error(request, str(error))
        return redirect("rules-draft")
    messages.success(request, _("The rules of version %(version)s are in force.") % {"version": row.version})
    return redirect("rules")


@require_POST
@_manager
def draft_discard(request: HttpRequest) -> HttpResponse:
    sent = request.POST.get("revision", "")
    revision = int(sent) if sent.isdecimal() and len(sent) < 10 else 0

    def discard() -> None:
        drafts.draft_discard(by=staff_of(request), revision=revision)

    done = _tell(request, discard, _("The draft is discarded. The rules in force are as they were."))
    return redirect("rules" if done else "rules-draft")


@require_safe
@_manager
def differences(request: HttpRequest) -> HttpResponse:
    """What publishing would change, in words, line by line."""
    found, _tables = draft_or_404()
    context = {"changes": reads.draft_differences(found), "in_force": ruleset_current().version}
    return render(request, "rules/differences.html", context)


@require_POST
@_manager
def draft_import(request: HttpRequest) -> HttpResponse:
    """Put an exported and changed file into the draft."""
    found, _tables = draft_or_404()
    form = DraftFileForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, found, status=422, file_form=form)
    sent = form.cleaned_data

    def put() -> None:
        drafts.draft_replace(by=staff_of(request), tables=sent["file"], revision=sent["revision"])

    _tell(request, put, _("The draft now says what the file says. Look at the differences."))
    return redirect("rules-draft")


@require_safe
@_manager
def draft_export(request: HttpRequest) -> HttpResponse:
    """The draft as a zip of text files."""
    found, tables = draft_or_404()
    return zip_answer(write_zip(tables), f"rules-draft-{found.revision}")


def zip_answer(content: bytes, name: str) -> HttpResponse:
    """A zip to keep."""
    response = HttpResponse(content, content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="{name}.zip"'
    return response


def _tell(request: HttpRequest, act: Any, done: str) -> bool:
    try:
        act()
    except DeskError as error:
        messages.error(request, str(error))
        return False
    messages.success(request, done)
    return True
