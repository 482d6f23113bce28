"""A small shop with everything in it, and its pages: what the tests of all pages walk through."""

import datetime
import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

import consults.ruleset
from consults.answers.services import answer_keep
from consults.cases.casefile import read_case_file
from consults.cases.rows import case_import
from consults.cases.services import photo_attach, reading_record
from consults.looks.links import check_in_path, check_in_token
from consults.looks.services import check_in_for, check_in_send
from consults.models import (
    BenchAnswer,
    Case,
    CaseFinding,
    CasePractice,
    CheckIn,
    FollowUp,
    Outcome,
    Plan,
    Question,
    RulesetVersion,
    ShelfItem,
    ShopWording,
)
from consults.models.rules import RulesDraft, RulesReplay
from consults.plans.services import action_add, plan_draft, plan_issue, plan_revise
from consults.rules.drafts import draft_change, draft_start
from consults.rules.replays import Work, replay_start, replay_work
from consults.rules.selectors import ruleset_current
from consults.rules.services import ruleset_publish
from consults.rules.tables import Tables, check
from consults.ruleset.loader import load_bundled
from garden.access import Role
from garden.bench.tools import all_tools
from garden.models import CropProfile, Feed, Garden, Grower, Lamp, Photo, Space, Staff, WaterSource
from garden.profiles.services import profile_save, profile_stage_save
from garden.reference.loader import load_reference
from reports.messages.links import stop_token
from reports.models import Message
from tests.factories import make_photo, make_planting, make_question, make_staff

_CASE_FILE = Path(consults.ruleset.__file__).parent / "cases" / "walk-in.json"
_numbers = itertools.count(1)


@dataclass
class World:
    """Rows by the part they play in the addresses below."""

    manager: Staff
    person: Staff
    grower: Grower
    garden: Garden
    case: Case
    fresh: Case
    closed: Case
    issued: Plan
    draft: Plan
    look: FollowUp
    question: Question
    photo: Photo
    message: Message
    kept: BenchAnswer
    profile: CropProfile


def make_world() -> World:
    manager = make_staff(Role.MANAGER, first_name="Ada", last_name="Marsh")
    case = _case(manager)
    issued = _issued(case, manager)
    fresh = Case.objects.create(
        grower=case.grower, planting=make_planting(case.grower), story="It droops.", opened_by=manager
    )
    closed = _case(manager)
    closed.status, closed.confirmed_cause, closed.confirmed_how = "closed", "overwatering", "seen"
    closed.confirmed_by, closed.confirmed_at = manager, timezone.now()
    closed.save()
    world = World(
        manager=manager,
        person=make_staff(Role.COUNTER),
        grower=case.grower,
        garden=case.planting.space.garden,
        case=case,
        fresh=fresh,
        closed=closed,
        issued=issued,
        draft=plan_revise(plan=issued, by=manager),
        look=FollowUp.objects.get(plan=issued),
        question=make_question(grower=case.grower, logged_by=manager),
        photo=make_photo(case.planting, caption="A leaf with brown tips"),
        message=Message.objects.get(plan=issued),
        kept=_keep(case, manager),
        profile=_profile(manager),
    )
    photo_attach(case=case, photo=world.photo)
    _told(world)
    ruleset_publish(ruleset=load_bundled(), by=manager, note="As it came")
    _draft(manager)
    _try_the_draft(manager)
    grow(world)
    return world


def _shelf_item() -> int:
    return ShelfItem.objects.earliest("pk").pk


def _told(world: World) -> None:
    """The grower has answered for the look of the issued plan."""
    check_in_send(
        check_in=check_in_for(world.look),
        actions_done={},
        changes={},
        progress="better",
        words="The new leaves are green.",
        readings=[],
        by=None,
    )


def _outcome(world: World) -> int:
    return Outcome.objects.filter(plan=world.issued).latest("pk").pk


def grow(world: World, times: int = 1) -> None:
    """More of everything that a page lists, around the same case, grower and plan."""
    for _time in range(times):
        _grow_shop(world)
        _grow_grower(world)
        _grow_case(world)


