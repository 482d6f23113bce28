"""The case page: each part saves by itself and answers with the new reckoning."""

import json
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from consults.cases.casefile import CaseFile
from consults.models import Case
from consults.rules.services import ruleset_publish
from consults.ruleset.loader import Ruleset, load_bundled
from garden.access import Role
from garden.models import Photo, Reading
from tests.consults.plans.making import make_wet_case
from tests.factories import (
    client_of,
    make_case,
    make_garden,
    make_grower,
    make_planting,
    make_question,
    make_staff,
    make_upload,
    picture_bytes,
    queries_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    return client_of(Role.CONSULTANT)


@pytest.fixture
def case() -> Case:
    return make_case(make_planting(crop="pepper"))


def at(name: str, *args: Any) -> str:
    return reverse(name, args=args)


def first_cause(page: str) -> str:
    """The cause on top of the reckoning."""
    found = re.search(r'class="cause-name">([^<]+)<', page)
    assert found, page
    return found[1]


def post_reading(client: Client, case: Case, code: str, typed: str) -> tuple[int, str]:
    answer = client.post(at("case-reading", case.pk, code), {f"{code}-value": typed})
    return answer.status_code, answer.content.decode()


# --- who ------------------------------------------------------------------------------------------
ADDRESSES = [
    ("cases", False), ("case-new", False), ("case", True), ("case-story", True), ("case-practices", True),
    ("case-photos", True), ("case-confirm", True), ("case-reopen", True), ("case-file", True),
]  # fmt: skip


@pytest.mark.parametrize(("name", "of_case"), ADDRESSES)
def test_nobody_signed_in_is_sent_to_sign_in(name: str, of_case: bool, case: Case) -> None:
    url = at(name, case.pk) if of_case else at(name)
    for answer in (Client().get(url), Client().post(url)):
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith(reverse("login"))


def test_the_counter_enters_what_is_seen_but_neither_confirms_nor_reopens(case: Case) -> None:
    counter = client_of(Role.COUNTER)
    assert counter.get(at("case", case.pk)).status_code == 200
    finding = counter.post(at("case-finding", case.pk, "tip-necrosis"), {"tip-necrosis": "present"})
    assert finding.status_code == 200
    for name in ("case-confirm", "case-reopen"):
        refusal = counter.post(at(name, case.pk), {"cause": "overwatering", "how": "seen"})
        assert refusal.status_code == 403
        assert "Your role does not let you confirm the cause" in refusal.content.decode()
    case.refresh_from_db()
    assert case.status == "open"


def test_a_page_of_a_case_that_is_not_there_is_404(client: Client) -> None:
    assert client.get(at("case", 4711)).status_code == 404


@pytest.mark.parametrize(
    "name", ["case-story", "case-practices", "case-photos", "case-confirm", "case-reopen"]
)
def test_what_writes_is_not_done_by_looking(name: str, client: Client, case: Case) -> None:
    assert client.get(at(name, case.pk)).status_code == 405


# --- findings -------------------------------------------------------------------------------------
def test_a_finding_is_present_absent_or_not_looked_at_and_the_reckoning_follows(
    client: Client, case: Case
) -> None:
    url = at("case-finding", case.pk, "wilting-medium-dry")
    seen = client.post(url, {"wilting-medium-dry": "present"}).content.decode()
    assert first_cause(seen) == "Underwatering"
    assert case.findings.get().state == "present"
    absent = client.post(url, {"wilting-medium-dry": "absent"}).content.decode()
    assert first_cause(absent) != "Underwatering"
    assert case.findings.get().state == "absent"
    back = client.post(url, {"wilting-medium-dry": ""}).content.decode()
    assert not case.findings.exists()
    assert "Tick what you see" in back


def test_the_reckoning_keeps_the_causes_that_are_ticked(client: Client, case: Case) -> None:
    answer = client.post(
        at("case-finding", case.pk, "tip-necrosis"),
        {"tip-necrosis": "present", "causes": ["", "salt-buildup", "heat-stress"]},
    ).content.decode()
    ticked = re.findall(r'name="causes" value="([^"]+)" checked', answer)
    assert set(ticked) == {"salt-buildup", "heat-stress"}
    none = client.post(
        at("case-finding", case.pk, "tip-necrosis"), {"tip-necrosis": "present", "causes": [""]}
    ).content.decode()
    assert not re.findall(r'name="causes" value="([^"]+)" checked', none)


def test_a_finding_that_is_not_in_the_rules_is_refused_in_words(client: Client, case: Case) -> None:
    answer = client.post(at("case-finding", case.pk, "gone"), {"gone": "present"})
    assert answer.status_code == 409
    assert "Reload the page" in answer.content.decode()
    assert not case.findings.exists()


def test_practices_change_the_reckoning_and_unknown_ones_are_dropped(client: Client) -> None:
    case = make_case(make_planting(crop="pepper"))
    client.post(at("case-finding", case.pk, "bleaching-top"), {"bleaching-top": "present"})
    htmx = {"headers": {"HX-Request": "true"}}
    answer = client.post(at("case-practices", case.pk), {"codes": ["lamp-moved-closer", "no-such"]}, **htmx)
    assert first_cause(answer.content.decode()) == "Excess light"
    assert [p.code for p in case.practices.all()] == ["lamp-moved-closer"]
    plain = client.post(at("case-practices", case.pk), {"codes": []})
    assert plain.status_code == 302
    assert not case.practices.exists()


# --- readings -------------------------------------------------------------------------------------
def test_a_reading_is_kept_and_the_reckoning_follows(client: Client, case: Case) -> None:
    client.post(
        at("case-finding", case.pk, "interveinal-chlorosis-young"), {"interveinal-chlorosis-young": "present"}
    )
    status, page = post_reading(client, case, "root_zone_ph", "7.6")
    assert status == 200
    assert "above" in page and 'value="7.6"' in page
    assert first_cause(page) in ("Iron deficiency", "High root-zone pH")
    reading = case.readings.get()
    assert (reading.quantity, reading.value, reading.typed, reading.unit) == (
        "root_zone_ph",
        7.6,
        "7.6",
        "pH",
    )


@pytest.mark.parametrize(
    ("code", "typed", "says"),
    [
        ("root_zone_ph", "19", "19 is not possible: it must lie from 0 to 14 pH"),
        ("rh_percent", "140", "from 0 to 100 %"),
        ("feed_ec_ms_cm", "-1", "from 0 to 30 mS/cm"),
        ("root_zone_ph", "acid", "is not a clear number"),
        ("co2_ppm", "1,250", "write 1250 or 1.250"),
        ("air_temp_c", "24 kg", "cannot be used here"),
        ("root_zone_ph", "NaN", "is not a clear number"),
    ],
)
def test_an_impossible_reading_is_refused_in_words_and_what_was_typed_stays(
    code: str, typed: str, says: str, client: Client, case: Case
) -> None:
    post_reading(client, case, code, "5")
    status, page = post_reading(client, case, code, typed)
    assert status == 422
    assert says in page
    assert f'value="{typed}"' in page
    assert "reckoning" not in re.sub(r'hx-include="[^"]*"', "", page)
    kept = list(case.readings.values_list("value", flat=True))
    assert kept in ([5.0], []), "the reading before stays (co2 of 5 was impossible itself)"


def test_an_unusual_reading_is_kept_and_questioned(client: Client, case: Case) -> None:
    status, page = post_reading(client, case, "feed_ec_ms_cm", "9")
    assert status == 200
    assert "Unusual: check the number and the meter. It is kept." in page
    assert Reading.objects.get().unusual
    _status, page = post_reading(client, case, "feed_ec_ms_cm", "1.5")
    assert "Unusual" not in page
    assert Reading.objects.get().value == 1.5


@pytest.mark.parametrize(("typed", "value"), [("6,3", 6.3), (" 6.3 ", 6.3), ("6.3 pH", 6.3)])
def test_a_decimal_comma_is_a_decimal_point(typed: str, value: float, client: Client, case: Case) -> None:
    assert post_reading(client, case, "root_zone_ph", typed)[0] == 200
    assert Reading.objects.get().value == value
    assert Reading.objects.get().typed == typed.strip()


def us_case() -> Case:
    return make_case(make_planting(grower=make_grower(units="us"), crop="pepper"))


@pytest.mark.parametrize(
    ("typed", "celsius"), [("77", 25.0), ("77 °F", 25.0), ("25 °C", 25.0), ("-4", -20.0)]
)
def test_a_us_grower_types_degrees_fahrenheit(typed: str, celsius: float, client: Client) -> None:
    """(°F - 32) × 5/9, definition."""
    case = us_case()
    status, page = post_reading(client, case, "air_temp_c", typed)
    assert status == 200
    assert "°F" in page and f'value="{typed}"' in page
    assert Reading.objects.get().value == pytest.approx(celsius)


def test_a_us_grower_reads_the_limits_in_degrees_fahrenheit(client: Client) -> None:
    status, page = post_reading(client, us_case(), "air_temp_c", "200")
    assert status == 422
    assert "200 is not possible: it must lie from -4 to 140 °F" in page


def test_a_reading_that_came_in_degrees_celsius_is_shown_to_a_us_grower_in_fahrenheit(client: Client) -> None:
    case = make_wet_case(grower={"name": "N", "units": "us"})
    page = client.get(at("case", case.pk)).content.decode()
    found = re.search(r'name="air_temp_c-value" value="([^"]*)"', page)
    assert found and found[1] == "75.2"
    _status, page = post_reading(client, case, "air_temp_c", found[1])
    assert case.readings.get(quantity="air_temp_c").value == pytest.approx(24)


def test_an_emptied_reading_is_taken_back(client: Client, case: Case) -> None:
    post_reading(client, case, "root_zone_ph", "7.6")
    status, _page = post_reading(client, case, "root_zone_ph", " ")
    assert status == 200
    assert not Reading.objects.exists()


def test_a_reading_shared_with_an_earlier_case_stays_there(client: Client, case: Case) -> None:
    post_reading(client, case, "root_zone_ph", "7.6")
    earlier = make_case(case.planting)
    earlier.readings.add(case.readings.get())
    post_reading(client, case, "root_zone_ph", "6.1")
    assert [r.value for r in earlier.readings.all()] == [7.6]
    assert [r.value for r in case.readings.all()] == [6.1]


@pytest.mark.parametrize("code", ["vpd_kpa", "no_such"])
def test_what_is_computed_or_unknown_cannot_be_typed(code: str, client: Client, case: Case) -> None:
    assert post_reading(client, case, code, "1")[0] == 404


# --- the page -------------------------------------------------------------------------------------
def test_the_page_shows_story_findings_readings_and_reckoning(client: Client) -> None:
    case = make_wet_case()
    page = client.get(at("case", case.pk)).content.decode()
    assert "They droop although the soil is wet." in page
    assert first_cause(page) == "Overwatering"
    assert re.search(r'name="medium-stays-wet" value="present" checked', page)
    assert re.search(r'name="pests-on-leaves" value="absent" checked', page)
    for code in load_bundled().findings:
        assert len(re.findall(rf'id="finding-{code}"', page)) == 1, code
    assert "Build the plan" in page
    assert "Build the plan" not in client_of(Role.COUNTER).get(at("case", case.pk)).content.decode()


def test_a_case_costs_a_fixed_number_of_queries(client: Client) -> None:
    small, large = make_case(), make_wet_case()
    for finding in list(load_bundled().findings)[:40]:
        large.findings.get_or_create(code=finding, defaults={"state": "absent"})
    queries_of(client, at("case", small.pk))
    assert queries_of(client, at("case", large.pk)) <= queries_of(client, at("case", small.pk)) + 4


def test_a_case_with_a_finding_the_rules_no_longer_list_still_opens(client: Client) -> None:
    case = make_wet_case()
    tables = json.loads(load_bundled().to_json())
    for cause in tables["causes"]:
        cause["findings"] = [link for link in cause["findings"] if link["finding"] != "medium-stays-wet"]
    tables["findings"] = [finding for finding in tables["findings"] if finding["code"] != "medium-stays-wet"]
    ruleset_publish(ruleset=Ruleset.from_json(json.dumps(tables)), by=make_staff(Role.MANAGER))
    page = client.get(at("case", case.pk))
    assert page.status_code == 200
    assert "finding-medium-stays-wet" not in page.content.decode()


def test_lamps_that_cannot_be_so_bright_do_not_break_the_page(client: Client) -> None:
    case = make_wet_case()
    case.planting.space.lamps.update(photon_flux_umol_s=20_000, count=500)
    assert client.get(at("case", case.pk)).status_code == 200


def test_the_story_is_kept_or_refused_with_what_was_typed(client: Client, case: Case) -> None:
    url = at("case-story", case.pk)
    told = {"story": "They hang.", "onset_days": "9", "notes": "Look at roots."}
    assert client.post(url, told, headers={"HX-Request": "true"}).status_code == 200
    assert client.post(url, told).status_code == 302
    case.refresh_from_db()
    assert (case.story, case.onset_days, case.notes) == ("They hang.", 9, "Look at roots.")
    for days, says in (
        ("9000", "more than ten years"),
        ("-1", "greater than or equal to 0"),
        ("x", "whole number"),
    ):
        refused = client.post(url, {"story": "Another <story>", "onset_days": days})
        assert refused.status_code == 422
        assert says in refused.content.decode()
        assert "Another &lt;story&gt;" in refused.content.decode()
    case.refresh_from_db()
    assert case.story == "They hang."


def test_the_grower_s_own_words_suggest_findings_that_staff_accept_with_one_tap(client: Client) -> None:
    case = make_case(story="There is a white crust on the pot. No bugs on the leaves.")
    page = client.get(at("case", case.pk)).content.decode()
    assert "<q" in page and "white crust on the pot" in page
    taken = client.post(
        at("case-suggestion", case.pk, "salt-crust"), {"state": "present"}, headers={"HX-Request": "true"}
    )
    content = taken.content.decode()
    assert "white crust" not in content.split("finding-salt-crust")[0]
    assert 'hx-swap-oob="outerHTML"' in content and 'id="reckoning"' in content
    client.post(at("case-suggestion", case.pk, "pests-on-leaves"), {"state": "absent"})
    assert dict(case.findings.values_list("code", "state")) == {
        "salt-crust": "present",
        "pests-on-leaves": "absent",
    }
    assert "suggestions" in client.get(at("case", case.pk)).content.decode()
    assert client.get(at("case", case.pk)).context["suggestions"] == []


def test_a_changed_story_brings_its_suggestions_at_once(client: Client, case: Case) -> None:
    told = {"story": "Fine cobwebs between the leaves.", "onset_days": "", "notes": ""}
    answer = client.post(at("case-story", case.pk), told, headers={"HX-Request": "true"}).content.decode()
    assert "Saved." in answer
    assert at("case-suggestion", case.pk, "fine-webbing") in answer


def test_the_list_shows_cases_by_status_page_by_page(client: Client) -> None:
    planting = make_planting()
    made = [make_case(planting, story=f"story {n}") for n in range(30)]
    Case.objects.filter(pk=made[3].pk).update(status="closed", confirmed_cause="x", confirmed_how="seen")
    page = client.get(at("cases")).context["page"]
    assert [c.pk for c in page.cases] == [c.pk for c in reversed(made)][:25]
    rest = client.get(at("cases"), {"before": page.after}).context["page"]
    assert [c.pk for c in rest.cases] == [c.pk for c in reversed(made)][25:]
    assert [c.pk for c in client.get(at("cases"), {"status": "closed"}).context["page"].cases] == [made[3].pk]


@pytest.mark.parametrize("before", ["x", "-1", "9" * 5000, "9" * 25, "²"])
def test_an_address_somebody_bent_still_answers(before: str, client: Client) -> None:
    assert client.get(at("cases"), {"before": before, "status": "what"}).status_code == 200
    assert client.get(at("case-new"), {"grower": before}).status_code in (302, 404)


# --- opening --------------------------------------------------------------------------------------
def test_a_case_is_opened_for_one_of_the_growers_plantings(client: Client) -> None:
    planting = make_planting()
    grower, stranger = planting.space.garden.grower, make_planting()
    url = f"{at('case-new')}?grower={grower.pk}"
    assert client.get(url).status_code == 200
    wrong = client.post(url, {"planting": stranger.pk, "story": "x"})
    assert wrong.status_code == 200 and not Case.objects.exists()
    done = client.post(url, {"planting": planting.pk, "story": "They hang."})
    opened = Case.objects.get()
    assert done.headers["Location"] == at("case", opened.pk)
    assert (opened.grower, opened.planting, opened.story) == (grower, planting, "They hang.")
    assert opened.opened_by is not None


def test_a_question_lends_its_words_and_is_linked(client: Client) -> None:
    planting = make_planting()
    question = make_question(words="Why do they hang?", grower=planting.space.garden.grower)
    url = f"{at('case-new')}?question={question.pk}"
    assert "Why do they hang?" in client.get(url).content.decode()
    client.post(url, {"planting": planting.pk, "story": ""})
    assert (Case.objects.get().question, Case.objects.get().story) == (question, "Why do they hang?")


def test_what_is_not_known_yet_is_asked_first(client: Client) -> None:
    assert client.get(at("case-new")).headers["Location"].startswith(reverse("growers"))
    grower = make_grower()
    make_garden(grower)
    asked = client.get(f"{at('case-new')}?grower={grower.pk}")
    assert asked.headers["Location"].startswith(reverse("garden-new", args=[grower.pk]))


# --- photos ---------------------------------------------------------------------------------------
def test_a_photo_comes_into_the_case_through_the_form(client: Client, case: Case) -> None:
    data = {"photos": make_upload(picture_bytes(size=(90, 70))), "caption": "Lower leaves"}
    done = client.post(at("case-photos", case.pk), data)
    assert done.headers["Location"] == at("case", case.pk) + "#photos"
    photo = Photo.objects.get()
    assert (case.photos.get().photo, photo.caption, photo.planting) == (photo, "Lower leaves", case.planting)
    assert "Lower leaves" in client.get(at("case", case.pk)).content.decode()


@pytest.mark.parametrize("upload", [None, b"this is no picture"])
def test_what_is_no_photo_is_refused_in_words(upload: bytes | None, client: Client, case: Case) -> None:
    data = {} if upload is None else {"photos": make_upload(upload)}
    refused = client.post(at("case-photos", case.pk), data)
    assert refused.status_code == 422
    assert "invalid" in refused.content.decode()
    assert not Photo.objects.exists() and not case.photos.exists()


# --- the end --------------------------------------------------------------------------------------
def test_a_cause_is_confirmed_and_the_case_can_be_reopened(client: Client, case: Case) -> None:
    done = client.post(at("case-confirm", case.pk), {"cause": "none-of-these", "how": "laboratory"})
    assert done.headers["Location"] == at("case", case.pk)
    case.refresh_from_db()
    assert (case.status, case.confirmed_cause, case.confirmed_how) == (
        "closed",
        "none-of-these",
        "laboratory",
    )
    assert "None of these" in client.get(at("case", case.pk)).content.decode()
    client.post(at("case-reopen", case.pk))
    case.refresh_from_db()
    assert (case.status, case.confirmed_cause) == ("open", "")


@pytest.mark.parametrize(
    "data", [{}, {"cause": "gone", "how": "seen"}, {"cause": "overwatering", "how": "guess"}]
)
def test_a_confirmation_that_says_nothing_known_is_refused(
    data: dict[str, str], client: Client, case: Case
) -> None:
    assert client.post(at("case-confirm", case.pk), data).status_code == 422
    case.refresh_from_db()
    assert case.status == "open"


def test_a_case_is_exported_as_a_case_file(client: Client) -> None:
    case = make_wet_case()
    answer = client.get(at("case-file", case.pk))
    assert answer.headers["Content-Disposition"] == f'attachment; filename="case-{case.pk}.json"'
    content = json.loads(answer.content)
    exported = CaseFile.model_validate(content)
    assert exported.story == case.story
    assert "medium-stays-wet" in exported.present and "pests-on-leaves" in exported.absent
    assert exported.readings["root_zone_ph"] == 6.9
    assert "expected" not in content


def test_looking_deeper_says_what_tells_rivals_apart_and_what_would_change_the_order(client: Client) -> None:
    case = make_case(story="Yellow between the veins.")
    case.findings.create(code="interveinal-chlorosis-young", state="present")
    content = client.get(at("case-deeper", case.pk)).content.decode()
    assert "Iron deficiency or " in content or " or Iron deficiency?" in content
    assert "What would change the order" in content
    assert "→" in content
    assert "Look: " in content
    assert "Expected, but nobody looked" in content
    assert client.get(at("case-deeper", make_case().pk)).status_code == 200
