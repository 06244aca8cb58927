from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ProjectsConfig(AppConfig):
    name = "projects"
    verbose_name = _("Projects")

    def ready(self) -> None:
        from projects import field_reminder_words, stock_reminder_words
        from projects.services import field_kinds, mix_search, reminders

        mix_search.register()
        field_kinds.register()
        stock_reminder_words.register_words()
        field_reminder_words.register_words()
        reminders.register_families()
        reminders.listen_for_changes()
