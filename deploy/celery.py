"""The Celery application: `celery -A deploy worker` works, one `celery -A deploy beat` keeps time."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
app = Celery("tallygrove")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
