from django.db import migrations


class Migration(migrations.Migration):
    """By itself: PostgreSQL drops no table in the transaction that changed what it refers to."""

    dependencies = [
        ('trips', '0002_rigs_in_work'),
    ]

    operations = [
        migrations.DeleteModel(name='MovePin'),
    ]
