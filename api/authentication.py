from rest_framework.authentication import BaseAuthentication


class FieldPassAuthentication(BaseAuthentication):
    def authenticate(self, request):
        return None


class MemberAuthentication(FieldPassAuthentication):
    pass
