from django.db import migrations, models

# Folded text needs no more than the plainest tokeniser of either database.
_SQLITE = """
    CREATE VIRTUAL TABLE search_words USING fts5(
        title, body, tokenize = 'unicode61 remove_diacritics 0', prefix = '2 3 4'
    )
"""
_POSTGRES = (
    """
    ALTER TABLE search_searchdocument ADD COLUMN vector tsvector GENERATED ALWAYS AS (
        setweight(to_tsvector('simple', folded_title), 'A') ||
        setweight(to_tsvector('simple', folded_text), 'B')
    ) STORED
    """,
    "CREATE INDEX search_words ON search_searchdocument USING gin (vector)",
)


def make(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(_SQLITE)
        return
    for statement in _POSTGRES:
        schema_editor.execute(statement)


def unmake(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute("DROP TABLE search_words")


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="SearchDocument",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        help_text="The model's label: questions.question.", max_length=60
                    ),
                ),
                ("object_id", models.PositiveBigIntegerField()),
                (
                    "part",
                    models.CharField(
                        blank=True,
                        help_text="The place on its page; empty for the object itself.",
                        max_length=120,
                    ),
                ),
                ("title", models.CharField(max_length=400)),
                ("text", models.TextField(blank=True)),
                ("url", models.CharField(max_length=300)),
                ("folded_title", models.TextField()),
                ("folded_text", models.TextField(blank=True)),
                (
                    "keys",
                    models.TextField(
                        blank=True,
                        help_text="Its identifiers without spaces and signs, a space around each.",
                    ),
                ),
                (
                    "taxon",
                    models.PositiveBigIntegerField(
                        blank=True,
                        db_index=True,
                        help_text="The number of the taxon it is about.",
                        null=True,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("kind", "object_id", "part"), name="one_document_of_a_part"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SearchWord",
            fields=[
                ("word", models.CharField(max_length=40, primary_key=True, serialize=False)),
            ],
        ),
        migrations.RunPython(make, unmake),
    ]
