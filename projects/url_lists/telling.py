"""Who sees to what, the weekly letter, calendar addresses."""

from django.urls import URLPattern, path

from projects.views import home, telling

urlpatterns: list[URLPattern] = [
    path("reminder/<uuid:uid>/owner/", home.reminder_assign, name="reminder_assign"),
    path("told/", telling.telling, name="telling"),
    path("told/letter/", telling.letter_choose, name="letter_choose"),
    path("told/calendar/", telling.calendar_feed_new, name="calendar_feed_new"),
    path("told/calendar/<uuid:uid>/revoke/", telling.calendar_feed_revoke, name="calendar_feed_revoke"),
]
