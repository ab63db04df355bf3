import django.db.models.deletion
from django.db import migrations, models


def keep_what_was_set(apps, schema_editor):
    """Days of moves and trips that are kept are written on the handoffs."""
    Handoff = apps.get_model('custody', 'Handoff')
    for pin in apps.get_model('trips', 'MovePin').objects.all():
        Handoff.objects.filter(pk=pin.handoff_id).update(drive_on=pin.day)
    kept = apps.get_model('trips', 'Load').objects.filter(trip__pinned=True, trip__state='planned')
    for load in kept.select_related('trip'):
        Handoff.objects.filter(pk=load.handoff_id).update(
            drive_on=load.trip.day, drive_with=load.trip.rig_id
        )


class Migration(migrations.Migration):

    dependencies = [
        ('custody', '0002_days_set_by_hand'),
        ('trips', '0001_initial'),
        ('work', '0007_rigs_and_driving'),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.AlterField(
                    model_name='trip',
                    name='rig',
                    field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='trips', to='work.rig'),
                ),
                migrations.DeleteModel(name='Driving'),
                migrations.DeleteModel(name='Rig'),
            ],
        ),
        migrations.RunPython(keep_what_was_set, migrations.RunPython.noop),
    ]
