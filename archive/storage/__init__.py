"""The write-once object store, the quarantine before it, and the reader that checks both.

A version that is accepted becomes one OCFL 1.1 object, written once and never updated; an upload
waits in quarantine until then. Nothing here knows of the register or of a database: a store can
be read, checked and copied with this package alone, or with any OCFL tool.

What a second backend (an object store, say) would have to give is
`archive.storage.contract.VersionStore`: its docstring is the whole contract.
"""
