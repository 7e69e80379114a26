"""The shape of answers that are no noun of their own, for the schema: entries, the summary, results."""

from rest_framework import serializers

RESULT = "As the answer of `calculations/alignment`, with shims and the verdicts by data sheet and grade."


class OfferSerializer(serializers.Serializer):
    label = serializers.CharField()  # type: ignore[assignment]
    fields = serializers.DictField(child=serializers.CharField())  # type: ignore[assignment]


class AskedSerializer(serializers.Serializer):
    name = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    kind = serializers.CharField(help_text="A kind of quantity, or text, choice, date, instant, count, instrument.")
    unit = serializers.CharField(allow_null=True, help_text="In which a bare number is taken.")
    required = serializers.BooleanField()  # type: ignore[assignment]
    group = serializers.CharField(allow_blank=True)
    choices = serializers.ListField(child=serializers.CharField())
    hint = serializers.CharField(allow_blank=True)


class FindingSerializer(serializers.Serializer):
    subject = serializers.CharField()
    sentence = serializers.CharField()
    verdict = serializers.CharField()


class EntrySerializer(serializers.Serializer):
    id = serializers.UUIDField(allow_null=True, help_text="Null before anything was entered.")
    visit = serializers.UUIDField()
    step = serializers.CharField()
    number = serializers.IntegerField(help_text="0, or the round of alignment from 1.")
    title = serializers.CharField()
    version = serializers.IntegerField(help_text="0 before anything was entered. This is the entry's ETag.")
    by = serializers.UUIDField(allow_null=True)
    at = serializers.DateTimeField(allow_null=True)
    typed = serializers.DictField(child=serializers.CharField(allow_blank=True))
    errors = serializers.DictField(  # type: ignore[assignment]
        child=serializers.CharField(), help_text="What was typed and cannot be taken, by field."
    )
    missing = serializers.DictField(child=serializers.CharField(), help_text="What is not there yet, by field.")
    warnings = serializers.ListField(child=serializers.CharField(), help_text="Findings that stop nobody.")
    findings = FindingSerializer(many=True, help_text="Figures of this step, each against its limit.")
    notes = serializers.ListField(child=serializers.CharField(), help_text="What follows from the figures.")
    excused = serializers.CharField(allow_blank=True, help_text="Why it was not measured.")
    asks = AskedSerializer(many=True, help_text="The fields of this step as it stands now.")
    offers = OfferSerializer(many=True, help_text="What can be entered at once where nothing is odd.")
    advice = serializers.DictField(
        allow_null=True,
        help_text="Of fasteners: per joint the passes with their positions in order, and what was read against the "
        "specification and the joint's own first re-check. Of set screws: what they hold.",
    )
    result = serializers.DictField(allow_null=True, help_text=RESULT)


class EntryRowSerializer(serializers.Serializer):
    id = serializers.UUIDField()
    number = serializers.IntegerField()
    version = serializers.IntegerField()
    url = serializers.CharField()
    wrong = serializers.IntegerField(help_text="How many fields cannot be taken as typed.")


class StepSerializer(serializers.Serializer):
    step = serializers.CharField()
    title = serializers.CharField()
    state = serializers.ChoiceField(
        choices=["open", "begun", "complete", "excused", "wrong", "spared"],
        allow_null=True,
        help_text="Null once the visit is no draft any more.",
    )
    numbered = serializers.BooleanField(help_text="Rounds, each an entry of its own.")
    needs_isolation = serializers.BooleanField()
    url = serializers.CharField(allow_null=True, help_text="Null where nothing is typed, or only in rounds.")
    entries = EntryRowSerializer(many=True)


class StepsSerializer(serializers.Serializer):
    results = StepSerializer(many=True)


class MissingSerializer(serializers.Serializer):
    step = serializers.CharField()
    number = serializers.IntegerField()
    field = serializers.CharField(allow_blank=True)
    detail = serializers.CharField()


class JudgedSerializer(serializers.Serializer):
    step = serializers.CharField()
    number = serializers.IntegerField()
    as_left = serializers.BooleanField()
    verdict = serializers.CharField()
    tolerance_used = serializers.FloatField(allow_null=True)
    probability_in_tolerance = serializers.FloatField(allow_null=True)
    reason = serializers.CharField(allow_blank=True)


class SummarySerializer(serializers.Serializer):
    ready = serializers.BooleanField(help_text="Nothing is missing.")
    verdict = serializers.CharField(help_text="Of as-left.")
    needs_reason = serializers.BooleanField(help_text="Signing asks for left_so_reason.")
    why_reason = serializers.CharField(allow_blank=True)
    missing = MissingSerializer(many=True)
    out = serializers.ListField(child=serializers.CharField())
    warnings = serializers.ListField(child=serializers.CharField())
    surveys = JudgedSerializer(many=True)


class RecordSerializer(serializers.Serializer):
    number = serializers.IntegerField(help_text="Its place in the coupling's chain.")
    kind = serializers.CharField()
    in_force = serializers.BooleanField(help_text="Whether this text feeds the dates.")
    signed_by = serializers.UUIDField()
    signed_at = serializers.DateTimeField()
    amends = serializers.IntegerField(allow_null=True, help_text="Number of the text it amends.")
    reason = serializers.CharField(allow_blank=True)
    previous_digest = serializers.CharField(allow_blank=True)
    digest = serializers.CharField(help_text="SHA-256 of the previous digest, a line feed and the text.")
    changes = serializers.ListField(
        child=serializers.DictField(),
        help_text="Of an amendment, field by field: step, number, name, title, label, was and became, in words.",
    )
    text = serializers.CharField(help_text="The canonical text, to the letter.")
    content = serializers.DictField(help_text="The same text, read.")
