"""What was typed and could not be taken in: kept, and given back on the same form.

It is kept only where the form said whose it is (`typed_by`), and is given back to that person
alone; files and secrets are never kept.
"""

from datetime import timedelta
from typing import Any

from django import forms
from django.http import HttpRequest, QueryDict
from django.utils import timezone

BY = "typed_by"
_SESSION = "typed"
_MOST_LETTERS = 60_000
_MOST_KEPT = 3
_KEPT_FOR = timedelta(hours=12)
_OURS = {"csrfmiddlewaretoken", BY}
_SECRET = ("password", "secret", "token", "otp", "passcode", "recovery")


def _said(request: HttpRequest) -> QueryDict:
    """Give what was typed, without our own fields and without secrets."""
    said = request.POST.copy()
    for name in list(said):
        if name in _OURS or any(word in name.lower() for word in _SECRET):
            del said[name]
    return said


def rows(request: HttpRequest) -> list[tuple[str, str]]:
    """Give the texts that were typed, by the names of their fields, to be shown once more."""
    if request.method != "POST":
        return []
    return [
        (name.replace("_", " "), text)
        for name, texts in _said(request).lists()
        for text in texts
        if " " in text.strip()  # sentences are worth copying; numbers and choices are not
    ]


def keep(request: HttpRequest) -> bool:
    """Keep what was typed, for the person whose form it was; say whether there was anything."""
    by = request.POST.get(BY, "")
    text = _said(request).urlencode()
    if not by.isdecimal() or not text or len(text) > _MOST_LETTERS:
        return False
    path = request.path
    others = [one for one in request.session.get(_SESSION, []) if one["path"] != path]
    kept = {"path": path, "by": by, "at": timezone.now().isoformat(), "text": text}
    request.session[_SESSION] = [*others, kept][-_MOST_KEPT:]
    return True


def give_back(request: HttpRequest, form: forms.BaseForm) -> bool:
    """Fill a form with what its person typed before; say whether there was anything."""
    held = request.session.get(_SESSION, [])
    mine = [one for one in held if one["path"] == request.path and one["by"] == _pk(request)]
    if not mine:
        return False
    request.session[_SESSION] = [one for one in held if one not in mine]
    since = (timezone.now() - _KEPT_FOR).isoformat()
    if mine[-1]["at"] < since:
        return False
    data = QueryDict(mine[-1]["text"])
    for name, field in form.fields.items():
        at: Any = form.add_prefix(name)
        widget = form[name].field.widget
        if not isinstance(field, forms.FileField) and not widget.value_omitted_from_data(
            data, {}, at
        ):
            form.initial[name] = widget.value_from_datadict(data, {}, at)
    return True


def _pk(request: HttpRequest) -> str:
    return str(request.user.pk)
