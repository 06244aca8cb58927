"""The OpenAPI description: sign-in by cookie, and the refusals every operation can answer with."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension

BODY_METHODS = ("post", "put", "patch")
REFUSALS = {
    "400": "Something in the request has to be changed; `errors` names it",
    "401": "Nobody is signed in, or the field pass is not accepted any more",
    "403": "The role does not include this, or the CSRF token is missing",
    "404": "Nothing that this caller may see is at this address",
}
BODY_REFUSALS = {
    "413": "More than 256 KiB, or more than 50 items",
    "415": "The body is not application/json",
}
SPECIAL_REFUSALS = {
    "field_enrol": {"429": "Too many wrong codes; see Retry-After"},
    "field_photos": {"413": "More than 2 MiB", "415": "The body is not image/jpeg"},
}


class FieldPassScheme(OpenApiAuthenticationExtension):
    target_class = "api.authentication.FieldPassAuthentication"
    name = "fieldPass"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Describe the cookie of an enrolled phone."""
        return {"type": "apiKey", "in": "cookie", "name": "tg_field"}


class MemberScheme(OpenApiAuthenticationExtension):
    target_class = "api.authentication.MemberAuthentication"
    name = "member"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Describe the cookie of a signed-in member."""
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}


def document_refusals(result: dict[str, Any], generator: Any, request: Any, public: bool) -> dict[str, Any]:
    """Add to every operation the problem documents it may answer with."""
    for operations in result["paths"].values():
        for method, operation in operations.items():
            refusals = REFUSALS | (BODY_REFUSALS if method in BODY_METHODS else {})
            refusals |= SPECIAL_REFUSALS.get(operation["operationId"], {})
            for status, meaning in refusals.items():
                operation["responses"].setdefault(status, problem_answer(meaning))
    return result


def problem_answer(meaning: str) -> dict[str, Any]:
    schema = {"$ref": "#/components/schemas/Problem"}
    return {"description": meaning, "content": {"application/problem+json": {"schema": schema}}}
