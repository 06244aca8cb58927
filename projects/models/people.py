"""People, sign-ins, memberships and the phones of volunteers."""

from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation


class Role(models.TextChoices):
    """What a member does. Roles are not ordered; `projects/policy.py` says what each may do."""

    MANAGER = "manager", _("Manager")
    FIELD_LEAD = "field_lead", _("Field lead")
    VOLUNTEER = "volunteer", _("Field volunteer")
    FUNDER = "funder", _("Funder")


class UserManager(BaseUserManager["User"]):
    """Makes sign-ins known by e-mail."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        if not email:
            raise ValueError("A sign-in needs an e-mail address.")
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save()
        return user

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email=(username or "").lower())


class User(AbstractBaseUser):
    """A sign-in. Names live in `Person`, one per organisation."""

    email = models.EmailField(_("e-mail"), unique=True)
    is_active = models.BooleanField(default=True)
    language = models.CharField(_("language"), max_length=16, blank=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    objects = UserManager()

    def __str__(self) -> str:
        return f"sign-in {self.pk}"


class Person(TenantModel):
    """The only table that holds people's names; everything else points here."""

    user = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="persons")
    name = models.CharField(_("name"), max_length=200, blank=True)
    contact = models.CharField(_("telephone or e-mail"), max_length=200, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [unique_in_organisation("person")]

    def __str__(self) -> str:
        return self.name or str(_("a person whose name was removed"))


class Membership(TenantModel):
    """One person's role in one organisation."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(_("role"), max_length=12, choices=Role)
    started_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            unique_in_organisation("membership"),
            models.UniqueConstraint(
                fields=["organisation", "user"],
                condition=Q(ended_at__isnull=True),
                name="one_current_membership_per_person",
            ),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="membership_role_is_known"),
        ]

    def __str__(self) -> str:
        return str(self.get_role_display())  # never the name: history entries keep this text

    @property
    def is_current(self) -> bool:
        return self.ended_at is None


class ProjectGrant(TenantModel):
    """Lets one member see one project; funders and volunteers see nothing else."""

    membership = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="grants")
    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="grants")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["membership", "project"], name="a_project_is_granted_once")
        ]


class FieldPass(TenantModel):
    """One person's phone: a code typed once becomes a cookie that may add visits to named rounds."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="field_passes")
    label = models.CharField(_("for whom, or which phone"), max_length=120)
    code_hash = models.CharField(max_length=64, blank=True, db_index=True)
    code_expires_at = models.DateTimeField(null=True, blank=True)
    credential_hash = models.CharField(max_length=64, blank=True, db_index=True)
    device = models.CharField(max_length=200, blank=True)
    issued_at = models.DateTimeField(default=timezone.now)
    issued_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField(null=True, blank=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [unique_in_organisation("field_pass")]

    def __str__(self) -> str:
        return self.label

    def is_valid(self, now: Any) -> bool:
        """Say whether the phone may still add visits."""
        return self.revoked_at is None and self.expires_at > now


class FieldPassProject(TenantModel):
    """Lets a phone record hand-overs, walks and care in one project, beside the rounds it may count in."""

    field_pass = models.ForeignKey(FieldPass, on_delete=models.CASCADE, related_name="work_projects")
    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["field_pass", "project"], name="a_pass_names_a_project_once")
        ]


class ShareLink(TenantModel):
    """A secret address that shows one thing to somebody without a sign-in. Only the hash is kept."""

    kind = models.CharField(max_length=30)  # "season_summary"
    target_uid = models.UUIDField()
    token_hash = models.CharField(max_length=64, unique=True)
    label = models.CharField(_("for whom"), max_length=120)
    created_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)
    use_count = models.PositiveIntegerField(default=0)

    class Meta:
        indexes = [models.Index(fields=["organisation", "kind", "target_uid"], name="share_link_target")]
