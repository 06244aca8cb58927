"""What a share link opens, without a sign-in."""

app_name = "share"
urlpatterns: list = []
