"""What is looked at when stock changes hands, and the papers and pictures that go with records."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation


class HandoverPoint(models.TextChoices):
    """Where plants pass from one pair of hands to the next."""

    NURSERY = "nursery", _("leaving the nursery")
    ARRIVAL = "arrival", _("arrival")
    FIELD_STORE = "field_store", _("field store")
    CREW = "crew", _("handed to the crew")


class RootCondition(models.TextChoices):
    MOIST = "moist", _("moist")
    DRYING = "drying", _("drying at the surface")
    DRY = "dry", _("dry")
    SPOILT = "spoilt", _("mouldy, soft or smelling")
    FROZEN = "frozen", _("frozen")
    NOT_SEEN = "not_seen", _("not looked at")


class CheckVerdict(models.TextChoices):
    ACCEPT = "accept", _("accept")
    HOLD = "hold", _("hold until looked at again")
    REJECT = "reject", _("reject")


class LotCheck(TenantModel):
    """One look at a lot where it changes hands. What was seen stays; a later look does not undo it."""

    lot = models.ForeignKey("projects.StockLot", on_delete=models.PROTECT, related_name="checks")
    point = models.CharField(_("where"), max_length=12, choices=HandoverPoint, default=HandoverPoint.ARRIVAL)
    checked_at = models.DateTimeField(_("when"), default=timezone.now)
    checked_by = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    counted = models.PositiveIntegerField(_("counted"), null=True, blank=True)
    box_temperature_c = models.FloatField(_("temperature in the box, °C"), null=True, blank=True)
    minutes_exposed = models.PositiveSmallIntegerField(
        _("minutes with bare roots in the open"), null=True, blank=True
    )
    root_condition = models.CharField(
        _("roots"), max_length=10, choices=RootCondition, default=RootCondition.NOT_SEEN
    )
    sample_size = models.PositiveIntegerField(_("plants looked at closely"), null=True, blank=True)
    sample_bad = models.PositiveIntegerField(_("of them not fit to plant"), null=True, blank=True)
    accept_up_to = models.PositiveIntegerField(_("accept up to so many"), null=True, blank=True)
    heights_cm = models.JSONField(_("heights in cm"), default=list, blank=True)
    collars_mm = models.JSONField(_("root-collar diameters in mm"), default=list, blank=True)
    verdict = models.CharField(_("verdict"), max_length=8, choices=CheckVerdict)
    because = models.CharField(_("because"), max_length=300, blank=True)
    note = models.TextField(_("note"), blank=True)
    submission = models.OneToOneField(
        "projects.Submission", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    voided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["lot_id", "-checked_at", "-id"]
        constraints = [
            unique_in_organisation("lot_check"),
            models.CheckConstraint(
                condition=Q(sample_bad__isnull=True) | Q(sample_bad__lte=models.F("sample_size")),
                name="a_sample_has_no_more_bad_plants_than_plants",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_point_display()}, {self.get_verdict_display()}"


class PaperKind(models.TextChoices):
    DELIVERY_NOTE = "delivery_note", _("delivery note")
    SEED_CERTIFICATE = "seed_certificate", _("certificate of the seed lot")
    PLANT_PASSPORT = "plant_passport", _("plant passport or health certificate")
    ORDER = "order", _("order or confirmation")
    INVOICE = "invoice", _("invoice")
    PHOTO = "photo", _("photo")
    OTHER = "other", _("other paper")


class StoredFile(TenantModel):
    """Bytes known by their digest, kept once in an organisation."""

    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=60)
    size_bytes = models.PositiveIntegerField()
    content = models.BinaryField()
    stored_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "sha256"], name="a_file_is_kept_once_in_an_organisation"
            )
        ]

    def __str__(self) -> str:
        return self.sha256[:12]


class Paper(TenantModel):
    """A paper or picture that goes with a record. Its bytes are a `StoredFile`, which may arrive later."""

    kind = models.CharField(_("what it is"), max_length=20, choices=PaperKind)
    title = models.CharField(_("title"), max_length=120, blank=True)
    number = models.CharField(_("number on it"), max_length=60, blank=True)
    issued_on = models.DateField(_("issued on"), null=True, blank=True)
    sha256 = models.CharField(max_length=64)
    added_at = models.DateTimeField(default=timezone.now)
    order = models.ForeignKey(
        "projects.StockOrder", null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    delivery = models.ForeignKey(
        "projects.Delivery", null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    lot = models.ForeignKey(
        "projects.StockLot", null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    check_of_lot = models.ForeignKey(
        LotCheck, null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    sighting = models.ForeignKey(
        "projects.Sighting", null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    care_task = models.ForeignKey(
        "projects.CareTask", null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    voided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.title or str(self.get_kind_display())
