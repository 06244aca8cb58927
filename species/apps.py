from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class SpeciesConfig(AppConfig):
    name = "species"
    verbose_name = _("Species")
