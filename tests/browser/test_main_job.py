"""The main job as a person does it: from the counter to a plan in the mailbox, and its next version."""

import hashlib
import io

import pypdfium2
import pytest
from django.core import mail
from PIL import Image
from playwright.sync_api import expect

from consults.models import Case, Plan
from garden.models import Photo
from reports.messages.delivery import drain
from tests.browser.desk import DESKTOP, PHONE, Desk
from tests.factories import PASSWORD, make_staff

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
STORY = "I water every day. The leaves hang although the soil is wet, and little flies come out of the pot."
FIRST_CAUSE = "#reckoning .cause-name >> nth=0"
GPS_BLOCK = 0x8825  # EXIF 2.32, tag GPSInfo


def picture_with_a_place() -> bytes:
    """A photo as a telephone takes it: maker, date and the place in its EXIF data."""
    exif = Image.Exif()
    exif[0x010F] = "Telephone maker"
    exif.get_ifd(GPS_BLOCK).update({1: "N", 2: (48.0, 12.0, 30.0), 3: "E", 4: (16.0, 22.0, 10.0)})
    buffer = io.BytesIO()
    Image.new("RGB", (640, 480), (40, 120, 50)).save(buffer, "JPEG", exif=exif)
    assert Image.open(io.BytesIO(buffer.getvalue())).getexif().get_ifd(GPS_BLOCK)
    return buffer.getvalue()


def sign_in(desk: Desk, name: str, password: str = PASSWORD) -> None:
    desk.page.get_by_label("Username").fill(name)
    desk.page.get_by_label("Password").fill(password)
    desk.page.get_by_role("button", name="Sign in").click()
    desk.settle()


def unfold(desk: Desk, selector: str) -> None:
    """Open, from the outside in, whatever this stands in."""
    for part in desk.page.locator(f"details:has({selector})").all():
        if part.get_attribute("open") is None:
            part.locator("> summary").click()


def see(desk: Desk, code: str, state: str) -> None:
    field = f"#finding-{code}"
    unfold(desk, field)
    desk.act(desk.page.locator(f"{field} input[value='{state}']").check, f"/findings/{code}/")


def measure(desk: Desk, code: str, typed: str) -> None:
    unfold(desk, f"#reading-{code}")
    field = desk.page.locator(f"#reading-{code} input[type=text]")
    field.fill(typed)
    desk.act(field.blur, f"/readings/{code}/")


def pdf_text(body: bytes) -> str:
    return "\n".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(body))


def plan_pdf(desk: Desk, link: str) -> bytes:
    """What the link to the PDF on this page gives."""
    address = desk.page.get_by_role("link", name=link).get_attribute("href")
    answer = desk.page.request.get(desk.site + address)
    assert answer.headers["content-type"] == "application/pdf"
    return answer.body()


# --- the steps ------------------------------------------------------------------------------------
def meet_the_grower(desk: Desk) -> None:
    expect(desk.page.get_by_role("heading", name="Who is here?")).to_be_visible()
    search = desk.page.get_by_label("Name, phone or email of the grower")
    desk.act(lambda: search.press_sequentially("555 0188"), "/growers/")
    desk.page.get_by_role("link", name="New grower “555 0188”").click()
    expect(desk.page.get_by_label("Phone")).to_have_value("555 0188")
    desk.page.get_by_label("Name").fill("Wilma Reed")
    desk.page.get_by_label("Email", exact=True).fill("wilma@home.example")
    desk.page.get_by_label("agrees to get plans").check()
    desk.page.get_by_role("button", name="Save").click()
    expect(desk.page.get_by_text("may be emailed")).to_be_visible()


def describe_the_garden(desk: Desk) -> None:
    desk.page.get_by_role("link", name="Describe the garden").click()
    for label, typed in {
        "Name of the garden": "Tent in the cellar",
        "What grows here": "Basil",
        "Number of plants": "6",
        "One container": "3",
        "Days between waterings": "1",
        "Each time, each plant": "0,4",
        "Length": "1.2",
        "Width": "1.2",
        "Height": "2",
        "Alkalinity": "150",
        "How many": "1",
        "Light of one lamp": "400",
        "Above the leaves": "40",
        "Light per day": "16",
    }.items():
        desk.page.get_by_label(label).first.fill(typed)
    for label, chosen in {
        "Stage": "vegetative",
        "Growing system": "hand-watered-pot",
        "Medium": "peat-perlite",
        "Kind of space": "tent",
        "Where the water comes from": "tap",
        "Type of lamp": "led-white",
    }.items():
        desk.page.get_by_label(label).first.select_option(chosen)
    desk.page.get_by_role("button", name="Save the garden").click()
    expect(desk.page.get_by_text("The garden is saved.")).to_be_visible()


def open_the_case(desk: Desk) -> Case:
    desk.page.get_by_role("link", name="New case").click()
    desk.page.get_by_label("What the grower says").fill(STORY)
    desk.page.get_by_role("button", name="Open the case").click()
    expect(desk.page.get_by_label("The story, in the grower's own words")).to_have_value(STORY)
    expect(desk.page.locator("#reckoning-line")).to_contain_text("Nothing entered yet")
    return Case.objects.get()


