"""The append-only log, what was refused, who changed what, and the jobs and reminders that follow."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation


class Submission(models.Model):
    """One record as it arrived: bytes kept verbatim, numbered and chained. Never updated or deleted."""

    organisation = models.ForeignKey("projects.Organisation", on_delete=models.PROTECT, related_name="+")
    seq = models.BigIntegerField()
    client_id = models.UUIDField()
    kind = models.CharField(max_length=30)
    schema = models.CharField(max_length=40)
    body = models.TextField()
    body_sha256 = models.CharField(max_length=64)
    source = models.CharField(max_length=20, default="phone")  # phone | desk | file
    field_pass = models.ForeignKey(
        "projects.FieldPass", null=True, on_delete=models.PROTECT, related_name="+"
    )
    submitted_by = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()
    personal_hash = models.CharField(max_length=64)
    prev_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = [
            unique_in_organisation("submission"),
            models.UniqueConstraint(fields=["organisation", "seq"], name="a_submission_number_is_given_once"),
            models.UniqueConstraint(fields=["organisation", "client_id"], name="a_submission_is_stored_once"),
        ]

    def __str__(self) -> str:
        return str(_("number %(seq)s of the log") % {"seq": self.seq})  # as histories show it


class SubmissionPersonal(models.Model):
    """The personal part of a submission with its salt. Erasing this row leaves the chain whole."""

    submission = models.OneToOneField(
        Submission, on_delete=models.PROTECT, primary_key=True, related_name="personal_part"
    )
    organisation = models.ForeignKey("projects.Organisation", on_delete=models.PROTECT, related_name="+")
    personal = models.TextField(blank=True)
    personal_salt = models.CharField(max_length=64, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)


class Decision(models.Model):
    """A lead's or manager's resolution; numbered and chained together with the submissions."""

    organisation = models.ForeignKey("projects.Organisation", on_delete=models.PROTECT, related_name="+")
    seq = models.BigIntegerField()
    client_id = models.UUIDField()
    kind = models.CharField(max_length=40)
    subject_uid = models.UUIDField()
    body = models.TextField()
    body_sha256 = models.CharField(max_length=64)
    decided_by = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField()
    prev_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = [
            unique_in_organisation("decision"),
            models.UniqueConstraint(fields=["organisation", "seq"], name="a_decision_number_is_given_once"),
            models.UniqueConstraint(fields=["organisation", "client_id"], name="a_decision_is_stored_once"),
        ]


class RefusedItem(TenantModel):
    """Bytes that could not be accepted, kept with the reason."""

    client_id = models.CharField(max_length=80)
    kind = models.CharField(max_length=30, blank=True)
    schema = models.CharField(max_length=40, blank=True)
    body = models.TextField()
    body_sha256 = models.CharField(max_length=64)
    problem = models.JSONField()
    source = models.CharField(max_length=20, default="phone")
    field_pass = models.ForeignKey(
        "projects.FieldPass", null=True, on_delete=models.PROTECT, related_name="+"
    )
    refused_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "client_id", "body_sha256"], name="a_refused_item_is_kept_once"
            )
        ]


class HistoryEntry(TenantModel):
    """Who changed what, when, in one sentence. Added only."""

    verb = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=40)
    subject_uid = models.UUIDField()
    subject_label = models.CharField(max_length=200, blank=True)
    actor_label = models.CharField(max_length=60)  # role or "phone", never a name
    person = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    happened_at = models.DateTimeField(default=timezone.now)
    change = models.JSONField(default=dict)  # {field: [before, after]}
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["organisation", "subject_uid", "-id"], name="history_of_subject")]


class JobState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    RUNNING = "running", _("running")
    DONE = "done", _("done")
    FAILED = "failed", _("failed")
    CANCELLED = "cancelled", _("cancelled")


class Job(TenantModel):
    """Long work whose progress survives a reload."""

    kind = models.CharField(max_length=40)
    state = models.CharField(max_length=10, choices=JobState, default=JobState.WAITING)
    title = models.CharField(max_length=200)
    parameters = models.JSONField(default=dict)
    result = models.JSONField(default=dict)
    done_steps = models.PositiveIntegerField(default=0)
    total_steps = models.PositiveIntegerField(default=0)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    cancel_asked_at = models.DateTimeField(null=True, blank=True)
    created_by = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-id"]
        constraints = [unique_in_organisation("job")]


class Reminder(TenantModel):
    """Something to decide, by when, and why. Derived: dropped and rebuilt at will, but for the snooze."""

    kind = models.CharField(max_length=40)
    subject_uid = models.UUIDField()
    project = models.ForeignKey("projects.Project", null=True, on_delete=models.CASCADE, related_name="+")
    due_on = models.DateField(null=True, blank=True)
    facts = models.JSONField(default=dict)  # what the sentence is built from
    link = models.CharField(max_length=300)
    rank = models.PositiveSmallIntegerField(default=50)

    class Meta:
        ordering = ["due_on", "rank", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "kind", "subject_uid"], name="one_reminder_per_subject_and_kind"
            )
        ]


class ReminderSnooze(TenantModel):
    """A manager's “not before”; kept apart so that reminders stay rebuildable."""

    kind = models.CharField(max_length=40)
    subject_uid = models.UUIDField()
    until_on = models.DateField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "kind", "subject_uid"], name="one_snooze_per_subject_and_kind"
            )
        ]

    def __str__(self) -> str:
        return self.kind.replace("_", " ")


class SurvivalPrior(TenantModel):
    """What survival to expect of replacements before there is evidence: a Beta with its weight in trees."""

    project = models.ForeignKey(
        "projects.Project", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    species = models.ForeignKey(
        "species.Species", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    stock_type = models.CharField(max_length=20, blank=True)
    mean = models.FloatField()
    weight_trees = models.FloatField()
    source = models.CharField(max_length=200, default="common practice")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(mean__gt=0) & Q(mean__lt=1) & Q(weight_trees__gt=0),
                name="a_prior_is_a_proper_beta",
            )
        ]

    def __str__(self) -> str:
        return f"{self.species or '*'}, {self.stock_type or '*'}"
