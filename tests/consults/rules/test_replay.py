"""A draft is run over the archive of cases: what would change, counted once, by any number of workers."""

import json

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from consults.cases.ranking import rank_case
from consults.cases.rows import casefile_from_rows
from consults.diagnosis.fit import word
from consults.models import Case, CaseFinding, CasePractice, RulesetVersion
from consults.models.rules import ReplayChange, ReplayChunk, ReplayResult, RulesReplay
from consults.rules import background, nudge, replays, tasks
from consults.rules.archive import archived_cases, bundled_files
from consults.rules.replay_selectors import changes_page, progress
from consults.rules.replaying import NOTICEABLE, Archived, replay_chunk
from consults.rules.replays import Work, replay_cancel, replay_start, replay_work
from consults.rules.tables import dump, find, load
from consults.ruleset.loader import Ruleset, load_bundled
from garden.models import Reading
from garden.reference.loader import bundled_reference
from garden.reference.schema import NO_SOURCE
from tests.consults.rules.making import break_link, make_draft, raise_prior
from tests.factories import client_of, make_case, make_planting, queries_of

pytestmark = pytest.mark.django_db
SIGNS = {
    "wet": (["medium-stays-wet", "wilting-medium-moist"], ["waters-daily"], "overwatering"),
    "dry": (["wilting-medium-dry"], ["waters-seldom"], "underwatering"),
    "salty": (["salt-crust", "tip-necrosis"], [], "salt-buildup"),
    "flies": (["fungus-gnats", "medium-stays-wet"], [], "fungus-gnats"),
    "thrips": (["pests-on-leaves", "distorted-young-leaves"], [], "thrips"),
    "nothing": ([], [], ""),
}


def make_archive(times=1):
    """Cases of several kinds, some with a confirmed cause; their keys by kind."""
    keys = {}
    for _time in range(times):
        for kind, (signs, habits, cause) in SIGNS.items():
            case = make_case(make_planting())
            CaseFinding.objects.bulk_create(
                CaseFinding(case=case, code=code, state="present") for code in signs
            )
            CasePractice.objects.bulk_create(CasePractice(case=case, code=code) for code in habits)
            reading = Reading.objects.create(planting=case.planting, quantity="root_zone_ph", value=6.0)
            case.readings.add(reading)
            if cause and kind != "dry":
                Case.objects.filter(pk=case.pk).update(confirmed_cause=cause, confirmed_how="seen")
            keys.setdefault(kind, []).append(case.pk)
    return keys


def changed(*changes):
    """The bundled rules, changed."""
    tables = load(load_bundled().to_json())
    for change in changes:
        change(tables)
    return Ruleset.from_json(dump(tables))


def begin(after=None):
    return replay_start(before=load_bundled(), after=after or changed(raise_prior("thrips", "rare")))


def run(replay, worker="one"):
    while replay_work(replay.pk, worker=worker) is Work.DONE:
        pass
    replay.refresh_from_db()
    return replay


@pytest.fixture
def small_chunks(monkeypatch):
    monkeypatch.setattr(replays, "CHUNK", 4)


# --- what it says ---------------------------------------------------------------------------------
def test_the_changes_are_exactly_those_that_ranking_each_case_by_hand_shows(small_chunks):
    make_archive(3)
    before, after, reference = load_bundled(), changed(raise_prior("thrips", "rare")), bundled_reference()
    expected, same = {}, 0
    for case in Case.objects.all():
        casefile = casefile_from_rows(case)
        old, new = (
            {c.code: c.probability for c in rank_case(casefile, rules, reference).causes}
            for rules in (before, after)
        )
        first = max(old, key=old.get), max(new, key=new.get)
        shift = max(abs(new[code] - old[code]) for code in old)
        if first[0] != first[1] or shift >= NOTICEABLE or word(old[first[0]]) != word(new[first[1]]):
            expected[case.pk] = (first, old[first[0]], new[first[1]])
        same += shift <= 1e-9
    replay = run(begin(after))
    found = {
        row.case_id: ((row.before_cause, row.after_cause), row.before_chance, row.after_chance)
        for row in ReplayChange.objects.filter(replay=replay, case__isnull=False)
    }
    assert found == pytest.approx(expected) if not expected else found.keys() == expected.keys()
    for pk, (first, old, new) in expected.items():
        assert found[pk] == (first, pytest.approx(old), pytest.approx(new))
    assert 0 < len(expected) < Case.objects.count()


