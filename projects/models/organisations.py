"""Organisations and the head of each one's hash chain."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from projects.identifiers import uuid7


class Units(models.TextChoices):
    METRIC = "metric", _("Metric")
    US = "us", _("US customary")


class Organisation(models.Model):
    """A group that plants: the tenant every other row belongs to."""

    uid = models.UUIDField(default=uuid7, unique=True, editable=False)
    slug = models.SlugField(_("short name for addresses"), max_length=60, unique=True)
    name = models.CharField(_("name"), max_length=200)
    time_zone = models.CharField(_("time zone"), max_length=64, default="UTC")
    currency = models.CharField(_("currency"), max_length=3, default="EUR", help_text=_("ISO 4217 code"))
    language = models.CharField(_("language"), max_length=16, default="en-gb")
    units = models.CharField(_("units"), max_length=10, choices=Units, default=Units.METRIC)
    emergency_contact = models.CharField(_("emergency number"), max_length=200, blank=True)
    is_demo = models.BooleanField(default=False)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class ChainHead(models.Model):
    """The last number and hash of an organisation's log; its row lock puts writers in a line."""

    organisation = models.OneToOneField(
        Organisation, on_delete=models.PROTECT, primary_key=True, related_name="chain_head"
    )
    seq = models.BigIntegerField(default=0)
    hash = models.CharField(max_length=64, default="0" * 64)
