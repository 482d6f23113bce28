"""Every address of the site. Rooms bring their own."""

from django.contrib.auth import views as auth_views
from django.urls import include, path

from consults.shop import views as shop_views
from consults.shop.forms import SignInForm

urlpatterns = [
    path("", shop_views.today, name="today"),
    path("health", shop_views.health, name="health"),
    path(
        "sign-in/",
        auth_views.LoginView.as_view(template_name="sign_in.html", authentication_form=SignInForm),
        name="login",
    ),
    path("sign-out/", auth_views.LogoutView.as_view(), name="logout"),
    path("", include("garden.people.urls")),
    path("", include("garden.photos.urls")),
    path("", include("garden.bench.urls")),
    path("", include("garden.profiles.urls")),
    path("", include("consults.questions.urls")),
    path("", include("consults.cases.urls")),
    path("", include("consults.interview.urls")),
    path("", include("consults.looks.urls")),
    path("", include("consults.plans.urls")),
    path("", include("consults.answers.urls")),
    path("", include("consults.rules.urls")),
    path("", include("consults.shop.urls")),
    path("", include("reports.urls")),
]

handler400 = "consults.shop.views.page_bad"
handler403 = "consults.shop.views.page_forbidden"
handler404 = "consults.shop.views.page_missing"
handler500 = "consults.shop.views.page_failed"
