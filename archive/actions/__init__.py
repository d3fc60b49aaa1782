"""Deeds of the archive: dictionaries and their mappings, deposits, versions and their end."""

from archive.actions.extending import (
    accept_mapping,
    decline_mapping,
    propose_mapping,
    withdraw_mapping,
)
from archive.actions.holding import (
    Mended,
    accept_deposit,
    add_files,
    convert_file,
    correct_deposit,
    discard_deposit,
    drop_file,
    erase_version,
    mend_deposit,
    open_deposit,
    publish_dictionary,
    record_check,
    submit_deposit,
    withdraw_version,
)

__all__ = [
    "Mended",
    "accept_deposit",
    "accept_mapping",
    "add_files",
    "convert_file",
    "correct_deposit",
    "decline_mapping",
    "discard_deposit",
    "drop_file",
    "erase_version",
    "mend_deposit",
    "open_deposit",
    "propose_mapping",
    "publish_dictionary",
    "record_check",
    "submit_deposit",
    "withdraw_mapping",
    "withdraw_version",
]
