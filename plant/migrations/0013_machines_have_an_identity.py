from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("plant", "0012_crew_hours_of_a_site_in_a_week")]

    operations = [
        migrations.AddField("machine", "uuid", models.UUIDField(editable=False, null=True)),
        migrations.AddField("historicalmachine", "uuid", models.UUIDField(editable=False, null=True)),
    ]