def test_rules_against_themselves_change_nothing():
    make_archive()
    replay = run(begin(load_bundled()))
    assert not ReplayChange.objects.exists()
    now = progress(replay)
    assert (now.same, now.changed, now.slight) == (now.total, 0, 0)
    assert now.total == len(SIGNS) + len(bundled_files())


def test_agreement_with_confirmed_causes_is_counted_before_and_after():
    keys = make_archive()

    def forget(tables):
        cause = find(tables, "causes", "overwatering")
        cause["findings"] = [{"finding": "etiolation", "strength": "rarely", "source": NO_SOURCE}]
        cause["prior"] = "rare"

    chunk = ReplayChunk(first=keys["wet"][0], last=keys["wet"][0], cases=1)
    outcome = replay_chunk(archived_cases(chunk), load_bundled(), changed(forget), bundled_reference())
    assert (outcome.confirmed, outcome.agreed_before, outcome.agreed_after) == (1, 1, 0)
    (moved,) = outcome.moved
    assert (moved.agreed_before, moved.agreed_after) == (True, False)
    assert moved.weight > 4


def test_a_cause_replaced_by_another_counts_as_that_one():
    keys = make_archive()

    def rename(tables):
        cause = find(tables, "causes", "overwatering")
        cause["code"], cause["aliases"] = "soaked-roots", ["overwatering"]

    chunk = ReplayChunk(first=keys["wet"][0], last=keys["wet"][0], cases=1)
    outcome = replay_chunk(archived_cases(chunk), load_bundled(), changed(rename), bundled_reference())
    assert (outcome.same, outcome.agreed_before, outcome.agreed_after) == (1, 1, 1)


def test_what_matters_most_comes_first(small_chunks):
    make_archive(2)
    run(begin(changed(raise_prior("thrips", "rare"), raise_prior("overwatering", "rare"))))
    weights = list(ReplayChange.objects.values_list("weight", flat=True))
    assert weights == sorted(weights, reverse=True)


def test_a_case_that_cannot_be_ranked_is_counted_and_left_out():
    make_archive()
    lost = make_case(make_planting(crop="a-crop-of-before", profile="generic-gone"))
    replay = run(begin())
    assert progress(replay).unreadable == 1
    assert not ReplayChange.objects.filter(case=lost).exists()
    nothing = replay_chunk([Archived(1, "", None)], load_bundled(), load_bundled(), bundled_reference())
    assert nothing.unreadable == 1


def test_bundled_case_files_take_part_with_their_published_causes():
    replay = run(begin(load_bundled()))
    assert progress(replay).confirmed > 50
    assert progress(replay).agreed_before == progress(replay).agreed_after > 0


# --- chunks and workers ---------------------------------------------------------------------------
def test_a_chunk_run_twice_counts_once(small_chunks):
    make_archive(2)
    replay = begin()
    chunk = replays.chunk_claim(replay, worker="one")
    outcome = replays.chunk_run(chunk, load_bundled(), changed(raise_prior("thrips", "rare")))
    assert replays.chunk_count(chunk, outcome) is True
    before = progress(replay), ReplayChange.objects.count()
    assert replays.chunk_count(chunk, outcome) is False
    assert (progress(replay), ReplayChange.objects.count()) == before
    assert ReplayResult.objects.count() == 1


def test_two_workers_share_the_chunks_and_none_is_lost(together, small_chunks):
    make_archive(4)
    replay = begin()
    together(lambda: run(replay, "one"), lambda: run(replay, "two"))
    run(replay)
    chunks = ReplayChunk.objects.filter(replay=replay)
    assert ReplayResult.objects.count() == chunks.count() == 1 + 24 // 4
    assert {"one", "two"} >= set(chunks.values_list("held_by", flat=True)) > set()
    assert replay.state == "done"
    alone = begin()
    run(alone)

    def found(which):
        rows = ReplayChange.objects.filter(replay=which).order_by("case_id", "file")
        return list(rows.values_list("case_id", "file", "before_cause", "after_cause", "weight"))

    assert found(replay) == found(alone)
    assert progress(replay).same == progress(alone).same


