from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class MonitoringConfig(AppConfig):
    name = "monitoring"
    verbose_name = _("Monitoring")

    def ready(self) -> None:
        from monitoring import figure_links, panels, reminder_words
        from monitoring.services import register_handlers, reminders

        register_handlers()
        reminder_words.register_words()
        reminders.register_families()
        panels.register_panels()
        figure_links.register_links()
