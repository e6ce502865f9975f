"""Files that are no text, or no files: faults, not tracebacks."""

import os
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.text_file import LARGEST_BYTES, is_file, is_there, read_text_file


def test_reads_utf8_and_takes_off_the_mark_that_some_editors_add(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbfgap = 1 # \xc3\xa9")
    assert read_text_file(path) == "gap = 1 # é"


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "the file is empty"),
        (b" \n\t\n", "the file is empty"),
        (b"\xff\xfea\x00", "this is UTF-16 text; save it as UTF-8"),
        (b"a\nb\n\xe9\n", "this is not UTF-8 text here; save the file as UTF-8"),
        (b"#" * (LARGEST_BYTES + 1), "larger than 5 MB; is this the right file?"),
    ],
)
def test_content_that_is_no_text(content: bytes, message: str, tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    with pytest.raises(DesignError) as caught:
        read_text_file(path)
    (fault,) = caught.value.faults
    assert (fault.file, fault.text) == (str(path), message)
    assert fault.line == (3 if "here" in message else None)


def test_missing_file_folder_and_impossible_name(tmp_path: Path) -> None:
    for path, words in [
        (tmp_path / "none.toml", "there is no such file"),
        (tmp_path, "this is a folder"),
        (tmp_path / ("x" * 5000), "cannot be read"),
        (tmp_path / "a\0b", "cannot be read"),
    ]:
        assert not is_file(path)
        assert is_there(path) == (path == tmp_path)
        with pytest.raises(DesignError, match=words):
            read_text_file(path)


def test_what_never_ends_or_never_begins_is_not_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "fifo.toml")
    (tmp_path / "zero.toml").symlink_to("/dev/zero")
    for path in (tmp_path / "fifo.toml", tmp_path / "zero.toml"):
        with pytest.raises(DesignError, match="this is a pipe or a device, not a file; save its text as a file first"):
            read_text_file(path)


def test_a_file_larger_than_it_says_is_not_read_to_its_end(tmp_path: Path) -> None:
    """Files of the kernel say that they are empty."""
    path = tmp_path / "a.toml"
    path.write_text("gap = 1\n" * 4)
    with pytest.raises(DesignError, match="larger than 0 MB"):
        read_text_file(path, 8)
    assert read_text_file(path, 32) == "gap = 1\n" * 4