def test_a_held_chunk_is_left_alone_until_its_lease_is_over(small_chunks):
    make_archive()
    replay = begin()
    first = replays.chunk_claim(replay, worker="dead")
    others = ReplayChunk.objects.filter(replay=replay).exclude(pk=first.pk).count()
    for _chunk in range(others):
        assert replay_work(replay.pk, worker="alive") is Work.DONE
    assert replay_work(replay.pk, worker="alive") is Work.WAIT
    ReplayChunk.objects.filter(pk=first.pk).update(held_until=timezone.now())
    assert replay_work(replay.pk, worker="alive") is Work.DONE
    assert replay_work(replay.pk, worker="alive") is Work.OVER
    replay.refresh_from_db()
    assert (replay.state, progress(replay).done) == ("done", replay.total)


def test_a_replay_stopped_half_way_goes_on_where_it_was(small_chunks):
    make_archive(2)
    replay = begin()
    replay_work(replay.pk, worker="one")
    half = progress(replay).done
    assert 0 < half < replay.total
    run(replay, "after a restart")
    assert progress(replay).done == replay.total


def test_a_cancelled_replay_stops_and_a_chunk_under_way_is_not_counted(small_chunks):
    make_archive()
    replay = begin()
    chunk = replays.chunk_claim(replay, worker="one")
    replay_cancel(replay=replay)
    outcome = replays.chunk_run(chunk, load_bundled(), load_bundled())
    assert replays.chunk_count(chunk, outcome) is False
    assert replay_work(replay.pk, worker="two") is Work.OVER
    assert not ReplayResult.objects.exists()


def test_one_replay_runs_at_a_time():
    begin()
    with pytest.raises(Exception, match="running already"):
        begin(changed(raise_prior("aphids", "rare")))
    assert RulesReplay.objects.count() == 1


def test_cases_opened_later_are_not_in_it():
    make_archive()
    replay = begin()
    make_archive()
    assert progress(run(replay)).done == replay.total == len(SIGNS) + len(bundled_files())


def test_old_replays_and_versions_only_tried_are_forgotten():
    for word_ in ("rare", "uncommon", "fairly-common", "common") * 2:
        run(begin(changed(raise_prior("thrips", word_), raise_prior("aphids", "rare"))))
    run(begin(load_bundled()))
    assert RulesReplay.objects.count() == replays.KEPT
    assert RulesetVersion.objects.filter(published_at__isnull=True).count() == replays.KEPT


@pytest.mark.parametrize("times", [1, 5])
def test_the_number_of_queries_of_a_chunk_does_not_grow_with_its_cases(times):
    make_archive(times)
    replay = begin()
    replay_work(replay.pk, worker="one")  # the files
    with CaptureQueriesContext(connection) as asked:
        assert replay_work(replay.pk, worker="one") is Work.DONE
    assert len(asked) <= 24
    reads = [query["sql"] for query in asked if query["sql"].startswith("SELECT")]
    assert len(reads) == 12


# --- who does the work ----------------------------------------------------------------------------
def test_without_a_broker_the_thread_of_the_site_does_it(settings, together, small_chunks):
    settings.BACKGROUND_THREAD, settings.CELERY_BROKER_URL = True, None
    make_archive(2)
    replay = begin()
    nudge.nudge(replay.pk)
    background._thread.join(60)
    replay.refresh_from_db()
    assert replay.state == "done"


def test_a_task_works_on_one_chunk_and_asks_for_the_next(monkeypatch, small_chunks):
    make_archive(2)
    replay, asked = begin(), []
    monkeypatch.setattr(tasks, "nudge", lambda pk, **more: asked.append((pk, more)))
    tasks.replay_some(replay.pk)
    assert (ReplayResult.objects.count(), asked) == (1, [(replay.pk, {"wait_s": 0})])
    run(replay)
    tasks.replay_some(replay.pk)
    assert len(asked) == 1


def test_a_stalled_replay_is_taken_up_once_by_whoever_looks(monkeypatch):
    replay, asked = begin(), []
    monkeypatch.setattr(nudge, "nudge", lambda pk, **more: asked.append(pk))
    client = client_of("manager")
    for _look in range(3):
        client.get(reverse("rules-replay-progress", args=[replay.pk]))
    assert asked == [replay.pk]
    run(replay)
    tasks.resume_replays()
    assert asked == [replay.pk]


