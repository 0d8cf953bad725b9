"""What goes out and comes in, field by field. Units are in the names."""

import hashlib
import json

from rest_framework import serializers

from services_inventory.domain.materials import Connector, Material

from ..completion.photos import KINDS
from ..domain.completion import Quality, disinfection_choices
from ..domain.live_pull import Word
from ..domain.methods import Method
from ..domain.pull_force import JointKind
from ..domain.safety import JobSafety
from ..domain.tool_strings import CableEnd, Facing
from ..forms.fields import code_said
from ..models import CompletionRecord, ContactAttempt, WorkOrder
from ..queries.gate import start_on_record
from ..queries.together import rows_of
from .from_facts import Day, Figure, Id, Moment, serializer_of
from .visiting import CAPACITY_CODES, AccessSerializer

SafetyAnswersSerializer = serializer_of(JobSafety)


class BendSerializer(serializers.Serializer):
    """A bend of the old line, from the pit where the new pipe enters."""

    station_ft = Figure()
    degrees = Figure()
    radius_in = Figure(allow_null=True, required=False)


class JointSerializer(serializers.Serializer):
    """A joint of the old line."""

    station_ft = Figure()
    kind = serializers.ChoiceField(choices=[kind.value for kind in JointKind], default="WIPED")


class FindingSerializer(serializers.Serializer):
    """What a check has to say: STOP forbids, CAUTION asks for a decision, NOTE informs."""

    level = serializers.ChoiceField(choices=["STOP", "CAUTION", "NOTE"])
    rule = serializers.CharField()
    message = serializers.CharField()
    source = serializers.CharField()
    do = serializers.CharField(allow_blank=True, required=False)
    who = serializers.CharField(
        allow_blank=True, required=False, help_text="Who may do something about it."
    )
    value = serializers.FloatField(allow_null=True, required=False)


class WorkOrderSerializer(serializers.ModelSerializer):
    """A work order as its contractor sees it; never the names of the people who live there."""

    state_label = serializers.CharField(source="get_state_display", read_only=True)
    version = serializers.SerializerMethodField()
    location_id = serializers.CharField(source="line.location_id", read_only=True)
    address = serializers.CharField(source="line.premise.address", read_only=True)
    city = serializers.CharField(source="line.premise.city", read_only=True)
    latitude = serializers.FloatField(
        source="line.premise.latitude", read_only=True, allow_null=True
    )
    longitude = serializers.FloatField(
        source="line.premise.longitude", read_only=True, allow_null=True
    )
    system_material = serializers.CharField(source="line.system_material", read_only=True)
    customer_material = serializers.CharField(source="line.customer_material", read_only=True)
    connector = serializers.CharField(source="line.connector", read_only=True)
    package_name = serializers.CharField(source="package.name", read_only=True, default="")
    crew_name = serializers.CharField(source="crew.name", read_only=True, default="")
    bends = BendSerializer(many=True, read_only=True)
    joints = JointSerializer(many=True, read_only=True)
    started_on = serializers.SerializerMethodField()
    returned_because = serializers.SerializerMethodField()

    class Meta:
        model = WorkOrder
        fields = (
            "id number state state_label version location_id address city latitude longitude "
            "system_material customer_material connector package package_name crew_name method "
            "old_material old_nominal_in old_grade old_outside_in new_material new_nominal_in "
            "new_grade length_ft cover_ft soil groundwater bends joints due_on note released_at "
            "started_on returned_because"
        ).split()
        read_only_fields = fields

    def get_version(self, order) -> str:
        """Return the order's version, which is also its ETag without quotes."""
        return version_of(order)

    def get_started_on(self, order) -> str:
        """Return the day of a safe start that is on record and still holds, or nothing."""
        start = start_on_record(order)
        return start.on.isoformat() if start and start.holds else ""

    def get_returned_because(self, order) -> str:
        """Return why its record came back, while it waits for a new one."""
        if order.state != WorkOrder.State.RETURNED:
            return ""
        records = rows_of(order, "completions", "review")
        last = max(records, key=lambda record: record.revision, default=None)
        return last.review.reasons if last and hasattr(last, "review") else ""


