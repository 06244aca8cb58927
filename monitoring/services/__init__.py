"""Every write of monitoring, and the handlers it hands to the log below it."""


def register_handlers() -> None:
    """Tell the log of `projects` what a visit and each decision mean up here."""
    from monitoring.services import decisions, followers, observed_survival, projection, uploads

    projection.register()
    decisions.register()
    followers.register()
    uploads.register()
    observed_survival.register()
