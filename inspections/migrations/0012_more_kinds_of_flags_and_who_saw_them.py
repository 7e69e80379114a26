import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ('inspections', '0011_defer_pin_and_cancel_checks'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='flag',
            name='acknowledged_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='flag',
            name='acknowledged_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AlterField(
            model_name='flag',
            name='kind',
            field=models.CharField(choices=[('out-of-tolerance', 'out of tolerance'), ('overdue', 'overdue'), ('worn', 'worn out'), ('do-not-run', 'do not run'), ('left-so', 'signed with a reason'), ('loose', 'loose'), ('lost-twice', 'tightened and lost again'), ('element-age', 'element over age'), ('readings', 'readings poor'), ('instrument', 'instrument out of date'), ('hours-estimated', 'hours estimated too long'), ('survey-missing', 'survey missing')], max_length=20),
        ),
        migrations.AddConstraint(
            model_name='flag',
            constraint=models.CheckConstraint(condition=models.Q(('acknowledged_by__isnull', True), ('acknowledged_at__isnull', False), _connector='OR'), name='flag_acknowledged_by_somebody_at_a_time'),
        ),
    ]
