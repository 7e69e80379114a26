"""Work on foundation or pipes beside a coupling, after which it is checked once more."""

from typing import Any

from rest_framework import serializers

from couplings.models import Coupling
from inspections.api.fields import PersonField
from inspections.models import OtherWork
from inspections.services import other_work
from plant.api.fields import NounSerializer, RootField, SiteField
from plant.api.filters import ByRoot, Filters, filters
from plant.api.views import CreateRoots, RemoveRoots, RootViewSet


class OtherWorkSerializer(NounSerializer):
    id = serializers.UUIDField(source="uuid", read_only=True)
    version = serializers.IntegerField(read_only=True)
    site = SiteField(read_only=True)
    coupling = RootField(Coupling)
    kind = serializers.ChoiceField(choices=OtherWork.Kind.choices)
    on = serializers.DateField(help_text="Date at the site on which it was finished.")
    note = serializers.CharField(required=False, allow_blank=True)
    by = PersonField(read_only=True, allow_null=True)
    at = serializers.DateTimeField(read_only=True)


class OtherWorkFilters(Filters):
    site = ByRoot("site")
    coupling = ByRoot("coupling")
    kind = filters.ChoiceFilter(choices=OtherWork.Kind.choices)

    class Meta:
        model = OtherWork
        fields: list[str] = []


class OtherWorkViewSet(CreateRoots, RemoveRoots, RootViewSet):
    """What no visit records and yet may move a machine. Taken out where it was entered by mistake."""

    noun_class = OtherWork
    serializer_class = OtherWorkSerializer
    filterset_class = OtherWorkFilters
    ordering = ("on",)

    def related(self, queryset: Any) -> Any:
        return queryset.select_related("site", "coupling", "by")

    def make(self, **given: Any) -> OtherWork:
        return other_work.report_other_work(**given)

    def remove(self, root: OtherWork) -> None:
        other_work.take_back_other_work(work=root)
