import uuid

from django.db import migrations

AT_ONCE = 500


def give(apps, schema_editor):
    """Each machine its own; what its history keeps of it carries the same, also of machines that are gone."""
    Machine = apps.get_model("plant", "Machine")
    Kept = apps.get_model("plant", "HistoricalMachine")
    standing = list(Machine.objects.filter(uuid__isnull=True).only("pk"))
    for machine in standing:
        machine.uuid = uuid.uuid4()
    Machine.objects.bulk_update(standing, ["uuid"], batch_size=AT_ONCE)
    known = dict(Machine.objects.values_list("pk", "uuid"))
    kept = list(Kept.objects.filter(uuid__isnull=True).only("pk", "id"))
    for row in kept:
        row.uuid = known.setdefault(row.id, uuid.uuid4())
    Kept.objects.bulk_update(kept, ["uuid"], batch_size=AT_ONCE)


class Migration(migrations.Migration):
    dependencies = [("plant", "0013_machines_have_an_identity")]

    operations = [migrations.RunPython(give, migrations.RunPython.noop)]
