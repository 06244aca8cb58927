"""Refusals that a person can act on: a stable code, the field at fault, and words that say what to do."""


class Refusal(Exception):
    """A service will not do it. `message` is shown as it is; `field` names the input at fault."""

    code = "refused"

    def __init__(self, message: str, *, field: str = "", code: str = "") -> None:
        super().__init__(message)
        self.message = str(message)
        self.field = field
        if code:
            self.code = code
