"""The e-mail that brings a new member in: a link to set a password, or to sign in."""

import logging
from smtplib import SMTPException

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.conf import settings
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _

from projects.models import Membership, User

logger = logging.getLogger(__name__)


def send(membership: Membership, *, address: str) -> bool:
    """Send the invitation, its links under `address`; False (and a log line) when the mail did not leave."""
    user = membership.user
    path = reverse("account_login") if user.has_usable_password() else password_path(user)
    with translation.override(user.language or membership.organisation.language):
        facts = {
            "organisation": membership.organisation.name,
            "role": membership.get_role_display(),
            "link": address.rstrip("/") + path,
            "is_new": not user.has_usable_password(),
            "days": settings.PASSWORD_RESET_TIMEOUT // 86_400,
        }
        subject = _("You are invited to %(organisation)s") % facts
        text = render_to_string("projects/mail/invitation.txt", facts)
    try:
        return bool(send_mail(" ".join(subject.split()), text, None, [user.email]))
    except (OSError, SMTPException):
        logger.exception("An invitation could not be sent; membership %s stands.", membership.uid)
        return False


def password_path(user: User) -> str:
    """Return the path where a new member sets a password; it works once and for a few days."""
    key = f"{user_pk_to_url_str(user)}-{default_token_generator.make_token(user)}"
    uid, _dash, token = key.partition("-")
    return reverse("account_reset_password_from_key", kwargs={"uidb36": uid, "key": token})
