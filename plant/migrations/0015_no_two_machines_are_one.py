import uuid

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("plant", "0014_every_machine_has_an_identity")]

    operations = [
        migrations.AlterField("machine", "uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
        migrations.AlterField(
            "historicalmachine", "uuid", models.UUIDField(db_index=True, default=uuid.uuid4, editable=False)
        ),
    ]
