"""How sign-ins come to be: a manager invites, nobody signs up alone."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedSignup(DefaultAccountAdapter):
    """Keeps the sign-up page closed."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
