"""Parts that the API shares: objects with what one can do, verbs from the pages' own deeds."""

import json
import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from functools import cache
from typing import Any, ClassVar, get_type_hints

from django import forms
from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import Http404, QueryDict
from django.utils.translation import gettext as _
from django_filters.rest_framework import DjangoFilterBackend
from drf_spectacular.openapi import AutoSchema
from rest_framework import exceptions, parsers, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.filters import OrderingFilter
from rest_framework.pagination import PageNumberPagination
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.routers import DefaultRouter, Route
from rest_framework.views import exception_handler

from registry.errors import NotPermitted, Refusal, TooLarge, Unseen, Unsound
from registry.permissions import SEE, Verb, allowed, can, kind_of, require, with_can
from registry.web import Deed, DeedForm, Deeds, check_form, seen_or_404

NEXT = {
    400: "Mend the request and send it again.",
    401: "Sign in, or send a token as “Authorization: Token …”.",
    403: "Ask someone who may, or an administrator if your standing is out of date.",
    404: "Check the address, or ask whoever sent you here.",
    405: "Look in /api/v1/schema/ for what is open at this address.",
    415: "Send JSON, or a form.",
    429: "Wait a little, and try again.",
}


class ShallowJson(parsers.JSONParser):
    """JSON that is not nested without end."""

    def parse(self, stream: Any, media_type: Any = None, parser_context: Any = None) -> Any:
        """Read what was sent."""
        try:
            return super().parse(stream, media_type, parser_context)
        except RecursionError:
            raise exceptions.ParseError("The JSON is nested too deeply.") from None


class Router(DefaultRouter):
    """Addresses end with a slash, those of files with what the file is ("findings.csv")."""

    include_format_suffixes = False

    def get_routes(self, viewset: Any) -> list[Route]:
        """Give the routes, without the slash where a file is meant."""
        routes = super().get_routes(viewset)
        return [route._replace(url=_FILE.sub(r"\1$", route.url)) for route in routes]


_FILE = re.compile(r"(\\\.[^/]+)\{trailing_slash\}\$$")
"""An address whose last part has a dot before what the file is."""


class Pages(PageNumberPagination):
    """Fifty at a time, up to five hundred where asked."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 500


def within_scope(request: Any, verb: Verb) -> bool:
    """Say whether the token that was sent reaches so far; whoever signs in otherwise has no such.

    It is asked beside the table of who may, never in its place.
    """
    token = getattr(request, "auth", None)
    return token is None or bool(token.permits(verb))


def _scope_of(request: Any) -> str:
    return str(request.auth.scope)


def _verb_asked(view: Any) -> Verb | None:
    """Give the verb of what is asked of a view: a deed's own, else the look at its kind."""
    asked = getattr(view, "action", None) or ""
    if asked.startswith("do_"):
        found: Verb = view.deeds[asked[3:]].verb
        return found
    if asked == "create":
        made: Verb = view.creates.verb
        return made
    queryset = getattr(view, "queryset", None)
    return SEE.get(kind_of(queryset.model)) if queryset is not None else None


class SignedInOrReleased(BasePermission):
    """Only people who signed in, but for the views that say they are open to everyone."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Let the table decide the rest, within the scope of the token that was sent."""
        verb = _verb_asked(view)
        if verb is not None and not within_scope(request, verb):
            raise NotPermitted(
                "Nothing was done.",
                _("This token may not %(label)s: its scope is “%(scope_of)s”.")
                % {"label": verb.label, "scope_of": _scope_of(request)},
                "Make a token whose scope reaches so far, on the page “Tokens for programs”.",
            )
        return bool(request.user.is_authenticated) or bool(getattr(view, "is_public", False))


class KnownFilters(DjangoFilterBackend):  # type: ignore[misc]  # why: it has no stubs
    """Filters by what the list offers; a filter that it does not know would show too much."""

    def filter_queryset(self, request: Request, queryset: Any, view: Any) -> Any:
        """Refuse what is unknown, then filter."""
        filters = self.get_filterset(request, queryset, view)
        if filters is not None:
            _within_reach(filters.form)
        known = set(filters.form.fields) if filters is not None else set()
        for name in request.query_params:
            if name not in known | _ALWAYS_KNOWN:
                offered = ", ".join(sorted(known)) or "none"
                raise _not_listed(
                    name,
                    _("There is no such filter here; there are: %(offered)s.")
                    % {"offered": offered},
                    "filter",
                )
        return super().filter_queryset(request, queryset, view)


