"""The archive: dictionaries, deposits, datasets and their versions."""
