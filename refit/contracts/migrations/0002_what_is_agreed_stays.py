from django.db import migrations

from refit.contracts.immutable import guard, unguard


class Migration(migrations.Migration):
    dependencies = [("contracts", "0001_money")]

    operations = [
        migrations.RunPython(guard(table), unguard(table), elidable=False)
        for table in ("contracts_agreement", "contracts_consent")
    ]
