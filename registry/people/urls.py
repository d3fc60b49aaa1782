"""The addresses of people, bodies, and of signing in."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from registry.people import sign_in, views
from registry.people.forms import BODY_DEEDS, DEEDS
from registry.people.models import Body, Person
from registry.web import offer

urlpatterns = [
    path("sign-in/", sign_in.SignIn.as_view(), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("password/forgotten/", sign_in.Forgotten.as_view(), name="password_forgotten"),
    path("password/sent/", sign_in.Sent.as_view(), name="password_sent"),
    path("password/set/<uidb64>/<token>/", sign_in.SetPassword.as_view(), name="password_set"),
    path("password/change/", sign_in.ChangePassword.as_view(), name="password_change"),
    path("people/", views.people, name="people"),
    path("people/add/", views.add_person, name="add_person"),
    path("people/tokens/", views.tokens, name="tokens"),
    path("people/tokens/<int:pk>/revoke/", views.revoke_token, name="revoke_token"),
    path("people/<int:pk>/", views.person, name="person"),
    path("people/<int:pk>/<slug:path>/", views.deed, name="person_deed"),
    path("bodies/", views.bodies, name="bodies"),
    path("bodies/open/", views.open_body, name="open_body"),
    path("bodies/<int:pk>/", views.body, name="body"),
    path("bodies/<int:pk>/<slug:path>/", views.body_deed, name="body_deed"),
]
offer(Person, DEEDS, "person_deed")
offer(Body, BODY_DEEDS, "body_deed")
