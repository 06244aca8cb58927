"""What every page frame needs: the actor, the organisation, the way around."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext as _

from projects.access import Actor

PLACES = [  # (url name, verb, label marked for translation below)
    ("projects:home", "home.view"),
    ("projects:site_list", "site.view"),
    ("monitoring:round_list", "round.view"),
    ("projects:stock", "lot.view"),
    ("projects:care_list", "care.view"),
    ("species:list", "species.view"),
    ("monitoring:summary_list", "summary.view"),
    ("projects:people", "people.view"),
]

BELOW = {  # addresses that belong to a place, so that the way around says where one is
    "projects:stock": ("order/", "order-line/", "delivery/", "lot/", "lot-check/", "nursery/", "crew-day/"),
    "projects:care_list": ("walk/",),
}


def labels(actor: Actor) -> dict[str, str]:
    return {
        "projects:home": _("To decide") if actor.may("case.settle") else _("Home"),
        "projects:site_list": _("Sites"),
        "monitoring:round_list": _("Rounds"),
        "projects:stock": _("Stock"),
        "projects:care_list": _("Aftercare"),
        "species:list": _("Species"),
        "monitoring:summary_list": _("Summaries"),
        "projects:people": _("People"),
    }


def page_frame(request: HttpRequest) -> dict[str, Any]:
    """Return actor, organisation, navigation and the release for base.html."""
    actor = getattr(request, "actor", None)
    if actor is None:
        return {
            "actor": None,
            "organisation": None,
            "nav": [],
            "release": settings.RELEASE,
            "is_demo": settings.DEMO,
        }
    names, nav = labels(actor), []
    for url_name, verb in PLACES:
        if actor.may(verb):
            url = reverse(url_name, kwargs={"org": actor.organisation.slug})
            home = url_name == "projects:home"
            inside = request.path.removeprefix(f"/o/{actor.organisation.slug}/")
            current = request.path == url if home else request.path.startswith(url)
            current = current or inside.startswith(BELOW.get(url_name, ()))
            nav.append({"url": url, "label": names[url_name], "current": current})
    return {
        "actor": actor,
        "organisation": actor.organisation,
        "org": actor.organisation.slug,
        "nav": nav,
        "release": settings.RELEASE,
        "is_demo": actor.organisation.is_demo,
        "map_tile_url": settings.MAP_TILE_URL,
    }
