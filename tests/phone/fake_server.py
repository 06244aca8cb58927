"""A small stand-in for the field API around the real shell views, for trials in a browser.

    python tests/phone/fake_server.py 21080

Codes TEST-CODE-01 and TEST-CODE-02 open two passes. `GET /fake/state` tells what has arrived;
`POST /fake/faults {"mode": "..."}` sets how the next batches fail: "" (not at all), lost_reply,
portal, busy, no_pass, too_large (more than two items), reject. `"ended": [uid]` ends passes and
`"release": "..."` publishes another release of the form.
"""

import hashlib
import json
import sys
import uuid
from datetime import UTC, datetime
from pathlib import Path

import django
from django.conf import settings

ROOT = Path(__file__).resolve().parent.parent.parent
CSRF = "fake-token"
STATE: dict = {"items": {}, "requests": 0, "seq": 0, "mode": "", "ended": set()}
PASSES = {
    "TEST-CODE-01": "01990000-0000-7000-8000-00000000aa01",
    "TEST-CODE-02": "01990000-0000-7000-8000-00000000aa02",
}


def uid(number: int) -> str:
    """Return a made-up but well-formed uid."""
    return f"01990000-0000-7000-8000-{number:012d}"


def species() -> list[dict]:
    """Return a few species the pack names."""
    rows = [
        ("quercus-robur", "Quercus robur", {"en": "pedunculate oak", "pt": "carvalho-alvarinho"}, []),
        ("betula-pubescens", "Betula pubescens", {"en": "downy birch", "pt": "bidoeiro"}, []),
        ("quercus-suber", "Quercus suber", {"en": "cork oak", "pt": "sobreiro"}, []),
        ("acacia-dealbata", "Acacia dealbata", {"en": "silver wattle", "pt": "mimosa"}, ["PT"]),
    ]
    keys = ("slug", "scientific_name", "names", "invasive_in")
    return [dict(zip(keys, row, strict=True)) for row in rows]


def baseline(number: int, slug: str, planted: int | None, unit: str = "tree", cohort: str = "") -> dict:
    """Return one baseline of a plot."""
    source = "none" if planted is None else "at_planting"
    return {
        "uid": uid(number),
        "species": slug,
        "planted": planted,
        "unit": unit,
        "cohort": cohort,
        "source": source,
    }


def plot(number: int, baselines: list[dict], block: str, **more) -> dict:
    """Return one plot of the round."""
    shape = {"shape": "circle", "radius_m": 5.64, "length_m": None, "width_m": None, "spots": None}
    return {
        "uid": uid(1000 + number),
        "name": f"Plot {number}",
        "block": {"uid": uid(sum(map(ord, block))), "name": block},
        "site": {"uid": uid(7), "name": "Vale do Sabugal Velho"},
        "latitude": 40.512345,
        "longitude": -7.101234,
        **shape,
        "unit": "tree",
        "directions": "From the stone wall 40 m uphill along the third terrace.",
        "baselines": baselines,
        "counted": False,
        "last": None,
        **more,
    }


def plots() -> list[dict]:
    """Return plots of every kind the form must draw."""
    oak, birch = "quercus-robur", "betula-pubescens"
    mixed = [
        baseline(31, oak, 20, cohort="winter 2023/24, lot 24-117"),
        baseline(32, oak, 18, cohort="winter 2024/25, lot 25-031"),
        baseline(33, birch, 12),
    ]
    seeds = [baseline(41, "quercus-suber", 40, unit="seed_spot")]
    upper = [
        plot(n, [baseline(n * 10, oak, 24), baseline(n * 10 + 1, birch, 8)], "Upper terraces") for n in (1, 2)
    ]
    return [
        *upper,
        plot(3, mixed, "Upper terraces"),
        plot(4, seeds, "Acorn slope", unit="seed_spot", shape="row", radius_m=None, spots=40, length_m=60),
        plot(5, [], "Acorn slope", latitude=None, longitude=None, directions=""),
        plot(6, [baseline(61, oak, None)], "Acorn slope", counted=True),
    ]


def pack() -> dict:
    """Return the field pack."""
    rounds = [
        {
            "uid": uid(500),
            "name": "Autumn 2026, second season",
            "opens_on": "2026-10-01",
            "closes_on": "2026-12-20",
            "protocol": "1",
            "country": "PT",
            "plots": plots(),
        }
    ]
    return {
        "organisation": {"slug": "serra-clara", "name": "Serra Clara Commons"},
        "person": "Volunteer, terraces",
        "emergency": "Call 112. Meeting point: the chapel gate.",
        "release": settings.RELEASE,
        "server_time": now(),
        "species": species(),
        "rounds": rounds,
    }


def now() -> str:
    """Return the time as the API writes it."""
    return datetime.now(UTC).isoformat().replace("+00:00", "Z")


def session(pass_uid: str | None) -> dict:
    """Return who is asking, as the API would."""
    known = {"uid": pass_uid, "label": "Volunteer, terraces", "expires_at": "2026-12-31T00:00:00Z"}
    organisation = {"slug": "serra-clara", "name": "Serra Clara Commons"}
    return {
        "authenticated": pass_uid is not None,
        "csrf_token": CSRF,
        "server_time": now(),
        "organisation": organisation if pass_uid else None,
        "pass": known if pass_uid else None,
    }


