import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ('inspections', '0010_plan_more_kinds_of_checks_and_by_run_hours'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='check',
            name='cause',
            field=models.CharField(blank=True, help_text='Why it was cancelled.', max_length=200),
        ),
        migrations.AddField(
            model_name='check',
            name='deferred_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='check',
            name='deferred_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='check',
            name='deferred_reason',
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddField(
            model_name='check',
            name='deferred_until',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='check',
            name='ordered_on',
            field=models.DateField(blank=True, help_text='The date the work-order system gave.', null=True),
        ),
        migrations.AddField(
            model_name='check',
            name='owner',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='checks', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='check',
            name='pinned_on',
            field=models.DateField(blank=True, help_text='The day somebody planned it for; it stays there.', null=True),
        ),
        migrations.AddField(
            model_name='check',
            name='skipped',
            field=models.BooleanField(default=False, help_text='Somebody cancelled it: this one date is left out.'),
        ),
        migrations.AddConstraint(
            model_name='check',
            constraint=models.CheckConstraint(condition=models.Q(('deferred_until__isnull', True), models.Q(('deferred_reason', ''), _negated=True), _connector='OR'), name='deferred_only_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='check',
            constraint=models.CheckConstraint(condition=models.Q(('skipped', False), ('outcome', 'cancelled'), _connector='OR'), name='skipped_only_when_cancelled'),
        ),
    ]
