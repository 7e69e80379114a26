"""Bases of every API view: who may, in which units, under which key and version, and in which shape it answers."""

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import Any, cast

from rest_framework import serializers
from rest_framework.permissions import BasePermission, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework.viewsets import GenericViewSet

from plant import units
from plant.api import etags, feeds
from plant.api.acting import acting, answered
from plant.api.fields import outside
from plant.api.filters import ByName
from plant.api.paging import Pages
from plant.api.problems import BadQuery
from plant.api.throttling import PerPerson
from plant.models import Person, Site
from plant.recording import Unit, bump
from plant.refusals import NotAllowed, Refusal, Stale
from plant.selectors.journal import external_refs_of

ANYWHERE = frozenset({"units"})
# `list` is a method below, so the type has a name of its own there.
Rows = list[Any]


class TokenMayRead(BasePermission):
    """A token without the scope `read` changes what it may and reads nothing."""

    def has_permission(self, request: Request, view: Any) -> bool:
        token = getattr(request.user, "token", None)
        if token is not None and request.method in ("GET", "HEAD") and "read" not in token.scopes:
            raise NotAllowed("This token does not have the scope read.")
        return True


class ApiView(APIView):
    """Base of every API view: permissions, the limit per person, units asked for, parameters nobody knows."""

    permission_classes = [IsAuthenticated, TokenMayRead]
    throttle_classes = [PerPerson]
    # Names of parameters beside those of filters, pages and deltas.
    parameters: frozenset[str] = frozenset()

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        if strange := sorted(set(request.query_params) - self.known_parameters()):
            raise BadQuery(dict.fromkeys(strange, "This parameter is not known here."), code="unknown-parameter")

    def known_parameters(self) -> frozenset[str]:
        return ANYWHERE | self.parameters

    @property
    def person(self) -> Person:
        """Who is signed in; the permission classes let nobody else in."""
        return cast(Person, self.request.user)

    @cached_property
    def units(self) -> str | None:
        """`?units=`: metric or us; None where each site's own is wanted."""
        given = self.request.query_params.get("units")
        if given is not None and given not in units.SYSTEMS:
            raise BadQuery({"units": "Write metric or us."})
        return given

    @cached_property
    def sites(self) -> dict[int, Site]:
        """The sites this person may read, by row number, fetched once per request."""
        return {site.pk: site for site in Site.objects.visible_to(self.person)}

    @property
    def system(self) -> str:
        """Units of an answer that belongs to no site: as asked, else those of the person's only or first site."""
        if self.units is not None:
            return self.units
        return next((site.units for site in self.sites.values()), units.METRIC)


