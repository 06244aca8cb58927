"""The phone form's shell, service worker and manifest: the same bytes for everybody, nobody's name."""

import hashlib
import json
from functools import cache
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

PHONE_FILES = Path(__file__).resolve().parent.parent / "static" / "phone"
SHELL_SUFFIXES = {".js", ".css", ".png", ".svg"}
WORKER = "worker.js"
START = "/field/"


def shell_files() -> list[str]:
    """Return the paths, below the phone folder, of the files the form needs to start without a network."""
    files = (path for path in PHONE_FILES.rglob("*") if path.suffix in SHELL_SUFFIXES and path.name != WORKER)
    return sorted(path.relative_to(PHONE_FILES).as_posix() for path in files)


def _digest() -> str:
    digest = hashlib.sha256()
    for name in [*shell_files(), WORKER]:
        digest.update(name.encode() + b"\0" + (PHONE_FILES / name).read_bytes())
    return digest.hexdigest()[:10]


_digest_once = cache(_digest)


def phone_release() -> str:
    """Return the release string: it changes whenever a file of the form changes, so caches cannot mix."""
    return f"{settings.RELEASE}-{_digest() if settings.DEBUG else _digest_once()}"


def static_base() -> str:
    """Return the address of the phone folder. Modules import each other by plain name, so no hashed names."""
    return f"{settings.STATIC_URL}phone/"


@require_safe
def shell(request: HttpRequest) -> HttpResponse:
    """Serve the app shell. It reads no cookie, so that a cached copy can be anybody's."""
    modules = [name for name in shell_files() if name.endswith(".js") and name != "app.js"]
    context = {"release": phone_release(), "base": static_base(), "modules": modules}
    response = render(request, "phone/shell.html", context)
    response.headers["Cache-Control"] = "no-cache"
    return response


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """Serve the service worker with the release and the list of files it keeps in front."""
    shell_paths = [START, f"{START}manifest.webmanifest", *(static_base() + name for name in shell_files())]
    head = f"const RELEASE = {json.dumps(phone_release())};\nconst SHELL = {json.dumps(shell_paths)};\n"
    source = (PHONE_FILES / WORKER).read_text(encoding="utf-8")
    response = HttpResponse(head + source, content_type="text/javascript; charset=utf-8")
    response.headers["Service-Worker-Allowed"] = START
    response.headers["Cache-Control"] = "no-cache"
    return response


@require_safe
def manifest(request: HttpRequest) -> JsonResponse:
    """Serve the web app manifest, so that the form can live on the home screen."""
    base = static_base()
    icons = [
        {"src": f"{base}icons/tally-192.png", "sizes": "192x192", "type": "image/png"},
        {"src": f"{base}icons/tally-512.png", "sizes": "512x512", "type": "image/png"},
        {"src": f"{base}icons/tally-512.png", "sizes": "512x512", "type": "image/png", "purpose": "maskable"},
    ]
    content = {
        "id": START,
        "name": _("Tallygrove counts"),
        "short_name": _("Tallygrove"),
        "description": _("Count survival plots, with or without signal."),
        "start_url": START,
        "scope": START,
        "display": "standalone",
        "lang": "en",
        "dir": "auto",
        "background_color": "#faf6ec",
        "theme_color": "#faf6ec",
        "icons": icons,
    }
    response = JsonResponse(content, content_type="application/manifest+json")
    response.headers["Cache-Control"] = "no-cache"
    return response
