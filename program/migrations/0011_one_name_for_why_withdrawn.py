from django.db import migrations, models
from django.db.models import Q


def _renamed(model: str, constraint: str) -> list:
    return [
        migrations.RemoveConstraint(model, constraint),
        migrations.RenameField(model, "withdrawn_why", "withdrawn_reason"),
        migrations.AddConstraint(
            model,
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True) | ~Q(withdrawn_reason=""), name=constraint
            ),
        ),
    ]


class Migration(migrations.Migration):
    dependencies = [("program", "0010_write_plan")]

    operations = [
        *_renamed("customerwork", "withdrawn_customer_work_says_why"),
        *_renamed("customerworkstep", "withdrawn_step_says_why"),
        migrations.RenameField("noticereturn", "withdrawn_why", "withdrawn_reason"),
        migrations.AlterField(
            "noticereturn", "withdrawn_by", models.CharField(blank=True, max_length=150)
        ),
        migrations.AlterField(
            "noticereturn", "withdrawn_reason", models.CharField(blank=True, max_length=300)
        ),
    ]
