"""Records of field work other than counts: hand-overs of plants, walks through blocks, care that was done.

They enter the same log as counts. Their rows are true, made once by a service with the submission that told it;
`manage.py rebuild` leaves them as they are.
"""


def register() -> None:
    """Hand the handlers to the log."""
    from projects.services import log
    from projects.services.field_kinds.care import CareHandler
    from projects.services.field_kinds.handover import HandoverHandler
    from projects.services.field_kinds.walk import WalkHandler

    log.kinds.submissions |= {"handover": HandoverHandler(), "walk": WalkHandler(), "care": CareHandler()}
