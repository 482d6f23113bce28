"""The shop's own words for what plans say: for the manager."""

from itertools import groupby

from crispy_forms.layout import Layout
from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from consults.errors import DeskError
from consults.plans import words
from consults.rules.selectors import GROUPS, ruleset_current
from garden.access import Right, right_required, staff_of
from garden.forms import desk_helper
from garden.reference.schema import text


class PassageForm(forms.Form):
    """One passage. Sent back empty, or as the rules say it, the rules' words stand again."""

    action = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    text = forms.CharField(
        label=gettext_lazy("What plans say"),
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, data: QueryDict | None = None, *, passage: words.Passage) -> None:
        name = passage.action or "sentence"
        super().__init__(data, initial={"action": passage.action, "text": passage.now}, auto_id=f"{name}-%s")
        self.passage = passage
        self.helper = desk_helper(Layout("action", "text"), button=_("Save these words"))
        self.helper.form_id = f"words-{name}"


@require_safe
@right_required(Right.EDIT_WORDING)
def shop_words(request: HttpRequest) -> HttpResponse:
    language = get_language() or "en"
    changed, causes = words.changed_causes(language), ruleset_current().causes.values()
    names = [
        (str(GROUPS[cause.group]), text(cause.name, language), cause.code, changed.get(cause.code, 0))
        for cause in causes
    ]
    groups = [(group, list(rows)) for group, rows in groupby(sorted(names), key=lambda row: row[0])]
    return render(request, "plans/shop_words.html", {"groups": groups})


@require_http_methods(["GET", "HEAD", "POST"])
@right_required(Right.EDIT_WORDING)
def shop_words_cause(request: HttpRequest, cause: str) -> HttpResponse:
    language, ruleset = get_language() or "en", ruleset_current()
    found = ruleset.causes.get(cause)
    if found is None:
        raise Http404
    passages, bad = words.passages_of(found, language), None
    if request.method == "POST":
        sent = next((p for p in passages if p.action == request.POST.get("action", "")), passages[0])
        bad = PassageForm(request.POST, passage=sent)
        if bad.is_valid():
            _save(request, cause, bad.cleaned_data, language)
            return redirect("shop-words-cause", cause)
    context = {
        "code": cause,
        "name": text(found.name, language),
        "forms": [bad if bad and bad.passage == p else PassageForm(passage=p) for p in passages],
        "history": words.history_of(cause, language),
    }
    return render(request, "plans/shop_words_cause.html", context, status=422 if bad else 200)


def _save(request: HttpRequest, cause: str, sent: dict[str, str], language: str) -> None:
    said = "" if "reset" in request.POST else sent["text"]
    try:
        saved = words.words_save(
            ruleset=ruleset_current(), cause=cause, action=sent["action"], language=language, words=said,
            by=staff_of(request),
        )  # fmt: skip
    except DeskError as error:
        messages.error(request, str(error))
        return
    if saved:
        messages.success(request, _("Saved. Drafts worked out from now on say it in these words."))
    else:
        messages.success(request, _("The words of the rules stand again."))
