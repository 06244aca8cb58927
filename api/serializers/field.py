"""The shapes of the field API, as read from phones and as described to programmers."""

from rest_framework import serializers


class EnrolSerializer(serializers.Serializer):
    code = serializers.CharField(max_length=40, help_text="As printed on the card, with or without hyphens")
    device = serializers.CharField(max_length=200, required=False, allow_blank=True, default="")


class OrganisationSerializer(serializers.Serializer):
    slug = serializers.SlugField()
    name = serializers.CharField()


class PassSerializer(serializers.Serializer):
    uid = serializers.UUIDField()
    label = serializers.CharField()
    expires_at = serializers.DateTimeField()


class SessionSerializer(serializers.Serializer):
    authenticated = serializers.BooleanField()
    csrf_token = serializers.CharField(help_text="Send it back as X-CSRFToken with every POST")
    server_time = serializers.DateTimeField()
    organisation = OrganisationSerializer(allow_null=True)

    def get_fields(self) -> dict:
        """Add `pass`, which Python keeps for itself as a name."""
        return {**super().get_fields(), "pass": PassSerializer(allow_null=True)}


class ItemSerializer(serializers.Serializer):
    """One record as it travels."""

    id = serializers.UUIDField()
    kind = serializers.CharField(help_text="visit, handover, walk or care")
    schema = serializers.CharField(help_text="visit/1, handover/1, walk/1 or care/1")
    sha256 = serializers.CharField(help_text="Hex SHA-256 of the UTF-8 bytes of body")
    body = serializers.CharField(help_text="JSON text, kept and hashed as it is")
    personal = serializers.CharField(
        required=False, allow_blank=True, help_text="JSON text; can be erased later"
    )


class BatchSerializer(serializers.Serializer):
    items = ItemSerializer(many=True, max_length=50)


class FaultSerializer(serializers.Serializer):
    pointer = serializers.CharField(allow_blank=True, help_text="JSON pointer (RFC 6901) to what is wrong")
    parameter = serializers.CharField(required=False, help_text="Name of the query parameter at fault")
    detail = serializers.CharField()


class ProblemSerializer(serializers.Serializer):
    """A problem document (RFC 9457)."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    code = serializers.CharField(help_text="Stable; words may change and are translated")
    detail = serializers.CharField()
    errors = FaultSerializer(many=True)


class OutcomeSerializer(serializers.Serializer):
    id = serializers.CharField(allow_null=True, help_text="As sent")
    outcome = serializers.ChoiceField(
        choices=["stored", "stored_flagged", "already", "id_reused", "rejected", "retry"]
    )
    seq = serializers.IntegerField(required=False)
    flags = serializers.ListField(child=serializers.CharField(), required=False)
    problem = ProblemSerializer(required=False)
    after_s = serializers.IntegerField(required=False)


class OutcomesSerializer(serializers.Serializer):
    server_time = serializers.DateTimeField()
    outcomes = OutcomeSerializer(many=True)


class PictureSerializer(serializers.Serializer):
    sha256 = serializers.CharField(help_text="Hex")
    outcome = serializers.ChoiceField(choices=["stored", "already"])


class NamedSerializer(serializers.Serializer):
    uid = serializers.UUIDField()
    name = serializers.CharField()


class PackSpeciesSerializer(serializers.Serializer):
    slug = serializers.SlugField()
    scientific_name = serializers.CharField()
    names = serializers.DictField(child=serializers.CharField(), help_text="By language (BCP 47)")
    invasive_in = serializers.ListField(child=serializers.CharField(), help_text="Countries (ISO 3166-1)")


class PackBaselineSerializer(serializers.Serializer):
    uid = serializers.UUIDField()
    species = serializers.SlugField()
    planted = serializers.IntegerField(allow_null=True)
    unit = serializers.CharField()
    cohort = serializers.CharField(allow_blank=True)
    source = serializers.CharField()
    counted_on = serializers.DateField(allow_null=True)


class LastVisitSerializer(serializers.Serializer):
    visit = serializers.UUIDField()
    head = serializers.UUIDField()


class PackPlotSerializer(NamedSerializer):
    block = NamedSerializer()
    site = NamedSerializer()
    latitude = serializers.FloatField(allow_null=True)
    longitude = serializers.FloatField(allow_null=True)
    shape = serializers.CharField()
    radius_m = serializers.FloatField(allow_null=True)
    length_m = serializers.FloatField(allow_null=True)
    width_m = serializers.FloatField(allow_null=True)
    spots = serializers.IntegerField(allow_null=True)
    unit = serializers.CharField()
    directions = serializers.CharField(allow_blank=True)
    baselines = PackBaselineSerializer(many=True)
    counted = serializers.BooleanField()
    last = LastVisitSerializer(allow_null=True)


class PackRoundSerializer(NamedSerializer):
    opens_on = serializers.DateField()
    closes_on = serializers.DateField()
    protocol = serializers.CharField()
    country = serializers.CharField(allow_blank=True)
    plots = PackPlotSerializer(many=True)


class PackCheckSerializer(serializers.Serializer):
    checked_on = serializers.DateField()
    point = serializers.CharField()
    verdict = serializers.CharField()


class PackLotSerializer(serializers.Serializer):
    uid = serializers.UUIDField()
    code = serializers.CharField()
    species = serializers.SlugField()
    stock_type = serializers.CharField()
    unit = serializers.CharField()
    received_on = serializers.DateField()
    received = serializers.IntegerField()
    stated = serializers.IntegerField(allow_null=True, help_text="On the delivery note")
    at_hand = serializers.IntegerField()
    last_check = PackCheckSerializer(allow_null=True)


class PackBlockSerializer(NamedSerializer):
    site = NamedSerializer()
    hazards = serializers.CharField(allow_blank=True)
    emergency = serializers.CharField(allow_blank=True)


class PackTaskSerializer(serializers.Serializer):
    uid = serializers.UUIDField()
    kind = serializers.CharField()
    what = serializers.CharField()
    block = NamedSerializer()
    site = NamedSerializer()
    due_from = serializers.DateField(allow_null=True)
    due_by = serializers.DateField(allow_null=True)
    amount = serializers.FloatField(allow_null=True)
    amount_unit = serializers.CharField(allow_blank=True)


class PackWorkSerializer(serializers.Serializer):
    """Field work in the projects a pass names for it."""

    lots = PackLotSerializer(many=True)
    blocks = PackBlockSerializer(many=True)
    tasks = PackTaskSerializer(many=True)


class PackSerializer(serializers.Serializer):
    organisation = OrganisationSerializer()
    person = serializers.CharField(help_text="Role, never a name")
    emergency = serializers.CharField(allow_blank=True)
    release = serializers.CharField()
    server_time = serializers.DateTimeField()
    species = PackSpeciesSerializer(many=True)
    rounds = PackRoundSerializer(many=True)
    work = PackWorkSerializer(required=False, help_text="Only where the pass names projects for field work")
