"""The phone form, under /field/. Everything here is public and the same for everybody."""

from django.urls import path

from monitoring.views import phone

app_name = "phone"
urlpatterns = [
    path("", phone.shell, name="shell"),
    path("sw.js", phone.service_worker, name="service_worker"),
    path("manifest.webmanifest", phone.manifest, name="manifest"),
]
