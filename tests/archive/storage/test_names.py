import pytest

from archive.storage.names import check_name, check_path, check_paths
from registry.errors import Unsound


@pytest.mark.parametrize("name", ["a.csv", "A_b-c.1.tsv", "_notes", "x" * 100, "console.csv"])
def test_a_plain_name_is_taken(name):
    assert check_name(name) == name


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        ".git",
        "-rf",
        "a b.csv",
        "a/b.csv",
        "a\\b.csv",
        "cafe\u0301.csv",
        "café.csv",
        "a.",
        "con",
        "NUL.csv",
        "com1.tar.gz",
        "x" * 101,
        "a\n.csv",
        "a\x00.csv",
    ],
)
def test_an_unsound_name_is_refused_with_its_reason(name):
    with pytest.raises(Unsound) as refused:
        check_name(name)
    assert refused.value.fields["name"]


@pytest.mark.parametrize(
    "path", ["/etc/passwd", "../x", "a/../b", "a//b", "a/", "a/.b", "/".join("abcdefghi")]
)
def test_a_path_that_leaves_or_hides_is_refused(path):
    with pytest.raises(Unsound):
        check_path(path)


@pytest.mark.parametrize(
    "paths", [["A.csv", "a.csv"], ["data/x.csv", "Data/X.csv"], ["data", "data/x.csv"]]
)
def test_paths_that_clash_on_some_disk_are_refused(paths):
    assert check_paths(["data/y.csv", "data/x.csv"]) == ["data/x.csv", "data/y.csv"]
    with pytest.raises(Unsound):
        check_paths(paths)
    with pytest.raises(Unsound):
        check_paths(reversed(paths))
