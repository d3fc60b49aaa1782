"""What a form, or the API, says of a fault, in the house's words; one place for all of them.

Django gives each kind of field its sentences by `default_error_messages`, and each validator by
`message`; so does the REST framework, and each of its exceptions by `default_detail`. They are set
anew once, when the site starts.
"""

from typing import Any

from django.core import validators
from django.forms import fields, formsets, models
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy
from rest_framework import exceptions
from rest_framework import serializers as rest

CHOOSE = _("Choose one")
NONE_CHOSEN = _("none")

_NOT_OFFERED = _("Choose from what is offered; “%(value)s” is not, or no longer.")
_SEVERAL = _("This could not be read as a list. Choose again.")
_WORDS: dict[type[Any], dict[str, Any]] = {
    fields.Field: {"required": _("Missing: fill this in.")},
    fields.IntegerField: {"invalid": _("Not a whole number: write it in digits, such as 12.")},
    fields.FloatField: {"invalid": _("Not a number: write it in digits, such as 2.5.")},
    fields.DecimalField: {"invalid": _("Not a number: write it in digits, such as 2.5.")},
    fields.DateField: {
        "invalid": _("Not a day: write day, month and year, such as 24/11/2026 or 2026-11-24.")
    },
    fields.TimeField: {"invalid": _("Not a time of day: write hours and minutes, such as 08:40.")},
    fields.DateTimeField: {
        "invalid": _("Not a day with a time: write it such as 2026-11-24 08:40.")
    },
    fields.SplitDateTimeField: {
        "invalid_date": _("Not a day: write day, month and year, such as 24/11/2026."),
        "invalid_time": _("Not a time of day: write hours and minutes, such as 08:40."),
    },
    fields.FileField: {
        "invalid": _("No file arrived. Choose it again."),
        "missing": _("No file arrived. Choose it again."),
        "empty": _("The file is empty. Look whether it is the right one."),
        "max_length": ngettext_lazy(
            "The file’s name is longer than %(max)d letter (it has %(length)d). Shorten it.",
            "The file’s name is longer than %(max)d letters (it has %(length)d). Shorten it.",
            "max",
        ),
    },
    fields.ImageField: {"invalid_image": _("Not a picture that can be read. Choose another.")},
    fields.URLField: {"invalid": _("Not an address: it begins with https://.")},
    fields.ChoiceField: {"invalid_choice": _NOT_OFFERED},
    fields.MultipleChoiceField: {"invalid_choice": _NOT_OFFERED, "invalid_list": _SEVERAL},
    fields.MultiValueField: {"invalid": _SEVERAL, "incomplete": _("A part is missing: fill all.")},
    fields.JSONField: {"invalid": _("This could not be read: it is not sound JSON.")},
    models.ModelChoiceField: {
        "invalid_choice": _("Choose from what is offered; this is not, or no longer.")
    },
    models.ModelMultipleChoiceField: {
        "invalid_choice": _NOT_OFFERED,
        "invalid_list": _SEVERAL,
        "invalid_pk_value": _("Choose from what is offered; “%(pk)s” is not."),
    },
    formsets.BaseFormSet: {
        "missing_management_form": _("Part of the form did not arrive. Load the page anew.")
    },
}
_CHECKS: dict[type[Any], Any] = {
    validators.EmailValidator: _("Not an e-mail address: it looks like name@place.example."),
    validators.MaxValueValidator: _("Too much: at most %(limit_value)s."),
    validators.MinValueValidator: _("Too little: at least %(limit_value)s."),
    validators.StepValueValidator: _("Give a multiple of %(limit_value)s."),
    validators.ProhibitNullCharactersValidator: _(
        "There is a NUL character in it, which no text has. Type it anew."
    ),
    validators.MaxLengthValidator: ngettext_lazy(
        "Too long: at most %(limit_value)d letter, and it has %(show_value)d.",
        "Too long: at most %(limit_value)d letters, and it has %(show_value)d.",
        "limit_value",
    ),
    validators.MinLengthValidator: ngettext_lazy(
        "Too short: at least %(limit_value)d letter, and it has %(show_value)d.",
        "Too short: at least %(limit_value)d letters, and it has %(show_value)d.",
        "limit_value",
    ),
}


_LIST = {
    "not_a_list": _("Not a list: write it in square brackets."),
    "empty": _("Empty: give one at least."),
    "min_length": _("Too few: at least {min_length}."),
    "max_length": _("Too many: at most {max_length}."),
}
_RANGE = {
    "max_value": _("Too much: at most {max_value}."),
    "min_value": _("Too little: at least {min_value}."),
    "max_string_length": _("Too long for a number."),
}
_OF_API: dict[type[Any], dict[str, Any]] = {
    rest.Field: {
        "required": _("Missing: send this too."),
        "null": _("Nothing stands there: give it, or leave the field out."),
    },
    rest.BooleanField: {"invalid": _("Neither true nor false.")},
    rest.CharField: {
        "invalid": _("Not a text."),
        "blank": _("Empty: fill this in."),
        "max_length": _("Too long: at most {max_length} letters."),
        "min_length": _("Too short: at least {min_length} letters."),
    },
    rest.RegexField: {"invalid": _("Not written as it must be; look in the schema how.")},
    rest.IntegerField: {"invalid": _("Not a whole number: write it such as 12."), **_RANGE},
    rest.FloatField: {"invalid": _("Not a number: write it such as 2.5."), **_RANGE},
    rest.DateField: {"invalid": _("Not a day: write it such as 2026-11-24.")},
    rest.TimeField: {"invalid": _("Not a time of day: write it such as 08:40.")},
    rest.DateTimeField: {"invalid": _("Not a moment: write it such as 2026-11-24T08:40.")},
    rest.ChoiceField: {"invalid_choice": _("“{input}” is not offered; look in the schema.")},
    rest.ListField: _LIST,
    rest.ListSerializer: _LIST,
    rest.DictField: {"not_a_dict": _("No set of names and values, as braces hold them.")},
    rest.BaseSerializer: {"invalid": _("No set of names and values, as braces hold them.")},
    rest.JSONField: {"invalid": _("This could not be read: it is not sound JSON.")},
    rest.PrimaryKeyRelatedField: {
        "does_not_exist": _("There is none of the number {pk_value}, or it is not yours to see."),
        "incorrect_type": _("Name it by its number."),
    },
}
_PROBLEMS: dict[type[exceptions.APIException], Any] = {
    exceptions.ParseError: _("What was sent could not be read."),
    exceptions.NotAuthenticated: _("Nobody is signed in."),
    exceptions.AuthenticationFailed: _("The token, or the sign-in, does not hold."),
    exceptions.PermissionDenied: _("This is not for you to do."),
    exceptions.NotFound: _("It does not exist, or it is not yours to see."),
    exceptions.MethodNotAllowed: _("“{method}” is not open at this address."),
    exceptions.UnsupportedMediaType: _("“{media_type}” is not read here."),
    exceptions.Throttled: _("Too much was asked in a short time."),
}


def speak() -> None:
    """Set the house's words in place of Django's and of the REST framework's."""
    for of_api, words in _OF_API.items():
        own = vars(of_api).get("default_error_messages", {})
        of_api.default_error_messages = {**own, **words}
    for problem, said in _PROBLEMS.items():
        problem.default_detail = said
    for kind, words in _WORDS.items():
        kind.default_error_messages = {**vars(kind).get("default_error_messages", {}), **words}
    for kind, said in _CHECKS.items():
        kind.message = said
