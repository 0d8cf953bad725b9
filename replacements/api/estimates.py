"""A force estimate as a device asks for it and gets it back; the page's form weighs the inputs."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from ..domain.pipes import resins
from ..queries.estimate_told import inputs_told
from .from_facts import Figure
from .serializers import FindingSerializer


class EstimateInSerializer(serializers.Serializer):
    """What only the pit tells; what is left out is counted the unfavorable way, and told."""

    plate_area_ft2 = Figure(required=False, help_text="Bearing plate against firm ground.")
    soil_psf = Figure(required=False, help_text="What that ground may bear.")
    resin = serializers.ChoiceField(
        choices=["", *resins()], required=False, help_text="Of PE, as printed on the pipe."
    )
    temperature_f = Figure(required=False, help_text="Of the new pipe's wall, up to 120.")
    minutes = Figure(required=False, help_text="Under tension, up to 1,440.")
    measured = serializers.DictField(
        child=Figure(),
        required=False,
        help_text="Measured for this pull, by code: BLADE_THICKNESS, BLADE_HALF_ANGLE, "
        "CONE_HALF_ANGLE, JOINT_WALL, SOIL_STRENGTH (clay), BEND_n (radius of the bend at n ft).",
    )


class TotalSerializer(serializers.Serializer):
    """What cable or rods, puller and anchor carry, with the ends of its range, lb."""

    low_lbf = serializers.FloatField()
    expected_lbf = serializers.FloatField()
    high_lbf = serializers.FloatField()


class DragSerializer(serializers.Serializer):
    """What the new pipe carries behind the expander, with the ends of its range, lb."""

    low_lbf = serializers.FloatField(source="result.drag_low_lbf")
    expected_lbf = serializers.FloatField(source="result.drag_expected_lbf")
    high_lbf = serializers.FloatField(source="result.drag_high_lbf")


class InputSerializer(serializers.Serializer):
    """One input in words, and whether it was assumed."""

    name = serializers.CharField()
    value = serializers.CharField()
    assumed = serializers.BooleanField()


class EstimateSerializer(serializers.Serializer):
    """A force estimate on record: two forces that are never mixed, their limits, the verdict."""

    id = serializers.IntegerField()
    work_order = serializers.IntegerField(source="work_order_id")
    made_at = serializers.DateTimeField()
    verdict = serializers.ChoiceField(choices=["GO", "CAUTION", "NO_GO"])
    tool_string = serializers.IntegerField(source="result.tool_string", allow_null=True)
    total = TotalSerializer(source="*")
    drag = DragSerializer(source="*")
    limit_lbf = serializers.FloatField(source="result.limit_lbf", allow_null=True)
    limited_by = serializers.CharField(source="result.limited_by", allow_null=True)
    drag_limit_lbf = serializers.FloatField(source="result.drag_limit_lbf", allow_null=True)
    drag_limited_by = serializers.CharField(source="result.drag_limited_by", allow_null=True)
    standing = serializers.CharField(source="result.standing")
    inputs = serializers.SerializerMethodField()
    findings = FindingSerializer(source="result.findings", many=True)

    @extend_schema_field(InputSerializer(many=True))
    def get_inputs(self, made):
        """Return what the estimate was made from, each marked where it was assumed."""
        return inputs_told(made.case)
