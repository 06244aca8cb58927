"""The weekly letter as mail: plain text, the same in HTML, and a way out of it that takes one press (RFC 8058)."""

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures
from projects.models import Membership
from projects.selectors.weekly_letter import Letter


def send(member: Membership, letter: Letter, token: str) -> None:
    """Send the letter; raises what the mail server or the connection to it raised when it did not leave."""
    message(member, letter, token).send()


def message(member: Membership, letter: Letter, token: str) -> EmailMultiAlternatives:
    """The letter as a mail to its member, in their language."""
    organisation = member.organisation
    stop = address(reverse("by_secret:letter_stop", kwargs={"token": token}))
    with translation.override(member.user.language or organisation.language):
        facts = {
            "letter": letter,
            "organisation": organisation,
            "base": address(""),
            "home": address(reverse("projects:home", kwargs={"org": organisation.slug})),
            "stop": stop,
        }
        text = render_to_string("projects/mail/weekly_letter.txt", facts)
        html = render_to_string("projects/mail/weekly_letter.html", facts)
        subject = " ".join(subject_of(member, letter).split())
    mail = EmailMultiAlternatives(
        subject,
        text,
        None,
        [member.user.email],
        headers={
            "List-Unsubscribe": f"<{stop}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
            "Auto-Submitted": "auto-generated",
        },
    )
    mail.attach_alternative(html, "text/html")
    return mail


def subject_of(member: Membership, letter: Letter) -> str:
    """What is on the list in a few words: how many things, and how many of them are late."""
    n = sum(len(section.things) for section in letter.sections)
    late = sum(len(section.things) for section in letter.sections if section.name == "late")
    things = ngettext("%(n)s thing to decide", "%(n)s things to decide", n) % {"n": figures.quantity(n)}
    if not late:
        return _("%(organisation)s: %(things)s") % {"organisation": member.organisation, "things": things}
    return _("%(organisation)s: %(things)s, %(late)s of them late") % {
        "organisation": member.organisation,
        "things": things,
        "late": figures.quantity(late),
    }


def address(path: str) -> str:
    """A whole address of this instance; without a public one, the loopback address it is served on."""
    return (
        settings.PUBLIC_ADDRESS.rstrip("/") + path
        if settings.PUBLIC_ADDRESS
        else f"http://127.0.0.1:8000{path}"
    )
