def register() -> None:
    pass
