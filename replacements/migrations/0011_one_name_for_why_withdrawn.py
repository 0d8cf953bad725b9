from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("replacements", "0010_string_limits_in_use")]

    operations = [
        migrations.RemoveConstraint("ownerchange", "withdrawn_owner_change_says_why"),
        migrations.RenameField("ownerchange", "withdrawn_why", "withdrawn_reason"),
        migrations.AddConstraint(
            "ownerchange",
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | ~Q(withdrawn_reason=""),
                name="withdrawn_owner_change_says_why",
            ),
        ),
        migrations.AlterField(
            "nearbyline", "withdrawn_reason", models.CharField(blank=True, max_length=300)
        ),
        migrations.AlterField(
            "pullrecord", "withdrawn_reason", models.CharField(blank=True, max_length=300)
        ),
    ]
