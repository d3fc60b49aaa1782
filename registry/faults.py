"""What a form says of a fault, in the house's words; one place for every form.

Django gives each kind of field its sentences by `default_error_messages`, and each validator by
`message`. They are set anew once, when the site starts.
"""

from typing import Any

from django.core import validators
from django.forms import fields, formsets, models
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

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


def speak() -> None:
    """Set the house's words in place of Django's."""
    for kind, words in _WORDS.items():
        kind.default_error_messages = {**vars(kind).get("default_error_messages", {}), **words}
    for kind, said in _CHECKS.items():
        kind.message = said