# --- the command ----------------------------------------------------------------------------------
def said(capsys, *args):
    call_command("replay-rules", *args)
    return capsys.readouterr().out


def test_the_command_tries_the_draft_and_prints_what_changes(capsys):
    make_archive()
    make_draft(change=raise_prior("thrips", "rare"))
    found = json.loads(said(capsys, "--json"))
    assert (found["state"], found["before"]) == ("done", load_bundled().version)
    assert found["done"] == found["cases"] == found["same"] + found["slight"] + found["changed"]
    assert f"of {found['cases']} rankings change" in said(capsys, "--version", found["after"])


def test_the_command_goes_on_with_a_running_replay(capsys):
    make_archive()
    replay = begin()
    assert json.loads(said(capsys, "--continue", "--json"))["replay"] == replay.pk
    with pytest.raises(CommandError, match="No replay is running"):
        call_command("replay-rules", "--continue")


def test_the_command_says_what_stands_in_the_way():
    with pytest.raises(CommandError, match="There is no draft"):
        call_command("replay-rules")
    with pytest.raises(CommandError, match="There is no version"):
        call_command("replay-rules", "--version", "nope")
    make_draft(change=break_link)
    with pytest.raises(CommandError, match="no-such-sign"):
        call_command("replay-rules", "--draft")


# --- the pages ------------------------------------------------------------------------------------
def test_a_manager_tries_the_draft_and_reads_what_changes():
    client = client_of("manager")
    make_archive()
    make_draft(change=raise_prior("thrips", "rare"))
    assert "not tried" in client.get(reverse("rules-draft")).content.decode()
    address = client.post(reverse("rules-replay-start"))["Location"]
    running = client.get(address).content.decode()
    assert f"0 of {len(SIGNS) + len(bundled_files())} cases" in running
    assert "every 2s" in running
    run(RulesReplay.objects.get())
    page = client.get(address)
    assert "every 2s" not in page.content.decode()
    assert page.context["page"].changes
    assert "Thrips" in page.content.decode()
    over = client.get(reverse("rules-replay-progress", args=[page.context["replay"].pk]))
    assert over["HX-Retarget"] == over["HX-Reselect"] == "#content"
    assert "Thrips" in over.content.decode()
    assert "not tried" not in client.get(reverse("rules-draft")).content.decode()


def test_a_running_replay_is_cancelled_from_its_page():
    client, replay = client_of("manager"), begin()
    client.post(reverse("rules-replay-cancel", args=[replay.pk]))
    replay.refresh_from_db()
    assert replay.state == "cancelled"
    assert "Cancelled after 0" in client.get(reverse("rules-replay", args=[replay.pk])).content.decode()


def test_a_draft_with_something_to_mend_is_not_tried():
    client = client_of("manager")
    make_draft(change=break_link)
    assert client.post(reverse("rules-replay-start"))["Location"] == reverse("rules-draft")
    assert not RulesReplay.objects.exists()


def test_changes_are_paged_and_the_database_is_asked_as_often(monkeypatch, small_chunks):
    monkeypatch.setattr("consults.rules.replay_selectors.PAGE", 2)
    make_archive(3)
    replay = run(begin(changed(raise_prior("thrips", "rare"), raise_prior("overwatering", "rare"))))
    first, second = changes_page(replay), changes_page(replay, number=2)
    assert first.more
    assert len(first.changes) == 2
    assert first.changes != second.changes
    client = client_of("manager")
    address = reverse("rules-replay", args=[replay.pk])
    few = queries_of(client, address)
    monkeypatch.setattr("consults.rules.replay_selectors.PAGE", 20)
    assert queries_of(client, address) == few


@pytest.mark.parametrize("role", ["counter", "consultant"])
def test_others_do_not_try_rules(role):
    client, replay = client_of(role), begin()
    for name in ("rules-replay", "rules-replay-progress"):
        assert client.get(reverse(name, args=[replay.pk])).status_code == 403
    assert client.post(reverse("rules-replay-cancel", args=[replay.pk])).status_code == 403
    assert client.post(reverse("rules-replay-start")).status_code == 403
