"""Who is told what, and how: owners of things to decide, weekly letters, calendar addresses."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation


class ReminderOwner(TenantModel):
    """Who sees to one thing to decide. Kept apart so that reminders stay rebuildable."""

    kind = models.CharField(max_length=40)
    subject_uid = models.UUIDField()
    membership = models.ForeignKey("projects.Membership", on_delete=models.CASCADE, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "kind", "subject_uid"], name="one_owner_per_subject_and_kind"
            )
        ]

    def __str__(self) -> str:
        return self.kind.replace("_", " ")


class LetterChoice(TenantModel):
    """Whether a member wants the weekly letter; without a row the role decides."""

    membership = models.OneToOneField(
        "projects.Membership", on_delete=models.CASCADE, related_name="letter_choice"
    )
    wanted = models.BooleanField(_("send me the weekly letter"), default=True)
    changed_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return "weekly letter"


class LetterState(models.TextChoices):
    CLAIMED = "claimed", _("being sent")
    SENT = "sent", _("sent")
    FAILED = "failed", _("did not leave")


class WeeklyLetter(TenantModel):
    """The letter of one week to one member: there is only one, however often the clock strikes."""

    membership = models.ForeignKey("projects.Membership", on_delete=models.CASCADE, related_name="letters")
    week_on = models.DateField()  # the Monday of the week, in the organisation's time zone
    state = models.CharField(max_length=8, choices=LetterState, default=LetterState.CLAIMED)
    claimed_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True, blank=True)
    told = models.JSONField(default=list)  # [[kind, subject uid], …]

    class Meta:
        ordering = ["-week_on", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["membership", "week_on"], name="one_letter_a_week_to_a_member")
        ]

    def __str__(self) -> str:
        return f"{self.week_on:%Y-%m-%d}"


class CalendarFeed(TenantModel):
    """A secret address at which a calendar program reads what is due. Only its hash is kept."""

    membership = models.ForeignKey(
        "projects.Membership", on_delete=models.CASCADE, related_name="calendar_feeds"
    )
    token_hash = models.CharField(max_length=64, unique=True)
    label = models.CharField(_("for which calendar"), max_length=120)
    only_mine = models.BooleanField(_("only what I see to"), default=False)
    created_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_read_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            unique_in_organisation("calendar_feed"),
            models.CheckConstraint(condition=~Q(label=""), name="a_calendar_feed_says_for_what"),
        ]

    def __str__(self) -> str:
        return self.label
