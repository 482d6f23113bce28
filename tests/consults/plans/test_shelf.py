"""The shop's shelf: entered by the manager, found by plans, kept in issued ones as it was."""

from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from consults.models import ShelfItem, Shop
from consults.plans.services import plan_issue
from consults.plans.shelf import shelf_retire, shelf_save, shelf_stock
from consults.plans.snapshot import build_snapshot
from garden.access import Role
from tests.consults.plans.making import make_draft
from tests.factories import client_of, make_staff

pytestmark = pytest.mark.django_db
IRON = {"name": "Iron EDDHA", "needs": ["iron-chelate"], "unit": "g", "pack_size": Decimal(100),
        "in_stock": True, "note": "bottom shelf", "price_minor": 1250}  # fmt: skip
SENT = {"name": "Iron EDDHA", "needs": ["iron-chelate", "complete-feed"], "unit": "g", "pack_size": "100",
        "in_stock": "on", "note": "", "price": "12.50"}  # fmt: skip


def make_item(**parts: Any) -> ShelfItem:
    return shelf_save(data={**IRON, **parts}, by=make_staff(Role.MANAGER))


def iron_line(snapshot: dict[str, Any]) -> dict[str, Any]:
    return next(line for line in snapshot["shopping"]["lines"] if line["need"] == "iron-chelate")


def iron_plan() -> Any:
    plan = make_draft(causes=["iron-deficiency"])
    plan.actions.filter(code="iron-chelate-drench").update(included=True)
    return plan


@pytest.mark.parametrize("role", [Role.COUNTER, Role.CONSULTANT])
def test_only_the_manager_changes_the_shelf_and_everybody_reads_it(role: Role) -> None:
    item, client = make_item(), client_of(role)
    page = client.get(reverse("shelf"))
    assert page.status_code == 200 and "Iron EDDHA" in page.content.decode()
    for name, args in (("shelf-new", []), ("shelf-edit", [item.pk]), ("shelf-retire", [item.pk])):
        assert client.post(reverse(name, args=args), SENT).status_code == 403
    with pytest.raises(PermissionDenied):
        shelf_save(data=IRON, by=make_staff(role))
    with pytest.raises(PermissionDenied):
        shelf_retire(item=item, retired=True, by=make_staff(role))
    item.refresh_from_db()
    assert (ShelfItem.objects.count(), item.retired) == (1, False)


def test_a_stranger_is_sent_to_sign_in() -> None:
    assert Client().get(reverse("shelf")).status_code == 302


def test_an_item_is_entered_changed_taken_off_and_put_back() -> None:
    client = client_of(Role.MANAGER)
    assert client.post(reverse("shelf-new"), SENT).headers["Location"] == reverse("shelf")
    item = ShelfItem.objects.get()
    assert (item.price_minor, item.currency, item.needs) == (1250, "EUR", ["iron-chelate", "complete-feed"])
    client.post(reverse("shelf-edit", args=[item.pk]), {**SENT, "price": "", "name": "Iron"})
    item.refresh_from_db()
    assert (item.name, item.price_minor, item.currency) == ("Iron", None, "")
    assert item.history.count() == 2 and item.history.first().history_user is not None
    client.post(reverse("shelf-retire", args=[item.pk]))
    assert shelf_stock("EUR") == []
    assert "not sold any more" in client.get(reverse("shelf")).content.decode()
    client.post(reverse("shelf-retire", args=[item.pk]))
    assert [stock.name for stock in shelf_stock("EUR")] == ["Iron"]
    assert client.get(reverse("shelf-retire", args=[item.pk])).status_code == 405


@pytest.mark.parametrize(
    "changes",
    [{"name": ""}, {"needs": []}, {"needs": ["nonsense"]}, {"unit": "bushel"}, {"pack_size": "0"},
     {"price": "12.505"}, {"price": "-1"}, {"price": "cheap"}, {"price": "NaN"}, {"price": "9" * 15}],
)  # fmt: skip
def test_an_item_without_sense_is_refused(changes: dict[str, Any]) -> None:
    assert client_of(Role.MANAGER).post(reverse("shelf-new"), {**SENT, **changes}).status_code == 422
    assert not ShelfItem.objects.exists()


