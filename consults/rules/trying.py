"""The pages on which a draft is tried on the archive of cases."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from consults.errors import DeskError
from consults.models.rules import RulesReplay
from consults.rules import replay_selectors as reads
from consults.rules import replays
from consults.rules.editing import draft_or_404
from consults.rules.nudge import LANES, nudge, nudge_if_stalled
from consults.rules.selectors import ruleset_current
from consults.rules.tables import check
from garden.access import Right, right_required, staff_of

_manager = right_required(Right.EDIT_RULES)
_LAST_PAGE = 100_000


@require_POST
@_manager
def replay_start(request: HttpRequest) -> HttpResponse:
    """Try the draft as it stands now; what is changed in it later does not touch the replay."""
    draft, _tables = draft_or_404()
    ruleset = check(draft.content).ruleset
    if ruleset is None:
        messages.error(request, _("Something is still to be mended in the draft. Then it can be tried."))
        return redirect("rules-draft")
    try:
        replay = replays.replay_start(before=ruleset_current(), after=ruleset, by=staff_of(request))
    except DeskError as error:
        messages.error(request, str(error))
        running = reads.replays().filter(state="running").first()
        return redirect("rules-replay", pk=running.pk) if running else redirect("rules-draft")
    nudge(replay.pk, lanes=LANES)
    return redirect("rules-replay", pk=replay.pk)


@require_safe
@_manager
def replay(request: HttpRequest, pk: int) -> HttpResponse:
    """How far a replay is, and which rankings would change, those that matter most first."""
    return _page(request, reads.replay_get(pk))


def _page(request: HttpRequest, found: RulesReplay) -> HttpResponse:
    kind = request.GET.get("kind", "")
    kind = kind if kind in reads.KINDS else ""
    number = request.GET.get("page", "")
    at = min(int(number), _LAST_PAGE) if number.isdecimal() and len(number) < 9 and int(number) else 1
    context = {
        "replay": found,
        "progress": reads.progress(found),
        "kinds": reads.changes_by_kind(found),
        "kind": kind,
        "page": reads.changes_page(found, kind=kind, number=at),
        "in_force": ruleset_current().version,
    }
    return render(request, "rules/replay.html", context)


@require_safe
@_manager
def replay_progress(request: HttpRequest, pk: int) -> HttpResponse:
    """How far a replay is, as a piece of its page; takes up one that nobody works on.

    When it is over, what was found takes the place of the page's content. The page is not loaded anew: a
    browser asks before it leaves a page that waits for an answer.
    """
    found = reads.replay_get(pk)
    nudge_if_stalled(found)
    if found.is_running:
        return render(
            request, "rules/_replay_progress.html", {"replay": found, "progress": reads.progress(found)}
        )
    answer = _page(request, found)
    answer["HX-Retarget"] = answer["HX-Reselect"] = "#content"
    answer["HX-Reswap"] = "outerHTML"
    return answer


@require_POST
@_manager
def replay_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    replays.replay_cancel(replay=reads.replay_get(pk), by=staff_of(request))
    return redirect("rules-replay", pk=pk)