def _case(by: Staff) -> Case:
    """The bundled case, for a grower of its own."""
    number = next(_numbers)
    read = read_case_file(_CASE_FILE, load_reference(), load_bundled())
    part = read.grower.model_copy(
        update={"name": f"Nell Farrow {number}", "email": f"nell{number}@home.example"}
    )
    return case_import(casefile=read.model_copy(update={"grower": part}), by=by, consent=True)


def _keep(case: Case, by: Staff) -> BenchAnswer:
    fields = all_tools()["feed-drain"].fields
    sent = {field.name: f"{field.example}" for field in fields if field.example is not None}
    return answer_keep(case=case, tool="feed-drain", sent=sent, by=by)


def _profile(by: Staff) -> CropProfile:
    bands = {"air_temp_c": {"wide_low": 15.0, "low": 18.0, "high": 23.0, "wide_high": 26.0}}
    made = profile_save(
        name=f"Cool basil {next(_numbers)}", based_on="basil", bands=bands, note="Nell's trial", by=by
    )
    return profile_stage_save(profile=made, stage="seedling", bands=bands, by=by)


def _draft(by: Staff) -> None:
    draft_start(by=by)
    draft_change(by=by, change=_raise_a_prior)


def _raise_a_prior(tables: Tables) -> None:
    for cause in tables["causes"]:
        if cause["code"] == "thrips":
            cause["prior"] = "common"


def _try_the_draft(by: Staff) -> None:
    replay = replay_start(
        before=ruleset_current(), after=check(RulesDraft.objects.get().content).ruleset, by=by
    )
    while replay_work(replay.pk, worker="world") is Work.DONE:
        pass


def _replay() -> int:
    return RulesReplay.objects.latest("pk").pk


def _issued(case: Case, by: Staff) -> Plan:
    plan = plan_draft(case=case, causes=["overwatering"], by=by)
    return plan_issue(plan=plan, by=by, send_email=True)


def _grow_shop(world: World) -> None:
    ShelfItem.objects.create(
        name=f"Card {next(_numbers)}", needs=["sticky-cards", "airy-mix"], unit="piece", pack_size=5
    )
    for language in ("en", "de"):
        ShopWording.objects.create(
            cause="overwatering", action=f"{next(_numbers)}", language=language, text="Ours.", instead_of=""
        )
    make_staff(Role.COUNTER)
    make_question(grower=world.grower, answer="Let it dry.", answered_at=timezone.now())
    make_question(words="What is EC?")
    make_planting(crop=_profile(world.manager).code)
    stages = [stage for stage in load_reference().stages if stage not in world.profile.stages]
    for stage in stages[:1]:
        world.profile = profile_stage_save(
            profile=world.profile, stage=stage, bands=world.profile.bands, by=world.manager
        )
    other = _case(world.manager)
    _issued(other, world.manager)
    done = FollowUp.objects.get(plan__case=other)
    late = _issued(_case(world.manager), world.manager)
    FollowUp.objects.filter(plan=late).update(due_on=timezone.localdate() - datetime.timedelta(days=2))
    done.done_at, done.progress, done.done_by = timezone.now(), "better", world.manager
    done.save()
    plan_draft(case=_case(world.manager), causes=["overwatering"], by=world.manager)
    Message.objects.filter(plan__case=other).update(
        state="dead", tries=10, last_error="The mail server refused this address: no such mailbox."
    )
    long_ago = timezone.now() - datetime.timedelta(days=next(_numbers))
    RulesetVersion.objects.create(
        version=f"{next(_numbers):012x}", content="{}", published_at=long_ago, published_by=world.manager
    )


def _grow_grower(world: World) -> None:
    planting = make_planting(world.grower)
    space = planting.space
    Lamp.objects.create(
        space=space, type="led-white", count=1, photon_flux_umol_s=300, height_m=0.4, hours=16
    )
    WaterSource.objects.create(garden=space.garden, source="tap", alkalinity_mg_l=120)
    Feed.objects.create(garden=space.garden, product="Leaf feed", ml_per_l=2)
    Lamp.objects.create(space=world.case.planting.space, type="fluorescent", count=2, watts=30, hours=14)
    Feed.objects.create(garden=world.garden, product="Another feed", ml_per_l=1)
    make_planting(space=world.case.planting.space)
    Space.objects.create(garden=world.garden, kind="shelf")
    Case.objects.create(grower=world.grower, planting=planting, opened_by=world.manager)