def look_and_measure(desk: Desk, case: Case) -> None:
    desk.leave_a_mark()
    see(desk, "salt-crust", "present")
    before = desk.page.locator(FIRST_CAUSE).text_content()
    see(desk, "salt-crust", "absent")
    for code in ("wilting-medium-moist", "medium-stays-wet", "fungus-gnats"):
        see(desk, code, "present")
    assert desk.page.locator(FIRST_CAUSE).text_content() != before
    expect(desk.page.locator(FIRST_CAUSE)).to_have_text("Overwatering")
    expect(desk.page.locator("#reckoning-line")).to_contain_text("Overwatering")
    ticked = desk.page.locator("#reckoning input[name=causes]:checked")
    assert ticked.evaluate_all("(boxes) => boxes.map((box) => box.value)") == ["overwatering"]

    measure(desk, "root_zone_ph", "64")
    line = desk.page.locator("#reading-root_zone_ph")
    expect(line).to_contain_text("64 is not possible")
    expect(line.locator("input[type=text]")).to_have_value("64")
    measure(desk, "root_zone_ph", "7,3")
    expect(line).to_contain_text("above")
    measure(desk, "air_temp_c", "47")
    expect(desk.page.locator("#reading-air_temp_c")).to_contain_text("Unusual")
    measure(desk, "air_temp_c", "24")

    assert desk.is_the_same_page()
    assert sorted(case.readings.values_list("quantity", "value")) == [
        ("air_temp_c", 24.0),
        ("root_zone_ph", 7.3),
    ]
    assert case.findings.filter(state="present").count() == 3


def add_a_photo(desk: Desk, case: Case) -> None:
    photo = {"name": "leaf.jpg", "mimeType": "image/jpeg", "buffer": picture_with_a_place()}
    desk.page.get_by_role("button", name="Photos").set_input_files(photo)
    desk.page.get_by_label("What it shows").fill("A hanging leaf")
    desk.page.get_by_role("button", name="Add the photo").click()
    expect(desk.page.get_by_role("img", name="A hanging leaf")).to_be_visible()
    kept = Photo.objects.get(pk=case.photos.get().photo_id)
    for file in (kept.image, kept.thumbnail):
        with file.open("rb") as stored:
            data = stored.read()
        assert b"Exif" not in data
        assert not dict(Image.open(io.BytesIO(data)).getexif())


def build_the_plan(desk: Desk) -> str:
    """Choose causes, build, change one line; returns its words."""
    handle = desk.page.locator(".drawer-handle")
    if handle.is_visible():
        handle.click()
    desk.page.get_by_role("checkbox", name="Overwatering", exact=True).set_checked(True)
    desk.page.get_by_role("checkbox", name="Fungus gnats", exact=True).set_checked(True)
    desk.page.get_by_role("button", name="Build the plan").click()
    expect(desk.page.get_by_role("heading", name="Plan, version 1")).to_be_visible()
    words = "Stop watering until the pot feels light in the hand."
    change_first_line(desk, words)
    return words


def change_first_line(desk: Desk, words: str) -> None:
    field = desk.page.locator(".action textarea[name$=text]").first
    field.fill(words)
    desk.act(field.blur, "/actions/")
    expect(desk.page.locator(".action").first).to_contain_text("Saved.")


def issue(desk: Desk, version: int) -> None:
    desk.page.get_by_role("button", name="Issue the plan").click()
    expect(desk.page.get_by_role("heading", name=f"Plan, version {version}")).to_contain_text("issued")
    expect(desk.page.locator("#sending")).to_contain_text("on its way")


def send(desk: Desk) -> None:
    assert drain(worker="test").sent == 1
    expect(desk.page.locator("#sending")).to_contain_text("sent")
    expect(desk.page.locator("#sending")).to_contain_text("wilma@home.example")


@pytest.mark.parametrize(
    "screen",
    [{"viewport": DESKTOP}, {"viewport": PHONE, "is_mobile": True, "has_touch": True}],
    ids=["desk", "phone"],
)
def test_from_the_counter_to_a_plan_in_the_mailbox_and_its_next_version(window, screen):
    make_staff("consultant", username="tilda")
    with window(**screen) as desk:
        desk.open("today")
        sign_in(desk, "tilda")
        meet_the_grower(desk)
        describe_the_garden(desk)
        case = open_the_case(desk)
        look_and_measure(desk, case)
        add_a_photo(desk, case)
        words = build_the_plan(desk)
        preview = pdf_text(plan_pdf(desk, "Preview as PDF"))
        assert "DRAFT" in preview
        assert words in " ".join(preview.split())

        issue(desk, 1)
        send(desk)
        first = plan_pdf(desk, "Open the PDF")
        assert "DRAFT" not in pdf_text(first)
        (letter,) = mail.outbox
        assert letter.to == ["wilma@home.example"]
        assert any(part.get_content_type() == "application/pdf" for part in letter.message().walk())

        steps = desk.page.locator(".plan-sheet .steps").all_inner_texts()
        desk.page.get_by_role("button", name="Write the next version").click()
        change_first_line(desk, "Water again, half as much as before.")
        issue(desk, 2)
        send(desk)
        expect(desk.page.locator(".plan-sheet")).to_contain_text("half as much as before")

        desk.open("plan", Plan.objects.get(version=1).pk)
        expect(desk.page.locator(".plan-sheet")).to_contain_text("A newer version took its place")
        assert desk.page.locator(".plan-sheet .steps").all_inner_texts() == steps
        again = plan_pdf(desk, "Open the PDF")
        assert hashlib.sha256(again).hexdigest() == hashlib.sha256(first).hexdigest()

        desk.page.get_by_role("button", name="Sign out").click()
        expect(desk.page.get_by_role("button", name="Sign in")).to_be_visible()
        desk.open("today")
        expect(desk.page.get_by_role("button", name="Sign in")).to_be_visible()
