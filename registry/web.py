"""Parts that pages share: deeds as forms, refusals as pages, lists in pages."""

import errno
import re
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import (
    BadRequest,
    DisallowedHost,
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
    ValidationError,
)
from django.core.paginator import Page
from django.core.validators import MaxValueValidator
from django.db import DatabaseError, models
from django.db.models.fields import BLANK_CHOICE_LABEL
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.template.loader import get_template
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.defaults import page_not_found, server_error

from registry import typed
from registry.done import DONE
from registry.errors import (
    NotPermitted,
    Refusal,
    StoreFailed,
    TooLarge,
    Unseen,
    Unsound,
    WrongMethod,
)
from registry.faults import CHOOSE, NONE_CHOSEN
from registry.ledger.models import Entry
from registry.paging import LongPaginator
from registry.permissions import SEE, Verb, Visitor, allowed, can, kind_of, require

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise  # the stubs alone know it

PLACES = (
    (_("Today"), "today"),
    (_("Questions"), "questions:list"),
    (_("Studies"), "projects:list"),
    (_("Animals"), "animals:list"),
    (_("Archive"), "archive:list"),
    (_("Oversight"), "oversight:home"),
)

type Words = str | _StrPromise
"""What people read: as it stands, or to be translated when it is shown."""


class NarrowForm(forms.Form):
    """A form whose numbers fit their columns, and whose days can be reckoned with."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for one in self.fields.values():
            if isinstance(one, forms.ModelChoiceField) and one.empty_label == BLANK_CHOICE_LABEL:
                one.empty_label = str(CHOOSE if one.required else NONE_CHOSEN)

    def full_clean(self) -> None:
        """Narrow the fields, also those that were fitted late; then clean."""
        for one in self.fields.values():
            _bound(one)
        super().full_clean()


def _bound(one: forms.Field) -> None:
    """Keep a number within its column, and a day within what a calendar can be reckoned in."""
    if isinstance(one, forms.DateField | forms.DateTimeField):
        one.validators.append(_in_our_time)
    elif isinstance(one, forms.IntegerField) and one.max_value is None:
        one.validators.append(MaxValueValidator(_MOST))


_MOST = 1_000_000_000  # a column of whole numbers ends at 2,147,483,647
_YEARS = range(1850, 2201)


def _in_our_time(day: date) -> None:
    if day.year not in _YEARS:
        raise ValidationError(
            gettext("The year %(year)s is out of range; it must lie from %(first)s to %(last)s.")
            % {"year": day.year, "first": _YEARS[0], "last": _YEARS[-1]}
        )


class DeedForm(NarrowForm):
    """The input of one deed, for its page and for the API alike.

    `subject` is the object it is done on (None for one that creates from nothing), `by` the person.
    The button of an urgent one stays in sight, however long the form.
    """

    intro: ClassVar[Words] = ""
    caution: ClassVar[Words] = ""
    keeps_no_draft: ClassVar[bool] = False
    is_urgent: ClassVar[bool] = False

    def __init__(self, *args: Any, subject: Any = None, by: Any, **kwargs: Any) -> None:
        self.subject, self.by = subject, by
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.fit()

    def fit(self) -> None:
        """Fit the choices to the subject and the person; a slice overrides it."""

    @property
    def matter(self) -> str:
        """Say what the deed answers, for whoever comes straight to it; a slice overrides it."""
        return ""

    def act(self) -> models.Model:
        """Call the deed's action with the cleaned data, and give the object to look at next."""
        raise NotImplementedError

    def trial(self) -> dict[str, Any] | None:
        """Give what the deed would do, where a program asked for that alone; a slice overrides."""
        return None


_DIGITS_OF_A_ROW = 18  # a number of 19 may be more than the 64 bits of a row's own


def number_of(said: str | None) -> int | None:
    """Give the whole number that an address says, as far as a row can have it; else None."""
    return int(said) if said and _NUMBER.fullmatch(said) else None


_NUMBER = re.compile(f"[0-9]{{1,{_DIGITS_OF_A_ROW}}}")  # what isdigit() takes, int() may not


def day_field(
    label: Words, help_text: Words = "", *, required: bool = True, is_today: bool = False
) -> forms.DateField:
    """Give the field for a day; `is_today` has today stand in it."""
    return forms.DateField(
        label=label,
        help_text=help_text,
        required=required,
        initial=timezone.localdate if is_today else None,
        # A browser's own field for a day reads this one format, whatever the site's language.
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


_REASON = _("Reason")


def reason_field(label: Words = _REASON, help_text: Words = "") -> forms.CharField:
    """Give the field for a reason, which is always required."""
    return forms.CharField(
        label=label, help_text=help_text, widget=forms.Textarea(attrs={"rows": 4}), max_length=4000
    )


@dataclass(frozen=True)
class Deed:
    """One deed as it is offered: its verb, its form, and what its button says.

    `path` is the last part of its address; the API and the pages use the same.
    """

    verb: Verb
    form: type[DeedForm]
    label: Words
    title: Words = ""
    lede: Words = ""
    path: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "path", self.verb.split(".")[1])

    @property
    def done(self) -> str:
        """What is said when it was done, as a whole sentence."""
        return str(DONE[self.verb])


