"""The lifetime experience of an animal or a group over the API, as its page tells it."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from registry.oversight.lifetime import Lifetime, lifetime_of, require_lifetimes
from registry.rest import LOOK_REFUSED, RefusalSerializer


class StretchSerializer(serializers.Serializer[Any]):
    """What it went through in one project under one enrolment, or outside any."""

    project = serializers.IntegerField(source="project.pk")
    enrolment = serializers.IntegerField(source="enrolment.pk", default=None, allow_null=True)
    first_on = serializers.DateField(allow_null=True)
    last_on = serializers.DateField(allow_null=True)
    uses = serializers.IntegerField()
    contacts = serializers.IntegerField(help_text="Hands-on uses.")
    is_regulated = serializers.BooleanField()
    severity = serializers.IntegerField(
        allow_null=True, help_text="The actual class; null while nobody has given it."
    )


class LifetimeSerializer(serializers.Serializer[Lifetime]):
    """All that it went through; `against` is to be settled before it is used again."""

    uses = serializers.IntegerField()
    contacts = serializers.IntegerField()
    regulated = serializers.IntegerField(help_text="Stretches of regulated work.")
    highest = serializers.CharField(help_text="The highest actual class on the scale, in words.")
    in_projects_now = serializers.IntegerField()
    loads = serializers.DictField(
        child=serializers.IntegerField(), help_text="Contacts of the last 7, 28 and 365 days."
    )
    stretches = StretchSerializer(many=True)
    events = serializers.SerializerMethodField(help_text="Adverse events, by number.")
    breaches = serializers.SerializerMethodField(help_text="By number.")
    against = serializers.ListField(child=serializers.CharField(), source="again.against")

    def get_events(self, life: Lifetime) -> list[int]:
        """Give the numbers of its adverse events."""
        return [one.pk for one in life.events]

    def get_breaches(self, life: Lifetime) -> list[int]:
        """Give the numbers of its breaches."""
        return [one.pk for one in life.breaches]


@extend_schema(
    responses={200: LifetimeSerializer, **dict.fromkeys(LOOK_REFUSED, RefusalSerializer)},
    filters=False,
)
@action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
def lifetime(self: Any, request: Request, pk: str | None = None) -> Response:
    """Give all that it went through, in every project."""
    subject, person = self.get_object(), self.request.user
    require_lifetimes(person)
    return Response(LifetimeSerializer(lifetime_of(subject)).data)