def version_of(order: WorkOrder) -> str:
    """Return a short digest of what the office says of an order, its state included."""
    said = {name: getattr(order, name) for name in _OFFICE}
    said["due_on"] = order.due_on.isoformat() if order.due_on else None
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:20]


_OFFICE = (
    "number state package_id crew_id method old_material old_nominal_in old_grade old_outside_in "
    "new_material new_nominal_in new_grade length_ft cover_ft soil groundwater bends joints note"
).split()


class ComponentSerializer(serializers.Serializer):
    """A tool of the contractor."""

    id = serializers.IntegerField()
    kind = serializers.CharField()
    mark = serializers.CharField()
    description = serializers.CharField(allow_blank=True)
    rated_lbf = serializers.FloatField(allow_null=True)
    retired_on = serializers.DateField(allow_null=True)


class PartSerializer(serializers.Serializer):
    """A tool in its place in the string, from the pulling side."""

    component = Id()
    orientation = serializers.ChoiceField(
        choices=["", *(facing.value for facing in Facing)], default="", allow_blank=True
    )


class StringInSerializer(serializers.Serializer):
    """A tool string as it was put together; a string of which the pulled end is not said stops."""

    pulled_end = serializers.ChoiceField(
        choices=[end.value for end in CableEnd], default=CableEnd.UNKNOWN.value
    )
    parts = PartSerializer(many=True, allow_empty=False, max_length=30)


class AnswerSerializer(serializers.Serializer):
    """An answer to one row of the assembly checklist: passed for a seen row, else measured."""

    check_key = serializers.CharField(max_length=40)
    passed = serializers.BooleanField(allow_null=True, default=None)
    measured = Figure(allow_null=True, default=None)
    note = serializers.CharField(max_length=200, allow_blank=True, default="")


class AnswersInSerializer(serializers.Serializer):
    """Answers to rows of the checklist."""

    answers = AnswerSerializer(many=True, allow_empty=False, max_length=100)


class PartOutSerializer(serializers.Serializer):
    """A tool in its place."""

    position = serializers.IntegerField()
    component = serializers.IntegerField(source="component_id")
    mark = serializers.CharField(source="component.mark")
    kind = serializers.CharField(source="component.kind")
    orientation = serializers.CharField(allow_blank=True)


class StringSerializer(serializers.Serializer):
    """A tool string on record, with what its check found."""

    id = serializers.IntegerField()
    work_order = serializers.IntegerField(source="work_order_id")
    pulled_end = serializers.CharField()
    worst_level = serializers.CharField(allow_blank=True)
    findings = FindingSerializer(many=True)
    parts = PartOutSerializer(many=True)
    answers = AnswerSerializer(many=True)
    recorded_at = serializers.DateTimeField()


class PullInSerializer(serializers.Serializer):
    """A pull with its log, and the puller's cylinder where the log holds pressure."""

    log = serializers.FileField(allow_empty_file=True)
    pulled_on = Day()
    tool_string = Id(required=False)
    bore_in = Figure(required=False, min_value=0.1, max_value=60)
    rod_in = Figure(required=False, min_value=0, max_value=60)
    efficiency = Figure(required=False, min_value=0.1, max_value=1)
    count = serializers.IntegerField(required=False, min_value=1, max_value=8)
    rod_side = serializers.BooleanField(required=False)
    free_pressure_psi = Figure(required=False, min_value=0, max_value=20_000)


class PullSerializer(serializers.Serializer):
    """A pull on record, with what its log shows."""

    id = serializers.IntegerField()
    work_order = serializers.IntegerField(source="work_order_id")
    pulled_on = serializers.DateField()
    length_ft = serializers.FloatField(allow_null=True)
    peak_lbf = serializers.FloatField(allow_null=True)
    p95_lbf = serializers.FloatField(allow_null=True)
    verdict = serializers.CharField(allow_blank=True)
    findings = FindingSerializer(many=True)
    recorded_at = serializers.DateTimeField()


