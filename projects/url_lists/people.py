"""Home, people, the organisation, history and jobs."""

from django.urls import path

from projects.views import home, people, records

urlpatterns = [
    path("", home.home, name="home"),
    path("reminder/<uuid:uid>/snooze/", home.reminder_snooze, name="reminder_snooze"),
    path("organisation/", people.organisation_edit, name="organisation_edit"),
    path("people/", people.people, name="people"),
    path("people/new/", people.person_new, name="person_new"),
    path("people/<uuid:uid>/", people.person_detail, name="person_detail"),
    path("people/<uuid:uid>/edit/", people.person_edit, name="person_edit"),
    path("people/<uuid:uid>/end/", people.person_end, name="person_end"),
    path("history/<uuid:uid>/", records.history, name="history"),
    path("job/<uuid:uid>/", records.job_detail, name="job_detail"),
    path("job/<uuid:uid>/cancel/", records.job_cancel, name="job_cancel"),
]