def test_a_yen_price_has_no_decimals() -> None:
    Shop.objects.create(pk=1, currency="JPY")
    client = client_of(Role.MANAGER)
    assert client.post(reverse("shelf-new"), SENT).status_code == 422
    client.post(reverse("shelf-new"), {**SENT, "price": "1250"})
    assert (ShelfItem.objects.get().price_minor, ShelfItem.objects.get().currency) == (1250, "JPY")


def test_a_price_of_another_currency_is_not_added_up() -> None:
    item = make_item()
    assert shelf_stock("EUR")[0].price_minor == 1250
    assert shelf_stock("USD")[0].price_minor is None
    Shop.objects.create(pk=1, currency="USD")
    assert "price in another currency" in client_of(Role.MANAGER).get(reverse("shelf")).content.decode()
    page = client_of(Role.MANAGER).get(reverse("shelf-edit", args=[item.pk])).content.decode()
    assert "was entered in EUR" in page


def test_a_plan_lists_what_to_buy_from_the_shelf_and_what_costs_nothing() -> None:
    make_item()
    snapshot = build_snapshot(iron_plan())
    line = iron_line(snapshot)
    assert line["must"] and line["item"]["name"] == "Iron EDDHA"
    assert line["cost"] == "12.50\N{NO-BREAK SPACE}EUR" == snapshot["shopping"]["total"]
    texts = {action["text"] for action in snapshot["actions"]}
    assert line["instead"], "the pH can be mended without buying iron"
    assert any(other["in_plan"] and other["text"] in texts for other in line["instead"])


def test_without_a_shelf_the_list_names_what_is_needed_and_counts_what_has_no_price() -> None:
    shopping = build_snapshot(iron_plan())["shopping"]
    line = next(line for line in shopping["lines"] if line["need"] == "iron-chelate")
    assert (line["item"], line["cost"], line["name"]) == (None, "", "iron chelate")
    assert shopping["unpriced"] >= 1 and shopping["total"].startswith("0")


def test_the_amount_of_the_plan_decides_how_many_packs() -> None:
    make_item(name="Bitter salt", needs=["magnesium-sulfate"], pack_size=Decimal(5), price_minor=100)
    plan = make_draft(causes=["magnesium-deficiency"])
    drench = plan.actions.get(code="magnesium-drench")
    drench.included = True
    drench.save()
    line = next(
        row for row in build_snapshot(plan)["shopping"]["lines"] if row["need"] == "magnesium-sulfate"
    )
    assert (line["amount"], line["packs"], line["cost"]) == ("12 grams", 3, "3.00\N{NO-BREAK SPACE}EUR")
    drench.quantity = "a pinch"
    drench.save()
    line = next(
        row for row in build_snapshot(plan)["shopping"]["lines"] if row["need"] == "magnesium-sulfate"
    )
    assert (line["amount"], line["packs"]) == ("", 1), "an amount changed by hand is not reckoned with"


def test_an_issued_plan_keeps_its_prices() -> None:
    item, plan = make_item(), iron_plan()
    issued = plan_issue(plan=plan, by=make_staff(), send_email=False)
    shelf_save(data={**IRON, "price_minor": 9999}, by=make_staff(Role.MANAGER), item=item)
    issued.refresh_from_db()
    assert iron_line(issued.snapshot)["cost"] == "12.50\N{NO-BREAK SPACE}EUR"
    page = client_of(Role.CONSULTANT).get(reverse("plan", args=[issued.pk])).content.decode()
    assert "Without buying anything" in page and "Iron EDDHA" in page and "99.99" not in page


def test_what_is_named_instead_never_contradicts_the_plan() -> None:
    plan = make_draft(causes=["overwatering", "iron-deficiency"])
    plan.actions.filter(code__in=["iron-chelate-drench", "let-pot-dry"]).update(included=True)
    plan.actions.filter(code="refresh-root-zone").update(included=False)
    refresh = plan.actions.get(code="refresh-root-zone").text
    assert refresh not in [other["text"] for other in iron_line(build_snapshot(plan))["instead"]]