class PhotoToldSerializer(serializers.Serializer):
    """Of what a photo is, and where the device was, for a photo that does not say."""

    kind = serializers.ChoiceField(choices=list(KINDS))
    latitude = Figure(required=False, min_value=-90, max_value=90)
    longitude = Figure(required=False, min_value=-180, max_value=180)


class PhotoInSerializer(PhotoToldSerializer):
    """A photo, JPEG, PNG or HEIC, and where the device was, for a photo that does not say."""

    photo = serializers.FileField(allow_empty_file=True)


class PartInSerializer(PhotoToldSerializer):
    """What a photo that came in pieces is, once it is whole."""

    name = serializers.CharField(max_length=255)


class PhotoSerializer(serializers.Serializer):
    """A photo on record. Its file was drawn anew; place and time are what it said of itself."""

    id = serializers.IntegerField(source="document_id")
    work_order = serializers.IntegerField(source="work_order_id")
    name = serializers.CharField(source="document.name")
    kind = serializers.SerializerMethodField()
    sha256 = serializers.CharField(source="document.sha256")
    original_sha256 = serializers.CharField(allow_blank=True)
    latitude = serializers.FloatField(allow_null=True)
    longitude = serializers.FloatField(allow_null=True)
    taken_at = serializers.CharField(allow_blank=True)
    distance_m = serializers.FloatField(allow_null=True)

    def get_kind(self, facts) -> str:
        """Return the kind without its prefix."""
        return facts.document.kind.removeprefix("PHOTO_")


class PointsSeenSerializer(serializers.Serializer):
    """At how many places a portion was looked at."""

    SYSTEM = serializers.IntegerField(required=False, min_value=0, max_value=100)
    CUSTOMER = serializers.IntegerField(required=False, min_value=0, max_value=100)
    CONNECTOR = serializers.IntegerField(required=False, min_value=0, max_value=100)


class SizeFoundSerializer(serializers.Serializer):
    """The nominal size of what was found, in."""

    SYSTEM = Figure(required=False, min_value=0.1, max_value=12)
    CUSTOMER = Figure(required=False, min_value=0.1, max_value=12)


class SaidChoiceField(serializers.ChoiceField):
    """A choice that is sent as its code or said in its words."""

    def to_internal_value(self, data):
        """Return the code of what was said; what names no choice is refused."""
        known = code_said(data, self.choices.items()) if isinstance(data, str) else None
        return super().to_internal_value(known or data)


class AttemptSerializer(serializers.Serializer):
    """How somebody was tried to be reached, for a visit without access."""

    at = Moment(required=False)
    method = serializers.ChoiceField(choices=ContactAttempt.Method.values, default="IN_PERSON")
    addressed_to = serializers.ChoiceField(choices=CAPACITY_CODES, default="OWNER")


class QualitySerializer(serializer_of(Quality)):
    """Tests, disinfection, flushing, lead taken out, and what the household was given."""

    points_seen = PointsSeenSerializer(required=False)
    found_in = SizeFoundSerializer(required=False)
    attempt = AttemptSerializer(required=False)

    def validate(self, data):
        """Return what was said; a way of disinfecting that is not known is left for the check."""
        told = {name: value for name, value in data.items() if value is not None}
        if way := told.get("disinfection"):
            method = code_said(way["method"], disinfection_choices())
            told["disinfection"] = way | {"method": method or way["method"]}
        return told


MATERIALS_OR_NONE = ["", *(material.value for material in Material)]
CONNECTORS_OR_NONE = ["", *(connector.value for connector in Connector)]


def _one_of(codes) -> serializers.ChoiceField:
    return serializers.ChoiceField(choices=codes, allow_blank=True, default="")


