"""The same sums over the API: size, allocate, schedule, simulate; nothing is written."""

from typing import Any, ClassVar

from django.utils.translation import gettext as _
from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from registry import design
from registry.desk.designing.answers import size_answer
from registry.desk.designing.aside import ASIDE, PhasesForm
from registry.desk.designing.asking import SizeForm
from registry.desk.designing.forms import FORMS
from registry.desk.designing.shapes import (
    AllocatedSerializer,
    AllocateSerializer,
    ReachedSerializer,
    SaidSerializer,
    ScheduledSerializer,
    ScheduleSerializer,
    SimulatedSerializer,
    SimulateSerializer,
    SizedSerializer,
)
from registry.desk.designing.taking import drawable, schedule_given
from registry.errors import Unsound
from registry.rest import (
    DEED_REFUSED,
    RefusalSerializer,
    ShallowJson,
    SignedInOrReleased,
    form_input,
    serializer_of,
)
from registry.web import check_form

REFUSED = dict.fromkeys(DEED_REFUSED, RefusalSerializer)


def _described(kind: str, form: Any) -> type[serializers.Serializer[Any]]:
    """Describe a form with the name of its design beside it."""
    described = serializer_of(form)
    named = serializers.ChoiceField(choices=[kind], help_text="The design.")
    name = f"Design{''.join(part.title() for part in kind.split('-'))}"
    return type(name, (described,), {"design": named, "__doc__": form.__doc__})


_KINDS = {**FORMS, **ASIDE}
_SIZE_ASKED = PolymorphicProxySerializer(
    component_name="DesignAsked",
    serializers={kind: _described(kind, form) for kind, form in _KINDS.items()},
    resource_type_field_name="design",
)
_SIZE_GIVEN = PolymorphicProxySerializer(
    component_name="DesignAnswered",
    serializers=[SizedSerializer, ReachedSerializer, SaidSerializer],
    resource_type_field_name=None,
)


class _DesignView(APIView):
    """Sums that anyone who signed in may ask; they write nothing."""

    permission_classes = [SignedInOrReleased]
    parser_classes = [ShallowJson]
    http_method_names = ["post", "options"]
    asked: ClassVar[type[serializers.Serializer[Any]] | None] = None

    def given(self, request: Request) -> dict[str, Any]:
        """Read what was sent, or refuse it field by field."""
        assert self.asked is not None
        read = self.asked(data=request.data)
        read.is_valid(raise_exception=True)
        found: dict[str, Any] = read.validated_data
        return found


class SizeView(_DesignView):
    """How many units, what power, or what effect: leave out what is looked for."""

    @extend_schema(
        operation_id="design_size",
        request=_SIZE_ASKED,
        responses={200: _SIZE_GIVEN, **REFUSED},
    )
    def post(self, request: Request) -> Response:
        """Size a design in one of three directions."""
        given = form_input(request.data)
        kind = given.get("design", "")
        made: Any = _KINDS.get(kind)
        if made is None:
            raise Unsound(
                "There is no such design.",
                _("“%(kind)s” is none of: %(kinds)s.")
                % {"kind": kind[:60], "kinds": ", ".join(_KINDS)},
                "Name one of these in the field “design”.",
                fields={"design": "There is no such design."},
            )
        form = made(given)
        if isinstance(form, SizeForm):
            form.fit(request.user)
        check_form(form)
        if kind in FORMS:
            return Response(size_answer(form).as_dict())
        told = form.answered().as_dict()
        if isinstance(form, PhasesForm):
            found = form.reached()
            told |= {
                "assignments": found.assignments,
                "smallest_p": found.smallest_p,
                "is_confirmatory": found.is_confirmatory,
            }
        return Response(told)


class AllocateView(_DesignView):
    """Draw who gets what; the same seed gives the same allocation, for ever."""

    asked = AllocateSerializer

    @extend_schema(
        operation_id="design_allocate",
        request=AllocateSerializer,
        responses={200: AllocatedSerializer, **REFUSED},
    )
    def post(self, request: Request) -> Response:
        """Allocate units to treatments."""
        given = self.given(request)
        seed = _seed_of(given)
        found = design.allocate(given, design.Stream(seed))
        codes = {}
        if given["codes"]:
            blinding = design.Stream(design.seed_for(seed, "blinding"))
            codes = design.codes([one.unit for one in found.places], blinding)
        places = [
            {
                "unit": one.unit,
                "arm": one.arm,
                "block": one.block,
                "sequence": list(one.sequence),
                **({"code": codes[one.unit]} if codes else {}),
            }
            for one in found.places
        ]
        return Response(
            {
                "method": found.method,
                "places": places,
                "counts": found.counts,
                "notes": list(found.notes),
                "seed": seed.hex(),
                "commitment": found.commitment,
                "digest": found.digest,
            }
        )


def _seed_of(given: dict[str, Any]) -> bytes:
    found: bytes = design.seed_from(given["seed"]) if given.get("seed") else design.new_seed()
    return found


class ScheduleView(_DesignView):
    """Draw when to look, at whom, in which order."""

    asked = ScheduleSerializer

    @extend_schema(
        operation_id="design_schedule",
        request=ScheduleSerializer,
        responses={200: ScheduledSerializer, **REFUSED},
    )
    def post(self, request: Request) -> Response:
        """Schedule sessions."""
        given = self.given(request)
        asked = schedule_given(given, _seed_of(given).hex())
        found = design.scheduled(asked)
        sessions = [
            {
                "day": one.day,
                "start": one.slot.start,
                "crowding": one.slot.crowding,
                "order": list(one.order),
            }
            for one in found.sessions
        ]
        return Response(
            {
                "sessions": sessions,
                "balance": [one.said for one in design.judged(found)],
                "left_out": [one.said for one in found.left_out],
                "seed": asked["seed"],
                "commitment": found.commitment,
            }
        )


class SimulateView(_DesignView):
    """Draw a study thousands of times, and analyse each as the plan says."""

    asked = SimulateSerializer

    @extend_schema(
        operation_id="design_simulate",
        request=SimulateSerializer,
        responses={200: SimulatedSerializer, **REFUSED},
    )
    def post(self, request: Request) -> Response:
        """Simulate a study."""
        given = self.given(request)
        drawable(given)
        found = design.simulated(given)
        return Response(
            {
                "power": _rate(found.power),
                "type_one": _rate(found.type_one),
                "analysis": found.analysis.value,
                "cautions": [
                    {"word": one.word, "said": one.said, "source": one.source}
                    for one in found.cautions
                ],
                "seed": found.seed,
                "stream": found.stream,
            }
        )


def _rate(rate: Any) -> dict[str, float]:
    low, high = rate.interval
    return {"share": rate.share, "error": rate.error, "low": low, "high": high, "runs": rate.runs}


VIEWS: dict[str, type[APIView]] = {
    "size": SizeView,
    "allocate": AllocateView,
    "schedule": ScheduleView,
    "simulate": SimulateView,
}
"""The last part of each address under design/, and its view."""
