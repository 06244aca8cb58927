"""Keep the pictures phones send: the very bytes a record named by their digest, once in an organisation."""

import hashlib

from django.db import transaction
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.documents.phone_pictures import MOST_BYTES, NotTaken, check_picture
from projects.errors import Refusal
from projects.models import Paper, StoredFile

MEDIA_TYPE = "image/jpeg"


@transaction.atomic
def keep(*, actor: Actor, content: bytes, sha256: str) -> bool:
    """Keep one picture and return whether it is new here; the same bytes again change nothing.

    Only what a stored record names is taken: the record travels first, its pictures after it.
    """
    if hashlib.sha256(content).hexdigest() != sha256:
        raise Refusal(
            _("The picture was damaged on its way. Send it again."), field="sha256", code="digest_differs"
        )
    if StoredFile.objects.filter(organisation=actor.organisation, sha256=sha256).exists():
        return False
    if not Paper.objects.filter(organisation=actor.organisation, sha256=sha256).exists():
        words = _("No record names this picture yet. Send its record first, then the picture.")
        raise Refusal(words, field="sha256", code="picture_unnamed")
    check(content)
    _row, is_new = StoredFile.objects.get_or_create(
        organisation=actor.organisation,
        sha256=sha256,
        defaults={"media_type": MEDIA_TYPE, "size_bytes": len(content), "content": content},
    )
    return is_new


def check(content: bytes) -> None:
    """Refuse what is no JPEG, is too large, or says where it was taken."""
    if len(content) > MOST_BYTES:
        raise Refusal(_("A picture may have at most 2 MB. Make it smaller."), code="too_large")
    try:
        check_picture(content)
    except NotTaken as wrong:
        raise Refusal(words_for(wrong.args[0]), code=wrong.args[0]) from wrong


def words_for(code: str) -> str:
    return {
        "not_a_picture": _("These bytes are not one whole JPEG picture. Take the picture again."),
        "too_large": _("The picture has too many dots. Make it smaller, at most 1600 a side."),
        "carries_place": _(
            "The picture says where it was taken. Write it anew without its place, then send it."
        ),
    }[code]
