import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("services_inventory", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Contractor",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=120, unique=True)),
                ("active", models.BooleanField(default=True)),
                ("domestic_content_required", models.BooleanField(db_default=False, default=False)),
                ("phone", models.CharField(blank=True, max_length=40)),
                ("email", models.EmailField(blank=True, max_length=254)),
            ],
        ),
        migrations.CreateModel(
            name="ForceConstants",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("parameter_set", models.CharField(max_length=64)),
                ("values", models.JSONField(blank=True, default=dict)),
                ("string_limits", models.JSONField(blank=True, default=dict)),
                ("reason", models.CharField(max_length=200)),
                ("put_in_use_by", models.CharField(max_length=150)),
                ("put_in_use_at", models.DateTimeField()),
            ],
            options={
                "permissions": [
                    ("set_force_model", "Can put constants and learned factors into use")
                ],
            },
        ),
        migrations.CreateModel(
            name="LiveFeed",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=80)),
                ("is_played", models.BooleanField(default=False)),
                ("plan", models.JSONField()),
                ("started_by", models.CharField(max_length=150)),
                ("started_at", models.DateTimeField()),
                ("last_received_at", models.DateTimeField()),
                ("clock_zero_s", models.FloatField(blank=True, null=True)),
                ("last_sequence", models.PositiveIntegerField(blank=True, null=True)),
                ("last_time_s", models.FloatField(blank=True, null=True)),
                ("sample_count", models.PositiveIntegerField(default=0)),
                ("peak_lbf", models.FloatField(blank=True, null=True)),
                ("peak_ft", models.FloatField(blank=True, null=True)),
                ("trace", models.JSONField(blank=True, default=dict)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                ("ended_by", models.CharField(blank=True, max_length=150)),
                ("samples_removed_at", models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name="ModelCalibration",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("soil", models.CharField(max_length=30)),
                ("made_at", models.DateTimeField()),
                ("pulls", models.PositiveIntegerField()),
                ("result", models.JSONField()),
                ("put_in_use_by", models.CharField(blank=True, max_length=150)),
                ("reason", models.CharField(blank=True, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name="ToolStringRecord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("pulled_end", models.CharField(default="UNKNOWN", max_length=10)),
                ("findings", models.JSONField(blank=True, default=list)),
                ("worst_level", models.CharField(blank=True, max_length=8)),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Component",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=24)),
                ("mark", models.CharField(max_length=60)),
                ("description", models.CharField(blank=True, max_length=200)),
                ("dimensions", models.JSONField(blank=True, default=dict)),
                ("rated_lbf", models.FloatField(blank=True, null=True)),
                ("in_service_since", models.DateField(blank=True, null=True)),
                ("retired_on", models.DateField(blank=True, null=True)),
                ("retired_reason", models.CharField(blank=True, max_length=200)),
                (
                    "photo",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.document",
                    ),
                ),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="components",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ComponentChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("before", models.JSONField()),
                ("after", models.JSONField()),
                ("reason", models.CharField(max_length=200)),
                ("changed_by", models.CharField(max_length=150)),
                ("changed_at", models.DateTimeField()),
                (
                    "component",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="changes",
                        to="replacements.component",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ComponentInspection",
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
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                ("inspected_on", models.DateField()),
                ("inspected_by", models.CharField(max_length=120)),
                ("by_competent_person", models.BooleanField(default=False)),
                ("looked_at", models.CharField(blank=True, max_length=300)),
                ("passed", models.BooleanField()),
                ("findings", models.JSONField(blank=True, default=dict)),
                ("next_due_on", models.DateField(blank=True, null=True)),
                (
                    "component",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to="replacements.component",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="ComponentRenewal",
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
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                ("part", models.CharField(max_length=20)),
                ("done_on", models.DateField()),
                ("done_by", models.CharField(max_length=120)),
                ("note", models.CharField(blank=True, max_length=200)),
                (
                    "component",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="renewals",
                        to="replacements.component",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Consent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "answer",
                    models.CharField(
                        choices=[
                            ("GIVEN", "given"),
                            ("REFUSED", "refused"),
                            ("REVOKED", "taken back"),
                        ],
                        max_length=8,
                    ),
                ),
                ("given_by", models.CharField(blank=True, max_length=120)),
                ("capacity", models.CharField(default="OWNER", max_length=20)),
                ("answered_on", models.DateField()),
                ("language", models.CharField(blank=True, max_length=8)),
                ("note", models.TextField(blank=True)),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "document",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consents",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ContactAttempt",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("IN_PERSON", "in person"),
                            ("PHONE", "phone"),
                            ("TEXT", "text message"),
                            ("EMAIL", "e-mail"),
                            ("LETTER", "letter"),
                            ("POSTCARD", "postcard"),
                            ("DOOR_HANGER", "door hanger"),
                        ],
                        max_length=12,
                    ),
                ),
                ("addressed_to", models.CharField(default="OWNER", max_length=20)),
                ("outcome", models.CharField(blank=True, max_length=200)),
                ("language", models.CharField(blank=True, db_default="", default="", max_length=8)),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="contact_attempts",
                        to="services_inventory.serviceline",
                    ),
                ),
                (
                    "contractor",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ChangeOrder",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.CharField(max_length=20)),
                ("description", models.CharField(max_length=200)),
                ("amount", models.DecimalField(decimal_places=2, max_digits=12)),
                ("funding", models.CharField(blank=True, max_length=60)),
                ("approved_on", models.DateField()),
                ("approved_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="change_orders",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Certificate",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("INSURANCE", "insurance"),
                            ("LICENSE", "plumbing or contractor license"),
                            ("COMPETENT_PERSON", "excavation competent person"),
                            ("OTHER", "other"),
                        ],
                        max_length=20,
                    ),
                ),
                ("holder", models.CharField(blank=True, max_length=120)),
                ("number", models.CharField(blank=True, max_length=80)),
                ("expires_on", models.DateField()),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "document",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="certificates",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Appointment",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("CONSENT", "talk about consent"),
                            ("WORK", "the work"),
                            ("AFTER", "sample, flush or repair after the work"),
                        ],
                        max_length=8,
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                (
                    "with_whom",
                    models.CharField(
                        choices=[
                            ("OWNER", "owner"),
                            ("TENANT", "tenant"),
                            ("MANAGER", "manager of the building"),
                        ],
                        default="OWNER",
                        max_length=8,
                    ),
                ),
                (
                    "language",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "not stated"),
                            ("en", "English"),
                            ("es", "Spanish"),
                            ("ar", "Arabic"),
                            ("fr", "French"),
                            ("hmn", "Hmong"),
                            ("ht", "Haitian Creole"),
                            ("ko", "Korean"),
                            ("pl", "Polish"),
                            ("pt", "Portuguese"),
                            ("ru", "Russian"),
                            ("so", "Somali"),
                            ("tl", "Tagalog"),
                            ("vi", "Vietnamese"),
                            ("zh", "Chinese"),
                            ("other", "another"),
                        ],
                        max_length=8,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=200)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("BOOKED", "booked"),
                            ("KEPT", "kept"),
                            ("MISSED", "nobody came or was home"),
                            ("CANCELED", "called off"),
                        ],
                        default="BOOKED",
                        max_length=10,
                    ),
                ),
                ("outcome", models.CharField(blank=True, max_length=200)),
                ("booked_by", models.CharField(max_length=150)),
                ("booked_at", models.DateTimeField()),
                ("closed_by", models.CharField(blank=True, max_length=150)),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="appointments",
                        to="services_inventory.serviceline",
                    ),
                ),
                (
                    "contractor",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ContractTerms",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "retainage_percent",
                    models.DecimalField(decimal_places=2, default=0, max_digits=5),
                ),
                ("changed_by", models.CharField(max_length=150)),
                ("changed_at", models.DateTimeField()),
                (
                    "contractor",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="payment_terms",
                        to="replacements.contractor",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "contract terms",
            },
        ),
        migrations.CreateModel(
            name="Crew",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("foreman", models.CharField(blank=True, max_length=120)),
                ("active", models.BooleanField(default=True)),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="crews",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="DeviceToken",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("shown", models.CharField(max_length=12)),
                ("secret_sha256", models.CharField(max_length=64, unique=True)),
                ("created_by", models.CharField(max_length=150)),
                ("created_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                ("revoked_by", models.CharField(blank=True, max_length=150)),
                ("last_used_at", models.DateTimeField(blank=True, null=True)),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="devices",
                        to="replacements.contractor",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="devices",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="LiveSample",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sequence", models.PositiveIntegerField()),
                ("time_s", models.FloatField()),
                ("force_lbf", models.FloatField()),
                ("distance_ft", models.FloatField()),
                (
                    "feed",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="samples",
                        to="replacements.livefeed",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="MaterialLot",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("lot", models.CharField(max_length=80)),
                ("material", models.CharField(max_length=22)),
                ("nominal_in", models.FloatField(blank=True, null=True)),
                ("grade", models.CharField(blank=True, max_length=40)),
                ("contact_standard", models.BooleanField(default=False)),
                ("lead_free_standard", models.BooleanField(default=False)),
                ("domestic_content", models.BooleanField(default=False)),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lots",
                        to="replacements.contractor",
                    ),
                ),
                (
                    "document",
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
            name="Membership",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="members",
                        to="replacements.contractor",
                    ),
                ),
                (
                    "user",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="membership",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="OwnerChange",
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
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                ("changed_on", models.DateField()),
                ("source", models.CharField(max_length=300)),
                (
                    "document",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
                (
                    "premise",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="owner_changes",
                        to="services_inventory.premise",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PayItem",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code", models.CharField(max_length=20)),
                ("name", models.CharField(max_length=120)),
                ("unit", models.CharField(default="each", max_length=12)),
                (
                    "measure",
                    models.CharField(
                        choices=[
                            ("LINE", "each accepted replacement"),
                            ("SYSTEM_SIDE", "each system side replaced"),
                            ("CUSTOMER_SIDE", "each customer side replaced"),
                            ("CONNECTOR", "each connector replaced"),
                            ("LENGTH", "length of new pipe, ft"),
                            ("FOUND_NOT_LEAD", "each line dug up and found not to be lead"),
                            ("NO_ACCESS", "each visit without access"),
                            ("STOPPED", "each pull stopped and not finished"),
                        ],
                        max_length=16,
                    ),
                ),
                ("method", models.CharField(blank=True, max_length=12)),
                ("unit_price", models.DecimalField(decimal_places=2, max_digits=12)),
                ("funding", models.CharField(blank=True, max_length=60)),
                ("valid_from", models.DateField()),
                ("valid_to", models.DateField(blank=True, null=True)),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pay_items",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PaymentStatement",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("period_from", models.DateField()),
                ("period_to", models.DateField()),
                ("retainage_percent", models.DecimalField(decimal_places=2, max_digits=5)),
                (
                    "retainage_released",
                    models.DecimalField(decimal_places=2, default=0, max_digits=12),
                ),
                ("made_by", models.CharField(max_length=150)),
                ("made_at", models.DateTimeField()),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="statements",
                        to="replacements.contractor",
                    ),
                ),
            ],
            options={
                "permissions": [("pay_contractors", "Can make up payment statements")],
            },
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "capacity",
                    models.CharField(
                        choices=[
                            ("OWNER", "owner"),
                            ("TENANT", "tenant"),
                            ("MANAGER", "manager of the building"),
                        ],
                        max_length=8,
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                ("phone", models.CharField(blank=True, max_length=40)),
                ("email", models.EmailField(blank=True, max_length=254)),
                (
                    "language",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "not stated"),
                            ("en", "English"),
                            ("es", "Spanish"),
                            ("ar", "Arabic"),
                            ("fr", "French"),
                            ("hmn", "Hmong"),
                            ("ht", "Haitian Creole"),
                            ("ko", "Korean"),
                            ("pl", "Polish"),
                            ("pt", "Portuguese"),
                            ("ru", "Russian"),
                            ("so", "Somali"),
                            ("tl", "Tagalog"),
                            ("vi", "Vietnamese"),
                            ("zh", "Chinese"),
                            ("other", "another"),
                        ],
                        max_length=8,
                    ),
                ),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                ("left_on", models.DateField(blank=True, null=True)),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="people",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "people",
            },
        ),
        migrations.CreateModel(
            name="PullRecord",
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
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                ("pulled_on", models.DateField()),
                ("machine", models.JSONField(blank=True, default=dict)),
                ("columns", models.JSONField(blank=True, default=dict)),
                ("length_ft", models.FloatField(blank=True, null=True)),
                ("peak_lbf", models.FloatField(blank=True, null=True)),
                ("p95_lbf", models.FloatField(blank=True, null=True)),
                ("metrics", models.JSONField(blank=True, default=dict)),
                ("findings", models.JSONField(blank=True, default=list)),
                ("verdict", models.CharField(blank=True, max_length=8)),
                ("gear_event", models.CharField(blank=True, max_length=24)),
                ("trace", models.JSONField(blank=True, default=dict)),
                (
                    "log",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
                (
                    "tool_string",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="pulls",
                        to="replacements.toolstringrecord",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="PullExplanation",
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
                ("why", models.TextField()),
                ("of_utility", models.BooleanField(default=False)),
                ("explained_by", models.CharField(max_length=150)),
                ("explained_at", models.DateTimeField()),
                (
                    "feed",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="explanations",
                        to="replacements.livefeed",
                    ),
                ),
                (
                    "pull",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="explanations",
                        to="replacements.pullrecord",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="livefeed",
            name="pull",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="live_feed",
                to="replacements.pullrecord",
            ),
        ),
        migrations.CreateModel(
            name="CompletionRecord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("revision", models.PositiveSmallIntegerField(default=1)),
                (
                    "outcome",
                    models.CharField(
                        choices=[
                            ("REPLACED", "replaced"),
                            ("FOUND_NOT_LEAD", "found not to be lead"),
                            ("NO_ACCESS", "no access"),
                            ("STOPPED", "pull stopped, not finished"),
                        ],
                        default="REPLACED",
                        max_length=16,
                    ),
                ),
                ("finished_on", models.DateField()),
                ("method_used", models.CharField(default="SPLIT", max_length=12)),
                ("system_found", models.CharField(blank=True, max_length=22)),
                ("customer_found", models.CharField(blank=True, max_length=22)),
                ("connector_found", models.CharField(blank=True, max_length=8)),
                ("system_material_after", models.CharField(blank=True, max_length=22)),
                ("customer_material_after", models.CharField(blank=True, max_length=22)),
                ("connector_after", models.CharField(blank=True, max_length=8)),
                ("system_replaced", models.BooleanField(default=False)),
                ("customer_replaced", models.BooleanField(default=False)),
                ("connector_replaced", models.BooleanField(default=False)),
                ("new_nominal_in", models.FloatField(blank=True, null=True)),
                ("new_grade", models.CharField(blank=True, max_length=20)),
                ("length_ft", models.FloatField(blank=True, null=True)),
                ("quality", models.JSONField(blank=True, default=dict)),
                ("findings", models.JSONField(blank=True, default=list)),
                ("note", models.TextField(blank=True)),
                (
                    "idempotency_key",
                    models.CharField(blank=True, max_length=80, null=True, unique=True),
                ),
                ("handed_in_by", models.CharField(max_length=150)),
                ("handed_in_by_user_id", models.BigIntegerField(blank=True, null=True)),
                ("handed_in_at", models.DateTimeField()),
                ("review_begun_by", models.CharField(blank=True, max_length=150)),
                ("review_begun_at", models.DateTimeField(blank=True, null=True)),
                (
                    "photos",
                    models.ManyToManyField(
                        blank=True, related_name="+", to="services_inventory.document"
                    ),
                ),
                (
                    "pull",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="replacements.pullrecord",
                    ),
                ),
                (
                    "tool_string",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="replacements.toolstringrecord",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="RatingPaper",
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
                ("figures", models.JSONField(default=dict)),
                ("attached_by", models.CharField(max_length=150)),
                ("attached_at", models.DateTimeField()),
                ("confirmed_by", models.CharField(blank=True, max_length=150)),
                ("confirmed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "component",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="papers",
                        to="replacements.component",
                    ),
                ),
                (
                    "document",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="ReinspectionDraw",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("first_day", models.DateField()),
                ("last_day", models.DateField()),
                ("share_percent", models.FloatField()),
                ("seed", models.CharField(max_length=80)),
                ("records", models.PositiveIntegerField()),
                ("records_sha256", models.CharField(max_length=64)),
                ("required", models.PositiveIntegerField()),
                ("drawn_on", models.DateField()),
                ("drawn_by", models.CharField(max_length=150)),
                ("drawn_at", models.DateTimeField()),
                (
                    "contractor",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Reinspection",
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
                        blank=True,
                        choices=[
                            ("AS_RECORDED", "as recorded"),
                            ("DIFFERS", "differs from the record"),
                            ("NO_ACCESS", "could not be seen"),
                        ],
                        max_length=12,
                    ),
                ),
                ("seen_on", models.DateField(blank=True, null=True)),
                ("seen_by", models.CharField(blank=True, max_length=120)),
                ("note", models.TextField(blank=True)),
                ("recorded_by", models.CharField(blank=True, max_length=150)),
                ("recorded_at", models.DateTimeField(blank=True, null=True)),
                (
                    "completion",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reinspections",
                        to="replacements.completionrecord",
                    ),
                ),
                (
                    "document",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
                (
                    "draw",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="picks",
                        to="replacements.reinspectiondraw",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Replacement",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("replaced_on", models.DateField(db_index=True)),
                ("category_before", models.CharField(max_length=8)),
                ("facts_before", models.CharField(max_length=80)),
                ("category_after", models.CharField(max_length=8)),
                ("facts_after", models.CharField(max_length=80)),
                ("system_replaced", models.BooleanField(default=False)),
                ("customer_replaced", models.BooleanField(default=False)),
                ("connector_replaced", models.BooleanField(default=False)),
                ("length_ft", models.FloatField(blank=True, null=True)),
                ("accepted_at", models.DateTimeField()),
                (
                    "completion",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replacement",
                        to="replacements.completionrecord",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replacements",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="StatementLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "code",
                    models.CharField(db_default="", default="", editable=False, max_length=20),
                ),
                ("quantity", models.DecimalField(decimal_places=3, max_digits=12)),
                ("unit_price", models.DecimalField(decimal_places=2, max_digits=12)),
                ("amount", models.DecimalField(decimal_places=2, max_digits=14)),
                ("funding", models.CharField(blank=True, max_length=60)),
                (
                    "change_order",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="paid",
                        to="replacements.changeorder",
                    ),
                ),
                (
                    "completion",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="paid",
                        to="replacements.completionrecord",
                    ),
                ),
                (
                    "item",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="paid",
                        to="replacements.payitem",
                    ),
                ),
                (
                    "statement",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lines",
                        to="replacements.paymentstatement",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="StatementNote",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("DISPUTED", "disputed"),
                            ("ANSWERED", "answered"),
                            ("CLOSED", "closed"),
                            ("UNDONE", "taken back"),
                        ],
                        max_length=8,
                    ),
                ),
                ("said", models.CharField(max_length=300)),
                ("of_contractor", models.BooleanField()),
                ("written_by", models.CharField(max_length=150)),
                ("written_at", models.DateTimeField()),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notes",
                        to="replacements.statementline",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="StreetClosure",
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
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                ("street_key", models.CharField(max_length=120)),
                ("first_number", models.IntegerField(blank=True, null=True)),
                ("last_number", models.IntegerField(blank=True, null=True)),
                (
                    "side",
                    models.CharField(
                        choices=[
                            ("BOTH", "both sides"),
                            ("EVEN", "even-numbered side"),
                            ("ODD", "odd-numbered side"),
                        ],
                        max_length=4,
                    ),
                ),
                ("first_day", models.DateField()),
                ("last_day", models.DateField()),
                ("reason", models.CharField(blank=True, max_length=200)),
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
        ),
        migrations.CreateModel(
            name="ToolSet",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=60)),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tool_sets",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="component",
            name="tool_set",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="components",
                to="replacements.toolset",
            ),
        ),
        migrations.CreateModel(
            name="ToolSetFacts",
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
                ("instructions", models.CharField(max_length=200)),
                ("facts", models.JSONField(blank=True, default=dict)),
                ("groups", models.JSONField(blank=True, null=True)),
                ("entered_by", models.CharField(max_length=150)),
                ("entered_at", models.DateTimeField()),
                (
                    "tool_set",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="facts",
                        to="replacements.toolset",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="ToolStringPart",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("position", models.PositiveSmallIntegerField()),
                ("orientation", models.CharField(blank=True, max_length=24)),
                (
                    "component",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="uses",
                        to="replacements.component",
                    ),
                ),
                (
                    "tool_string",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="parts",
                        to="replacements.toolstringrecord",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="AssemblyAnswer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("check_key", models.CharField(max_length=40)),
                ("passed", models.BooleanField(null=True)),
                ("measured", models.FloatField(blank=True, null=True)),
                ("note", models.CharField(blank=True, max_length=200)),
                ("answered_by", models.CharField(max_length=150)),
                ("answered_at", models.DateTimeField()),
                (
                    "tool_string",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="answers",
                        to="replacements.toolstringrecord",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="WorkOrder",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.CharField(max_length=20, unique=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("PLANNED", "planned"),
                            ("RELEASED", "released to the contractor"),
                            ("HANDED_IN", "handed in, waiting for review"),
                            ("RETURNED", "returned with reasons"),
                            ("ACCEPTED", "accepted"),
                            ("CALLED_OFF", "called off"),
                        ],
                        default="PLANNED",
                        max_length=10,
                    ),
                ),
                ("method", models.CharField(default="SPLIT", max_length=12)),
                ("old_material", models.CharField(default="LEAD", max_length=22)),
                ("old_nominal_in", models.FloatField(blank=True, null=True)),
                ("old_grade", models.CharField(blank=True, max_length=20)),
                ("old_outside_in", models.FloatField(blank=True, null=True)),
                ("new_material", models.CharField(default="PE", max_length=22)),
                ("new_nominal_in", models.FloatField(default=1.0)),
                ("new_grade", models.CharField(default="CTS SDR 9", max_length=20)),
                ("length_ft", models.FloatField(blank=True, null=True)),
                ("cover_ft", models.FloatField(blank=True, null=True)),
                ("soil", models.CharField(blank=True, max_length=30)),
                ("groundwater", models.BooleanField(blank=True, null=True)),
                ("bends", models.JSONField(blank=True, default=list)),
                ("joints", models.JSONField(blank=True, default=list)),
                ("snaking_deg_per_10_ft", models.FloatField(blank=True, null=True)),
                ("surfaces", models.JSONField(blank=True, default=list)),
                ("ground_conditions", models.JSONField(blank=True, default=list)),
                ("required_cover_ft", models.FloatField(blank=True, null=True)),
                ("frozen_to_ft", models.FloatField(blank=True, null=True)),
                ("other_lines_looked_for_on", models.DateField(blank=True, null=True)),
                ("safety", models.JSONField(blank=True, default=dict)),
                ("due_on", models.DateField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
                ("created_by", models.CharField(max_length=150)),
                ("created_at", models.DateTimeField()),
                ("released_at", models.DateTimeField(blank=True, null=True)),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="work_orders",
                        to="replacements.contractor",
                    ),
                ),
                (
                    "crew",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="work_orders",
                        to="replacements.crew",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="work_orders",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
            options={
                "permissions": [
                    ("view_all_work", "Can see the work of every contractor"),
                    ("plan_work", "Can create, release and call off work orders"),
                    ("do_work", "Can hand in tool strings, pull and completion records"),
                    ("review_work", "Can accept or return completion records"),
                    ("record_access", "Can record contact attempts and consent"),
                ],
            },
        ),
        migrations.AddField(
            model_name="toolstringrecord",
            name="work_order",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="tool_strings",
                to="replacements.workorder",
            ),
        ),
        migrations.AddField(
            model_name="pullrecord",
            name="work_order",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="pulls",
                to="replacements.workorder",
            ),
        ),
        migrations.CreateModel(
            name="PhotoFacts",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("latitude", models.FloatField(blank=True, null=True)),
                ("longitude", models.FloatField(blank=True, null=True)),
                ("taken_at", models.CharField(blank=True, max_length=40)),
                ("distance_m", models.FloatField(blank=True, null=True)),
                (
                    "original_sha256",
                    models.CharField(blank=True, db_default="", default="", max_length=64),
                ),
                ("likeness", models.BigIntegerField(blank=True, null=True)),
                ("brightness", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "document",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photo_facts",
                        to="services_inventory.document",
                    ),
                ),
                (
                    "work_order",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photos",
                        to="replacements.workorder",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "photo facts",
            },
        ),
        migrations.CreateModel(
            name="NearbyLine",
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
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("WATER", "water"),
                            ("SEWER", "sewer"),
                            ("STORM", "storm"),
                            ("GAS", "gas"),
                            ("ELECTRIC", "electric"),
                            ("FIBRE", "fibre"),
                            ("TELEPHONE", "telephone"),
                            ("STEAM", "steam"),
                            ("OTHER", "other"),
                        ],
                        max_length=12,
                    ),
                ),
                ("crossing", models.BooleanField(default=True)),
                ("at_ft", models.FloatField(blank=True, null=True)),
                ("separation_in", models.FloatField(blank=True, null=True)),
                ("exposed", models.BooleanField(default=False)),
                ("rigid", models.BooleanField(default=False)),
                ("relieved", models.BooleanField(default=False)),
                ("note", models.CharField(blank=True, max_length=200)),
                (
                    "work_order",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="nearby_lines",
                        to="replacements.workorder",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="livefeed",
            name="work_order",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="live_feeds",
                to="replacements.workorder",
            ),
        ),
        migrations.CreateModel(
            name="ForceEstimateRecord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("parameter_set", models.CharField(max_length=64)),
                ("case", models.JSONField()),
                ("result", models.JSONField()),
                ("verdict", models.CharField(max_length=8)),
                ("low_lbf", models.FloatField()),
                ("expected_lbf", models.FloatField()),
                ("high_lbf", models.FloatField()),
                ("made_by", models.CharField(max_length=150)),
                ("made_at", models.DateTimeField()),
                (
                    "work_order",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="estimates",
                        to="replacements.workorder",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="completionrecord",
            name="work_order",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="completions",
                to="replacements.workorder",
            ),
        ),
        migrations.CreateModel(
            name="WorkOrderChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("from_state", models.CharField(blank=True, max_length=10)),
                ("to_state", models.CharField(max_length=10)),
                ("reason", models.TextField(blank=True)),
                ("changed_by", models.CharField(max_length=150)),
                ("changed_at", models.DateTimeField()),
                (
                    "work_order",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="changes",
                        to="replacements.workorder",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="WorkPackage",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                ("year", models.PositiveSmallIntegerField()),
                ("due_on", models.DateField(blank=True, null=True)),
                ("created_by", models.CharField(max_length=150)),
                ("created_at", models.DateTimeField()),
                (
                    "contractor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="packages",
                        to="replacements.contractor",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="workorder",
            name="package",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="work_orders",
                to="replacements.workpackage",
            ),
        ),
        migrations.CreateModel(
            name="CompletionReview",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "answer",
                    models.CharField(
                        choices=[
                            ("ACCEPTED", "accepted"),
                            ("RETURNED", "returned"),
                            ("TAKEN_BACK", "taken back"),
                        ],
                        max_length=10,
                    ),
                ),
                ("reasons", models.TextField(blank=True)),
                ("mend", models.JSONField(blank=True, default=dict)),
                ("reviewed_by", models.CharField(max_length=150)),
                ("reviewed_at", models.DateTimeField()),
                (
                    "completion",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="review",
                        to="replacements.completionrecord",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", "RETURNED"), _negated=True),
                            models.Q(("reasons", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="returned_work_says_why",
                    )
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="changeorder",
            constraint=models.UniqueConstraint(
                fields=("contractor", "number"), name="change_order_once"
            ),
        ),
        migrations.AddIndex(
            model_name="appointment",
            index=models.Index(fields=["line", "starts_at"], name="appointment_line_start"),
        ),
        migrations.AddConstraint(
            model_name="appointment",
            constraint=models.CheckConstraint(
                condition=models.Q(("ends_at__gt", models.F("starts_at"))),
                name="appointment_ends_after_it_starts",
            ),
        ),
        migrations.AddConstraint(
            model_name="contractterms",
            constraint=models.CheckConstraint(
                condition=models.Q(("retainage_percent__gte", 0), ("retainage_percent__lte", 100)),
                name="retainage_is_a_share",
            ),
        ),
        migrations.AddConstraint(
            model_name="crew",
            constraint=models.UniqueConstraint(
                fields=("contractor", "name"), name="crew_name_per_contractor"
            ),
        ),
        migrations.AddIndex(
            model_name="livesample",
            index=models.Index(fields=["feed", "time_s"], name="live_sample_time"),
        ),
        migrations.AddConstraint(
            model_name="livesample",
            constraint=models.UniqueConstraint(
                fields=("feed", "sequence"), name="live_sample_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="materiallot",
            constraint=models.UniqueConstraint(
                fields=("contractor", "lot"), name="lot_per_contractor"
            ),
        ),
        migrations.AddConstraint(
            model_name="ownerchange",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at__isnull", True)),
                fields=("premise", "changed_on"),
                name="one_change_of_owner_a_day",
            ),
        ),
        migrations.AddConstraint(
            model_name="ownerchange",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn_at__isnull", True),
                    models.Q(("withdrawn_reason", ""), _negated=True),
                    _connector="OR",
                ),
                name="withdrawn_owner_change_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="payitem",
            constraint=models.UniqueConstraint(
                fields=("contractor", "code", "valid_from"), name="item_code_once_per_day"
            ),
        ),
        migrations.AddConstraint(
            model_name="payitem",
            constraint=models.CheckConstraint(
                condition=models.Q(("unit_price__gte", 0)), name="item_price_not_negative"
            ),
        ),
        migrations.AddConstraint(
            model_name="payitem",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("valid_to__isnull", True),
                    ("valid_to__gt", models.F("valid_from")),
                    _connector="OR",
                ),
                name="item_ends_after_it_starts",
            ),
        ),
        migrations.AddConstraint(
            model_name="paymentstatement",
            constraint=models.UniqueConstraint(
                fields=("contractor", "number"), name="statement_number_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="paymentstatement",
            constraint=models.CheckConstraint(
                condition=models.Q(("period_to__gte", models.F("period_from"))),
                name="statement_period_in_order",
            ),
        ),
        migrations.AddConstraint(
            model_name="paymentstatement",
            constraint=models.CheckConstraint(
                condition=models.Q(("retainage_released__gte", 0)), name="released_not_negative"
            ),
        ),
        migrations.AddConstraint(
            model_name="pullexplanation",
            constraint=models.CheckConstraint(
                condition=models.Q(("pull", None), ("feed", None), _connector="XOR"),
                name="explains_one_pull",
            ),
        ),
        migrations.AddConstraint(
            model_name="reinspection",
            constraint=models.UniqueConstraint(
                fields=("draw", "position"), name="reinspection_place_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="reinspection",
            constraint=models.UniqueConstraint(
                fields=("draw", "completion"), name="reinspected_once_in_a_draw"
            ),
        ),
        migrations.AddConstraint(
            model_name="reinspection",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("result__in", ("", "AS_RECORDED")),
                    models.Q(("note", ""), _negated=True),
                    _connector="OR",
                ),
                name="reinspection_says_what_differs",
            ),
        ),
        migrations.AddConstraint(
            model_name="statementline",
            constraint=models.UniqueConstraint(
                condition=models.Q(("completion__isnull", False)),
                fields=("completion", "code"),
                name="record_paid_once_for_an_item",
            ),
        ),
        migrations.AddConstraint(
            model_name="statementline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("change_order__isnull", True),
                        ("completion__isnull", False),
                        ("item__isnull", False),
                    ),
                    models.Q(
                        ("change_order__isnull", False),
                        ("completion__isnull", True),
                        ("item__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="line_is_work_or_change",
            ),
        ),
        migrations.AddIndex(
            model_name="streetclosure",
            index=models.Index(fields=["street_key", "last_day"], name="closure_street"),
        ),
        migrations.AddConstraint(
            model_name="streetclosure",
            constraint=models.CheckConstraint(
                condition=models.Q(("side__in", ["BOTH", "EVEN", "ODD"])), name="closure_side"
            ),
        ),
        migrations.AddConstraint(
            model_name="streetclosure",
            constraint=models.CheckConstraint(
                condition=models.Q(("first_day__lte", models.F("last_day"))),
                name="closure_days_in_order",
            ),
        ),
        migrations.AddConstraint(
            model_name="streetclosure",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("first_number__isnull", True), ("last_number__isnull", True)),
                    ("first_number__lte", models.F("last_number")),
                    _connector="OR",
                ),
                name="closure_numbers_in_order",
            ),
        ),
        migrations.AddConstraint(
            model_name="toolset",
            constraint=models.UniqueConstraint(
                fields=("contractor", "name"), name="tool_set_name_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="component",
            constraint=models.UniqueConstraint(
                fields=("contractor", "mark"), name="component_mark_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="toolstringpart",
            constraint=models.UniqueConstraint(
                fields=("tool_string", "position"), name="part_position_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="photofacts",
            constraint=models.UniqueConstraint(
                fields=("document", "work_order"), name="photo_once_per_order"
            ),
        ),
        migrations.AddConstraint(
            model_name="nearbyline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "kind__in",
                        [
                            "WATER",
                            "SEWER",
                            "STORM",
                            "GAS",
                            "ELECTRIC",
                            "FIBRE",
                            "TELEPHONE",
                            "STEAM",
                            "OTHER",
                        ],
                    )
                ),
                name="nearby_line_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="nearbyline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("separation_in__isnull", True), ("separation_in__gte", 0), _connector="OR"
                ),
                name="nearby_line_separation",
            ),
        ),
        migrations.AddConstraint(
            model_name="livefeed",
            constraint=models.UniqueConstraint(fields=("work_order", "key"), name="live_feed_once"),
        ),
        migrations.AddConstraint(
            model_name="completionrecord",
            constraint=models.UniqueConstraint(
                fields=("work_order", "revision"), name="revision_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="workpackage",
            constraint=models.UniqueConstraint(
                fields=("contractor", "name"), name="package_name_once"
            ),
        ),
        migrations.AddIndex(
            model_name="workorder",
            index=models.Index(fields=["contractor", "state", "id"], name="order_contractor_state"),
        ),
        migrations.AddIndex(
            model_name="workorder",
            index=models.Index(fields=["state", "id"], name="order_state_id"),
        ),
        migrations.AddConstraint(
            model_name="workorder",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state__in", ("PLANNED", "RELEASED", "HANDED_IN", "RETURNED"))),
                fields=("line",),
                name="one_open_order_per_line",
            ),
        ),
        migrations.AddConstraint(
            model_name="workorder",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("length_ft__isnull", True), ("length_ft__gt", 0), _connector="OR"
                ),
                name="order_length_positive",
            ),
        ),
    ]
