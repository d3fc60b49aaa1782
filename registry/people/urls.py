"""The addresses of people, bodies, and of signing in."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from registry.people import views
from registry.people.forms import BODY_DEEDS, DEEDS, INSTITUTION_DEEDS
from registry.people.models import Body, Institution, Person
from registry.people.sign_in import views as sign_in
from registry.web import offer

urlpatterns = [
    path("sign-in/", sign_in.SignIn.as_view(), name="sign_in"),
    path("sign-in/second/", sign_in.second_step, name="second_step"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("password/forgotten/", sign_in.Forgotten.as_view(), name="password_forgotten"),
    path("password/sent/", sign_in.Sent.as_view(), name="password_sent"),
    path("password/set/<uidb64>/<token>/", sign_in.SetPassword.as_view(), name="password_set"),
    path("password/change/", sign_in.ChangePassword.as_view(), name="password_change"),
    path("people/", views.people, name="people"),
    path("people/add/", views.add_person, name="add_person"),
    path("people/tokens/", views.tokens, name="tokens"),
    path("people/tokens/<int:pk>/revoke/", views.revoke_token, name="revoke_token"),
    path("people/signing-in/", sign_in.signing_in, name="signing_in"),
    path("people/signing-in/second/", sign_in.set_up, name="set_up_second_factor"),
    path("people/signing-in/second/off/", sign_in.turn_off, name="turn_off_second_factor"),
    path("people/signing-in/codes/", sign_in.new_codes, name="new_recovery_codes"),
    path("people/signing-in/passkeys/add/", sign_in.add_passkey, name="add_passkey"),
    path(
        "people/signing-in/passkeys/<int:pk>/remove/",
        sign_in.remove_passkey,
        name="remove_passkey",
    ),
    path("people/signing-in/elsewhere/", sign_in.elsewhere, name="end_sessions"),
    path("people/<int:pk>/", views.person, name="person"),
    path("people/<int:pk>/<slug:path>/", views.deed, name="person_deed"),
    path("institutions/", views.institutions, name="institutions"),
    path("institutions/open/", views.open_institution, name="open_institution"),
    path("institutions/<int:pk>/", views.institution, name="institution"),
    path("institutions/<int:pk>/<slug:path>/", views.institution_deed, name="institution_deed"),
    path("bodies/", views.bodies, name="bodies"),
    path("bodies/open/", views.open_body, name="open_body"),
    path("bodies/<int:pk>/", views.body, name="body"),
    path("bodies/<int:pk>/<slug:path>/", views.body_deed, name="body_deed"),
]
offer(Person, DEEDS, "person_deed")
offer(Institution, INSTITUTION_DEEDS, "institution_deed")
offer(Body, BODY_DEEDS, "body_deed")
