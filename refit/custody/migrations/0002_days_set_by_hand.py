import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('custody', '0001_initial'),
        ('work', '0007_rigs_and_driving'),
    ]

    operations = [
        migrations.AddField(
            model_name='handoff',
            name='drive_on',
            field=models.DateField(blank=True, null=True, verbose_name='driven on'),
        ),
        migrations.AddField(
            model_name='handoff',
            name='drive_with',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='work.rig', verbose_name='driven with'),
        ),
    ]
