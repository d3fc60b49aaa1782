"""One consistent copy of database and store in one file, and the way back from it.

A backup is a plain tar: a table is a file of JSON lines that no database vendor has a say in, the
store and the quarantine are its own files, and the manifest says what each must be.
"""
