"""People and their roles, for the keeper; and who is asking."""

from typing import Any

from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from plant.api.fields import NounSerializer, RootField
from plant.api.views import ChangeRoots, CreateRoots, RootViewSet
from plant.models import Membership, Person, Site
from plant.selectors.people import people_kept_by
from plant.services import people


class RoleSerializer(NounSerializer):
    site = RootField(Site)
    role = serializers.ChoiceField(choices=Membership.Role.choices)
    from_on = serializers.DateField()
    until_on = serializers.DateField(required=False, allow_null=True)


class RoleEndSerializer(NounSerializer):
    site = RootField(Site)
    role = serializers.ChoiceField(choices=Membership.Role.choices)
    until_on = serializers.DateField()


class PersonSerializer(NounSerializer):
    fixed = ("id", "username", "kind")

    id = serializers.UUIDField(source="uuid", required=False)
    version = serializers.IntegerField(read_only=True)
    username = serializers.CharField(max_length=150)
    first_name = serializers.CharField(max_length=150)
    last_name = serializers.CharField(max_length=150, allow_blank=True)
    email = serializers.EmailField(required=False, allow_blank=True)
    employer = serializers.CharField(max_length=80, required=False, allow_blank=True)
    kind = serializers.ChoiceField(choices=Person.Kind.choices, required=False)
    until_on = serializers.DateField(required=False, allow_null=True, help_text="Last day this person may sign in.")
    is_active = serializers.BooleanField(required=False)
    password = serializers.CharField(
        write_only=True, required=False, max_length=128, help_text="Only when the person is registered."
    )
    roles = RoleSerializer(source="memberships", many=True, required=False)


class PersonViewSet(CreateRoots, ChangeRoots, RootViewSet):
    """People with a role at the sites you keep, and yourself."""

    noun_class = Person
    queryset = Person.objects.none()
    serializer_class = PersonSerializer
    ordering = ("username",)
    delta = False

    def get_queryset(self) -> Any:
        return people_kept_by(self.person)

    def make(self, **given: Any) -> Person:
        given.pop("is_active", None)
        roles = given.pop("memberships", None)
        if not roles:
            raise serializers.ValidationError({"roles": "Say at which site and in which role this person works."})
        person = people.register_person(**given)
        people.give_roles(person=person, roles=roles)
        return person

    def change(self, root: Person, expected: int | None, **given: Any) -> Person:
        only_elsewhere = {"memberships": "roles", "password": "password"}
        if wrong := [name for field, name in only_elsewhere.items() if field in given]:
            raise serializers.ValidationError(
                dict.fromkeys(wrong, "This is not changed here: roles at roles/, a password by its owner.")
            )
        return people.change_person(person=root, expected=expected, **given)

    @action(detail=True, methods=["post"], url_path="roles", serializer_class=RoleSerializer)
    def roles(self, request: Request, id: Any) -> Response:
        """Give a role at a site."""
        return self.act(request, lambda person, **given: people.give_role(person=person, **given))

    @action(detail=True, methods=["post"], url_path="roles/end", serializer_class=RoleEndSerializer)
    def end_role(self, request: Request, id: Any) -> Response:
        """Set the last day of a role."""

        def end(person: Person, site: Site, role: str, until_on: Any) -> Membership:
            membership = people.role_of(person=person, site=site, role=role)
            return people.end_role(membership=membership, until_on=until_on)

        return self.act(request, end)
