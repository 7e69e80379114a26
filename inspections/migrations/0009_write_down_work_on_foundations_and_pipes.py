import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ('couplings', '0008_keep_calibrations_of_instruments'),
        ('plant', '0006_keep_invitations'),
        ('inspections', '0008_kinds_of_visits_and_the_steps_around_the_measuring'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='OtherWork',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uuid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_no', models.BigIntegerField(default=0, editable=False)),
                ('kind', models.CharField(choices=[('foundation', 'work on the foundation'), ('pipe', 'work on the pipes')], max_length=10)),
                ('on', models.DateField(help_text='Date at the site on which it was finished.')),
                ('note', models.CharField(blank=True, max_length=200)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-on', '-id'],
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='otherwork',
            name='by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='otherwork',
            name='coupling',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='other_works', to='couplings.coupling'),
        ),
        migrations.AddField(
            model_name='otherwork',
            name='site',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='plant.site'),
        ),
        migrations.AddIndex(
            model_name='otherwork',
            index=models.Index(fields=['site', 'changed_no'], name='otherwork_site_changed'),
        ),
        migrations.AddConstraint(
            model_name='otherwork',
            constraint=models.UniqueConstraint(fields=('coupling', 'kind', 'on'), name='other_work_once_per_day'),
        ),
    ]
