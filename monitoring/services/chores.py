"""What the clock asks for, whoever looks at it: the list of a new day, and the letters that are due.

A beat asks every quarter of an hour, and so does the thread of an embedded service; so a list is made anew soon
after midnight in whatever zone an organisation and its sites lie. Done twice or by two at once, nothing more happens.
"""

import logging

from monitoring.services import reminders
from projects.services import weekly_letter

logger = logging.getLogger(__name__)

EVERY_SECONDS = 900.0


def do() -> None:
    """Bring every list up to its day, and send the letters that are due."""
    reminders.renew_all()
    send_letters()


def send_letters() -> None:
    """Send the letters that are due; what goes wrong is told in the log and tried again."""
    n = weekly_letter.send_due()
    if n:
        logger.info("%s weekly letters left", n)
