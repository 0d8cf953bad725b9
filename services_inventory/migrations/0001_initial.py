import django.db.models.deletion
import services_inventory.domain.plumbing
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Document",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("file", models.FileField(max_length=300, upload_to="documents/%Y/%m/")),
                ("name", models.CharField(max_length=255)),
                ("kind", models.CharField(blank=True, max_length=30)),
                ("content_type", models.CharField(max_length=100)),
                ("sha256", models.CharField(db_index=True, max_length=64)),
                ("bytes", models.BigIntegerField()),
                ("owner_key", models.CharField(blank=True, max_length=60)),
                ("uploaded_by", models.CharField(max_length=150)),
                ("uploaded_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="KnownFact",
            fields=[
                ("code", models.BigIntegerField(primary_key=True, serialize=False)),
                ("rule", models.CharField(max_length=16)),
                ("statement", models.JSONField()),
            ],
        ),
        migrations.CreateModel(
            name="KnownSum",
            fields=[
                ("total", models.BigIntegerField(primary_key=True, serialize=False)),
                ("codes", models.JSONField()),
            ],
        ),
        migrations.CreateModel(
            name="MatchDecision",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("reason", models.CharField(blank=True, max_length=300)),
                ("asks_again", models.BooleanField(default=False)),
                ("followed", models.JSONField(default=dict)),
                ("decided_by", models.CharField(max_length=150)),
                ("decided_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="SavedColumns",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("headings", models.JSONField(default=list)),
                ("sheet", models.CharField(blank=True, max_length=120)),
                ("name", models.CharField(max_length=120)),
                ("header_sha256", models.CharField(max_length=64, unique=True)),
                ("columns", models.JSONField()),
                ("saved_by", models.CharField(max_length=150)),
                ("saved_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Batch",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=40)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("RECEIVED", "received"),
                            ("QUEUED", "waiting for the worker"),
                            ("CHECKING", "being checked"),
                            ("CHECKED", "checked, nothing written yet"),
                            ("APPLYING", "being applied"),
                            ("APPLIED", "applied"),
                            ("REFUSED", "refused"),
                            ("STOPPED", "stopped"),
                            ("WITHDRAWN", "withdrawn"),
                        ],
                        default="RECEIVED",
                        max_length=12,
                    ),
                ),
                ("title", models.CharField(blank=True, max_length=200)),
                ("file", models.FileField(blank=True, max_length=300, upload_to="batches/%Y/")),
                ("file_name", models.CharField(blank=True, max_length=255)),
                ("file_sha256", models.CharField(blank=True, max_length=64)),
                ("file_bytes", models.BigIntegerField(default=0)),
                ("parameters", models.JSONField(blank=True, default=dict)),
                ("done", models.BigIntegerField(default=0)),
                ("total", models.BigIntegerField(default=0)),
                ("counts", models.JSONField(blank=True, default=dict)),
                ("result", models.JSONField(blank=True, default=dict)),
                ("message", models.TextField(blank=True)),
                ("requested_by", models.CharField(max_length=150)),
                ("owner_key", models.CharField(blank=True, db_index=True, max_length=60)),
                ("created_at", models.DateTimeField()),
                ("started_at", models.DateTimeField(blank=True, null=True)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                ("heartbeat_at", models.DateTimeField(blank=True, null=True)),
                ("taken_up", models.PositiveSmallIntegerField(db_default=0, default=0)),
                ("cancel_requested", models.BooleanField(default=False)),
                ("first_evidence_id", models.BigIntegerField(blank=True, null=True)),
                ("last_evidence_id", models.BigIntegerField(blank=True, null=True)),
                (
                    "withdraws",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawn_by",
                        to="services_inventory.batch",
                    ),
                ),
            ],
            options={
                "permissions": [
                    ("intake", "Can take in inventory files"),
                    ("undo_batch", "Can withdraw a whole batch"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Decision",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("policy_key", models.CharField(max_length=40)),
                ("facts_key", models.CharField(max_length=80)),
                (
                    "category",
                    models.CharField(
                        choices=[
                            ("LEAD", "lead"),
                            ("GRR", "galvanized requiring replacement"),
                            ("NON_LEAD", "non-lead"),
                            ("UNKNOWN", "lead status unknown"),
                        ],
                        max_length=8,
                    ),
                ),
                ("reason", models.TextField()),
                ("citation", models.CharField(max_length=200)),
                ("would_settle", models.JSONField(default=list)),
                ("rests_on_connectors", models.BooleanField(default=False)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("policy_key", "facts_key"), name="decision_unique"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Evidence",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "portion",
                    models.CharField(
                        choices=[
                            ("SYSTEM", "system side"),
                            ("CUSTOMER", "customer side"),
                            ("CONNECTOR", "connector"),
                        ],
                        max_length=9,
                    ),
                ),
                ("material", models.CharField(blank=True, max_length=22)),
                ("basis", models.CharField(max_length=24)),
                (
                    "era",
                    models.CharField(
                        choices=[("NOW", "the pipe in the ground"), ("BEFORE", "an earlier pipe")],
                        default="NOW",
                        max_length=6,
                    ),
                ),
                ("points_seen", models.SmallIntegerField(default=0)),
                ("observed_on", models.DateField(blank=True, null=True)),
                ("installed_on", models.DateField(blank=True, null=True)),
                ("installed_year", models.SmallIntegerField(blank=True, null=True)),
                ("diameter_in", models.FloatField(blank=True, null=True)),
                ("length_ft", models.FloatField(blank=True, null=True)),
                ("place", models.CharField(blank=True, db_default="", default="", max_length=60)),
                ("every_earlier_pipe", models.BooleanField(db_default=False, default=False)),
                ("below_lead", models.BooleanField(db_default=False, default=False)),
                (
                    "resolves",
                    models.CharField(blank=True, db_default="", default="", max_length=22),
                ),
                ("both_true", models.BooleanField(db_default=False, default=False)),
                ("counts_from", models.DateField(blank=True, null=True)),
                ("source", models.CharField(blank=True, max_length=120)),
                ("note", models.TextField(blank=True)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_by", models.CharField(max_length=150)),
                ("row_number", models.PositiveIntegerField(blank=True, null=True)),
                ("content_key", models.BigIntegerField(blank=True, null=True)),
                ("fact_code", models.BigIntegerField(blank=True, null=True)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "document",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
                (
                    "withdraws",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawn_by",
                        to="services_inventory.evidence",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Conflict",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "portion",
                    models.CharField(
                        choices=[
                            ("SYSTEM", "system side"),
                            ("CUSTOMER", "customer side"),
                            ("CONNECTOR", "connector"),
                        ],
                        max_length=9,
                    ),
                ),
                ("sentence", models.TextField()),
                ("evidence_ids", models.JSONField(default=list)),
                ("opened_at", models.DateTimeField()),
                ("resolved_at", models.DateTimeField(blank=True, null=True)),
                ("resolved_by", models.CharField(blank=True, max_length=150)),
                ("reason", models.TextField(blank=True)),
                (
                    "resolution",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.evidence",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Feed",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80, unique=True)),
                ("folder", models.CharField(max_length=80, unique=True)),
                ("parameters", models.JSONField(default=dict)),
                ("most_percent", models.PositiveSmallIntegerField(default=10)),
                ("watched", models.BooleanField(default=True)),
                ("note", models.CharField(blank=True, max_length=300)),
                ("looked_at", models.DateTimeField(blank=True, null=True)),
                ("made_by", models.CharField(max_length=150)),
                ("made_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("most_percent__lte", 100)),
                        name="feed_share_is_a_percentage",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="HeldRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("row_number", models.PositiveIntegerField()),
                ("reason", models.TextField()),
                ("cells", models.JSONField(default=list)),
                ("mended", models.JSONField(blank=True, null=True)),
                ("mended_by", models.CharField(blank=True, db_default="", max_length=150)),
                ("mended_at", models.DateTimeField(blank=True, null=True)),
                ("left_out_why", models.CharField(blank=True, db_default="", max_length=300)),
                ("left_out_by", models.CharField(blank=True, db_default="", max_length=150)),
                ("left_out_at", models.DateTimeField(blank=True, null=True)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="held_rows",
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "went_to",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="mended_rows",
                        to="services_inventory.batch",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="MatchQuestion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("row_number", models.PositiveIntegerField()),
                ("given_key", models.CharField(db_index=True, max_length=200)),
                ("given", models.JSONField()),
                ("candidates", models.JSONField(default=list)),
                ("score", models.FloatField(default=0)),
                ("clear", models.BooleanField(default=False)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="match_questions",
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "decision",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.matchdecision",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="matchdecision",
            name="question",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="decisions",
                to="services_inventory.matchquestion",
            ),
        ),
        migrations.CreateModel(
            name="MatchUse",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("row_number", models.PositiveIntegerField()),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "decision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="uses",
                        to="services_inventory.matchdecision",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Neighborhood",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=120, unique=True)),
                ("boundary_wkb", models.BinaryField(blank=True, null=True)),
                ("west", models.FloatField(blank=True, null=True)),
                ("south", models.FloatField(blank=True, null=True)),
                ("east", models.FloatField(blank=True, null=True)),
                ("north", models.FloatField(blank=True, null=True)),
                ("attributes", models.JSONField(blank=True, default=dict)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
            ],
            options={
                "permissions": [("change_boundaries", "Can take in neighborhood boundaries")],
            },
        ),
        migrations.CreateModel(
            name="OwnWord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("withdrawn_by", models.CharField(blank=True, max_length=150)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=300)),
                ("heading", models.CharField(max_length=200)),
                ("heading_key", models.CharField(max_length=200)),
                ("kind", models.CharField(max_length=12)),
                ("word", models.CharField(max_length=200)),
                ("word_key", models.CharField(max_length=200)),
                ("code", models.CharField(max_length=24)),
                ("reason", models.CharField(blank=True, max_length=300)),
                ("file_name", models.CharField(blank=True, max_length=255)),
                ("said_by", models.CharField(max_length=150)),
                ("said_at", models.DateTimeField()),
                ("followed", models.JSONField(blank=True, default=dict)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at__isnull", True)),
                        fields=("heading_key", "kind", "word_key"),
                        name="own_word_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at__isnull", True),
                            models.Q(("withdrawn_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="withdrawn_word_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Premise",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("address", models.CharField(blank=True, max_length=200)),
                ("address_key", models.CharField(blank=True, db_index=True, max_length=200)),
                ("street_key", models.CharField(blank=True, max_length=120)),
                ("house_number", models.IntegerField(blank=True, null=True)),
                ("unit", models.CharField(blank=True, max_length=40)),
                ("latitude", models.FloatField(blank=True, null=True)),
                ("longitude", models.FloatField(blank=True, null=True)),
                (
                    "kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "not stated"),
                            ("SINGLE_FAMILY", "single-family home"),
                            ("MULTI_FAMILY", "multi-family building"),
                            ("SCHOOL", "school"),
                            ("CHILD_CARE", "child care"),
                            ("HEALTH_CARE", "health care"),
                            ("BUSINESS", "business"),
                            ("OTHER", "other"),
                        ],
                        db_default="",
                        default="",
                        max_length=16,
                    ),
                ),
                (
                    "plumbing",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("LEAD", "lead pipe"),
                            (
                                "GALVANIZED_AND_SOLDER",
                                "galvanized pipe, and copper with lead solder",
                            ),
                            ("GALVANIZED", "galvanized pipe"),
                            ("COPPER_LEAD_SOLDER", "copper with lead solder"),
                            ("COPPER", "copper, lead solder not known"),
                            ("PLASTIC", "plastic"),
                            ("OTHER", "other"),
                        ],
                        db_default="",
                        default="",
                        max_length=24,
                    ),
                ),
                (
                    "treatment",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("NONE", "none"),
                            ("POINT_OF_USE", "point of use"),
                            ("POINT_OF_ENTRY", "point of entry"),
                        ],
                        db_default="",
                        default="",
                        max_length=16,
                    ),
                ),
                ("city", models.CharField(blank=True, max_length=80)),
                ("postcode", models.CharField(blank=True, max_length=12)),
                ("plumbing_year", models.SmallIntegerField(blank=True, null=True)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "neighborhood",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="premises",
                        to="services_inventory.neighborhood",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PremiseChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("before", models.JSONField(default=dict)),
                ("after", models.JSONField(default=dict)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_by", models.CharField(max_length=150)),
                ("source", models.CharField(blank=True, db_default="", default="", max_length=300)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "premise",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="changes",
                        to="services_inventory.premise",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Proposal",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("material", models.CharField(max_length=22)),
                ("reason", models.TextField()),
                ("evidence_ids", models.JSONField(default=list)),
                ("set_aside_ids", models.JSONField(default=list)),
                ("proposed_by", models.CharField(max_length=150)),
                ("proposed_by_account", models.BigIntegerField()),
                ("proposed_at", models.DateTimeField()),
                (
                    "answer",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("AGREED", "agreed"),
                            ("DECLINED", "declined"),
                            ("TAKEN_BACK", "taken back"),
                        ],
                        max_length=10,
                    ),
                ),
                ("answered_by", models.CharField(blank=True, max_length=150)),
                ("answered_by_account", models.BigIntegerField(blank=True, null=True)),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                ("answer_reason", models.TextField(blank=True)),
                (
                    "conflict",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposals",
                        to="services_inventory.conflict",
                    ),
                ),
                (
                    "decision",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="proposal",
                        to="services_inventory.evidence",
                    ),
                ),
                (
                    "document",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.document",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SentOnce",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sender", models.CharField(blank=True, max_length=20)),
                ("key", models.CharField(max_length=80)),
                ("content_sha256", models.CharField(max_length=64)),
                ("status", models.PositiveSmallIntegerField(default=0)),
                ("answer", models.JSONField(default=dict)),
                ("sent_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("sender", "key"), name="key_once_a_sender")
                ],
            },
        ),
        migrations.CreateModel(
            name="ServiceLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("location_id", models.CharField(max_length=80, unique=True)),
                (
                    "use",
                    models.CharField(
                        choices=[
                            ("DOMESTIC", "drinking water"),
                            ("FIRE", "fire"),
                            ("IRRIGATION", "irrigation"),
                            ("INACTIVE", "inactive"),
                            ("OTHER", "other"),
                        ],
                        default="DOMESTIC",
                        max_length=10,
                    ),
                ),
                (
                    "system_material",
                    models.CharField(
                        choices=[
                            ("LEAD", "lead"),
                            ("LEAD_LINED_GALVANIZED", "lead-lined galvanized"),
                            ("GALVANIZED", "galvanized"),
                            ("COPPER", "copper"),
                            ("PLASTIC", "plastic"),
                            ("IRON", "cast or ductile iron"),
                            ("BRASS", "brass"),
                            ("OTHER_NON_LEAD", "other non-lead material"),
                            ("NON_LEAD", "non-lead, material not recorded"),
                            ("UNKNOWN", "unknown"),
                            ("NONE", "no such portion"),
                        ],
                        default="UNKNOWN",
                        max_length=22,
                    ),
                ),
                (
                    "customer_material",
                    models.CharField(
                        choices=[
                            ("LEAD", "lead"),
                            ("LEAD_LINED_GALVANIZED", "lead-lined galvanized"),
                            ("GALVANIZED", "galvanized"),
                            ("COPPER", "copper"),
                            ("PLASTIC", "plastic"),
                            ("IRON", "cast or ductile iron"),
                            ("BRASS", "brass"),
                            ("OTHER_NON_LEAD", "other non-lead material"),
                            ("NON_LEAD", "non-lead, material not recorded"),
                            ("UNKNOWN", "unknown"),
                            ("NONE", "no such portion"),
                        ],
                        default="UNKNOWN",
                        max_length=22,
                    ),
                ),
                (
                    "connector",
                    models.CharField(
                        choices=[
                            ("LEAD", "lead connector"),
                            ("NON_LEAD", "non-lead connector"),
                            ("UNKNOWN", "connector unknown"),
                            ("NONE", "no connector"),
                        ],
                        default="UNKNOWN",
                        max_length=8,
                    ),
                ),
                ("system_was_lead", models.BooleanField(blank=True, null=True)),
                ("system_below_lead", models.BooleanField(default=False)),
                ("system_nominal_in", models.FloatField(blank=True, null=True)),
                ("customer_nominal_in", models.FloatField(blank=True, null=True)),
                ("installed_year", models.SmallIntegerField(blank=True, null=True)),
                (
                    "category",
                    models.CharField(
                        choices=[
                            ("LEAD", "lead"),
                            ("GRR", "galvanized requiring replacement"),
                            ("NON_LEAD", "non-lead"),
                            ("UNKNOWN", "lead status unknown"),
                        ],
                        max_length=8,
                        null=True,
                    ),
                ),
                ("category_since", models.DateField(blank=True, null=True)),
                (
                    "validation",
                    models.CharField(blank=True, db_default="", default="", max_length=16),
                ),
                ("in_conflict", models.BooleanField(default=False)),
                ("given_up", models.BooleanField(db_default=False, default=False)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "decision",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.decision",
                    ),
                ),
                (
                    "neighborhood",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="lines",
                        to="services_inventory.neighborhood",
                    ),
                ),
                (
                    "premise",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lines",
                        to="services_inventory.premise",
                    ),
                ),
            ],
            options={
                "permissions": [
                    ("record_evidence", "Can record evidence"),
                    ("resolve_conflict", "Can resolve conflicting evidence"),
                    ("run_validation", "Can run the validation of non-lead lines"),
                    ("export_inventory", "Can download the inventory"),
                ],
            },
        ),
        migrations.CreateModel(
            name="SaidCategory",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "said",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("LEAD", "lead"),
                            ("GRR", "galvanized requiring replacement"),
                            ("NON_LEAD", "non-lead"),
                            ("UNKNOWN", "lead status unknown"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "label",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("LIKELY_LEAD", "unknown - likely lead"),
                            ("LIKELY_GALVANIZED", "unknown - likely galvanized"),
                            ("LIKELY_NON_LEAD", "unknown - likely non-lead"),
                            ("NO_INDICATION", "unknown - no indication"),
                        ],
                        max_length=20,
                    ),
                ),
                ("row_number", models.PositiveIntegerField()),
                ("taken_back", models.BooleanField(db_default=False, default=False)),
                (
                    "batch",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="said_categories",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="matchdecision",
            name="lines",
            field=models.ManyToManyField(
                related_name="match_decisions", to="services_inventory.serviceline"
            ),
        ),
        migrations.CreateModel(
            name="LineDocument",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("page", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("row_number", models.PositiveIntegerField()),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="line_documents",
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "document",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="of_lines",
                        to="services_inventory.document",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="line_documents",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="evidence",
            name="line",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="evidence",
                to="services_inventory.serviceline",
            ),
        ),
        migrations.AddField(
            model_name="conflict",
            name="line",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="conflicts",
                to="services_inventory.serviceline",
            ),
        ),
        migrations.CreateModel(
            name="CategoryChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("from_category", models.CharField(max_length=8, null=True)),
                ("to_category", models.CharField(max_length=8, null=True)),
                ("effective_on", models.DateField()),
                ("recorded_at", models.DateTimeField()),
                ("recorded_by", models.CharField(max_length=150)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "decision",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.decision",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="category_changes",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ValidationDraw",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("drawn_on", models.DateField()),
                ("drawn_by", models.CharField(max_length=150)),
                ("seed", models.CharField(max_length=64)),
                ("pool_size", models.PositiveIntegerField()),
                ("pool_sha256", models.CharField(max_length=64)),
                ("required", models.PositiveIntegerField()),
                ("due_on", models.DateField(blank=True, null=True)),
                (
                    "pool_list",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ValidationPick",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("position", models.PositiveIntegerField()),
                (
                    "result",
                    models.CharField(
                        choices=[
                            ("OPEN", "to be visited"),
                            ("CONFIRMED", "confirmed non-lead"),
                            ("FOUND_LEAD", "found lead"),
                            ("FOUND_GRR", "found galvanized requiring replacement"),
                            ("NO_ACCESS", "no access, replaced from the reserve"),
                        ],
                        default="OPEN",
                        max_length=12,
                    ),
                ),
                ("result_on", models.DateField(blank=True, null=True)),
                ("points", models.JSONField(default=list)),
                ("recorded_by", models.CharField(blank=True, max_length=150)),
                ("note", models.TextField(blank=True)),
                (
                    "draw",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="picks",
                        to="services_inventory.validationdraw",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="validation_picks",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.AddIndex(
            model_name="batch",
            index=models.Index(fields=["kind", "state", "-id"], name="batch_kind_state"),
        ),
        migrations.AddIndex(
            model_name="heldrow",
            index=models.Index(fields=["batch", "row_number"], name="held_batch_row"),
        ),
        migrations.AddIndex(
            model_name="matchquestion",
            index=models.Index(
                condition=models.Q(("decision__isnull", True)), fields=["id"], name="match_open"
            ),
        ),
        migrations.AddIndex(
            model_name="premise",
            index=models.Index(fields=["latitude", "longitude"], name="premise_lat_lon"),
        ),
        migrations.AddIndex(
            model_name="premise",
            index=models.Index(fields=["street_key", "house_number"], name="premise_street"),
        ),
        migrations.AddIndex(
            model_name="premise",
            index=models.Index(
                condition=models.Q(
                    models.Q(("kind", ""), _negated=True),
                    models.Q(("kind", "SINGLE_FAMILY"), _negated=True),
                ),
                fields=["kind"],
                name="premise_rarer_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="premise",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("latitude__isnull", True), ("latitude__range", (-90, 90)), _connector="OR"
                ),
                name="premise_latitude_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="premise",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("longitude__isnull", True), ("longitude__range", (-180, 180)), _connector="OR"
                ),
                name="premise_longitude_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="premise",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "plumbing__in",
                        [
                            "",
                            services_inventory.domain.plumbing.Plumbing["LEAD"],
                            services_inventory.domain.plumbing.Plumbing["GALVANIZED_AND_SOLDER"],
                            services_inventory.domain.plumbing.Plumbing["GALVANIZED"],
                            services_inventory.domain.plumbing.Plumbing["COPPER_LEAD_SOLDER"],
                            services_inventory.domain.plumbing.Plumbing["COPPER"],
                            services_inventory.domain.plumbing.Plumbing["PLASTIC"],
                            services_inventory.domain.plumbing.Plumbing["OTHER"],
                        ],
                    )
                ),
                name="premise_plumbing_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="premise",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "treatment__in",
                        [
                            "",
                            services_inventory.domain.plumbing.Treatment["NONE"],
                            services_inventory.domain.plumbing.Treatment["POINT_OF_USE"],
                            services_inventory.domain.plumbing.Treatment["POINT_OF_ENTRY"],
                        ],
                    )
                ),
                name="premise_treatment_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.UniqueConstraint(
                condition=models.Q(("answer", "")),
                fields=("conflict",),
                name="one_open_proposal_per_conflict",
            ),
        ),
        migrations.AddConstraint(
            model_name="proposal",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("answer", "AGREED"), _negated=True),
                    models.Q(
                        ("answered_by_account", models.F("proposed_by_account")), _negated=True
                    ),
                    _connector="OR",
                ),
                name="proposal_agreed_by_another",
            ),
        ),
        migrations.AddIndex(
            model_name="serviceline",
            index=models.Index(
                fields=["neighborhood", "category"], name="line_neighborhood_category"
            ),
        ),
        migrations.AddIndex(
            model_name="serviceline",
            index=models.Index(fields=["category", "id"], name="line_category_id"),
        ),
        migrations.AddIndex(
            model_name="serviceline",
            index=models.Index(fields=["decision", "installed_year"], name="line_decision_year"),
        ),
        migrations.AddIndex(
            model_name="serviceline",
            index=models.Index(
                condition=models.Q(("given_up", True)), fields=["id"], name="line_given_up"
            ),
        ),
        migrations.AddIndex(
            model_name="serviceline",
            index=models.Index(
                condition=models.Q(("use", "DOMESTIC"), _negated=True),
                fields=["use"],
                name="line_rarer_use",
            ),
        ),
        migrations.AddConstraint(
            model_name="serviceline",
            constraint=models.CheckConstraint(
                condition=models.Q(("location_id", ""), _negated=True), name="line_identifier_given"
            ),
        ),
        migrations.AddConstraint(
            model_name="serviceline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("category__isnull", True),
                    ("category__in", ["LEAD", "GRR", "NON_LEAD", "UNKNOWN"]),
                    _connector="OR",
                ),
                name="line_category_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="serviceline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "system_material__in",
                        [
                            "LEAD",
                            "LEAD_LINED_GALVANIZED",
                            "GALVANIZED",
                            "COPPER",
                            "PLASTIC",
                            "IRON",
                            "BRASS",
                            "OTHER_NON_LEAD",
                            "NON_LEAD",
                            "UNKNOWN",
                            "NONE",
                        ],
                    )
                ),
                name="line_system_material_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="serviceline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "customer_material__in",
                        [
                            "LEAD",
                            "LEAD_LINED_GALVANIZED",
                            "GALVANIZED",
                            "COPPER",
                            "PLASTIC",
                            "IRON",
                            "BRASS",
                            "OTHER_NON_LEAD",
                            "NON_LEAD",
                            "UNKNOWN",
                            "NONE",
                        ],
                    )
                ),
                name="line_customer_material_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="serviceline",
            constraint=models.CheckConstraint(
                condition=models.Q(("connector__in", ["LEAD", "NON_LEAD", "UNKNOWN", "NONE"])),
                name="line_connector_known",
            ),
        ),
        migrations.AddIndex(
            model_name="saidcategory",
            index=models.Index(fields=["line", "-id"], name="said_of_line"),
        ),
        migrations.AddIndex(
            model_name="evidence",
            index=models.Index(
                condition=models.Q(("withdraws__isnull", False)),
                fields=["withdraws"],
                name="evidence_withdraws",
            ),
        ),
        migrations.AddIndex(
            model_name="evidence",
            index=models.Index(
                fields=["line", "content_key", "fact_code", "batch"], name="evidence_of_line"
            ),
        ),
        migrations.AddIndex(
            model_name="evidence",
            index=models.Index(
                condition=models.Q(("counts_from__isnull", False)),
                fields=["counts_from"],
                name="evidence_of_the_past",
            ),
        ),
        migrations.AddConstraint(
            model_name="evidence",
            constraint=models.CheckConstraint(
                condition=models.Q(("portion__in", ["SYSTEM", "CUSTOMER", "CONNECTOR"])),
                name="evidence_portion_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="evidence",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "basis__in",
                        [
                            "REPLACEMENT",
                            "EXCAVATION",
                            "VISUAL_INSPECTION",
                            "SCRATCH_MAGNET",
                            "CCTV",
                            "RECORD_INSTALLATION",
                            "RECORD_TAP_CARD",
                            "RECORD_PERMIT",
                            "RECORD_DRAWING",
                            "RECORD_METER",
                            "RECORD_OTHER",
                            "INSTALL_DATE",
                            "WATER_SAMPLING",
                            "DIAMETER",
                            "AFFIDAVIT",
                            "CUSTOMER_REPORT",
                            "PREDICTIVE_MODEL",
                            "NOT_STATED",
                        ],
                    )
                ),
                name="evidence_basis_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="evidence",
            constraint=models.CheckConstraint(
                condition=models.Q(("points_seen__gte", 0)), name="evidence_points_not_negative"
            ),
        ),
        migrations.AddConstraint(
            model_name="conflict",
            constraint=models.UniqueConstraint(
                condition=models.Q(("resolved_at__isnull", True)),
                fields=("line", "portion"),
                name="one_open_conflict_per_portion",
            ),
        ),
        migrations.AddIndex(
            model_name="categorychange",
            index=models.Index(fields=["effective_on"], name="change_effective"),
        ),
        migrations.AddIndex(
            model_name="categorychange",
            index=models.Index(
                condition=models.Q(("from_category", "NON_LEAD")),
                fields=["effective_on", "id"],
                name="change_from_non_lead",
            ),
        ),
        migrations.AddConstraint(
            model_name="validationpick",
            constraint=models.UniqueConstraint(
                fields=("draw", "position"), name="pick_position_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="validationpick",
            constraint=models.UniqueConstraint(fields=("draw", "line"), name="pick_line_once"),
        ),
    ]
