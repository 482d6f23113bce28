"""Small vocabularies of this floor."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class Seen(models.TextChoices):
    PRESENT = "present", _("present")
    ABSENT = "absent", _("absent")


class CaseStatus(models.TextChoices):
    OPEN = "open", _("open")
    PLANNED = "planned", _("plan issued")
    CLOSED = "closed", _("closed")


class PlanStatus(models.TextChoices):
    DRAFT = "draft", _("draft")
    ISSUED = "issued", _("issued")


class When(models.TextChoices):
    TODAY = "today", _("today")
    THIS_WEEK = "this-week", _("this week")
    LATER = "later", _("later")


class Confirmed(models.TextChoices):
    SEEN = "seen", _("seen")
    MEASURED = "measured", _("measured")
    LABORATORY = "laboratory", _("laboratory")
    PRESUMED = "presumed", _("presumed")


class Progress(models.TextChoices):
    BETTER = "better", _("better")
    SAME = "same", _("the same")
    WORSE = "worse", _("worse")
    UNKNOWN = "unknown", _("not known")


class Paper(models.TextChoices):
    A4 = "A4", "A4"
    LETTER = "Letter", _("US Letter")


class HowFar(models.TextChoices):
    """What became of one line of a plan."""

    DONE = "done", _("done")
    PARTLY = "partly", _("partly")
    NOT_DONE = "not-done", _("not done")


class Change(models.TextChoices):
    BETTER = "better", _("better")
    SAME = "same", _("the same")
    WORSE = "worse", _("worse")


class Effect(models.TextChoices):
    """What one line of a plan did, as staff judge it afterwards."""

    HELPED = "helped", _("helped")
    NOTHING = "nothing", _("did nothing")
    HARMED = "harmed", _("harmed")


class CameTo(models.TextChoices):
    """How a case stood at a look."""

    SOLVED = "solved", _("solved")
    BETTER = "better", _("better")
    SAME = "same", _("the same")
    WORSE = "worse", _("worse")
    LOST = "lost", _("the plants are lost")
    UNKNOWN = "unknown", _("not known")


class ReminderKind(models.TextChoices):
    DAY_BEFORE = "day-before", _("the day before")
    ON_THE_DAY = "on-the-day", _("on the day")