def _grow_case(world: World) -> None:
    """More findings, readings, habits, photos and plan lines in the one case."""
    case, rules = world.case, load_bundled()
    known = set(case.findings.values_list("code", flat=True))
    for code in [code for code in rules.findings if code not in known][:3]:
        CaseFinding.objects.create(case=case, code=code, state="absent")
    habits = set(case.practices.values_list("code", flat=True))
    for code in [code for code in rules.practices if code not in habits][:1]:
        CasePractice.objects.create(case=case, code=code)
    measured = set(case.readings.values_list("quantity", flat=True))
    readings = [r for r in load_reference().readings.values() if not r.derived and r.code not in measured]
    for reading in readings[:1]:
        middle = (reading.usual_min + reading.usual_max) / 2
        reading_record(
            case=case, quantity=reading.code, value=middle, typed=f"{middle:g}", unit=reading.unit, by=None
        )
    photo_attach(case=case, photo=make_photo(case.planting, caption="Another leaf"))
    _keep(case, world.manager)
    action_add(plan=world.draft, when="today", text="Call us when the leaves lift again.")
    _grow_look(world)


def _grow_look(world: World) -> None:
    """An earlier look of the issued plan, judged; a photo and a reading more in the one that is open."""
    past = timezone.localdate() - datetime.timedelta(days=next(_numbers))
    earlier = CheckIn.objects.create(plan=world.issued, due_on=past)
    Outcome.objects.create(
        case=world.case,
        plan=world.issued,
        check_in=earlier,
        confirmed_causes=["overwatering"],
        confirmed_how="seen",
        actions=[{"action": 0, "code": "", "causes": [], "done": "", "effect": "helped"}],
        came_to="same",
        days_to_look=3,
        ends=False,
        recorded_by=world.manager,
    )
    now = check_in_for(world.look)
    now.photos.add(make_photo(world.case.planting, caption="A leaf at the look"))


# --- the pages ------------------------------------------------------------------------------------
Address = Callable[[World], str]


def _at(name: str, *parts: str, query: str = "") -> Address:
    """The address of a page: `parts` name the row of the world each argument is the key of."""
    return lambda world: reverse(name, args=[getattr(world, part).pk for part in parts]) + query