def store(item: dict) -> dict:
    """File one item and return its outcome."""
    kept = STATE["items"].get(item["id"])
    if kept:
        return {"id": item["id"], "outcome": "already" if kept["sha256"] == item["sha256"] else "id_reused"}
    if item["sha256"] != hashlib.sha256(item["body"].encode()).hexdigest() or STATE["mode"] == "reject":
        problem = {
            "title": "Not stored",
            "detail": "The plot is not known.",
            "status": 422,
            "code": "unknown_plot",
        }
        return {"id": item["id"], "outcome": "rejected", "problem": problem}
    STATE["seq"] += 1
    STATE["items"][item["id"]] = item
    return {"id": item["id"], "outcome": "stored", "seq": STATE["seq"]}


def configure() -> None:
    """Set Django up with the shell's views and nothing else."""
    settings.configure(
        DEBUG=True,
        SECRET_KEY=uuid.uuid4().hex,
        ALLOWED_HOSTS=["*"],
        ROOT_URLCONF=__name__,
        STATIC_URL="/static/",
        RELEASE="trial",
        USE_TZ=True,
        INSTALLED_APPS=["django.contrib.staticfiles"],
        STATICFILES_DIRS=[ROOT / "monitoring" / "static"],
        MIDDLEWARE=[f"{__name__}.policy"],
        TEMPLATES=[
            {"BACKEND": "django.template.backends.django.DjangoTemplates", "DIRS": [ROOT / "templates"]}
        ],
    )
    django.setup()


def policy(get_response):
    """Add the strict content policy the service sends."""

    def middleware(request):
        response = get_response(request)
        response["Content-Security-Policy"] = (
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
            "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'"
        )
        return response

    return middleware


def addresses() -> list:
    """Return the fake API's addresses around the real shell."""
    from django.http import HttpResponse, JsonResponse
    from django.urls import include, path

    def whose(request):
        found = request.COOKIES.get("tg_field")
        return None if found in STATE["ended"] else found

    def problem(status, code, detail):
        content = {"type": "about:blank", "title": code, "status": status, "detail": detail, "code": code}
        return JsonResponse(content, status=status, content_type="application/problem+json")

    def session_view(request):
        return JsonResponse(session(whose(request)))

    def enrol(request):
        content = json.loads(request.body)
        pass_uid = PASSES.get(content["code"])
        if pass_uid is None:
            return problem(400, "code_unknown", "No pass has this code.")
        STATE["ended"].discard(pass_uid)
        response = JsonResponse(session(pass_uid))
        response.set_cookie("tg_field", pass_uid, httponly=True, samesite="Lax", max_age=10**6)
        return response

    def leave(request):
        response = HttpResponse(status=204)
        response.delete_cookie("tg_field")
        return response

    def pack_view(request):
        return JsonResponse(pack()) if whose(request) else problem(401, "no_pass", "Enter your code.")

    def items(request):
        STATE["requests"] += 1
        content = json.loads(request.body)["items"]
        mode = STATE["mode"]
        if mode == "portal":
            return HttpResponse("<html><body>Sign in to this Wi-Fi</body></html>")
        if mode == "busy":
            return HttpResponse("busy", status=503)
        if mode == "no_pass" or not whose(request):
            return problem(401, "no_pass", "Enter your code.")
        if request.headers.get("X-CSRFToken") != CSRF:
            return problem(403, "csrf", "The token is missing.")
        if len(content) > 50 or (mode == "too_large" and len(content) > 2):
            return problem(413, "too_large", "Send fewer items at once.")
        outcomes = [store(item) for item in content]
        if mode == "lost_reply":
            STATE["mode"] = ""
            return HttpResponse(status=502)
        return JsonResponse({"server_time": now(), "outcomes": outcomes})

    def state(request):
        return JsonResponse({"requests": STATE["requests"], "items": list(STATE["items"].values())})

    def faults(request):
        content = json.loads(request.body)
        settings.RELEASE = content.pop("release", settings.RELEASE)
        STATE["ended"] |= set(content.pop("ended", []))
        STATE.update(content)
        return JsonResponse({})

    return [
        path("field/", include("monitoring.urls_phone")),
        path("api/v1/session", session_view),
        path("api/v1/field/enrol", enrol),
        path("api/v1/field/leave", leave),
        path("api/v1/field/pack", pack_view),
        path("api/v1/field/items", items),
        path("fake/state", state),
        path("fake/faults", faults),
    ]


def serve(port: int) -> None:
    """Serve until the process is ended."""
    import socketserver
    from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

    from django.contrib.staticfiles.handlers import StaticFilesHandler
    from django.core.wsgi import get_wsgi_application

    class Threaded(socketserver.ThreadingMixIn, WSGIServer):
        daemon_threads = True

    class Quiet(WSGIRequestHandler):
        def log_message(self, *words):
            pass

    application = StaticFilesHandler(get_wsgi_application())
    make_server("127.0.0.1", port, application, server_class=Threaded, handler_class=Quiet).serve_forever()


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    sys.modules["fake_server"] = sys.modules[__name__]  # Django asks for its addresses by module name
    __name__ = "fake_server"
    configure()
    urlpatterns = addresses()
    serve(int(sys.argv[1]))
