"""Aftercare as a schedule: tasks of a block or a person, done, put off, dropped."""

from django.urls import path

from projects.views import aftercare, care, care_schedule

urlpatterns = [
    path("care/", aftercare.care_list, name="care_list"),
    path("care/mine/", aftercare.care_mine, name="care_mine"),
    path("block/<uuid:uid>/care/new/", care.care_new, name="care_new"),
    path("block/<uuid:uid>/care/schedule/", care_schedule.care_schedule, name="care_schedule"),
    path("care/<uuid:uid>/", aftercare.care_detail, name="care_detail"),
    path("care/<uuid:uid>/done/", care.care_done, name="care_done"),
    path("care/<uuid:uid>/done/today/", care.care_done_today, name="care_done_today"),
    path("care/<uuid:uid>/open/", aftercare.care_reopen, name="care_reopen"),
    path("care/<uuid:uid>/edit/", care.care_edit, name="care_edit"),
    path("care/<uuid:uid>/who/", aftercare.care_assign, name="care_assign"),
    path("care/<uuid:uid>/put-off/", aftercare.care_put_off, name="care_put_off"),
    path("care/<uuid:uid>/drop/", aftercare.care_drop, name="care_drop"),
]
