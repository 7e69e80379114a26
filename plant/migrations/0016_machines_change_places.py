from django.db import migrations, models


class Migration(migrations.Migration):
    """At 0 a machine waits while others change places within one unit of work; none stays there."""

    dependencies = [("plant", "0015_no_two_machines_are_one")]

    operations = [
        migrations.RemoveConstraint("machine", "machine_position_1_to_6"),
        migrations.AddConstraint(
            "machine",
            models.CheckConstraint(condition=models.Q(position__gte=0, position__lte=6), name="machine_position_to_6"),
        ),
    ]
