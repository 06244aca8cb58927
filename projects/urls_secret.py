"""What secret addresses open, without a sign-in."""

from django.urls import path

from projects.views import by_secret

app_name = "by_secret"
urlpatterns = [
    path("calendar/<str:token>.ics", by_secret.calendar, name="calendar"),
    path("letter/<str:token>/stop/", by_secret.letter_stop, name="letter_stop"),
]
