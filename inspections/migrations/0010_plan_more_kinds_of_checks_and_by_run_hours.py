from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ('inspections', '0009_write_down_work_on_foundations_and_pipes'),
    ]

    operations = [
        migrations.AddField(
            model_name='historicalpolicy',
            name='after_other_work',
            field=models.BooleanField(default=False, help_text='The first check also after a re-alignment and after work on foundation or pipes.'),
        ),
        migrations.AddField(
            model_name='historicalpolicy',
            name='defer_days',
            field=models.PositiveSmallIntegerField(default=90, help_text='A check may be deferred at most so many days beyond its due date; 0: not at all.'),
        ),
        migrations.AddField(
            model_name='historicalpolicy',
            name='every_hours',
            field=models.FloatField(blank=True, help_text='Run hours since it was last done.', null=True),
        ),
        migrations.AddField(
            model_name='policy',
            name='after_other_work',
            field=models.BooleanField(default=False, help_text='The first check also after a re-alignment and after work on foundation or pipes.'),
        ),
        migrations.AddField(
            model_name='policy',
            name='defer_days',
            field=models.PositiveSmallIntegerField(default=90, help_text='A check may be deferred at most so many days beyond its due date; 0: not at all.'),
        ),
        migrations.AddField(
            model_name='policy',
            name='every_hours',
            field=models.FloatField(blank=True, help_text='Run hours since it was last done.', null=True),
        ),
        migrations.AlterField(
            model_name='check',
            name='kind',
            field=models.CharField(choices=[('alignment', 'Alignment'), ('torque', 'Torque re-check'), ('wear', 'Wear, stopped'), ('look', 'Running look'), ('lubricant', 'Lubricant'), ('element', 'Element replacement'), ('follow-up', 'Follow-up')], max_length=12),
        ),
        migrations.AlterField(
            model_name='historicalpolicy',
            name='check_kind',
            field=models.CharField(choices=[('alignment', 'Alignment'), ('torque', 'Torque re-check'), ('wear', 'Wear, stopped'), ('look', 'Running look'), ('lubricant', 'Lubricant'), ('element', 'Element replacement'), ('follow-up', 'Follow-up')], max_length=12),
        ),
        migrations.AlterField(
            model_name='policy',
            name='check_kind',
            field=models.CharField(choices=[('alignment', 'Alignment'), ('torque', 'Torque re-check'), ('wear', 'Wear, stopped'), ('look', 'Running look'), ('lubricant', 'Lubricant'), ('element', 'Element replacement'), ('follow-up', 'Follow-up')], max_length=12),
        ),
        migrations.AddConstraint(
            model_name='policy',
            constraint=models.CheckConstraint(condition=models.Q(('every_hours__isnull', True), models.Q(('every_hours__gte', 1), ('every_hours__lte', 200000)), _connector='OR'), name='inspections_policy_every_hours_within', violation_error_message='every_hours must lie between 1 and 200000.'),
        ),
        migrations.AddConstraint(
            model_name='policy',
            constraint=models.CheckConstraint(condition=models.Q(('defer_days__isnull', True), models.Q(('defer_days__gte', 0), ('defer_days__lte', 3650)), _connector='OR'), name='inspections_policy_defer_days_within', violation_error_message='defer_days must lie between 0 and 3650.'),
        ),
    ]