# Whole pages, by a label that starts with the name of their address.
PAGES: dict[str, Address] = {
    "today": _at("today"),
    "growers": _at("growers"),
    "growers, nobody found": _at("growers", query="?q=zzzz"),
    "growers, for a case": _at("growers", query="?for_case=1"),
    "grower": _at("grower", "grower"),
    "grower-new": _at("grower-new"),
    "grower-edit": _at("grower-edit", "grower"),
    "grower-held": _at("grower-held", "grower"),
    "garden-new": _at("garden-new", "grower"),
    "garden-edit": _at("garden-edit", "garden"),
    "questions": _at("questions"),
    "questions, nothing found": _at("questions", query="?q=zzzz"),
    "question-new": _at("question-new"),
    "question": _at("question", "question"),
    "cases": _at("cases"),
    "case-new": lambda world: reverse("case-new") + f"?grower={world.grower.pk}",
    "case": _at("case", "case"),
    "interview": _at("interview", "case"),
    "case, nothing entered": _at("case", "fresh"),
    "case, closed": _at("case", "closed"),
    "plan-edit": _at("plan-edit", "draft"),
    "plan-days": _at("plan-days", "draft"),
    "plan": _at("plan", "issued"),
    "bench": _at("bench"),
    "bench-tool": lambda world: reverse("bench-tool", args=["feed-drain"]),
    "bench-tool, of a garden": lambda world: (
        reverse("bench-tool", args=["watering-interval"]) + f"?planting={world.case.planting.pk}"
    ),
    "follow-ups": _at("follow-ups"),
    "follow-up": _at("follow-up", "look"),
    "look-check-in": _at("look-check-in", "look"),
    "outcome-correct": lambda world: reverse("outcome-correct", args=[_outcome(world)]),
    "messages": _at("messages"),
    "messages, given up": _at("messages", query="?state=dead"),
    "rules": _at("rules"),
    "rules-draft": _at("rules-draft"),
    "rules-differences": _at("rules-differences"),
    "rules-list": lambda world: reverse("rules-list", args=["causes"]),
    "rules-list, findings": lambda world: reverse("rules-list", args=["findings"]) + "?q=leaf",
    "rules-entry": lambda world: reverse("rules-entry", args=["causes", "overwatering"]),
    "rules-entry, a source": lambda world: reverse("rules-entry", args=["sources", "huang-high-ph"]),
    "rules-replay": lambda world: reverse("rules-replay", args=[_replay()]),
    "case-rules": _at("case-rules", "case"),
    "case-rules, nothing kept": _at("case-rules", "fresh"),
    "rules-entry-new": lambda world: reverse("rules-entry-new", args=["findings"]),
    "rules-entry-edit": lambda world: reverse("rules-entry-edit", args=["causes", "overwatering"]),
    "rules-entry-remove": lambda world: reverse("rules-entry-remove", args=["causes", "overwatering"]),
    "rules-part-new": lambda world: reverse("rules-part-new", args=["overwatering", "readings"]),
    "rules-part-edit": lambda world: reverse(
        "rules-part-edit", args=["overwatering", "actions", "check-roots"]
    ),
    "profiles": _at("profiles"),
    "profile-new": _at("profile-new"),
    "profile-new, of basil": lambda world: reverse("profile-new") + "?based_on=basil",
    "profile-edit": _at("profile-edit", "profile"),
    "profile-stage": lambda world: reverse("profile-stage", args=[world.profile.pk, "seedling"]),
    "plan-compare": _at("plan-compare", "draft"),
    "shop-words": _at("shop-words"),
    "shop-words-cause": lambda world: reverse("shop-words-cause", args=["overwatering"]),
    "shelf": _at("shelf"),
    "shelf-new": _at("shelf-new"),
    "shelf-edit": lambda world: reverse("shelf-edit", args=[_shelf_item()]),
    "shop-settings": _at("shop-settings"),
    "staff": _at("staff"),
    "staff-new": _at("staff-new"),
    "staff-edit": _at("staff-edit", "person"),
    "my-password": _at("my-password"),
}
# Pages for somebody who is not signed in.
OPEN_PAGES: dict[str, Address] = {
    "login": _at("login"),
    "check-in": lambda world: check_in_path(check_in_for(world.look)),
    "check-in-sent": lambda world: reverse("check-in-sent", args=[check_in_token(check_in_for(world.look))]),
    "reminders-stop": lambda world: reverse("reminders-stop", args=[stop_token(world.message)]),
}
# What a GET gives that is not a whole page: pieces of one, files, pictures.
PIECES: dict[str, Address] = {
    "case-deeper": _at("case-deeper", "case"),
    "grower-cases": _at("grower-cases", "grower"),
    "grower-export": _at("grower-export", "grower"),
    "answer-offer": lambda world: (
        reverse("answer-offer", args=["feed-drain"]) + f"?planting={world.case.planting.pk}"
    ),
    "plan-sending": _at("plan-sending", "issued"),
    "plan-document": _at("plan-document", "issued"),
    "case-file": _at("case-file", "case"),
    "rules-export": _at("rules-export"),
    "rules-export-files": _at("rules-export-files"),
    "rules-replay-progress": lambda world: reverse("rules-replay-progress", args=[_replay()]),
    "case-rules-line": _at("case-rules-line", "case"),
    "rules-draft-export": _at("rules-draft-export"),
    "photo": _at("photo", "photo"),
    "photo-thumb": _at("photo-thumb", "photo"),
    "plan-pdf": _at("plan-pdf", "issued"),
    "plan-pdf, draft": _at("plan-pdf", "draft"),
    "mixing-card-pdf": _at("mixing-card-pdf", "issued"),
    "mixing-card-pdf, draft": _at("mixing-card-pdf", "draft"),
    "recheck-pdf": _at("recheck-pdf", "issued"),
    "case-summary-pdf": _at("case-summary-pdf", "case"),
    "hand-out-pdf": _at("hand-out-pdf", "question"),
    "plan-letters": _at("plan-letters", "draft"),
    "health": _at("health"),
}


