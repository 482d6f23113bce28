"""A case keeps the rules it was ranked by, and is ranked again by those in force when somebody asks."""

import pytest
from django.urls import reverse

from consults.cases.services import ranking_store
from consults.models import CaseFinding, Ranking
from consults.rules.services import ruleset_publish
from consults.rules.tables import dump, load
from consults.ruleset.loader import Ruleset, load_bundled
from tests.consults.rules.making import raise_prior
from tests.factories import client_of, make_case, make_staff, queries_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def case():
    """A wet pot, ranked once by the bundled rules."""
    case = make_case()
    for code in ("medium-stays-wet", "wilting-medium-moist"):
        CaseFinding.objects.create(case=case, code=code, state="present")
    ranking_store(case=case, by=make_staff())
    return case


def publish_others():
    tables = load(load_bundled().to_json())
    raise_prior("overwatering", "rare")(tables)
    return ruleset_publish(ruleset=Ruleset.from_json(dump(tables)), by=make_staff("manager"))


def test_a_case_keeps_its_version_when_other_rules_are_published(case):
    row = publish_others()
    kept = Ranking.objects.get()
    assert kept.ruleset.version == load_bundled().version
    line = client_of().get(reverse("case-rules-line", args=[case.pk])).content.decode()
    assert f"by version {load_bundled().version}; other rules are in force" in line
    page = client_of().get(reverse("case-rules", args=[case.pk])).content.decode()
    assert row.version in page
    assert "Overwatering" in page


def test_a_case_is_ranked_again_one_at_a_time_and_the_old_reckoning_stays(case):
    row = publish_others()
    client_of("counter").post(reverse("case-rank-again", args=[case.pk]))
    new, old = Ranking.objects.all()
    assert (new.ruleset, old.ruleset.version) == (row, load_bundled().version)
    chances = [{c["code"]: c["probability"] for c in ranking.result["causes"]} for ranking in (old, new)]
    assert chances[1]["overwatering"] < chances[0]["overwatering"]
    line = client_of().get(reverse("case-rules-line", args=[case.pk])).content.decode()
    assert "in force now" in line
    assert "Compare" not in line


def test_a_case_never_ranked_says_so():
    case = make_case()
    assert "No reckoning" in client_of().get(reverse("case-rules", args=[case.pk])).content.decode()
    assert client_of().get(reverse("case-rules", args=[10**12])).status_code == 404


def test_the_database_is_asked_as_often_however_many_reckonings_were_kept(case):
    client, address = client_of(), reverse("case-rules", args=[case.pk])
    few = queries_of(client, address)
    ranking_store(case=case, by=make_staff())
    assert queries_of(client, address) == few