class RootViewSet(ApiView, GenericViewSet):
    """One noun: list in pages or as a delta, and one by its UUID with its ETag.

    Set `noun_class` (the model), `serializer_class`, `ordering`, and `filterset_class` where there are filters; give
    `related()` what the serializer prints beyond the row itself. `CreateRoots`, `ChangeRoots` and `RemoveRoots` add the
    acts, each of which calls one service.
    """

    noun_class: Any
    ordering: tuple[str, ...] = ()
    delta = True
    lookup_field = "uuid"
    lookup_url_kwarg = "id"
    lookup_value_converter = "uuid"
    pagination_class = Pages
    filter_backends = [ByName]

    @property
    def noun(self) -> str:
        return self.noun_class._meta.model_name

    def get_queryset(self) -> Any:
        if getattr(self, "swagger_fake_view", False):
            return self.noun_class.objects.none()
        return self.related(self.noun_class.objects.all().visible_to(self.person))

    def related(self, queryset: Any) -> Any:
        """Joins and prefetches for printing."""
        return queryset

    def known_parameters(self) -> frozenset[str]:
        known = super().known_parameters()
        if self.request.method not in ("GET", "HEAD") or self.action == "retrieve":
            return known
        if self.detail:
            return known | {"cursor", "limit"}
        filters = getattr(self, "filterset_class", None)
        known |= {"cursor", "limit"} | (set(filters.get_filters()) if filters else set())
        return known | feeds.PARAMETERS if self.delta else known

    def get_serializer_context(self) -> dict[str, Any]:
        if getattr(self, "swagger_fake_view", False):
            return dict(super().get_serializer_context())
        context = dict(super().get_serializer_context())
        return context | {"units": self.units, "sites": self.sites, "system": self.system}

    # Reading

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        if self.delta and feeds.asked_for(request):
            return self._changes(request)
        rows = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response(self.shown(rows or []))

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        root = self.get_object()
        tag = etags.etag(root)
        if etags.not_modified(request, tag):
            return Response(status=304, headers={"ETag": tag})
        return Response(self.shown([root])[0], headers={"ETag": tag})

    def shown(self, roots: Rows) -> Rows:
        """These roots as the API prints them. Always by the noun's own serializer, also from an extra action."""
        serializer: Any = type(self).serializer_class
        context = self.get_serializer_context()
        if "external_ref" in serializer().fields:
            context["external_refs"] = external_refs_of(self.noun, [root.uuid for root in roots])
        return [*serializer(roots, many=True, context=context).data]

    def _changes(self, request: Request) -> Response:
        site, place = feeds.place_asked_for(request, self.noun)
        rows, gone, place, more = feeds.changes(self.get_queryset(), site, place, feeds.limit(request))
        results = feeds.in_order(rows, self.shown(rows), gone)
        return Response({"results": results, "after": place.token(), "more": more})

    # Changing

    def given(self, request: Request, root: Any = None) -> dict[str, Any]:
        """What was sent, read by the serializer of this action; with a root, as a partial change of it."""
        serializer = self.get_serializer(root, data=request.data, partial=root is not None)
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def answer(self, unit: Unit, root: Any, status: int = 200) -> Response:
        """The root as it stands now, with its ETag (and its address, where it is new)."""
        fresh = self.get_queryset().get(pk=root.pk)
        location = self.reverse_action("detail", args=[fresh.uuid]) if status == 201 else ""
        path = location[location.index("/api/") :] if location else ""
        return answered(unit, self.shown([fresh])[0], status=status, etag=etags.etag(fresh), location=path)

    def act(self, request: Request, service: Callable[..., Any], status: int = 200) -> Response:
        """An extra action on one root: `service(root, **given)` inside the unit of work; answers with the root.

        If-Match is honoured where it is sent.
        """
        with acting(request) as unit:
            root = self.get_object()
            if (expected := etags.expected_if_given(request, root)) is not None:
                bump(root, expected)
            service(root, **self.given(request))
            return self.answer(unit, root, status)

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, Stale) and not exc.current and self.detail:
            found = self.get_queryset().filter(uuid=self.kwargs[self.lookup_url_kwarg]).first()
            exc.current = self.shown([found])[0] if found is not None else {}
        if isinstance(exc, Refusal) and not isinstance(exc, BadQuery) and exc.errors and self._reads_a_body():
            form: serializers.BaseSerializer = self.get_serializer()
            exc.errors = [replace(error, field=outside(error.field, form)) for error in exc.errors]
        return super().handle_exception(exc)

    def _reads_a_body(self) -> bool:
        return self.request.method in ("POST", "PATCH", "PUT") and self.get_serializer_class() is not None


class CreateRoots:
    """POST on the list. `make(**given)` calls the service and returns the new root."""

    def make(self, **given: Any) -> Any:
        raise NotImplementedError

    def create(self: Any, request: Request, *args: Any, **kwargs: Any) -> Response:
        with acting(request) as unit:
            root = self.make(**self.given(request))
            return self.answer(unit, root, status=201)


class ChangeRoots:
    """PATCH with If-Match. `change(root, expected, **given)` calls the service, which bumps the root first."""

    def change(self, root: Any, expected: int | None, **given: Any) -> Any:
        raise NotImplementedError

    def partial_update(self: Any, request: Request, *args: Any, **kwargs: Any) -> Response:
        with acting(request) as unit:
            root = self.get_object()
            expected = etags.expected(request, root)
            self.change(root, expected, **self.given(request, root))
            return self.answer(unit, root)


class RemoveRoots:
    """DELETE with If-Match. `remove(root)` calls the service."""

    def remove(self, root: Any) -> None:
        raise NotImplementedError

    def destroy(self: Any, request: Request, *args: Any, **kwargs: Any) -> Response:
        with acting(request) as unit:
            root = self.get_object()
            bump(root, etags.expected(request, root))
            self.remove(root)
            return answered(unit, None, status=204)
