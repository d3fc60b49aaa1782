"""Our bags against the reference reader of the format, bagit 1.9 (Library of Congress)."""

import hashlib

import bagit
import pytest

from archive.exports.bag import Payload, tag_files

pytestmark = [
    pytest.mark.outside,
    # The reference reader's own, with Python 3.13.
    pytest.mark.filterwarnings("ignore:'count' is passed as positional argument"),
]

INFO = [("Source-Organization", "Skerrywick Aquarium"), ("External-Description", "Two\nlines"),
        ("Contact-Name", "")]  # fmt: skip


def a_bag(folder, files):
    payload = {}
    for path, content in files.items():
        at = folder / "data" / path
        at.parent.mkdir(parents=True, exist_ok=True)
        at.write_bytes(content)
        digests = [hashlib.new(name, content).hexdigest() for name in ("sha256", "sha512")]
        payload[path] = Payload(len(content), *digests)
    for path, content in tag_files(payload, INFO).items():
        (folder / path).write_bytes(content)
    return folder


def test_a_bag_is_valid_to_the_reference_reader_and_says_what_it_is(tmp_path):
    files = {"datapackage.json": b"{}", "data/eggs.csv": b"n\n1\n", "original/Räder.csv": b""}
    read = bagit.Bag(str(a_bag(tmp_path, files)))
    read.validate()
    assert read.version_info == (1, 0)
    assert read.info["Payload-Oxum"] == "6.3"
    assert read.info["External-Description"] == "Two lines"
    assert "Contact-Name" not in read.info
    assert set(read.algorithms) == {"sha256", "sha512"}


@pytest.mark.parametrize("path", ["data/data/eggs.csv", "bag-info.txt", "manifest-sha256.txt"])
def test_one_changed_byte_is_found_in_every_file(tmp_path, path):
    a_bag(tmp_path, {"data/eggs.csv": b"n\n1\n"})
    content = (tmp_path / path).read_bytes()
    (tmp_path / path).write_bytes(content[:-2] + b"7\n")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(tmp_path)).validate()


def test_signs_that_would_end_a_line_are_written_as_the_format_says():
    # RFC 8493, 2.1.3: LF, CR and the per cent sign alone are encoded.
    manifest = tag_files({"a%0Ab\n.csv": Payload(1, "AB", "CD")}, [])["manifest-sha256.txt"]
    assert manifest == b"ab  data/a%250Ab%0A.csv\n"
