"""The Celery application. Start a worker with `celery -A deploy worker` and one beat with `celery -A deploy beat`."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
app = Celery("tallygrove")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