class CompletionInSerializer(serializers.Serializer):
    """What was done for an order."""

    outcome = serializers.ChoiceField(choices=CompletionRecord.Outcome.values)
    finished_on = Day()
    method_used = SaidChoiceField(
        choices=[(method.value, method.label) for method in Method], required=False
    )
    system_found = _one_of(MATERIALS_OR_NONE)
    customer_found = _one_of(MATERIALS_OR_NONE)
    connector_found = _one_of(CONNECTORS_OR_NONE)
    system_material_after = _one_of(MATERIALS_OR_NONE)
    customer_material_after = _one_of(MATERIALS_OR_NONE)
    connector_after = _one_of(CONNECTORS_OR_NONE)
    system_replaced = serializers.BooleanField(default=False)
    customer_replaced = serializers.BooleanField(default=False)
    connector_replaced = serializers.BooleanField(default=False)
    new_nominal_in = Figure(required=False, min_value=0.1, max_value=12)
    new_grade = serializers.CharField(required=False, max_length=20)
    length_ft = Figure(required=False, min_value=0.1, max_value=9_999)
    tool_string = Id(required=False)
    pull = Id(required=False)
    photos = serializers.ListField(child=Id(), max_length=40, default=list)
    quality = QualitySerializer(required=False)
    note = serializers.CharField(max_length=4000, allow_blank=True, default="")


class CompletionSerializer(serializers.ModelSerializer):
    """A record on file, with what its check found and the utility's answer."""

    work_order = serializers.IntegerField(source="work_order_id", read_only=True)
    findings = FindingSerializer(many=True, read_only=True)
    answer = serializers.SerializerMethodField()
    reasons = serializers.SerializerMethodField()

    class Meta:
        model = CompletionRecord
        fields = (
            "id work_order revision outcome finished_on method_used system_found customer_found "
            "connector_found system_material_after customer_material_after connector_after "
            "system_replaced customer_replaced connector_replaced new_nominal_in new_grade "
            "length_ft tool_string pull photos note findings handed_in_by handed_in_at answer "
            "reasons"
        ).split()
        read_only_fields = fields

    def get_answer(self, record) -> str:
        """Return ACCEPTED, RETURNED, or nothing while it waits."""
        return record.review.answer if hasattr(record, "review") else ""

    def get_reasons(self, record) -> str:
        """Return what the reviewer wrote."""
        return record.review.reasons if hasattr(record, "review") else ""


class SampleSerializer(serializers.Serializer):
    """One sample: the device's count, its seconds since the feed began, total force, place."""

    sequence = serializers.IntegerField(min_value=0, max_value=2**31 - 1)
    time_s = Figure(min_value=0, max_value=86_400)
    force_lbf = Figure(min_value=-60_000, max_value=60_000)
    distance_ft = Figure(min_value=-100, max_value=2_000)


class LiveInSerializer(serializers.Serializer):
    """Samples of a pull that is going on; an empty list with `ended` ends the feed."""

    feed = serializers.CharField(max_length=80)
    samples = SampleSerializer(many=True, max_length=500)
    ended = serializers.BooleanField(default=False)


class LiveSerializer(serializers.Serializer):
    """What became of the samples, and what the page says: WAITING, OK, SLOW, STOP and so on."""

    new = serializers.IntegerField()
    repeated = serializers.IntegerField()
    last_sequence = serializers.IntegerField(allow_null=True)
    word = serializers.ChoiceField(choices=[word.value for word in Word])
    sentences = serializers.ListField(child=serializers.CharField())


class DeviceSerializer(serializers.Serializer):
    """Who this device speaks for."""

    user = serializers.CharField()
    company = serializers.CharField()
    device = serializers.CharField(allow_blank=True)
    expires_at = serializers.DateTimeField(allow_null=True)
    today = serializers.DateField()
    now = serializers.DateTimeField()


class ProblemErrorSerializer(serializers.Serializer):
    """One thing that cannot be taken, and where it stands (RFC 6901 pointer)."""

    pointer = serializers.CharField(allow_blank=True)
    detail = serializers.CharField()


class ProblemSerializer(serializers.Serializer):
    """A problem document (RFC 9457)."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    errors = ProblemErrorSerializer(many=True, required=False)
    findings = FindingSerializer(many=True, required=False)
    order = WorkOrderSerializer(required=False)
    access = AccessSerializer(required=False)
