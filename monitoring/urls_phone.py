app_name = "phone"
urlpatterns: list = []