type Deeds = Mapping[str, Deed]


def deeds(*offered: Deed) -> Deeds:
    """Give the deeds of one kind of object, by the last part of their address."""
    return {deed.path: deed for deed in offered}


def person_of(request: HttpRequest) -> Any:
    """Give whoever asks: a person, or a visitor."""
    if not request.user.is_authenticated:
        return Visitor()
    # The person itself, not the lazy stand-in for it, whose type is no model.
    return getattr(request, "_cached_user", request.user)


def seen_or_404[M: models.Model](queryset: models.QuerySet[M], person: Any, pk: Any) -> M:
    """Give one row that this person may see.

    Raises
    ------
    Unseen
        Where there is none, or it is not for these eyes.
    """
    see = SEE[kind_of(queryset.model)]
    rows = allowed(queryset, person, see)
    try:
        found = rows.filter(pk=pk).first()
    except ValueError:  # no number, so no row's
        found = None
    if found is None:
        raise _nothing_here()
    return found


def seen_among(objects: Iterable[models.Model | None], person: Any) -> set[models.Model]:
    """Give those of some objects that this person may see; one query for each kind."""
    kinds: dict[type[models.Model], set[Any]] = {}
    for one in objects:
        if one is not None:
            kinds.setdefault(type(one), set()).add(one.pk)
    found: set[models.Model] = set()
    for model, keys in kinds.items():
        rows = model._default_manager.filter(pk__in=keys)
        found |= set(allowed(rows, person, SEE[kind_of(model)]))
    return found


def _nothing_here() -> Unseen:
    return Unseen(
        "Nothing was found here.",
        "It does not exist, or it is not yours to see.",
        "Check the address, or ask whoever sent you here.",
    )


OFFERED_ON: dict[type[models.Model], dict[str, Deeds]] = {}


def offer(model: type[models.Model], offered: Deeds, name: str) -> None:
    """Offer deeds of a slice on a kind of object, wherever it is shown; called by its urls.py."""
    OFFERED_ON.setdefault(model, {})[name] = offered


def acts_on(obj: models.Model, person: Any) -> list[dict[str, Any]]:
    """Give the buttons of every slice for what this person may do on this object now.

    The object's own slice comes first: its first button is the one that is filled.
    """
    open_verbs, own = can(obj, person), f"{obj._meta.app_label}:"
    slices = sorted(
        OFFERED_ON.get(type(obj), {}).items(), key=lambda item: not item[0].startswith(own)
    )
    return [
        {"label": deed.label, "url": reverse(name, args=[obj.pk, path]), "path": path}
        for name, offered in slices
        for path, deed in offered.items()
        if path in open_verbs
    ]


