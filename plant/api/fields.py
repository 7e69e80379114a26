"""Serializer fields and the base serializer: quantities with units, names of other nouns, other systems' keys."""

from typing import Any

from django.db.models import Model
from rest_framework import serializers

from plant import units
from plant.models import Site


class QuantityField(serializers.Field):
    """`{"value": 0.05, "unit": "mm"}` outside, a float in the kind's base unit inside.

    `system` in the serializer's context (metric or us) decides the unit of answers; every unit of the dimension is
    taken. Name the column as source: `QuantityField(source="dbse_mm", kind="size")`.
    """

    def __init__(self, *, kind: str, **options: Any) -> None:
        self.kind = kind
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> float:
        try:
            return units.parse(data, self.kind)
        except units.UnitError as error:
            raise serializers.ValidationError(str(error), code="quantity") from None

    def to_representation(self, value: float) -> dict[str, Any] | None:
        return units.quantity(value, self.kind, self.context.get("system", units.METRIC))


class RootField(serializers.RelatedField):
    """Another noun by its UUID; only what the person may see can be named."""

    default_error_messages = {"missing": "There is nothing here by that name.", "malformed": "This is not a UUID."}

    def __init__(self, model: type[Model] | None = None, **options: Any) -> None:
        if model is not None and not options.get("read_only"):
            options["queryset"] = model._default_manager.none()
        self.model = model
        super().__init__(**options)

    def use_pk_only_optimization(self) -> bool:
        return False

    def get_queryset(self) -> Any:
        assert self.model is not None
        return self.model._default_manager.all().visible_to(self.context["request"].user)  # type: ignore[attr-defined]

    def to_internal_value(self, data: Any) -> Any:
        try:
            uuid = serializers.UUIDField().to_internal_value(data)
        except serializers.ValidationError:
            self.fail("malformed")
        found = self.get_queryset().filter(uuid=uuid).first()
        if found is None:
            self.fail("missing")
        return found

    def to_representation(self, value: Any) -> str:
        return str(value.uuid)

    def get_choices(self, cutoff: int | None = None) -> dict[Any, Any]:
        return {}


class SiteField(RootField):
    """The site of a noun. Answers read it from the request's own table of sites, not from each row."""

    def __init__(self, **options: Any) -> None:
        super().__init__(None if options.get("read_only") else Site, **options)

    def get_attribute(self, instance: Any) -> Any:
        sites = self.context.get("sites")
        known = sites.get(instance.site_id) if sites is not None else None
        return known if known is not None else super().get_attribute(instance)


class ExternalRefField(serializers.Field):
    """The names other systems have for a noun: `{"orders": "4711"}`, one key per system.

    A change merges: systems that are not named keep theirs, null takes one away.
    """

    def __init__(self, **options: Any) -> None:
        options.setdefault("source", "*")
        options.setdefault("required", False)
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        if not isinstance(data, dict):
            raise serializers.ValidationError('Write {"system": "key"}, one key per system.')
        errors = {}
        for system, key in data.items():
            if not system or len(system) > 40:
                errors[system] = "The system's name has 1 to 40 characters."
            elif key is not None and not (isinstance(key, str) and 0 < len(key.strip()) <= 120):
                errors[system] = "The key is text of 1 to 120 characters, or null to take it away."
        if errors:
            raise serializers.ValidationError(errors)
        return {"external_ref": {system: key.strip() if key else None for system, key in data.items()}}

    def to_representation(self, value: Any) -> dict[str, str]:
        return dict(self.context.get("external_refs", {}).get(value.uuid, {}))


class NounSerializer(serializers.Serializer):
    """Base of every noun and every request body: fields nobody knows are refused, fixed ones stay as they are.

    `validated_data` has the names of the models (a field's source), so it goes to a service as keywords.
    """

    # Set at creation, never by a change; a change may repeat them, so that what was read can be sent back.
    fixed: tuple[str, ...] = ("id", "site")

    def to_internal_value(self, data: Any) -> Any:
        unknown = [name for name in data if name not in self.fields] if isinstance(data, dict) else []
        try:
            given = super().to_internal_value(data)
        except serializers.ValidationError as error:
            if unknown and isinstance(error.detail, dict):
                error.detail = error.detail | _unknown(unknown)
            raise
        if unknown:
            raise serializers.ValidationError(_unknown(unknown))
        return self._without_fixed(given) if self.instance is not None and self.parent is None else given

    def to_representation(self, instance: Any) -> dict[str, Any]:
        outermost = self.parent is None or self.parent.parent is None
        if outermost and self.context.get("units") is None and "sites" in self.context:
            site = (
                instance
                if isinstance(instance, Site)
                else self.context["sites"].get(getattr(instance, "site_id", None))
            )
            if site is not None:
                self._context_of_root()["system"] = site.units
        return super().to_representation(instance)

    def _context_of_root(self) -> dict[str, Any]:
        root: Any = self.root
        return root._context

    def _without_fixed(self, given: dict[str, Any]) -> dict[str, Any]:
        errors = {}
        for name in self.fixed:
            field = self.fields.get(name)
            if field is None or field.source not in given:
                continue
            if given.pop(field.source) != getattr(self.instance, field.source, None):
                errors[name] = [serializers.ErrorDetail("This is fixed once it is made.", code="fixed")]
        if errors:
            raise serializers.ValidationError(errors)
        return given


def _unknown(names: list[Any]) -> dict[str, Any]:
    return {
        str(name): [serializers.ErrorDetail("This field is not known here.", code="unknown-field")] for name in names
    }


def outside(path: str, serializer: serializers.BaseSerializer | None) -> str:
    """A service's field path as the sender wrote it: "machines.0.shaft_length_mm" becomes "machines.0.shaft_length"."""
    node: Any = serializer
    named = []
    for part in path.split("."):
        if isinstance(node, serializers.ListSerializer):
            named.append(part)
            node = node.child
            continue
        found = None
        if isinstance(node, serializers.Serializer):
            found = next((field for field in node.fields.values() if part in (field.source, field.field_name)), None)
        named.append(found.field_name if found is not None and found.field_name else part)
        node = found
    return ".".join(named)
