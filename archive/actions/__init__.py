"""Deeds of the archive: dictionaries, mappings, deposits, versions and their end, analyses."""

from archive.actions.analyses import (
    ask_analysis,
    confirm_analysis,
    record_analysis,
    refuse_analysis,
    repeat_analysis,
)
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
    "ask_analysis",
    "confirm_analysis",
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
    "record_analysis",
    "record_check",
    "refuse_analysis",
    "repeat_analysis",
    "submit_deposit",
    "withdraw_mapping",
    "withdraw_version",
]