def deed_page(
    request: HttpRequest,
    deed: Deed,
    subject: Any,
    *,
    template: str = "_deed.html",
    extra: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """Show a deed's form, or do the deed; after a refusal what was typed still stands there."""
    person = person_of(request)
    require(person, deed.verb, subject)
    refusal: Refusal | None = None
    status = 200
    sent = request.method == "POST"
    initial = None if sent else request.GET.dict()
    form = deed.form(
        request.POST if sent else None,
        request.FILES if sent else None,
        subject=subject,
        by=person,
        initial=initial,
    )
    if not sent:
        give_back(request, form)
    if sent and form.is_valid():
        try:
            done = form.act()
        except (NotPermitted, Unseen):
            raise
        except Refusal as refused:
            refusal, status = refused, refused.status
            for name, complaint in refused.fields.items():
                if name in form.fields:
                    form.add_error(name, complaint)
        else:
            messages.success(request, deed.done)
            return HttpResponseRedirect(done.get_absolute_url())  # type: ignore[attr-defined]  # why: every subject of a deed has a page
    elif sent:
        status = 422
    context = {
        "deed": deed,
        "form": form,
        "subject": subject,
        "refusal": refusal,
        "back": subject.get_absolute_url() if subject is not None else "",
        **(extra or {}),
    }
    return render(request, template, context, status=status)


def give_back(request: HttpRequest, form: forms.BaseForm) -> None:
    """Fill an unsent form with what its person typed on it before, and say so."""
    if typed.give_back(request, form):
        messages.info(request, _BACK)


_BACK = _(
    "What you typed here before is back. It has not been sent yet: look it over, choose any file "
    "again, and send it."
)


def deed_view(
    model: type[models.Model],
    offered: Deeds,
    *,
    extra: Callable[[HttpRequest, Any, Deed], Mapping[str, Any]] | None = None,
    templates: Mapping[str, str] | None = None,
) -> Callable[..., HttpResponse]:
    """Give the view for every deed on one kind of object: `<pk>/<path>/`.

    `templates` gives the pages that show more than the form, by path.
    """

    @login_required
    def view(request: HttpRequest, pk: int, path: str) -> HttpResponse:
        subject = seen_or_404(model._default_manager.all(), person_of(request), pk)
        deed = offered.get(path)
        if deed is None:
            raise Unseen(
                "There is no such step.",
                gettext("“%(path)s” is not one.") % {"path": path},
                "Go back to the page.",
            )
        more = extra(request, subject, deed) if extra else None
        template = (templates or {}).get(path, "_deed.html")
        return deed_page(request, deed, subject, template=template, extra=more)

    view.model, view.offered = model, offered  # type: ignore[attr-defined]  # why: for whoever walks the addresses
    return view


def page_of(request: HttpRequest, queryset: models.QuerySet[Any], size: int = 50) -> Page[Any]:
    """Give the page of a list that the address asks for; a page out of range is the nearest one."""
    if not queryset.ordered:  # a count over related rows makes Django drop the model's own order
        queryset = queryset.order_by(*queryset.model._meta.ordering, "pk")
    return LongPaginator(queryset, size).get_page(request.GET.get("page"))


def check_form(form: forms.BaseForm) -> dict[str, Any]:
    """Give the cleaned data of a form.

    Raises
    ------
    Unsound
        With a complaint for each field, where it does not hold.
    """
    if form.is_valid():
        return form.cleaned_data
    complaints = {name: " ".join(map(str, said)) for name, said in form.errors.items()}
    raise Unsound(
        "Nothing was written.",
        " ".join(f"{name}: {said}" for name, said in complaints.items()),
        "Mend these and send it again.",
        fields=complaints,
    )


class RefusalMiddleware:
    """Turn a refusal that no view caught into a page in words, or into the API's error shape."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on, unless it is too long or its address cannot be looked for."""
        if refusal := _too_long(request):
            return refusal_page(request, refusal)
        if request.method not in _METHODS and not request.path.startswith("/api/"):
            return _not_asked_so(request)
        if "\x00" in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            raise BadRequest("There is a NUL character in the address.")
        answer = self.get_response(request)
        if request.method == "POST" and answer.status_code == 302:
            _keep_from_stranger(request, answer)
        return answer

    def process_exception(self, request: HttpRequest, problem: Exception) -> HttpResponse | None:
        """Show a refusal; leave every other exception alone."""
        if not isinstance(problem, Refusal):
            return None
        return refusal_page(request, problem)


def _keep_from_stranger(request: HttpRequest, answer: HttpResponse) -> None:
    """Keep what was sent by someone who was signed out in between, and is led to sign in."""
    leads_to = answer["Location"].partition("?")[0]
    if not request.user.is_authenticated and leads_to == reverse(settings.LOGIN_URL):
        typed.keep(request)


_METHODS = ("GET", "HEAD", "POST")
"""How a page is asked; an address of the API says for itself how it is."""


def _not_asked_so(request: HttpRequest) -> HttpResponse:
    refusal = WrongMethod(
        "Nothing was done.",
        gettext("A page is not asked with %(method)s; it is shown with GET and sent with POST.")
        % {"method": request.method},
        "Open the page in a browser, or use the API, which has an address for each deed.",
    )
    answer = refusal_page(request, refusal)
    answer["Allow"] = ", ".join(_METHODS)
    return answer


def _too_long(request: HttpRequest) -> TooLarge | None:
    """Refuse what would fill the disk, before it is read; a stranger has no file to send."""
    said = request.META.get("CONTENT_LENGTH") or "0"
    length = int(said) if said.isdecimal() else 0
    is_known = request.user.is_authenticated or (
        request.path.startswith("/api/") and "Authorization" in request.headers
    )
    most = settings.MOST_SENT_BYTES if is_known else settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    if length <= most:
        return None
    return TooLarge(
        "Nothing was read.",
        gettext("What was sent is %(length)s bytes; %(most)s are taken at once.")
        % {"length": f"{length:,}", "most": f"{most:,}"},
        "Send it in several parts." if is_known else "Sign in first, then send it again.",
    )


def refusal_page(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    """Give a refusal as a page with its status, or to a program in the API's error shape."""
    if request.path.startswith("/api/"):
        return JsonResponse(refusal.as_dict(), status=refusal.status)
    # What was too long, or could not be read, was never read.
    is_read = refusal.status not in {400, 413}
    context = {"refusal": refusal, "typed": typed.rows(request) if is_read else []}
    return render(request, "refusal.html", context, status=refusal.status)


def not_from_here(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that a page had stood open too long; what was typed on it is kept and shown.

    Nothing is kept or shown of what another site sent.
    """
    is_ours = not reason.startswith(("Origin", "Referer"))
    context = {
        "kept": is_ours and typed.keep(request),
        "typed": typed.rows(request) if is_ours else [],
    }
    return render(request, "403_csrf.html", context, status=403)


def not_read(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say why a request could not be read, as far as it is not for an attacker's eyes."""
    refusal = Refusal(
        "The request could not be read.",
        _NOT_READ.get(type(exception), str(exception) if type(exception) is BadRequest else "")
        or "Something in the address or in what was sent was not as it should be.",
        "Go back, look at what you typed, and send it again; nothing was written.",
    )
    return refusal_page(request, refusal)


_NOT_READ: dict[type[Exception], str] = {
    DisallowedHost: "The site does not go by that name; whoever runs it sets its names in"
    " STRANDLINE_HOSTS.",
    TooManyFilesSent: f"More than {settings.DATA_UPLOAD_MAX_NUMBER_FILES} files came at once; send"
    " them in turns, or as one zip.",
    TooManyFieldsSent: f"More than {settings.DATA_UPLOAD_MAX_NUMBER_FIELDS:,} fields came at once.",
    RequestDataTooBig: f"What was typed is over {settings.DATA_UPLOAD_MAX_MEMORY_SIZE // 10**6} MB;"
    " send what is long as a file.",
}


def broken(request: HttpRequest) -> HttpResponse:
    """Say that the program met a fault; a full disk is told as what it is."""
    fault = sys.exc_info()[1]
    if fault is not None and (why := _disk_said(fault)):
        refusal: Refusal = StoreFailed(
            "Nothing was written.",
            why,
            "Nothing was lost. Tell whoever runs the site, then try again.",
        )
        if request.path.startswith("/api/"):
            return JsonResponse(refusal.as_dict(), status=refusal.status)
        # Without the request: who asks stands in a database that may be in trouble too.
        page = get_template("refusal.html").render({"refusal": refusal})
        return HttpResponse(page, status=refusal.status)
    if request.path.startswith("/api/"):
        shape = {
            "code": "broken",
            "what": "The program met a fault that it did not foresee.",
            "why": "Nothing was half done: a deed is written whole or not at all.",
            "next": "Try again; if it stays so, tell whoever runs the site.",
        }
        return JsonResponse(shape, status=500)
    return server_error(request)


def _disk_said(fault: BaseException) -> str:
    if isinstance(fault, OSError):
        return _DISK.get(fault.errno or 0, "")
    said = str(fault)
    if not isinstance(fault, DatabaseError):
        return ""
    return next((_DISK[code] for words, code in _DATABASE_SAID.items() if words in said), "")


_DATABASE_SAID = {
    "disk is full": errno.ENOSPC,
    "No space left on device": errno.ENOSPC,
    "readonly database": errno.EROFS,
    "read-only transaction": errno.EROFS,
}
"""As SQLite and PostgreSQL say it."""


_DISK = {
    errno.ENOSPC: "The disk is full.",
    errno.EDQUOT: "The disk quota is used up.",
    errno.EROFS: "The disk is read-only.",
}


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Give the page of an address that leads nowhere, or the same to a program."""
    if request.path.startswith("/api/"):
        return refusal_page(request, _nothing_here())
    return page_not_found(request, exception)


def page_parts(request: HttpRequest) -> dict[str, Any]:
    """Give what every page shows: the places, who is signed in, the ledger's head."""
    user = getattr(request, "user", None)  # what is refused very early knows nobody yet
    person = user if user is not None and user.is_authenticated else None
    here = request.path
    places = []
    for label, name in PLACES:
        try:
            url = reverse(name)
        except NoReverseMatch:
            continue
        is_here = here == url if name == "today" else here.startswith(url)
        places.append((label, url, is_here))
    head = Entry.objects.order_by("-number").values("number", "digest").first()
    return {
        "places": places if person else [],
        "is_narrowed": any(said for key, said in request.GET.items() if key != "page"),
        "person": person,
        "site_line": gettext("%(site)s with %(partner)s")
        % {"site": settings.SITE_NAME, "partner": settings.PARTNER_NAME},
        "as_known": timezone.now(),
        "ledger_head": head["number"] if head else None,
        "ledger_digest": head["digest"] if head else "",
    }
