"""Runs rules over the archive of cases and says which rankings would change."""

import json
import os
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from consults.errors import DeskError
from consults.models import RulesetVersion
from consults.models.rules import ReplayState, RulesReplay
from consults.rules.draft_selectors import draft_get
from consults.rules.replay_selectors import changes_page, progress, replays
from consults.rules.replays import Work, replay_cancel, replay_start, replay_work
from consults.rules.selectors import ruleset_by_version, ruleset_current
from consults.rules.tables import check
from consults.ruleset.errors import RulesetError
from consults.ruleset.loader import Ruleset

_LOOK_EVERY_S = 1.0


class Command(BaseCommand):
    help = (
        "Rank every case of the shop by the rules in force and by others: the draft, or a stored version. "
        "Several of these commands, and workers, share the chunks of one replay."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--draft", action="store_true", help="try the draft (this is the usual)")
        which.add_argument("--version", dest="rules", metavar="V", help="try a stored version of the rules")
        which.add_argument("--continue", dest="go_on", action="store_true", help="work on the running replay")
        parser.add_argument("--json", action="store_true", help="print the outcome as JSON")

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        # Django's own --version would stand in the way of ours.
        return super().create_parser(prog_name, subcommand, conflict_handler="resolve", **kwargs)

    def handle(self, *args: Any, **options: Any) -> None:
        replay = self._running() if options["go_on"] else self._begun(options["rules"])
        try:
            self._work(replay, quiet=options["json"])
        except KeyboardInterrupt:
            if not options["go_on"]:
                replay_cancel(replay=replay)
            self.stderr.write(_("Stopped."))
        found = replays().get(pk=replay.pk)
        self.stdout.write(json.dumps(_outcome(found), indent=2) if options["json"] else _said(found))

    def _running(self) -> RulesReplay:
        replay = replays().filter(state=ReplayState.RUNNING).first()
        if replay is None:
            raise CommandError(_("No replay is running."))
        return replay

    def _begun(self, version: str | None) -> RulesReplay:
        try:
            return replay_start(before=ruleset_current(), after=_wanted(version))
        except DeskError as error:
            raise CommandError(f"{error} --continue") from None

    def _work(self, replay: RulesReplay, *, quiet: bool) -> None:
        worker, told = f"command-{os.getpid()}", 0.0
        while (found := replay_work(replay.pk, worker=worker)) is not Work.OVER:
            if found is Work.WAIT:
                time.sleep(_LOOK_EVERY_S)
            if not quiet and time.monotonic() - told > _LOOK_EVERY_S:
                now, told = progress(replay).said, time.monotonic()
                self.stderr.write(_("%(done)s of %(total)s cases") % now)


def _wanted(version: str | None) -> Ruleset:
    if version:
        try:
            return ruleset_by_version(version)
        except RulesetVersion.DoesNotExist:
            raise CommandError(_("There is no version %(version)s.") % {"version": version}) from None
        except RulesetError as error:
            raise CommandError(str(error)) from None
    draft = draft_get()
    if draft is None:
        raise CommandError(_("There is no draft of the rules. Name a --version."))
    checked = check(draft.content)
    if checked.ruleset is None:
        raise CommandError("\n".join(map(str, checked.problems)))
    return checked.ruleset


def _outcome(replay: RulesReplay) -> dict[str, Any]:
    now = progress(replay)
    names = ("same", "slight", "changed", "unreadable", "confirmed", "agreed_before", "agreed_after")
    took = (replay.finished_at - replay.started_at).total_seconds() if replay.finished_at else None
    return {
        "replay": replay.pk,
        "before": replay.before.version,
        "after": replay.after.version,
        "state": replay.state,
        "cases": now.total,
        "done": now.done,
        **{name: getattr(now, name) for name in names},
        "seconds": took,
    }


def _said(replay: RulesReplay) -> str:
    said = progress(replay).said
    lines = [
        f"{replay.before.version} → {replay.after.version}: {replay.get_state_display()}",
        _("%(changed)s of %(done)s rankings change, %(slight)s move a little.") % said,
        _("Confirmed causes named first: before %(agreed_before)s, after %(agreed_after)s of %(confirmed)s.")
        % said,
    ]
    lines += [
        f"  {c.title}: {c.before} ({c.before_chance}) → {c.after} ({c.after_chance})"
        for c in changes_page(replay).changes
    ]
    return "\n".join(lines)
