import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("otp_totp", "0003_add_timestamps"),
        ("replacements", "0001_initial"),
        ("services_inventory", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="FirstHourSkip",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("step", models.CharField(max_length=20, unique=True)),
                ("skipped_by", models.CharField(max_length=150)),
                ("skipped_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="InspectionDraw",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("drawn_on", models.DateField()),
                ("drawn_by", models.CharField(max_length=150)),
                ("drawn_at", models.DateTimeField()),
                ("budget", models.PositiveIntegerField()),
                ("random_share", models.FloatField()),
                ("seed", models.PositiveIntegerField()),
                ("unknown", models.PositiveIntegerField()),
                ("listed", models.JSONField(default=dict)),
            ],
        ),
        migrations.CreateModel(
            name="LostDay",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("day", models.DateField()),
                ("crew", models.PositiveSmallIntegerField(null=True)),
                ("reason", models.CharField(max_length=200)),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                ("taken_back_by", models.CharField(blank=True, max_length=150)),
                ("taken_back_at", models.DateTimeField(null=True)),
            ],
        ),
        migrations.CreateModel(
            name="PlanDocument",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField(unique=True)),
                ("as_of", models.DateField()),
                ("facts", models.JSONField()),
                ("missing", models.JSONField(blank=True, default=list)),
                ("what_changed", models.TextField(blank=True)),
                ("path", models.CharField(max_length=300)),
                ("sha256", models.CharField(max_length=64)),
                ("bytes", models.PositiveBigIntegerField()),
                ("pages", models.PositiveIntegerField()),
                ("previous_sha256", models.CharField(blank=True, max_length=64)),
                ("frozen_by", models.CharField(max_length=150)),
                ("frozen_at", models.DateTimeField()),
                ("published_by", models.CharField(blank=True, max_length=150)),
                ("published_at", models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name="PoolFreeze",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("program_year", models.PositiveSmallIntegerField(unique=True)),
                ("frozen_for", models.DateField()),
                ("size", models.PositiveIntegerField()),
                ("lead", models.PositiveIntegerField(default=0)),
                ("grr", models.PositiveIntegerField(default=0)),
                ("unknown", models.PositiveIntegerField(default=0)),
                ("carried", models.PositiveIntegerField(default=0)),
                ("added", models.PositiveIntegerField(default=0)),
                ("removed", models.PositiveIntegerField(default=0)),
                ("line_list_sha256", models.CharField(blank=True, max_length=64)),
                ("frozen_by", models.CharField(max_length=150)),
                ("frozen_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="RowDigestsTaken",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("stream", models.CharField(max_length=80)),
                ("sha256", models.CharField(max_length=64)),
                ("taken_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Utility",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=160)),
                ("pwsid", models.CharField(blank=True, max_length=20)),
                ("state", models.CharField(blank=True, max_length=2)),
                ("time_zone", models.CharField(blank=True, default="", max_length=40)),
                ("population", models.PositiveIntegerField(default=0)),
                ("connections", models.PositiveIntegerField(blank=True, null=True)),
                ("contact", models.CharField(blank=True, max_length=200)),
                ("phone", models.CharField(blank=True, max_length=40)),
                ("email", models.EmailField(blank=True, max_length=254)),
                (
                    "website",
                    models.CharField(blank=True, db_default="", default="", max_length=200),
                ),
                ("return_address", models.TextField(blank=True)),
                ("never_had_lead", models.BooleanField(default=False)),
                ("tile_address", models.CharField(blank=True, max_length=300)),
                ("publish_addresses", models.BooleanField(default=True)),
                ("clock_stands_at", models.DateField(blank=True, null=True)),
            ],
            options={
                "verbose_name_plural": "utilities",
                "permissions": [
                    ("view_boards", "Can see the program boards"),
                    ("manage_program", "Can plan, freeze pools and adopt a plan"),
                    ("manage_utility", "Can change the utility's particulars and rule values"),
                ],
            },
        ),
        migrations.CreateModel(
            name="ValueTick",
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
                ("value_id", models.CharField(db_index=True, max_length=80)),
                ("value", models.CharField(max_length=200)),
                ("confirms", models.BooleanField(default=True)),
                ("citation", models.CharField(blank=True, max_length=200)),
                ("text", models.TextField(blank=True)),
                ("read_where", models.CharField(max_length=300)),
                ("ticked_by", models.CharField(max_length=150)),
                ("ticked_at", models.DateTimeField()),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Telephone",
            fields=[],
            options={
                "proxy": True,
                "indexes": [],
                "constraints": [],
            },
            bases=("otp_totp.totpdevice",),
        ),
        migrations.CreateModel(
            name="Inquiry",
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
                            ("WRONG_CATEGORY", "the category is wrong"),
                            ("REPLACED_BY_OWNER", "the owner had the line replaced"),
                            ("PIPE_PHOTO", "a photo of the pipe, to be looked at"),
                            ("OWNER_PLANS", "the owner plans to replace their side"),
                            ("WATER_TEST", "asks for a water test"),
                        ],
                        max_length=20,
                    ),
                ),
                ("address_given", models.CharField(max_length=200)),
                ("name", models.CharField(blank=True, max_length=120)),
                ("contact", models.CharField(blank=True, max_length=200)),
                ("message", models.TextField(blank=True)),
                ("received_on", models.DateField()),
                ("due_on", models.DateField(blank=True, null=True)),
                ("answered_on", models.DateField(blank=True, null=True)),
                ("answer", models.TextField(blank=True)),
                ("answered_by", models.CharField(blank=True, max_length=150)),
                ("language", models.CharField(db_default="en", default="en", max_length=8)),
                ("inspection_note", models.TextField(blank=True, db_default="", default="")),
                ("inspection_ordered_on", models.DateField(blank=True, null=True)),
                (
                    "inspection_ordered_by",
                    models.CharField(blank=True, db_default="", default="", max_length=150),
                ),
                ("offered_on", models.DateField(blank=True, null=True)),
                ("inspected_on", models.DateField(blank=True, null=True)),
                ("replaced_on", models.DateField(blank=True, null=True)),
                (
                    "line",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inquiries",
                        to="services_inventory.serviceline",
                    ),
                ),
                (
                    "photo",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "inquiries",
                "permissions": [("answer_inquiry", "Can answer customers' inquiries")],
            },
        ),
        migrations.CreateModel(
            name="CustomerWork",
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
                ("told_on", models.DateField()),
                ("planned_on", models.DateField(blank=True, null=True)),
                ("source", models.CharField(max_length=300)),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="customer_works",
                        to="services_inventory.serviceline",
                    ),
                ),
                (
                    "inquiry",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="customer_works",
                        to="program.inquiry",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="LayoutVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("layout_id", models.CharField(max_length=40)),
                ("version", models.PositiveIntegerField()),
                ("name", models.CharField(max_length=200)),
                ("text", models.TextField()),
                ("what_changed", models.CharField(blank=True, max_length=300)),
                ("saved_by", models.CharField(max_length=150)),
                ("saved_at", models.DateTimeField()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("layout_id", "version"), name="layout_version_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="MapKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("shown", models.CharField(max_length=6)),
                ("secret_sha256", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("last_used_at", models.DateTimeField(null=True)),
                ("ended_at", models.DateTimeField(null=True)),
                ("ended_by", models.CharField(blank=True, max_length=150)),
                (
                    "account",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="map_keys",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="NoticeBatch",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=30)),
                ("year", models.PositiveSmallIntegerField()),
                ("made_by", models.CharField(max_length=150)),
                ("made_at", models.DateTimeField()),
                ("letters", models.PositiveIntegerField(default=0)),
                ("languages", models.CharField(blank=True, max_length=40)),
                ("due_by", models.DateField(blank=True, null=True)),
                ("files", models.JSONField(blank=True, default=list)),
                ("delivered_on", models.DateField(blank=True, null=True)),
                ("delivered_by", models.CharField(blank=True, max_length=30)),
                (
                    "batch",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.batch",
                    ),
                ),
                (
                    "proof",
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
            name="Notice",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=30)),
                ("due_on", models.DateField()),
                ("rule_id", models.CharField(max_length=80)),
                ("how_computed", models.TextField(blank=True)),
                ("delivered_on", models.DateField(blank=True, null=True)),
                ("delivered_by", models.CharField(blank=True, max_length=30)),
                ("returned_on", models.DateField(blank=True, null=True)),
                ("recorded_by", models.CharField(blank=True, max_length=150)),
                ("subject", models.CharField(blank=True, db_default="", default="", max_length=60)),
                ("values", models.JSONField(blank=True, default=dict)),
                ("language", models.CharField(blank=True, db_default="", default="", max_length=8)),
                ("withdrawn_on", models.DateField(blank=True, null=True)),
                (
                    "withdrawn_why",
                    models.CharField(blank=True, db_default="", default="", max_length=200),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to="services_inventory.serviceline",
                    ),
                ),
                (
                    "notice_batch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to="program.noticebatch",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="DeliveryCorrection",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("was_on", models.DateField()),
                ("was_by", models.CharField(blank=True, max_length=30)),
                ("now_on", models.DateField(null=True)),
                ("now_by", models.CharField(blank=True, max_length=30)),
                ("notices", models.PositiveIntegerField(default=1)),
                ("why", models.CharField(max_length=200)),
                ("recorded_by", models.CharField(max_length=150)),
                ("recorded_at", models.DateTimeField()),
                (
                    "notice",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrections",
                        to="program.notice",
                    ),
                ),
                (
                    "notice_batch",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrections",
                        to="program.noticebatch",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="NoticeReturn",
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
                ("sent_on", models.DateField()),
                ("means", models.CharField(blank=True, max_length=30)),
                ("returned_on", models.DateField()),
                ("why", models.CharField(blank=True, max_length=200)),
                (
                    "notice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="returns",
                        to="program.notice",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="NoticeSlot",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=30)),
                ("slot", models.CharField(max_length=40)),
                ("language", models.CharField(default="en", max_length=8)),
                ("text", models.TextField(blank=True)),
                ("taken_from", models.CharField(blank=True, max_length=300)),
                ("filled_by", models.CharField(max_length=150)),
                ("filled_at", models.DateTimeField()),
            ],
            options={
                "permissions": [("send_notices", "Can prepare and send notices")],
                "constraints": [
                    models.UniqueConstraint(fields=("kind", "slot", "language"), name="slot_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="OutreachPartner",
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
                    "audience",
                    models.CharField(
                        choices=[
                            ("HEALTH", "health agencies"),
                            ("SCHOOL", "schools and child care"),
                            ("PLUMBER", "plumbers and contractors"),
                            ("COMMUNITY", "community groups and the public"),
                        ],
                        max_length=10,
                    ),
                ),
                ("name", models.CharField(max_length=160)),
                ("reached_at", models.CharField(blank=True, max_length=200)),
                ("since", models.DateField()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at__isnull", True)),
                        fields=("audience", "name"),
                        name="outreach_partner_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at__isnull", True),
                            models.Q(("withdrawn_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="withdrawn_partner_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="OutreachAct",
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
                ("done_on", models.DateField()),
                ("what", models.CharField(max_length=300)),
                ("proof_words", models.CharField(blank=True, max_length=300)),
                (
                    "proof",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
                (
                    "partners",
                    models.ManyToManyField(related_name="acts", to="program.outreachpartner"),
                ),
            ],
        ),
        migrations.CreateModel(
            name="OwnValue",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "act",
                    models.CharField(
                        choices=[("SET", "set"), ("END", "ended"), ("WITHDRAW", "taken back")],
                        default="SET",
                        max_length=8,
                    ),
                ),
                ("value_id", models.CharField(max_length=80)),
                ("jurisdiction", models.CharField(max_length=40)),
                ("value", models.JSONField(null=True)),
                ("before", models.JSONField(null=True)),
                ("effective_from", models.DateField()),
                ("citation", models.CharField(blank=True, max_length=200)),
                ("author", models.CharField(max_length=150)),
                ("reason", models.TextField()),
                ("recorded_at", models.DateTimeField()),
                (
                    "about",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="later_rows",
                        to="program.ownvalue",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PeopleChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("what", models.CharField(max_length=60)),
                ("before", models.JSONField(blank=True, default=dict)),
                ("after", models.JSONField(blank=True, default=dict)),
                ("reason", models.CharField(blank=True, max_length=300)),
                ("changed_by", models.CharField(max_length=150)),
                ("changed_at", models.DateTimeField()),
                (
                    "account",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="changes",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "company",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="changes",
                        to="replacements.contractor",
                    ),
                ),
            ],
            options={
                "permissions": [
                    ("manage_people", "Can let people in and change what they may do"),
                    ("view_people", "Can see who was let in, and who signed in"),
                ],
            },
        ),
        migrations.CreateModel(
            name="PersonalOpened",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("opened_by", models.CharField(max_length=150)),
                ("page", models.CharField(max_length=60)),
                ("of", models.CharField(blank=True, max_length=60)),
                ("at", models.DateTimeField()),
            ],
            options={
                "indexes": [models.Index(fields=["-at"], name="opened_latest")],
            },
        ),
        migrations.CreateModel(
            name="Plan",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("DRAWN", "drawn"),
                            ("ADOPTED", "adopted"),
                            ("SUPERSEDED", "superseded"),
                        ],
                        default="DRAWN",
                        max_length=10,
                    ),
                ),
                ("settings", models.JSONField(default=dict)),
                ("result", models.JSONField(default=dict)),
                ("forecast", models.JSONField(blank=True, default=dict)),
                ("status", models.CharField(blank=True, max_length=30)),
                ("gap", models.FloatField(blank=True, null=True)),
                ("drawn_on", models.DateField()),
                ("drawn_by", models.CharField(max_length=150)),
                ("drawn_at", models.DateTimeField()),
                ("adopted_by", models.CharField(blank=True, max_length=150)),
                ("adopted_at", models.DateTimeField(blank=True, null=True)),
                (
                    "packages",
                    models.ManyToManyField(
                        blank=True, related_name="+", to="replacements.workpackage"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PlanAdoption",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("reason", models.TextField(blank=True)),
                ("adopted_by", models.CharField(max_length=150)),
                ("adopted_at", models.DateTimeField()),
                ("undone_because", models.TextField(blank=True)),
                ("undone_by", models.CharField(blank=True, max_length=150)),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
                (
                    "instead_of",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="program.plan",
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="adoptions",
                        to="program.plan",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PlanArea",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=80)),
                ("name", models.CharField(max_length=160)),
                ("jobs", models.PositiveIntegerField()),
                ("lead", models.PositiveIntegerField(default=0)),
                ("grr", models.PositiveIntegerField(default=0)),
                ("unknown", models.PositiveIntegerField(default=0)),
                ("cost", models.FloatField(default=0)),
                ("score", models.FloatField(default=0)),
                ("score_parts", models.JSONField(blank=True, default=dict)),
                ("program_year", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("crew", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("order_in_year", models.PositiveIntegerField(blank=True, null=True)),
                ("starts_on", models.DateField(blank=True, null=True)),
                ("ends_on", models.DateField(blank=True, null=True)),
                ("locked", models.BooleanField(default=False)),
                ("closed", models.JSONField(blank=True, default=list)),
                ("latitude", models.FloatField(blank=True, null=True)),
                ("longitude", models.FloatField(blank=True, null=True)),
                (
                    "neighborhood",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.neighborhood",
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="areas",
                        to="program.plan",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PlanAreaLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="lines",
                        to="program.planarea",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.serviceline",
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="area_lines",
                        to="program.plan",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PlanEdit",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("what", models.CharField(max_length=400)),
                ("by", models.CharField(max_length=150)),
                ("at", models.DateTimeField()),
                ("before", models.JSONField(default=list)),
                ("made", models.JSONField(default=list)),
                ("undone_by", models.CharField(blank=True, max_length=150)),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="edits",
                        to="program.plan",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PlanStatement",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("year", models.PositiveSmallIntegerField()),
                (
                    "says",
                    models.CharField(
                        choices=[
                            ("UPDATED", "The plan is updated with new information"),
                            ("UNCHANGED", "Nothing in the plan has changed"),
                        ],
                        max_length=10,
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                ("title", models.CharField(max_length=150)),
                ("statement", models.TextField()),
                ("stated_by", models.CharField(max_length=150)),
                ("stated_at", models.DateTimeField()),
                (
                    "document",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="statements",
                        to="program.plandocument",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PlanText",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("element", models.CharField(max_length=40)),
                ("version", models.PositiveIntegerField()),
                ("text", models.TextField(blank=True)),
                ("taken_from", models.CharField(blank=True, max_length=300)),
                ("written_by", models.CharField(max_length=150)),
                ("written_at", models.DateTimeField()),
            ],
            options={
                "permissions": [
                    ("write_plan", "Can write and freeze the replacement plan document")
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("element", "version"), name="plan_text_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="PoolLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("category", models.CharField(max_length=8)),
                ("why", models.CharField(default="POOL", max_length=12)),
                (
                    "freeze",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lines",
                        to="program.poolfreeze",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Proof",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("CHECKED", "The record agrees with itself and its seals"),
                            ("RESTORED", "Proved restorable"),
                        ],
                        max_length=8,
                    ),
                ),
                ("held", models.BooleanField()),
                ("about", models.CharField(blank=True, max_length=120)),
                ("at", models.DateTimeField()),
            ],
            options={
                "indexes": [models.Index(fields=["what", "-id"], name="proofs_latest")],
            },
        ),
        migrations.CreateModel(
            name="Purge",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("erased", models.JSONField()),
                ("reason", models.CharField(max_length=300)),
                ("purged_by", models.CharField(max_length=150)),
                ("purged_at", models.DateTimeField()),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="purges",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="RecoveryCode",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code_sha256", models.CharField(max_length=64)),
                ("used_at", models.DateTimeField(null=True)),
                (
                    "account",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="recovery_codes",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ResultFile",
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
                ("received_on", models.DateField()),
                ("rows", models.PositiveIntegerField()),
                ("notes", models.JSONField(blank=True, default=list)),
                (
                    "document",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        to="services_inventory.document",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="RowDigests",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("stream", models.CharField(max_length=80)),
                ("block", models.BigIntegerField()),
                ("content", models.BinaryField()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("stream", "block"), name="digests_of_a_block_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SamplingPeriod",
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
                ("first_day", models.DateField()),
                ("last_day", models.DateField()),
                ("required", models.PositiveIntegerField()),
                ("reduced", models.BooleanField(default=False)),
            ],
            options={
                "permissions": [
                    ("record_samples", "Can record tap samples, exceedances and outreach")
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("last_day__gte", models.F("first_day"))),
                        name="period_ends_after_it_begins",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at__isnull", True),
                            models.Q(("withdrawn_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="withdrawn_period_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Exceedance",
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
                ("learned_at", models.DateTimeField()),
                ("found", models.CharField(max_length=200)),
                (
                    "period",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="exceedances",
                        to="program.samplingperiod",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Seal",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("stream", models.CharField(max_length=80)),
                ("rows", models.PositiveIntegerField()),
                ("last_id", models.BigIntegerField()),
                ("last_moment", models.DateTimeField(blank=True, null=True)),
                ("digest", models.CharField(max_length=64)),
                ("head", models.CharField(max_length=64)),
                ("sealed_at", models.DateTimeField()),
            ],
            options={
                "indexes": [models.Index(fields=["stream", "id"], name="seals_of_a_stream")],
            },
        ),
        migrations.CreateModel(
            name="SignedIn",
            fields=[
                (
                    "session_key",
                    models.CharField(
                        max_length=40, primary_key=True, serialize=False, verbose_name="session key"
                    ),
                ),
                ("session_data", models.TextField(verbose_name="session data")),
                ("expire_date", models.DateTimeField(db_index=True, verbose_name="expire date")),
                ("came_from", models.CharField(blank=True, max_length=64)),
                ("browser", models.CharField(blank=True, max_length=60)),
                ("begun_at", models.DateTimeField(null=True)),
                ("seen_at", models.DateTimeField(null=True)),
                (
                    "account",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sessions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "session",
                "verbose_name_plural": "sessions",
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Submission",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("year", models.PositiveSmallIntegerField()),
                ("revision", models.PositiveSmallIntegerField(default=1)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("DRAFT", "draft"),
                            ("FROZEN", "frozen"),
                            ("CERTIFIED", "certified"),
                            ("REPLACED", "replaced by an amendment"),
                        ],
                        default="DRAFT",
                        max_length=10,
                    ),
                ),
                ("as_of", models.DateField()),
                ("known_at", models.DateTimeField(blank=True, null=True)),
                ("facts", models.JSONField(blank=True, default=dict)),
                ("open_questions", models.JSONField(blank=True, default=list)),
                ("what_changed", models.TextField(blank=True)),
                ("digest", models.CharField(blank=True, max_length=64)),
                ("previous_digest", models.CharField(blank=True, max_length=64)),
                ("frozen_by", models.CharField(blank=True, max_length=150)),
                ("frozen_at", models.DateTimeField(blank=True, null=True)),
                ("certified_by", models.CharField(blank=True, max_length=150)),
                ("certified_title", models.CharField(blank=True, max_length=150)),
                ("certified_statement", models.TextField(blank=True)),
                ("certified_at", models.DateTimeField(blank=True, null=True)),
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
                "permissions": [
                    ("prepare_submission", "Can draft and freeze an annual submission"),
                    ("certify_submission", "Can certify an annual submission"),
                ],
            },
        ),
        migrations.CreateModel(
            name="SubmissionFile",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=20)),
                ("path", models.CharField(max_length=300)),
                ("sha256", models.CharField(max_length=64)),
                ("bytes", models.BigIntegerField()),
                ("rows", models.BigIntegerField(default=0)),
                (
                    "submission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="files",
                        to="program.submission",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="TapResult",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("row", models.PositiveIntegerField()),
                ("sampled_on", models.DateField(db_index=True)),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("COMPLIANCE", "for a monitoring period"),
                            ("FOLLOW_UP", "after a replacement, or a site sampled again"),
                            ("REQUESTED", "asked for by a customer"),
                        ],
                        max_length=10,
                    ),
                ),
                ("tier", models.PositiveSmallIntegerField(null=True)),
                ("tier_reason", models.CharField(max_length=200)),
                ("liter", models.PositiveSmallIntegerField(default=1)),
                ("metal", models.CharField(max_length=6)),
                ("written", models.CharField(max_length=60)),
                ("micrograms", models.DecimalField(decimal_places=6, max_digits=14)),
                ("below", models.BooleanField(default=False)),
                ("number", models.CharField(blank=True, max_length=60)),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="results",
                        to="program.resultfile",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="tap_results",
                        to="services_inventory.serviceline",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Invalidation",
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
                    "ground",
                    models.CharField(
                        choices=[
                            ("LABORATORY", "improper analysis at the laboratory"),
                            ("SITE", "the site did not meet the criteria"),
                            ("DAMAGED", "the bottle was damaged on the way"),
                            ("TAMPERED", "reason to believe that the sample was tampered with"),
                        ],
                        max_length=10,
                    ),
                ),
                ("decided_on", models.DateField()),
                ("decision", models.CharField(max_length=300)),
                (
                    "result",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invalidations",
                        to="program.tapresult",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="WrittenRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("table", models.CharField(max_length=80)),
                ("row_id", models.BigIntegerField(null=True)),
            ],
            options={
                "indexes": [
                    models.Index(fields=["table", "row_id"], name="written_rows_of_a_table")
                ],
            },
        ),
        migrations.CreateModel(
            name="CustomerWorkStep",
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
                            ("CUSTOMER_DONE", "the customer's side is replaced"),
                            ("SYSTEM_DONE", "the system side is replaced"),
                            ("EXTENDED", "the shorter time cannot be met"),
                            ("STATE_TOLD", "the State was told of the longer time"),
                        ],
                        max_length=13,
                    ),
                ),
                ("happened_on", models.DateField()),
                ("source", models.CharField(max_length=300)),
                (
                    "work",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="steps",
                        to="program.customerwork",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at__isnull", True)),
                        fields=("work", "kind"),
                        name="one_step_of_a_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdrawn_at__isnull", True),
                            models.Q(("withdrawn_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="withdrawn_step_says_why",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="DoneMark",
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
                ("key", models.CharField(max_length=200)),
                ("what", models.CharField(max_length=200)),
                ("done_on", models.DateField()),
                ("proof", models.CharField(max_length=300)),
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
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at__isnull", True)),
                        fields=("key",),
                        name="one_done_mark_per_deadline",
                    )
                ],
            },
        ),
        migrations.AddIndex(
            model_name="inquiry",
            index=models.Index(fields=["answered_on", "due_on"], name="inquiry_due"),
        ),
        migrations.AddConstraint(
            model_name="customerwork",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at__isnull", True)),
                fields=("line",),
                name="one_customer_work_per_line",
            ),
        ),
        migrations.AddConstraint(
            model_name="customerwork",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn_at__isnull", True),
                    models.Q(("withdrawn_reason", ""), _negated=True),
                    _connector="OR",
                ),
                name="withdrawn_customer_work_says_why",
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(fields=["delivered_on", "due_on"], name="notice_due"),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(
                condition=models.Q(("delivered_on__isnull", True), ("withdrawn_on__isnull", True)),
                fields=["kind", "due_on", "id"],
                name="notice_open",
            ),
        ),
        migrations.AddConstraint(
            model_name="notice",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_on__isnull", True)),
                fields=("line", "kind", "due_on", "subject"),
                name="notice_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="deliverycorrection",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("notice__isnull", True), ("notice_batch__isnull", True), _connector="XOR"
                ),
                name="correction_of_one_thing",
            ),
        ),
        migrations.AddConstraint(
            model_name="outreachact",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn_at__isnull", True),
                    models.Q(("withdrawn_reason", ""), _negated=True),
                    _connector="OR",
                ),
                name="withdrawn_outreach_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="ownvalue",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("about__isnull", True), ("act", "SET")),
                    models.Q(("about__isnull", False), ("act__in", ("END", "WITHDRAW"))),
                    _connector="OR",
                ),
                name="own_value_is_about_what_it_changes",
            ),
        ),
        migrations.AddIndex(
            model_name="peoplechange",
            index=models.Index(fields=["-changed_at"], name="people_changes_by_day"),
        ),
        migrations.AddConstraint(
            model_name="plan",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state", "ADOPTED")), fields=("state",), name="one_adopted_plan"
            ),
        ),
        migrations.AddConstraint(
            model_name="planarea",
            constraint=models.UniqueConstraint(fields=("plan", "key"), name="plan_area_once"),
        ),
        migrations.AddConstraint(
            model_name="planarealine",
            constraint=models.UniqueConstraint(fields=("plan", "line"), name="plan_line_once"),
        ),
        migrations.AddConstraint(
            model_name="poolline",
            constraint=models.UniqueConstraint(fields=("freeze", "line"), name="pool_line_once"),
        ),
        migrations.AddConstraint(
            model_name="resultfile",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at__isnull", True)),
                fields=("document",),
                name="result_file_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="resultfile",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn_at__isnull", True),
                    models.Q(("withdrawn_reason", ""), _negated=True),
                    _connector="OR",
                ),
                name="withdrawn_results_say_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="exceedance",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at__isnull", True)),
                fields=("period",),
                name="one_exceedance_of_a_period",
            ),
        ),
        migrations.AddConstraint(
            model_name="exceedance",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn_at__isnull", True),
                    models.Q(("withdrawn_reason", ""), _negated=True),
                    _connector="OR",
                ),
                name="withdrawn_exceedance_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="submission",
            constraint=models.UniqueConstraint(
                fields=("year", "revision"), name="submission_revision_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="submissionfile",
            constraint=models.UniqueConstraint(
                fields=("submission", "kind"), name="file_kind_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="invalidation",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at__isnull", True)),
                fields=("result",),
                name="one_invalidation_of_a_result",
            ),
        ),
        migrations.AddConstraint(
            model_name="invalidation",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn_at__isnull", True),
                    models.Q(("withdrawn_reason", ""), _negated=True),
                    _connector="OR",
                ),
                name="withdrawn_invalidation_says_why",
            ),
        ),
    ]
