from django.db import migrations

COMMON = "common practice"


def name_source(apps, schema_editor):
    policies = apps.get_model("inspections", "Policy").objects.using(schema_editor.connection.alias)
    policies.filter(mark=COMMON, source="").update(source=COMMON)


class Migration(migrations.Migration):
    dependencies = [("inspections", "0017_name_the_source_of_policies")]
    operations = [migrations.RunPython(name_source, migrations.RunPython.noop)]
