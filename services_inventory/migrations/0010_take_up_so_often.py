from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("services_inventory", "0009_add_up_facts")]

    operations = [
        migrations.AddField(
            model_name="batch",
            name="taken_up",
            field=models.PositiveSmallIntegerField(default=0, db_default=0),
        ),
    ]
