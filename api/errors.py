from rest_framework.views import exception_handler as problem_response  # noqa: F401
