"""Settings of the web server: `gunicorn -c deploy/gunicorn.py deploy.wsgi`. A TLS proxy stands in front.

Threads suit this work (short queries, few long ones); workers are processes and each keeps its own
database pool. Embedded mode runs one process, because SQLite has one writer.
"""

import os
import re
import sys
from typing import Any

from gunicorn.glogging import Logger

SECRET_PART = re.compile(r"/(s|calendar|letter)/[^/\s?\"]+")


class WithoutTokens(Logger):
    """Writes the access log without the secret part of share links, calendar addresses and the way out of a letter."""

    def atoms(self, *args: Any) -> dict[str, Any]:
        told = super().atoms(*args)
        return {
            key: SECRET_PART.sub(r"/\1/…", text) if isinstance(text, str) else text
            for key, text in told.items()
        }


embedded = not os.environ.get("TALLYGROVE_BROKER")

bind = os.environ.get("TALLYGROVE_BIND", "127.0.0.1:8000")
workers = int(os.environ.get("TALLYGROVE_WEB_PROCESSES", "1" if embedded else "2"))
threads = int(os.environ.get("TALLYGROVE_WEB_THREADS", "8"))
worker_class = "gthread"
timeout = 60  # a page takes a second at most; a worker silent for this long is replaced
graceful_timeout = 20
keepalive = 5
max_requests = 0 if embedded else 5000  # long-lived processes are renewed, one after the other
max_requests_jitter = 500
limit_request_line = 4094
errorlog = "-"
logger_class = WithoutTokens
accesslog = "-" if os.environ.get("TALLYGROVE_ACCESS_LOG") == "1" else None
# Only the proxy on this machine may say what scheme the visitor used.
forwarded_allow_ips = os.environ.get("TALLYGROVE_PROXY", "127.0.0.1")


def on_starting(server: Any) -> None:
    """Refuse to serve with settings that the system checks call wrong; a bare WSGI start would not ask them."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
    import django
    from django.core.management import CommandError, call_command

    django.setup()
    try:
        call_command("check", "--fail-level", "ERROR", stdout=sys.stderr)
    except CommandError as problem:
        print(problem, file=sys.stderr)
        sys.exit(3)


def post_worker_init(worker: Any) -> None:
    """Where no beat runs, wake this process's own thread, so that a day is noticed though nobody writes anything."""
    from django.conf import settings

    from monitoring.services import drain

    if settings.JOBS_EMBEDDED and settings.JOBS_EMBEDDED_THREAD:
        drain.wake()
