from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("analysis", "0003_spoken_words"),
    ]

    operations = [
        migrations.AddField(
            model_name="analysis",
            name="sent_sha256",
            field=models.CharField(blank=True, db_default="", default="", max_length=64),
        ),
    ]