class KnownOrdering(OrderingFilter):
    """Orders by what the list offers; an order that it does not know would be none at all."""

    def get_ordering(self, request: Request, queryset: Any, view: Any) -> Any:
        """Refuse what is unknown, then order."""
        asked = [
            one.strip() for one in request.query_params.get(self.ordering_param, "").split(",")
        ]
        known = sorted(name for name, _filter in self.get_valid_fields(queryset, view))
        for name in filter(None, asked):
            if name.removeprefix("-") not in known:
                offered = ", ".join(known) or "none"
                raise _not_listed(
                    self.ordering_param,
                    _(
                        "“%(name)s” is no order here; there are: %(offered)s, each also with “-” "
                        "before it for the other way round."
                    )
                    % {"name": name, "offered": offered},
                    "order",
                )
        return super().get_ordering(request, queryset, view)


def _not_listed(name: str, why: str, what: str) -> Unsound:
    return Unsound(
        "The list was not given.",
        f"{name}: {why}",
        _(
            "Mend or leave out that %(what)s; a list given without it would not be what "
            "you asked for."
        )
        % {"what": what},
        fields={name: why},
    )


def _within_reach(form: forms.Form) -> None:
    """Refuse a number or a moment that no row can have, before it is looked for."""
    try:
        for value in form.cleaned_data.values() if form.is_valid() else ():
            if isinstance(value, datetime):
                value.astimezone(UTC)
    except OverflowError:
        raise exceptions.ValidationError(
            "A number or a moment among the filters is beyond all reckoning."
        ) from None


_ALWAYS_KNOWN = frozenset({"page", "page_size", "ordering", "format"})


class ObjectSerializer[M: models.Model](serializers.ModelSerializer[M]):
    """An object with its address on the site and the verbs that the asker can do on it."""

    def to_representation(self, instance: M) -> dict[str, Any]:
        """Add `url` and `can`."""
        shown: dict[str, Any] = super().to_representation(instance)
        address = getattr(instance, "get_absolute_url", None)
        shown["url"] = address() if address else None
        request = self.context.get("request")
        shown["can"] = _can(instance, request) if request is not None else []
        return shown


def _can(instance: models.Model, request: Any) -> list[str]:
    kind = kind_of(instance)
    return [
        done
        for done in can(instance, request.user)
        if within_scope(request, Verb(f"{kind}.{done}"))
    ]


def form_input(given: Any) -> QueryDict:
    """Give what was sent, JSON or form, as forms read it."""
    if isinstance(given, QueryDict):
        return given
    read = QueryDict(mutable=True)
    if not isinstance(given, Mapping):
        raise exceptions.ParseError("Send an object with one entry a field.")
    for name, value in given.items():
        values = value if isinstance(value, list) else [value]
        read.setlist(name, [_said(one) for one in values])
    return read


