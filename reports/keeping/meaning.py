"""What erasing a grower means for each table: written out, so that a new table needs a decision.

A test fails while a model, or a column of a grower's model that can hold words, stands in neither table.
"""

from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from reports.keeping.fates import (
    Held,
    anonymous_name,
    case_inputs,
    cleaned,
    cleared,
    line_text,
    nothing,
    plan_snapshot,
    replaced,
    revoked,
    sent_state,
    stays,
)
from reports.keeping.identity import identity_of


def _question_of_a_case(grower: int) -> Q:
    return Q(grower__isnull=True, case__grower=grower)


def _message_to(grower: int) -> Q:
    """A message that belongs to no plan but went to an address of this grower."""
    to = Q(pk__in=[])
    for email in identity_of([grower]).emails:
        to |= Q(to__iexact=email)
    return Q(plan__isnull=True) & to


# Parents stand before what belongs to them.
GROWERS: tuple[Held, ...] = (
    Held(
        "garden.Grower",
        _("grower"),
        columns={
            "name": anonymous_name,
            "phone": cleared,
            "phone_digits": cleared,
            "email": cleared,
            "email_consent_at": nothing,
            "email_consent_by": nothing,
            "email_consent_how": cleared,
            "reminders_stopped_at": nothing,
            "reminders_stopped_how": cleared,
            "email_unreachable_at": nothing,
            "email_unreachable_why": cleared,
            "notes": cleared,
            "language": stays,
        },
        goes=_("name, phone, email, consent and notes"),
        stays=_("a number, the units and the language"),
    ),
    Held(
        "garden.Garden",
        _("gardens"),
        of="grower",
        columns={"name": cleared, "notes": cleared},
        goes=_("names of gardens and notes on them"),
        stays=_("that there is a garden"),
    ),
    Held("garden.Space", _("spaces"), of="garden", stays=_("kind and size")),
    Held(
        "garden.Lamp", _("lamps"), of="space", columns={"type": stays}, stays=_("type, power, height, hours")
    ),
    Held(
        "garden.WaterSource", _("waters"), of="garden", stays=_("where the water comes from and its analysis")
    ),
    Held(
        "garden.Feed",
        _("feeds"),
        of="garden",
        columns={"product": cleaned},
        stays=_("what is added, and how much"),
    ),
    Held(
        "garden.Planting",
        _("plantings"),
        of="space",
        columns={"crop": cleaned, "profile": stays, "stage": stays, "system": stays, "medium": stays},
        stays=_("crop, stage, growing system, sizes"),
    ),
    Held(
        "garden.Photo",
        _("photos"),
        of="planting",
        rows_go=True,
        files=("image", "thumbnail"),
        goes=_("the pictures, the small ones made from them, and what stood beneath"),
    ),
    Held(
        "garden.Reading",
        _("readings"),
        of="planting",
        columns={"quantity": stays, "typed": cleaned, "unit": stays},
        stays=_("what was measured, when"),
    ),
    Held(
        "consults.Question",
        _("questions"),
        of="grower",
        also=_question_of_a_case,
        columns={"words": replaced, "answer": replaced},
        goes=_("the words of the question and of our answer"),
        stays=_("that something was asked, and when"),
    ),
    Held(
        "consults.Case",
        _("cases"),
        of="grower",
        columns={"story": cleared, "notes": cleared, "import_key": nothing, "confirmed_cause": stays},
        goes=_("the story and our notes"),
        stays=_("dates, the confirmed cause and how it was confirmed"),
    ),
    Held(
        "consults.CaseFinding",
        _("findings"),
        of="case",
        columns={"code": stays},
        stays=_("what was looked at and seen"),
    ),
    Held(
        "consults.CasePractice",
        _("habits"),
        of="case",
        columns={"code": stays},
        stays=_("how plants are usually treated"),
    ),
    Held("consults.CasePhoto", _("photos of cases"), of="case", rows_go=True),
    Held(
        "consults.Ranking",
        _("rankings"),
        of="case",
        columns={"inputs": case_inputs, "result": stays},
        goes=_("the grower and the story in what they were made from"),
        stays=_("the ranked causes and the version of the rules"),
    ),
    Held(
        "consults.BenchAnswer",
        _("answers of the bench"),
        of="case",
        columns={"tool": stays, "question": stays, "inputs": cleaned, "answer": cleaned},
        stays=_("numbers asked and answered"),
    ),
    Held(
        "consults.ReplayChange",
        _("rankings by other rules"),
        of="case",
        columns={
            "file": stays,
            "before_cause": stays,
            "after_cause": stays,
            "moves": stays,
            "confirmed": stays,
        },
        stays=_("causes under other rules"),
    ),
    Held(
        "consults.Plan",
        _("plans"),
        of="case",
        columns={
            "causes": stays,
            "greeting": cleared,
            "snapshot": plan_snapshot,
            "snapshot_sha256": stays,
        },
        goes=_("opening words, name, story, captions of photos, lines written by hand"),
        stays=_("causes, readings, lines of the rules, dates, the hash of what was issued"),
    ),
    Held(
        "consults.PlanAction",
        _("lines of plans"),
        of="plan",
        columns={
            "code": stays,
            "causes": stays,
            "text": line_text,
            "quantity_code": stays,
            "quantity": cleaned,
            "working": stays,
            "why": stays,
            "worked_when": stays,
            "stop_when": stays,
            "waits_for": stays,
            "cautions": stays,
            "opposes": stays,
        },
        goes=_("texts written by hand"),
        stays=_("lines of the rules, amounts"),
    ),
    Held(
        "consults.FollowUp",
        _("looks afterwards"),
        of="plan",
        columns={"note": cleared},
        goes=_("the note"),
        stays=_("whether it got better, and when"),
    ),
    Held(
        "consults.CheckIn",
        _("check-ins"),
        of="plan",
        columns={
            "key": stays,
            "link_revoked_at": revoked,
            "actions_done": stays,
            "changes": stays,
            "progress": stays,
            "words": cleared,
        },
        goes=_("what the grower wrote in their own words; the link they had"),
        stays=_("what was done, what changed, and when"),
    ),
    Held(
        "consults.LookReminder",
        _("reminders of looks"),
        of="check_in",
        columns={"kind": stays},
        stays=_("that there was a reminder"),
    ),
    Held(
        "consults.Outcome",
        _("outcomes"),
        of="check_in",
        columns={
            "confirmed_causes": stays,
            "confirmed_how": stays,
            "actions": stays,
            "findings_before": stays,
            "findings_after": stays,
            "came_to": stays,
        },
        stays=_("causes, what helped, and what it came to"),
    ),
    Held(
        "reports.Document",
        _("documents"),
        of="plan",
        columns={"claimed_by": stays, "last_error": cleared, "kind": stays, "file": stays, "sha256": stays},
        files=("file",),
        goes=_("the files themselves"),
        stays=_("their hashes, dates and numbers of pages"),
    ),
    Held(
        "reports.Message",
        _("messages"),
        of="plan",
        also=_message_to,
        columns={
            "claimed_by": stays,
            "last_error": cleared,
            "key": stays,
            "to": cleared,
            "subject": replaced,
            "body": cleared,
            "message_id": stays,
            "state": sent_state,
            "sent_as": cleared,
            "report_status": stays,
            "report_note": cleared,
        },
        goes=_("address, subject, text, and the file of a mail kept as one; what waits is not sent"),
        stays=_("that something was sent, and when"),
    ),
)

# Nobody's in particular. The reason says why no grower is in them; what somebody typed there about a grower
# all the same is found by the sweep (reports.keeping.sweep).
SHOPS: dict[str, str] = {
    "garden.Staff": "the shop's own people",
    "garden.CropProfile": "crops as the shop sees them",
    "consults.Shop": "the shop itself",
    "consults.ShelfItem": "what the shop sells",
    "consults.ShopWording": "the shop's words for what the rules say",
    "consults.RulesetVersion": "rules",
    "consults.RulesDraft": "rules",
    "consults.RulesReplay": "numbers about many cases",
    "consults.ReplayChunk": "numbers about many cases",
    "consults.ReplayResult": "numbers about many cases",
    "consults.Erasure": "the record of the erasure: counts, no identity",
    "auth.Group": "staff",
    "auth.Permission": "staff",
    "contenttypes.ContentType": "names of tables",
    "sessions.Session": "who of the staff is signed in; notices in it are cleaned by the sweep",
    "axes.AccessAttempt": "who tried to sign in",
    "axes.AccessAttemptExpiration": "who tried to sign in",
    "axes.AccessFailureLog": "who tried to sign in",
    "axes.AccessLog": "who signed in",
}
