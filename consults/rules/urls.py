"""Addresses of the rules of diagnosis."""

from django.urls import path

from consults.rules import casework, drafting, editing, trying, views

_ENTRY = "rules/draft/<slug:table>/<slug:code>/"
_CAUSE = "rules/draft/causes/<slug:code>/"

urlpatterns = [
    path("rules/", views.rules, name="rules"),
    path("rules/publish/", views.rules_publish, name="rules-publish"),
    path("rules/export/", views.rules_export, name="rules-export"),
    path("rules/export/files/", views.rules_export_files, name="rules-export-files"),
    path("rules/back/", views.rules_back, name="rules-back"),
    path("rules/draft/", drafting.draft, name="rules-draft"),
    path("rules/draft/start/", drafting.draft_start, name="rules-draft-start"),
    path("rules/draft/note/", drafting.draft_note, name="rules-draft-note"),
    path("rules/draft/publish/", drafting.draft_publish, name="rules-draft-publish"),
    path("rules/draft/discard/", drafting.draft_discard, name="rules-draft-discard"),
    path("rules/draft/differences/", drafting.differences, name="rules-differences"),
    path("rules/draft/import/", drafting.draft_import, name="rules-draft-import"),
    path("rules/draft/export/", drafting.draft_export, name="rules-draft-export"),
    path("cases/<int:pk>/rules/", casework.case_rules_page, name="case-rules"),
    path("cases/<int:pk>/rules/line/", casework.case_rules_line, name="case-rules-line"),
    path("cases/<int:pk>/rules/again/", casework.case_rank_again_view, name="case-rank-again"),
    path("rules/draft/try/", trying.replay_start, name="rules-replay-start"),
    path("rules/replays/<int:pk>/", trying.replay, name="rules-replay"),
    path("rules/replays/<int:pk>/progress/", trying.replay_progress, name="rules-replay-progress"),
    path("rules/replays/<int:pk>/cancel/", trying.replay_cancel, name="rules-replay-cancel"),
    path("rules/draft/new/<slug:table>/", editing.entry_new, name="rules-entry-new"),
    path("rules/draft/<slug:table>/", editing.entries, name="rules-list"),
    path(_ENTRY, editing.entry, name="rules-entry"),
    path(_ENTRY + "change/", editing.entry_edit, name="rules-entry-edit"),
    path(_ENTRY + "remove/", editing.entry_remove, name="rules-entry-remove"),
    path(_ENTRY + "restore/", editing.entry_restore_view, name="rules-entry-restore"),
    path(_CAUSE + "<slug:part>/", editing.part_new, name="rules-part-new"),
    path(_CAUSE + "<slug:part>/<slug:key>/", editing.part_edit, name="rules-part-edit"),
    path(_CAUSE + "<slug:part>/<slug:key>/remove/", editing.part_remove, name="rules-part-remove"),
]
