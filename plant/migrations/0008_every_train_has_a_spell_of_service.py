from django.db import migrations


def open_spells(apps, schema_editor):
    """Every train gets its open spell, of the state it is in, since before the record began."""
    Train = apps.get_model("plant", "Train")
    ServiceSpell = apps.get_model("plant", "ServiceSpell")
    bare = Train.objects.filter(service_spells__isnull=True)
    ServiceSpell.objects.bulk_create(
        [
            ServiceSpell(site_id=site_id, train_id=pk, state=state)
            for pk, site_id, state in bare.values_list("pk", "site_id", "service")
        ],
        batch_size=500,
    )


def close_nothing(apps, schema_editor):
    """The state stands on the train as well, so nothing is lost with the spells."""
    apps.get_model("plant", "ServiceSpell").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [("plant", "0007_trains_keep_their_spells_of_service")]

    operations = [migrations.RunPython(open_spells, close_nothing)]