def _action(world: World) -> Any:
    return world.draft.actions.earliest("pk")


# Addresses that answer POST. Those of PAGES with a form answer it too.
POSTS: dict[str, Address] = {
    "logout": _at("logout"),
    "photo-delete": _at("photo-delete", "photo"),
    "question-to-case": _at("question-to-case", "question"),
    "answer-keep": _at("answer-keep", "case"),
    "answer-into-plan": _at("answer-into-plan", "case", "kept"),
    "case-story": _at("case-story", "case"),
    "case-finding": lambda world: reverse("case-finding", args=[world.case.pk, "salt-crust"]),
    "interview-back": _at("interview-back", "case"),
    "case-suggestion": lambda world: reverse("case-suggestion", args=[world.case.pk, "salt-crust"]),
    "case-practices": _at("case-practices", "case"),
    "case-reading": lambda world: reverse("case-reading", args=[world.case.pk, "root_zone_ph"]),
    "case-photos": _at("case-photos", "case"),
    "case-confirm": _at("case-confirm", "case"),
    "case-reopen": _at("case-reopen", "case"),
    "plan-draft": _at("plan-draft", "case"),
    "plan-words": _at("plan-words", "draft"),
    "plan-words, issued": _at("plan-words", "issued"),
    "action-new": _at("action-new", "draft"),
    "action-new, issued": _at("action-new", "issued"),
    "action-edit": lambda world: reverse("action-edit", args=[world.draft.pk, _action(world).pk]),
    "action-edit, issued": lambda world: reverse(
        "action-edit", args=[world.issued.pk, world.issued.actions.earliest("pk").pk]
    ),
    "action-keep": lambda world: reverse("action-keep", args=[world.draft.pk, _action(world).pk]),
    "action-keep, issued": lambda world: reverse(
        "action-keep", args=[world.issued.pk, world.issued.actions.earliest("pk").pk]
    ),
    "plan-issue": _at("plan-issue", "draft"),
    "plan-issue, issued": _at("plan-issue", "issued"),
    "plan-revise": _at("plan-revise", "issued"),
    "look-record": _at("look-record", "look"),
    "look-link": _at("look-link", "look"),
    "rules-publish": _at("rules-publish"),
    "rules-back": _at("rules-back"),
    "case-rank-again": _at("case-rank-again", "case"),
    "rules-replay-start": _at("rules-replay-start"),
    "rules-replay-cancel": lambda world: reverse("rules-replay-cancel", args=[_replay()]),
    "rules-draft-start": _at("rules-draft-start"),
    "rules-draft-note": _at("rules-draft-note"),
    "rules-draft-publish": _at("rules-draft-publish"),
    "rules-draft-import": _at("rules-draft-import"),
    "rules-draft-discard": _at("rules-draft-discard"),
    "rules-entry-restore": lambda world: reverse("rules-entry-restore", args=["causes", "overwatering"]),
    "rules-part-remove": lambda world: reverse(
        "rules-part-remove", args=["overwatering", "findings", "stunting"]
    ),
    "profile-delete": _at("profile-delete", "profile"),
    "shelf-retire": lambda world: reverse("shelf-retire", args=[_shelf_item()]),
    "message-retry": _at("message-retry", "message"),
    "plan-document-again": _at("plan-document-again", "issued"),
    "reminders-stop-one-click": lambda world: reverse(
        "reminders-stop-one-click", args=[stop_token(world.message)]
    ),
}


def take(answer: Any) -> None:
    """Read the answer to its end, as a browser does; an open file is closed by that."""
    if answer.streaming:
        b"".join(answer.streaming_content)


def names_of(*pages: dict[str, Address]) -> set[str]:
    """The names of addresses these labels speak of."""
    return {label.split(",")[0] for group in pages for label in group}


def all_names(patterns: Any = None) -> Iterator[str]:
    """The name of every address of the site."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(pattern, URLResolver):
            yield from all_names(pattern.url_patterns)
        elif isinstance(pattern, URLPattern):
            assert pattern.name, f"{pattern.pattern} has no name"
            yield pattern.name
