# The tables that trips made become those of work, with everything in them.

import datetime
from decimal import Decimal

import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('trips', '0001_initial'),
        ('work', '0006_money'),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.CreateModel(
                    name='Driving',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('day_starts', models.TimeField(default=datetime.time(8, 0), verbose_name='leaves home from')),
                        ('day_ends', models.TimeField(default=datetime.time(17, 0), verbose_name='is back by')),
                        ('saturdays', models.BooleanField(default=False, verbose_name='drives on Saturdays')),
                        ('drivers', models.PositiveSmallIntegerField(default=1, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(5)], verbose_name='drivers')),
                        ('nights', models.PositiveSmallIntegerField(default=0, validators=[django.core.validators.MaxValueValidator(2)], verbose_name='nights away at most')),
                        ('per_hour', models.DecimalField(decimal_places=2, default=Decimal('35'), max_digits=7, validators=[django.core.validators.MinValueValidator(0)], verbose_name='an hour of the driver costs')),
                        ('per_trip', models.DecimalField(decimal_places=2, default=Decimal('10'), max_digits=7, validators=[django.core.validators.MinValueValidator(0)], verbose_name='each trip costs besides')),
                        ('per_night', models.DecimalField(decimal_places=2, default=Decimal('120'), max_digits=7, validators=[django.core.validators.MinValueValidator(0)], verbose_name='a night away costs')),
                        ('tow_speed', models.PositiveSmallIntegerField(default=80, validators=[django.core.validators.MinValueValidator(20), django.core.validators.MaxValueValidator(100)], verbose_name='towing speed, % of road speed')),
                        ('weeks', models.PositiveSmallIntegerField(default=8, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(26)], verbose_name='weeks ahead')),
                        ('use_float', models.BooleanField(default=True, verbose_name='packages may start later inside their float, where that saves a drive')),
                        ('planned_version', models.PositiveIntegerField(default=0, editable=False)),
                        ('planned_at', models.DateTimeField(editable=False, null=True)),
                        ('saved', models.JSONField(default=dict, editable=False)),
                        ('refit', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='driving', to='work.refit')),
                    ],
                    options={'db_table': 'trips_driving'},
                ),
                migrations.CreateModel(
                    name='Rig',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('name', models.CharField(max_length=120)),
                        ('tows_boat', models.BooleanField(default=False, verbose_name='it can tow the boat on its trailer')),
                        ('bed_length_m', models.DecimalField(blank=True, decimal_places=3, max_digits=6, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='length of the bed')),
                        ('bed_width_m', models.DecimalField(blank=True, decimal_places=3, max_digits=6, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='width of the bed')),
                        ('bed_load_kg', models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='load of the bed')),
                        ('per_km', models.DecimalField(decimal_places=2, default=Decimal('0.60'), max_digits=6, validators=[django.core.validators.MinValueValidator(0)], verbose_name='cost of a kilometre')),
                        ('tow_limit_kg', models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='may tow')),
                        ('tongue_limit_kg', models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='hitch may carry')),
                        ('tongue_low', models.DecimalField(decimal_places=1, default=5, help_text='Makers disagree: 5–10 % for boats, 10–15 % for ball hitches.', max_digits=4, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(50)], verbose_name='tongue at least, % of the whole')),
                        ('tongue_high', models.DecimalField(decimal_places=1, default=15, max_digits=4, validators=[django.core.validators.MinValueValidator(0), django.core.validators.MaxValueValidator(50)], verbose_name='tongue at most, % of the whole')),
                        ('country', models.CharField(blank=True, help_text='Two letters, like US or PT.', max_length=2, verbose_name='country of the roads')),
                        ('width_limit_m', models.DecimalField(blank=True, decimal_places=3, max_digits=6, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='own limit of width')),
                        ('height_limit_m', models.DecimalField(blank=True, decimal_places=3, max_digits=6, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='own limit of height')),
                        ('tie_downs_direct', models.PositiveSmallIntegerField(default=0, verbose_name='tie-downs from trailer to boat')),
                        ('tie_downs_over', models.PositiveSmallIntegerField(default=0, verbose_name='tie-downs over the top')),
                        ('tie_limit_kg', models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True, validators=[django.core.validators.MinValueValidator(0)], verbose_name='working load limit of the weakest tie-down')),
                        ('blocked_forward', models.BooleanField(default=False, verbose_name='the bow is blocked against moving forward')),
                        ('note', models.TextField(blank=True)),
                        ('refit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='rigs', to='work.refit')),
                    ],
                    options={
                        'ordering': ['name'],
                        'db_table': 'trips_rig',
                    },
                ),
                migrations.AddConstraint(
                    model_name='rig',
                    constraint=models.UniqueConstraint(fields=('refit', 'name'), name='one_rig_a_name'),
                ),
            ],
        ),
        migrations.AlterModelTable(name='driving', table=None),
        migrations.AlterModelTable(name='rig', table=None),
    ]
