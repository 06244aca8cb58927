from django.apps import AppConfig


class DeployConfig(AppConfig):
    name = "deploy"

    def ready(self) -> None:
        from deploy import checks  # noqa: F401  (registers the system checks)