def _said(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else ""
    said = json.dumps(value, ensure_ascii=False) if isinstance(value, Mapping) else str(value)
    if _HALF.search(said):
        raise exceptions.ParseError("A text holds one half of a character, such as \\ud800 alone.")
    return said


_HALF = re.compile("[\ud800-\udfff]")  # JSON can spell it; no encoding can hold it


class RefusalSerializer(serializers.Serializer[Any]):
    """The one error shape."""

    code = serializers.CharField()
    what = serializers.CharField()
    why = serializers.CharField()
    next = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        """Add `fields`, which as an attribute would hide the serializer's own."""
        complaints = serializers.DictField(child=serializers.CharField(), required=False)
        return {**super().get_fields(), "fields": complaints}


_FIELDS: tuple[tuple[type[forms.Field], Callable[..., Any], tuple[str, ...]], ...] = (
    (forms.ModelMultipleChoiceField, serializers.ListField, ()),
    (forms.ModelChoiceField, serializers.IntegerField, ()),
    (forms.MultipleChoiceField, serializers.ListField, ()),
    (forms.FileField, serializers.FileField, ()),
    (forms.DateTimeField, serializers.DateTimeField, ()),
    (forms.DateField, serializers.DateField, ()),
    (forms.FloatField, serializers.FloatField, ("min_value", "max_value")),
    (forms.DecimalField, serializers.FloatField, ("min_value", "max_value")),
    (forms.IntegerField, serializers.IntegerField, ("min_value", "max_value")),
    (forms.BooleanField, serializers.BooleanField, ()),
    (forms.JSONField, serializers.JSONField, ()),
    (forms.CharField, serializers.CharField, ("max_length",)),
    (forms.Field, serializers.CharField, ()),
)
"""How each kind of a form's field is told of, and which of its bounds go with it."""
_MANY = "allow_multiple_selected"  # what Django calls it on a widget


def _told(field: forms.Field) -> str:
    """Give what is to be said of a field: its help, and the choices that never change."""
    said = str(field.help_text or field.label or "").strip()
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        choices: Any = field.choices
        values = [str(value) for value, _label in choices if value not in {None, ""}]
        if values:
            said = f"{said.rstrip('.')}. One of: {', '.join(values)}."
    return said


@cache
def serializer_of(form: type[DeedForm]) -> type[serializers.Serializer[Any]]:
    """Describe a deed's form for the API's schema."""
    described: dict[str, Any] = {"__doc__": form.__doc__}
    for name, field in form.base_fields.items():
        make, bounds = next(
            (make, bounds) for kind, make, bounds in _FIELDS if isinstance(field, kind)
        )
        given = {bound: getattr(field, bound) for bound in bounds}
        if make is serializers.ListField:
            is_rows = isinstance(field, forms.ModelMultipleChoiceField)
            given["child"] = serializers.IntegerField() if is_rows else serializers.CharField()
        if make is serializers.FileField and getattr(field.widget, _MANY, False):
            make, given["child"] = serializers.ListField, serializers.FileField()
        if make is serializers.CharField:
            given["allow_blank"] = not field.required
        described[name] = make(required=field.required, help_text=_told(field), **given)
    # Two slices may have a form of one name: the slice's own goes before it.
    of_slice = form.__module__.partition(".forms")[0].rpartition(".")[2]
    return type(
        f"{of_slice.title()}{form.__name__}",
        (serializers.Serializer,),
        described,
    )


LOOK_REFUSED = (400, 401, 403, 404, 422)
DEED_REFUSED = (400, 401, 403, 404, 409, 410, 413, 415, 422, 507)


class DeedSchema(AutoSchema):
    """Describes the deeds: their input from the form, their refusals in the one shape."""

    def _deed(self) -> Deed | None:
        name = getattr(self.view, "action", "") or ""
        if name.startswith("do_"):
            return dict(getattr(self.view, "deeds", {})).get(name[3:])
        if name.startswith("start_"):
            return dict(getattr(self.view, "starts", {})).get(name[6:])
        if name == "create":
            creates: Deed | None = getattr(self.view, "creates", None)
            return creates
        return None

    def get_request_serializer(self) -> Any:
        """Give the deed's form as a serializer."""
        deed = self._deed()
        return serializer_of(deed.form) if deed else super().get_request_serializer()

    def get_response_serializers(self) -> Any:
        """Add the refusals to what the view answers; a deed answers what its form says it gives."""
        answered = super().get_response_serializers()
        deed = self._deed()
        if deed is None:
            return {200: answered, **dict.fromkeys(LOOK_REFUSED, RefusalSerializer)}
        made = get_type_hints(deed.form.act).get("return")
        shown = SERIALIZERS.get(made, answered) if made else answered
        tried = dict(getattr(self.view, "trials", {})).get(deed.path, shown)
        return {200: tried, 201: shown, **dict.fromkeys(DEED_REFUSED, RefusalSerializer)}


class LookViewSet[M: models.Model](viewsets.ReadOnlyModelViewSet[M]):
    """A list and its rows, to look at only; reference data are served so."""

    permission_classes = [SignedInOrReleased]
    pagination_class = Pages
    parser_classes = [ShallowJson, parsers.MultiPartParser, parsers.FormParser]
    filter_backends = [KnownFilters, KnownOrdering]
    schema = DeedSchema()


class ObjectViewSet[M: models.Model](LookViewSet[M]):
    """A list and its objects; each deed is `POST <id>/<verb>/`, `creates` is `POST` on the list.

    A slice gives `queryset`, `serializer_class`, `deeds` and, where people make one from nothing,
    `creates`. A deed that makes another kind of object answers with that object, as `shows` says.
    `starts` are further deeds that begin with nothing: each is `POST <verb>/` on the list; what a
    trial of one answers is shaped by `trials`.
    """

    deeds: ClassVar[Deeds] = {}
    creates: ClassVar[Deed | None] = None
    starts: ClassVar[Deeds] = {}
    trials: ClassVar[Mapping[str, type[serializers.Serializer[Any]]]] = {}
    http_method_names = ["get", "post", "head", "options"]

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        if cls.creates is not None and "create" not in cls.__dict__:
            cls.create = _create  # type: ignore[attr-defined]  # why: only where people make one from nothing
        for path, deed in cls.deeds.items():
            setattr(cls, f"do_{path}", _verb(path, deed))
        for path, deed in cls.starts.items():
            setattr(cls, f"start_{path}", _start(path, deed))

    def get_queryset(self) -> models.QuerySet[M]:
        """Give what this person may see, each row with what they may do."""
        queryset = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return queryset
        person: Any = self.request.user
        seen = allowed(queryset, person, SEE[kind_of(queryset.model)])
        return with_can(seen, person)

    def get_object(self) -> M:
        """Give one object that this person may see."""
        try:
            return super().get_object()
        except Http404:
            raise _nothing() from None

    def perform_deed(self, deed: Deed, subject: Any) -> Response:
        """Do a deed with what was sent, and show the object that it leaves."""
        person: Any = self.request.user
        require(person, deed.verb, subject)
        _weigh(self.request)
        form = deed.form(
            form_input(self.request.data),
            self.request.FILES,
            subject=subject,
            by=person,
        )
        check_form(form)
        if (told := form.trial()) is not None:
            return Response(told)
        done = form.act()
        made = subject is None or type(done) is not type(subject) or done.pk != subject.pk
        code = status.HTTP_201_CREATED if made else status.HTTP_200_OK
        return Response(self.show_made(form, done), status=code)

    def show_made(self, form: DeedForm, done: models.Model) -> dict[str, Any]:
        """Give what a deed answers; a slice adds what is shown this once."""
        return self.show(done)

    def show(self, done: models.Model) -> dict[str, Any]:
        """Give an object as its own list would show it."""
        shown_by = SERIALIZERS.get(type(done), self.get_serializer_class())
        fresh = type(done)._default_manager.get(pk=done.pk)
        shown: dict[str, Any] = shown_by(fresh, context=self.get_serializer_context()).data
        return shown


def _weigh(request: Request) -> None:
    """Refuse, before it is read into memory, what is longer than any form; files are streamed."""
    most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    length = request.META.get("CONTENT_LENGTH") or "0"
    if int(length) > most and not str(request.content_type).startswith("multipart/"):
        raise TooLarge(
            "Nothing was written.",
            _("What was sent is %(length)s bytes; %(most)s are read at most.")
            % {"length": f"{int(length):,}", "most": f"{most:,}"},
            "Send less, or a file as multipart/form-data.",
        )


SERIALIZERS: dict[type[models.Model], Any] = {}


def shows[S: type[ObjectSerializer[Any]]](serializer: S) -> S:
    """Register a serializer as the one way in which its model is shown."""
    SERIALIZERS[serializer.Meta.model] = serializer
    return serializer


def _nothing() -> Unseen:
    return Unseen(
        "Nothing was found here.", "It does not exist, or it is not yours to see.", NEXT[404]
    )


def _create(self: ObjectViewSet[Any], request: Request) -> Response:
    """Make one from nothing."""
    assert self.creates is not None
    return self.perform_deed(self.creates, None)


def _verb(path: str, deed: Deed) -> Callable[..., Response]:
    def do(self: ObjectViewSet[Any], request: Request, pk: str | None = None) -> Response:
        model = type(self).queryset.model  # type: ignore[union-attr]  # why: every slice gives one
        subject = seen_or_404(model._default_manager.all(), request.user, pk)
        return self.perform_deed(deed, subject)

    do.__name__ = f"do_{path}"
    do.__doc__ = f"{deed.verb.label.capitalize()}."
    return action(detail=True, methods=["post"], url_path=path, url_name=path)(do)


def _start(path: str, deed: Deed) -> Callable[..., Response]:
    def start(self: ObjectViewSet[Any], request: Request) -> Response:
        return self.perform_deed(deed, None)

    start.__name__ = f"start_{path}"
    start.__doc__ = f"{deed.verb.label.capitalize()}."
    return action(detail=False, methods=["post"], url_path=path, url_name=path)(start)


def in_line(said: Any) -> str:
    """Write what a field lacks in one line, however deep it lies."""
    if isinstance(said, Mapping):
        return " ".join(in_line(one) for one in said.values())
    return " ".join(map(in_line, said)) if isinstance(said, list | tuple) else str(said)


def refusal_response(problem: Exception, context: dict[str, Any]) -> Response | None:
    """Answer every refusal in the one shape: code, what, why, next (and fields where there are)."""
    if isinstance(problem, Refusal):
        return Response(problem.as_dict(), status=problem.status)
    if isinstance(problem, PermissionDenied):
        problem = exceptions.PermissionDenied()
    response = exception_handler(problem, context)
    if response is None:
        return None
    detail = getattr(problem, "detail", str(problem))
    fields = {str(k): in_line(v) for k, v in detail.items()} if isinstance(detail, dict) else {}
    why = "; ".join(f"{k}: {v}" for k, v in fields.items()) or in_line(detail)
    response.data = {
        "code": str(getattr(problem, "default_code", "refused")),
        "what": "The request was refused.",
        "why": why,
        "next": NEXT.get(response.status_code, NEXT[400]),
        **({"fields": fields} if fields else {}),
    }
    return response


def extend(viewset: type[ObjectViewSet[Any]], deeds: Deeds) -> None:
    """Add the deeds that a higher slice offers on this kind of object."""
    viewset.deeds = {**viewset.deeds, **deeds}
    for path, deed in deeds.items():
        setattr(viewset, f"do_{path}", _verb(path, deed))


def look_at(viewset: type[LookViewSet[Any]], *looks: Callable[..., Response]) -> None:
    """Add what a higher slice tells of this kind of object; each is a DRF action."""
    for look in looks:
        setattr(viewset, look.__name__, look)
